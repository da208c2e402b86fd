//! Diagnosis paths: in what order a symptom's checks are done, how long that
//! takes, what it finds, what a skipped check goes with, and what order the
//! record advises.

mod advised;
mod estimate;
mod first;
mod found;
pub mod order;
mod report;
mod tally;

pub use advised::{
    CheckOrderLine, CheckOrderReport, CheckOrderSaving, HabitOrder, MinutesFrom, OrderMethod,
    OrderedCheck, PlannedOrder, Uncounted, check_orders, check_orders_from,
};
pub use estimate::{MinuteFigures, PathFigures};
pub use first::comes_first;
pub(crate) use found::Abnormal;
pub use report::{
    CheckLine, FirstCheck, PathLine, PathReport, SymptomLine, TreeLine, paths, paths_from,
};
pub use tally::PathTally;
