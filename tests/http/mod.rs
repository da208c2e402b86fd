//! The service over HTTP.

mod accounts;
mod changes;
mod codes;
mod front;
mod idempotency;
mod journey;
mod labor;
mod lists;
mod money;
mod numbers;
mod orders;
mod pages;
mod problems;
mod returns;
mod sign_in;
mod tablets;
mod tokens;
mod vehicles;
mod versions;
