//! The service over HTTP.

mod idempotency;
mod journey;
mod labor;
mod lists;
mod money;
mod numbers;
mod pages;
mod problems;
mod reports;
mod sign_in;
mod versions;
