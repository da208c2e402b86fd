//! Published examples and numbers of general-purpose libraries, held against
//! the crate's mathematics.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)]

mod bench;
mod beside;
mod comeback;
mod cutoff;
mod files;
mod history;
mod isotonic;
mod labor;
mod logistic;
mod path;
mod pattern;
mod poisson;
mod proportion;
mod quantile;
mod replacement;
mod reuse;
mod shop;
mod survival;
mod weekly;
mod weibull;
mod world;
