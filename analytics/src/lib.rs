//! What a shop's record says. Pure: no clock, no files, no SQL, no HTTP; rows
//! in, plain structs out.
//!
//! Every measure is a tally (rows to sums, without an as-of) and an estimate
//! (sums to figures). Tallies add integers, so the order of adding never shows.

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing))]

pub mod bench;
pub mod comeback;
pub mod compare;
mod counts;
pub mod effect;
pub mod figure;
mod follow;
mod hashed;
pub mod history;
pub mod labor;
pub mod outcomes;
pub mod path;
pub mod pattern;
pub mod preparation;
pub mod repeats;
pub mod reuse;
pub mod select;
pub mod slice;
pub mod standing;
pub mod stats;
pub mod warning;
pub mod weekly;
pub mod words;
mod written;

pub use written::Written;
