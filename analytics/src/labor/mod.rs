//! Labor: hours against flat-rate, the labor rate that came of it, and what
//! comebacks cost. Every figure of several jobs is a ratio of sums.

mod allocate;
mod by;
mod costs;
mod estimate;
mod group;
mod job;
mod report;
mod sums;
mod tally;

pub use by::By;
pub use estimate::{Ratio, WeekRatios, week_ratios};
pub use group::{GroupLabor, GroupTotal, ShopLabor, labor_of_group};
pub use report::{ComebackCost, LaborLine, LaborReport, labor, labor_from};
pub use tally::LaborTally;

pub(crate) use allocate::split;
pub(crate) use costs::{ComebackCosts, ComebackJob, comeback_costs, cost_of};
pub(crate) use report::efficiency_of;
pub(crate) use sums::ComebackSums;
