//! Black-box tests: the real program, over HTTP and on its command line, on
//! SQLite and on PostgreSQL.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)]

mod access;
mod cli;
mod faults;
mod house;
mod http;
mod support;
