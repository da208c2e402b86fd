//! The service over HTTP.

mod accounts;
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
mod tablets;
mod tokens;
mod versions;
