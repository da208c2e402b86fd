//! Before and after a shop rule, beside the jobs it does not touch.

mod estimate;
mod report;
mod tally;
mod verdict;

use chrono::NaiveDate;

use crate::figure::Query;
use crate::select::Selector;

pub use estimate::{Compliance, Difference, EffectCell, LogRank};
pub use report::{BeforeAfter, EffectReport, Untouched, effect};
pub use verdict::{Basis, Verdict};

/// What the effect is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct EffectQuery {
    /// As-of and window; its closing days are not looked at.
    pub figures: Query,
    /// Which repaired complaints the rule is about.
    pub jobs: Selector,
    /// First closing day on which the rule stood.
    pub start: NaiveDate,
    /// The day of the one verdict. Who moves it from day to day finds an effect
    /// some day.
    pub review: NaiveDate,
    /// Which of its jobs kept the rule; absent: nothing says so.
    pub kept: Option<Selector>,
}
