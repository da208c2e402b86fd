//! Sums to figures of one group of complaint jobs.

use std::collections::BTreeMap;

use serde::Serialize;

use super::tally::{CheckFact, JobFact};
use crate::counts::Counts;
use crate::figure::{Share, TOO_FEW};
use crate::follow::{Cases, Followed, Period, closed_cases, counted_share, followed_share};
use crate::stats::quantile::quartiles;

/// Hands-on minutes of the jobs (or checks) where they were measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MinuteFigures {
    /// Jobs (or checks) with measured minutes.
    pub timed: i64,
    pub lower_quartile: Option<f64>,
    pub median: Option<f64>,
    pub upper_quartile: Option<f64>,
    pub total_minutes: i64,
}

/// What a group of complaint jobs took, found and came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PathFigures {
    pub count: i64,
    pub minutes: MinuteFigures,
    /// Jobs whose cause was confirmed.
    pub found: Share,
    pub comebacks: Share,
    pub closed: Share,
    /// Comebacks, in closed windows, whose reason was a wrong diagnosis.
    pub misdiagnosed: Share,
    pub too_few: bool,
    pub jobs: String,
}

/// Facts of one or several groups of jobs.
#[derive(Debug, Clone, Default)]
pub(super) struct Group<'a>(Vec<&'a Counts<JobFact>>);

impl<'a> Group<'a> {
    pub fn of(counts: impl IntoIterator<Item = &'a Counts<JobFact>>) -> Self {
        Self(counts.into_iter().collect())
    }

    fn facts(&self, period: &Period) -> impl Iterator<Item = (JobFact, i64)> + '_ {
        let period = *period;
        self.0
            .iter()
            .flat_map(|counts| counts.iter())
            .filter(move |(fact, _)| period.holds(fact.closed_day))
    }

    fn followed(
        &self,
        period: &Period,
        elapsed: fn(&JobFact) -> i32,
    ) -> impl Iterator<Item = Followed> + '_ {
        self.facts(period).filter(|(fact, _)| fact.followed).map(move |(fact, count)| Followed {
            closed_day: fact.closed_day,
            elapsed: elapsed(&fact),
            count,
        })
    }

    pub fn count(&self, period: &Period) -> i64 {
        self.facts(period).map(|(_, count)| count).sum()
    }

    pub fn found(&self, period: &Period) -> i64 {
        self.facts(period).filter(|(fact, _)| fact.found).map(|(_, count)| count).sum()
    }

    /// Minutes of the jobs whose cause was confirmed.
    pub fn minutes_to_cause(&self, period: &Period) -> MinuteFigures {
        let found = self.facts(period).filter(|(fact, _)| fact.found);
        minutes(found.map(|(fact, count)| (fact.minutes, count)))
    }

    /// `pairs` select the group's jobs.
    pub fn figures(&self, period: &Period, pairs: &[(&str, &str)]) -> PathFigures {
        let mut repaired = pairs.to_vec();
        repaired.push(("outcome", "repaired"));
        let ended = period.ended().selector(&repaired);
        let jobs = period.selector(pairs);
        let count = self.count(period);
        let found = Cases { cases: count, returns: self.found(period) };
        let elapsed = |fact: &JobFact| fact.elapsed;
        let closed = closed_cases(self.followed(period, elapsed), period);
        let wrong = closed_cases(self.followed(period, |fact| fact.misdiagnosed), period);
        PathFigures {
            count,
            minutes: minutes(self.facts(period).map(|(fact, count)| (fact.minutes, count))),
            found: counted_share(found, "found", jobs.clone()),
            comebacks: followed_share(
                self.followed(period, elapsed),
                period,
                "comeback",
                period.selector(&repaired),
            ),
            closed: counted_share(closed, "comeback_closed", ended.clone()),
            misdiagnosed: counted_share(wrong, "misdiagnosed", ended),
            too_few: count < TOO_FEW,
            jobs,
        }
    }
}

/// Minutes of one check, and how often it was done and showed something.
pub(super) fn check_counts(
    counts: &Counts<CheckFact>,
    period: &Period,
    abnormal: impl Fn(&CheckFact) -> bool,
) -> (MinuteFigures, i64, i64) {
    let facts = || counts.iter().filter(|(fact, _)| period.holds(fact.closed_day));
    let done = facts().map(|(_, count)| count).sum();
    let showing = facts().filter(|(fact, _)| abnormal(fact)).map(|(_, count)| count).sum();
    (minutes(facts().map(|(fact, count)| (fact.minutes, count))), done, showing)
}

fn minutes(values: impl Iterator<Item = (Option<i64>, i64)>) -> MinuteFigures {
    let mut histogram: BTreeMap<i64, i64> = BTreeMap::new();
    for (value, count) in values {
        if let Some(value) = value {
            *histogram.entry(value).or_default() += count;
        }
    }
    let quartiles = quartiles(&histogram);
    MinuteFigures {
        timed: histogram.values().sum(),
        lower_quartile: quartiles.map(|q| q.lower),
        median: quartiles.map(|q| q.median),
        upper_quartile: quartiles.map(|q| q.upper),
        total_minutes: histogram.iter().map(|(value, count)| value * count).sum(),
    }
}
