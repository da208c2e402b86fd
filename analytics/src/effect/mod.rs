//! Before and after a shop rule, beside the jobs it does not touch.

mod ahead;
mod cost;
mod estimate;
mod evidence;
mod kept;
mod report;
mod review;
mod rule;
mod tally;
mod verdict;

use chrono::NaiveDate;

use crate::figure::Query;
use crate::select::Selector;

pub use ahead::Ahead;
pub use cost::{CostCell, EffectCost};
pub use estimate::{Compliance, Difference, EffectCell, LogRank, NotKnown};
pub use evidence::{Evidence, evidence};
pub use kept::{RuleCompliance, RuleJobs, RuleSpan, compliance, not_followed};
pub use report::{BeforeAfter, EffectReport, Untouched, effect};
pub use review::{ReviewPlan, plan_review};
pub use rule::{Rule, RuleSelectors, Stands, stands};
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
    /// The day on which it was withdrawn: jobs closed from it on were asked for it
    /// no more. Before the review day it leaves no verdict.
    pub withdrawn: Option<NaiveDate>,
    /// Which of its jobs kept the rule; absent: nothing says so.
    pub kept: Option<Selector>,
    /// Of which of its jobs nobody knows whether they did: they count as neither.
    pub not_known: Option<Selector>,
}
