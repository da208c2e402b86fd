//! Published examples and numbers of general-purpose libraries, held against
//! the crate's mathematics.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)]
// Where the cases outside the project lie, and how long to search, is told by
// the environment.
#![allow(clippy::disallowed_methods)]

mod alarms;
mod as_of;
mod bench;
mod beside;
mod binomial;
mod chart;
mod checks;
mod comeback;
mod comeback_more;
mod compare;
mod competing;
mod cutoff;
mod difference;
mod effect;
mod every;
mod extremes;
mod files;
mod found;
mod group;
mod hand_over;
mod history;
mod in_hand;
mod isotonic;
mod labor;
mod logistic;
mod logrank;
mod multiple;
mod order;
mod order_any;
mod path;
mod pattern;
mod plans;
mod planted;
mod poisson;
mod proportion;
mod quantile;
mod rate;
mod recurrence;
mod repeats;
mod replacement;
mod reuse;
mod review;
mod rules;
mod runs;
mod shop;
mod shrink;
mod standing;
mod stratified;
mod survival;
mod warnings;
mod weekly;
mod weibull;
mod world;
