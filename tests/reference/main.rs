//! Published examples and numbers of general-purpose libraries, held against
//! the crate's mathematics.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)]

mod beside;
mod comeback;
mod comeback_more;
mod competing;
mod files;
mod history;
mod labor;
mod logrank;
mod path;
mod poisson;
mod proportion;
mod recurrence;
mod repeats;
mod reuse;
mod shop;
mod survival;
mod weekly;
mod world;
