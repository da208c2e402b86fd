//! What survives when things go wrong.

mod kill;
mod writer;
