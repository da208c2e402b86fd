//! Readings before a vehicle leaves: limits, corrections, verdicts, what is due
//! on vehicles that wait, and what came back by what was read.

mod correct;
mod list;
mod stock;
mod verdict;

pub mod hand_over;

pub use correct::{Temperature, settled};
pub use list::{Bound, Correction, Degrees, Kind, Limit, Line, Loss};
pub use stock::{Due, Loses, due};
pub use verdict::{
    GroupVerdict, LineVerdict, SheetVerdict, State, Taken, Value, Verdict, counted, judge,
};

#[cfg(test)]
mod tests;
