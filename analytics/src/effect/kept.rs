//! How often a rule was kept: of all the jobs it is about, whatever their
//! outcome.

use chrono::NaiveDate;
use serde::Serialize;

use super::rule::RuleSelectors;
use crate::figure::Interval;
use crate::follow::{LEVEL, day_number, first_returns};
use crate::history::History;
use crate::select::{JobLine, Selector, Term, fitting, select};
use crate::stats::proportion::wilson;

/// Jobs, and the way to them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RuleJobs {
    pub count: i64,
    /// Selects them.
    pub jobs: String,
}

/// How often a rule was kept since its start.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RuleCompliance {
    /// End of this day: of a withdrawn rule the last day on which it stood.
    pub as_of: NaiveDate,
    /// Jobs that the rule is about, handed over since its start and, where it was
    /// withdrawn, before that day.
    pub about: RuleJobs,
    pub kept: RuleJobs,
    /// Not kept, and a reason was given.
    pub with_reason: RuleJobs,
    /// Not kept, and none was.
    pub without_reason: RuleJobs,
    /// Nobody knows whether they kept it: no order of checks, no answer.
    pub not_known: RuleJobs,
    /// Kept, of those of which it is known; absent while there are none.
    pub share: Option<f64>,
    pub interval: Option<Interval>,
}

/// When a rule stood, up to which day it is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RuleSpan {
    /// First and last closing day, both included.
    pub from: NaiveDate,
    pub to: NaiveDate,
}

fn within(jobs: Selector, span: RuleSpan) -> Selector {
    jobs.with(Term::ClosedFrom(span.from)).with(Term::ClosedTo(span.to))
}

fn reasoned(rule_id: &str) -> Selector {
    Selector::new().with(Term::RuleReasoned(rule_id.to_owned()))
}

/// Jobs of the span that did not keep the rule, without a reason.
fn without_reason(rule: &RuleSelectors, rule_id: &str, span: RuleSpan) -> Selector {
    within(rule.that_did_not().with(Term::Except(reasoned(rule_id))), span)
}

/// How often the rule was kept by the jobs closed in the span.
#[must_use]
pub fn compliance(
    history: &History,
    rule: &RuleSelectors,
    rule_id: &str,
    span: RuleSpan,
) -> RuleCompliance {
    let returns = first_returns(history);
    let seen = (day_number(span.to), history.facts().window_days);
    let counted = |jobs: Selector| RuleJobs {
        count: fitting(history, &jobs, returns, seen).into_iter().filter(|fits| *fits).count()
            as i64,
        jobs: jobs.to_string(),
    };
    let with_reason = rule.that_did_not().with(Term::Also(reasoned(rule_id)));
    let kept = counted(within(rule.that_kept(), span));
    let with_reason = counted(within(with_reason, span));
    let without_reason = counted(without_reason(rule, rule_id, span));
    let about = within(Selector::new().with(Term::Also(rule.about.clone())), span);
    let not_known = match rule.of_which_none_knows() {
        Some(jobs) => counted(within(jobs, span)),
        None => RuleJobs { count: 0, jobs: String::new() },
    };
    let known = kept.count + with_reason.count + without_reason.count;
    RuleCompliance {
        as_of: span.to,
        about: counted(about),
        share: (known > 0).then(|| kept.count as f64 / known as f64),
        interval: wilson(kept.count, known, LEVEL).map(|(low, high)| Interval {
            low,
            high,
            level: LEVEL,
            method: "wilson",
        }),
        kept,
        with_reason,
        without_reason,
        not_known,
    }
}

/// The jobs of the span that did not keep the rule and say nothing of why.
#[must_use]
pub fn not_followed(
    history: &History,
    rule: &RuleSelectors,
    rule_id: &str,
    span: RuleSpan,
) -> Vec<JobLine> {
    let jobs = without_reason(rule, rule_id, span);
    select(history, &jobs, span.to, history.facts().window_days)
}
