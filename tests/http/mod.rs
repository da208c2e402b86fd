//! The service over HTTP.

mod changes;
mod codes;
mod idempotency;
mod journey;
mod labor;
mod lists;
mod money;
mod numbers;
mod pages;
mod problems;
mod sign_in;
mod versions;
