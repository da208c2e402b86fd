//! The service over HTTP.

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

mod attendance;
mod cleaned_again;
mod corrections;
mod crew;
mod sublets;
mod waits;
