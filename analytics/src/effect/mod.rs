//! Before and after a shop rule, beside the jobs it does not touch.

use chrono::NaiveDate;
use serde::Serialize;

use crate::figure::{Head, Query};
use crate::follow::head;
use crate::history::History;
use crate::select::Selector;

/// What the effect is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct EffectQuery {
    /// As-of and window; its closing days are not looked at.
    pub figures: Query,
    /// Which repaired complaints the rule is about.
    pub jobs: Selector,
    /// First closing day on which the rule stood.
    pub start: NaiveDate,
    /// The day of the one verdict; the as-of where absent.
    pub review: Option<NaiveDate>,
    /// Which of its jobs kept the rule; absent: nothing says so.
    pub kept: Option<Selector>,
}

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EffectReport {
    pub head: Head,
}

/// The effect of a rule.
#[must_use]
pub fn effect(history: &History, query: &EffectQuery) -> EffectReport {
    EffectReport { head: head("effect", history.facts(), history.change_no(), &query.figures, &[]) }
}
