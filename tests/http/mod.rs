//! The service over HTTP.

mod batch;
mod dry_run;
mod examples;
mod formats;
mod idempotency;
mod journey;
mod labor;
mod lists;
mod methods;
mod money;
mod numbers;
mod pages;
mod problems;
mod reference;
mod sign_in;
mod versions;
