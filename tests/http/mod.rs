//! The service over HTTP.

mod accounts;
mod assets;
mod batch;
mod changes;
mod codes;
mod dry_run;
mod examples;
mod formats;
mod front;
mod idempotency;
mod journey;
mod labor;
mod lists;
mod methods;
mod money;
mod numbers;
mod orders;
mod pages;
mod problems;
mod reference;
mod reports;
mod returns;
mod settings;
mod sign_in;
mod tablets;
mod tokens;
mod vehicles;
mod versions;

mod attendance;
mod cleaned_again;
mod corrections;
mod crew;
mod sublets;
mod waits;
