//! Diagnosis paths: in what order a symptom's checks are done, how long that
//! takes, what it finds, what a skipped check goes with, and what order the
//! record advises.

mod advised;
mod basis;
mod estimate;
mod found;
pub mod order;
mod planned;
mod report;
mod skips;
mod tally;

pub use advised::{
    CheckOrderLine, CheckOrderReport, CheckOrderSaving, HabitOrder, LeadingCheck, OrderMethod,
    OrderedCheck, PlannedOrder, Uncounted, WhyFirst, check_orders, check_orders_from,
};
pub use basis::MinutesFrom;
pub use estimate::{MinuteFigures, PathFigures};
pub(crate) use found::Abnormal;
pub use planned::{
    PLAN_ORDER_DEFINITION, PlanAsked, PlanCheckLine, PlanOrder, PlanStepAsked, plan_order,
};
pub use report::{
    CheckLine, FirstCheck, PathLine, PathReport, SymptomLine, TreeLine, paths, paths_from,
};
pub use skips::{PlanSkips, StepSkips};
pub use tally::PathTally;
