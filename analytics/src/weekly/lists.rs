//! The week's plain counts: what was closed, what stands behind its comebacks,
//! what waits for a decision.

use serde::Serialize;

use crate::comeback::ComebackLine;
use crate::follow::Period;
use crate::history::History;
use crate::outcomes::has_more_to_come;
use crate::words::{JobKind, LinkState, Outcome};

/// Jobs closed in the week that were of one kind and ended in one way.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ClosedLine {
    pub kind: JobKind,
    pub outcome: Outcome,
    pub count: i64,
    /// Of the jobs with more to come, those whose planned visit came about by the
    /// as-of; absent for other outcomes.
    pub second_visits: Option<i64>,
    pub jobs: String,
}

/// How often something stands behind the week's comebacks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Tallied {
    /// Absent where nothing was named.
    pub name: Option<String>,
    pub count: i64,
}

/// Proposed comebacks that nobody has confirmed or rejected.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = UndecidedComebacks))]
pub struct Undecided {
    /// Whose later order was opened in the week.
    pub of_the_week: i64,
    /// Whose later order was opened by the as-of.
    pub all: i64,
    /// Of all, those of the same complaint: they would enter the share.
    pub same_complaint: i64,
}

pub(super) fn closed(history: &History, week: &Period) -> Vec<ClosedLine> {
    let jobs = history.jobs();
    let columns = jobs.closed_day.iter().zip(jobs.kind.iter().zip(jobs.outcome));
    let closed: Vec<(u8, u8, i32)> = columns
        .zip(jobs.second_visit_day)
        .filter(|((day, _), _)| week.holds(**day))
        .map(|((_, (kind, outcome)), second)| (*kind, *outcome, *second))
        .collect();
    let mut lines = Vec::new();
    for &kind in JobKind::ALL {
        for &outcome in Outcome::ALL {
            let these = || {
                let code = (kind.code(), outcome.code());
                closed.iter().filter(move |job| (job.0, job.1) == code)
            };
            let count = these().count() as i64;
            if count > 0 {
                let pairs = [("kind", kind.as_str()), ("outcome", outcome.as_str())];
                lines.push(ClosedLine {
                    kind,
                    outcome,
                    count,
                    second_visits: has_more_to_come(outcome)
                        .then(|| these().filter(|job| job.2 <= week.as_of).count() as i64),
                    jobs: week.selector(&pairs),
                });
            }
        }
    }
    lines
}

/// Most frequent first, equals by name.
pub(super) fn tallied(
    lines: &[ComebackLine],
    name: impl Fn(&ComebackLine) -> Option<&str>,
) -> Vec<Tallied> {
    let mut names: Vec<Option<&str>> = lines.iter().map(name).collect();
    names.sort_unstable();
    let mut tallied: Vec<Tallied> = names
        .chunk_by(|a, b| a == b)
        .map(|chunk| Tallied {
            name: chunk.first().copied().flatten().map(str::to_owned),
            count: chunk.len() as i64,
        })
        .collect();
    tallied.sort_by_key(|line| std::cmp::Reverse(line.count));
    tallied
}

pub(super) fn undecided(history: &History, from: i32, to: i32, as_of: i32) -> Undecided {
    let returns = history.returns();
    let open: Vec<(i32, u8)> = returns
        .later_opened_day
        .iter()
        .zip(returns.state.iter().zip(returns.same_complaint))
        .filter(|(day, (state, _))| **day <= as_of && **state == LinkState::Proposed.code())
        .map(|(day, (_, same))| (*day, *same))
        .collect();
    Undecided {
        of_the_week: open.iter().filter(|(day, _)| (from..=to).contains(day)).count() as i64,
        all: open.len() as i64,
        same_complaint: open.iter().filter(|(_, same)| *same != 0).count() as i64,
    }
}
