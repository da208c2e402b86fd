//! How complaints ended, and what failed before the hand-over: lines that
//! stand beside the shares and never enter them.

use serde::Serialize;

use crate::counts::Counts;
use crate::follow::Period;
use crate::history::History;
use crate::words::{JobKind, Outcome};

pub(crate) const DEFINITIONS: &[(&str, &str)] = &[
    (
        "outcomes",
        "Complaint jobs closed in the period, by how they ended. Only repaired ones enter a \
         comeback share. Second visits: of the jobs with more to come (temporary repair, sublet, \
         waiting for a planned second visit), those whose planned visit came about by the as-of; \
         it is no comeback.",
    ),
    (
        "caught_here",
        "Jobs closed in the period on which a proof of repair failed before the hand-over, and \
         the proofs that failed. It is rework, never a comeback.",
    ),
];

/// Complaint jobs that ended in one way.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OutcomeLine {
    pub outcome: Outcome,
    pub count: i64,
    /// Of the jobs with more to come, those whose planned visit came about by the
    /// as-of; absent for other outcomes.
    pub second_visits: Option<i64>,
    pub jobs: String,
}

/// What the shop caught itself: proofs that failed before the hand-over.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CaughtHere {
    /// Jobs with at least one failed proof.
    pub count: i64,
    pub failed_proofs: i64,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
    pub jobs: String,
}

/// How one complaint job ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Ended {
    closed_day: i32,
    outcome: Outcome,
    /// `i32::MAX` where there was none.
    second_visit_day: i32,
}

/// A second visit may have been planned when the job ended so.
pub(crate) const fn has_more_to_come(outcome: Outcome) -> bool {
    matches!(outcome, Outcome::TemporaryRepair | Outcome::PlannedSecondVisit | Outcome::Sublet)
}

/// Of a job row; `None` where it is no complaint.
pub(crate) fn ended(history: &History, row: usize) -> Option<Ended> {
    let jobs = history.jobs();
    if *jobs.kind.get(row)? != JobKind::Complaint.code() {
        return None;
    }
    let outcome = Outcome::from_code(*jobs.outcome.get(row)?)?;
    let second_visit_day =
        if has_more_to_come(outcome) { *jobs.second_visit_day.get(row)? } else { i32::MAX };
    Some(Ended { closed_day: *jobs.closed_day.get(row)?, outcome, second_visit_day })
}

/// Complaint jobs by outcome; tallies of several shops add up.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct OutcomeTally(Counts<Ended>);

impl OutcomeTally {
    pub fn of(history: &History) -> Self {
        let rows = 0..history.jobs().kind.len();
        Self::counted(rows.filter_map(|row| ended(history, row)).collect())
    }

    pub fn counted(jobs: Vec<Ended>) -> Self {
        Self(Counts::of(jobs))
    }

    /// Adds another shop's tally.
    pub fn add(&mut self, other: &Self) {
        self.0.add(&other.0);
    }

    /// Outcomes that the period's jobs had, in the order of the list; `pairs`
    /// select the group beside kind and outcome.
    pub fn lines(&self, period: &Period, pairs: &[(&str, &str)]) -> Vec<OutcomeLine> {
        let count = |takes: &dyn Fn(&Ended) -> bool| {
            let held = self.0.iter().filter(|(job, _)| period.holds(job.closed_day) && takes(job));
            held.map(|(_, count)| count).sum::<i64>()
        };
        Outcome::ALL
            .iter()
            .map(|&outcome| OutcomeLine {
                outcome,
                count: count(&|job| job.outcome == outcome),
                second_visits: has_more_to_come(outcome).then(|| {
                    count(&|job| job.outcome == outcome && job.second_visit_day <= period.as_of)
                }),
                jobs: {
                    let these = [("kind", "complaint"), ("outcome", outcome.as_str())];
                    period.selector(&[&these, pairs].concat())
                },
            })
            .filter(|line| line.count > 0)
            .collect()
    }
}

/// Failed proofs of the jobs closed in the period, whatever their kind.
pub(crate) fn caught_here(history: &History, period: &Period) -> CaughtHere {
    let jobs = history.jobs();
    let failed = || {
        let columns = jobs.closed_day.iter().zip(jobs.failed_proofs);
        columns.filter(|(day, failed)| period.holds(**day) && **failed > 0)
    };
    CaughtHere {
        count: failed().count() as i64,
        failed_proofs: failed().map(|(_, failed)| i64::from(*failed)).sum(),
        definition: "caught_here",
        jobs: period.selector(&[("failed_proof", "true")]),
    }
}
