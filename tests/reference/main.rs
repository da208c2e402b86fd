//! Published examples and numbers of general-purpose libraries, held against
//! the crate's mathematics.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)]

mod alarms;
mod beside;
mod binomial;
mod chart;
mod comeback;
mod competing;
mod difference;
mod files;
mod history;
mod labor;
mod logrank;
mod multiple;
mod path;
mod poisson;
mod proportion;
mod rate;
mod recurrence;
mod reuse;
mod review;
mod runs;
mod shop;
mod shrink;
mod survival;
mod weekly;
mod world;
