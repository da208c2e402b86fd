//! What a rule is taken on: what came back of the jobs it is about, by whether
//! they did what it asks for.

use chrono::NaiveDate;
use serde::Serialize;

use super::rule::{Rule, RuleSelectors};
use crate::figure::Query;
use crate::figure::Share;
use crate::follow::{Cases, Period, counted_share, date_of, first_returns};
use crate::history::History;
use crate::select::{Column, Selector, Term, Treatment, fitting};
use crate::words::{Disposition, JobKind, Outcome, PartRole};

/// What the record said on a day, of jobs whose window had ended.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = RuleEvidence))]
pub struct Evidence {
    pub as_of: NaiveDate,
    pub change_no: i64,
    pub window_days: i32,
    /// Of jobs that did something else than the rule asks for (of suspects: cleaned
    /// them and put them back); of all of them,
    /// where the record does not tell who does.
    pub otherwise: Share,
    /// Of jobs that did as it asks.
    pub as_asked: Option<Share>,
}

/// The two groups that are held against one another, and what counts as a return.
struct Groups {
    otherwise: Selector,
    as_asked: Option<Selector>,
    returned: Term,
}

fn held(part: &str, treatment: Treatment) -> Selector {
    Selector::new()
        .with(Term::Text(Column::Part, Some(part.to_owned())))
        .with(Term::Treatment(treatment))
}

impl Groups {
    fn of(rule: &Rule, jobs: &RuleSelectors) -> Self {
        match rule {
            Rule::ReplaceSuspect { part, symptom } => {
                let suspect = |treatment| {
                    let held = held(part, treatment).with(Term::Role(Some(PartRole::Suspect)));
                    let held = held.with(Term::Done(true));
                    match symptom {
                        Some(symptom) => {
                            held.with(Term::Text(Column::Symptom, Some(symptom.clone())))
                        }
                        None => held,
                    }
                };
                Self {
                    otherwise: suspect(Treatment::One(Disposition::CleanedReused)),
                    as_asked: Some(suspect(Treatment::Replaced)),
                    returned: Term::PartReturned(true),
                }
            }
            Rule::CleanAndTest { part } => {
                let read = |yes| {
                    held(part, Treatment::PutBack).with(Term::Done(true)).with(Term::BenchRead(yes))
                };
                Self {
                    otherwise: read(false),
                    as_asked: Some(read(true)),
                    returned: Term::PartReturned(true),
                }
            }
            Rule::CheckFirst { .. } | Rule::ReadingLimit { .. } => Self {
                otherwise: repaired(jobs.that_did_not()),
                as_asked: Some(repaired(jobs.that_kept())),
                returned: Term::Returned(true),
            },
            Rule::FreeText { about, .. } => Self {
                otherwise: repaired(Selector::new().with(Term::Also(about.clone()))),
                as_asked: None,
                returned: Term::Returned(true),
            },
        }
    }
}

fn repaired(jobs: Selector) -> Selector {
    jobs.with(Term::Kind(JobKind::Complaint)).with(Term::Outcome(Outcome::Repaired))
}

/// What the record says for a rule, of jobs whose window has ended by the as-of.
/// `now` gives each code as it counts now.
#[must_use]
pub fn evidence(
    history: &History,
    rule: &Rule,
    as_of: NaiveDate,
    now: &impl Fn(&str, &str) -> String,
) -> Evidence {
    let facts = history.facts();
    let query = Query { as_of, from: None, to: None, window_days: None, by: None };
    let period = Period::new(&query, facts);
    let returns = first_returns(history);
    let count = |jobs: &Selector| {
        let rows = fitting(history, jobs, returns, (period.as_of, period.window));
        rows.into_iter().filter(|fits| *fits).count() as i64
    };
    let groups = Groups::of(rule, &rule.selectors());
    let share = |jobs: Selector| {
        let mut jobs = jobs.following(now).with(Term::ClosedTo(date_of(period.ended().last)));
        if let Some(from) = facts.links_from {
            jobs = jobs.with(Term::ClosedFrom(from));
        }
        let returned = jobs.clone().with(groups.returned.clone());
        let cases = Cases { cases: count(&jobs), returns: count(&returned) };
        counted_share(cases, "evidence", jobs.to_string())
    };
    Evidence {
        as_of,
        change_no: history.change_no(),
        window_days: period.window,
        otherwise: share(groups.otherwise.clone()),
        as_asked: groups.as_asked.clone().map(share),
    }
}
