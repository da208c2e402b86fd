//! What survives when things go wrong: the box switched off, a disk that fails or
//! is full, a crowd that asks for the same at once. A short form in every run, the
//! long form by `bash .ci/faults`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)]

mod bombs;
mod clock;
mod clocked;
mod corpus;
mod crowd;
mod deaths;
mod disk;
mod edge;
mod editors;
mod files;
mod formulas;
mod full;
mod gate;
mod injected;
mod interference;
mod judge;
mod lock;
mod moment;
mod names;
mod numbers;
mod parsers;
mod power;
mod restarts;
mod scale;
mod steps;
#[allow(
    dead_code,
    unused_imports,
    unused_macros,
    reason = "the black-box tests use the rest of it"
)]
#[path = "../support/mod.rs"]
mod support;
mod timing;
mod trouble;
mod writer;
