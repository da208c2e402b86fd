//! How often vehicles come back, again and again, and what it costs: means of a
//! vehicle by the days since its first repair.

mod by;
mod estimate;
mod report;
mod tally;

pub use by::By;
pub use estimate::{RepeatFigures, RepeatPoint, RepeatStep, VehicleMean, VisitCount};
pub use report::{RepeatGroup, RepeatReport, repeats, repeats_from};
pub use tally::RepeatTally;

pub(crate) use tally::first_rows;
