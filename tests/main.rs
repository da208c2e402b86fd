//! Black-box tests: the real program, over HTTP and on its command line, on
//! SQLite and on PostgreSQL.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)]

mod access;
mod cli;
mod house;
mod http;
#[allow(dead_code, reason = "the tests of faults and of pages use the rest of it")]
mod support;
