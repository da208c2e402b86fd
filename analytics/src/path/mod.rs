//! Diagnosis paths: in what order a symptom's checks are done, how long that
//! takes, what it finds, and what a skipped check goes with.

mod advised;
mod estimate;
pub mod order;
mod report;
mod tally;

pub use advised::{CheckOrderReport, check_orders};
pub use estimate::{MinuteFigures, PathFigures};
pub use report::{
    CheckLine, FirstCheck, PathLine, PathReport, SymptomLine, TreeLine, paths, paths_from,
};
pub use tally::PathTally;
