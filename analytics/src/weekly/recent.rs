//! Jobs that are too recent for a share: their window has not ended.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Serialize;

use super::arrivals::{Chances, Usual};
use super::weeks::{Case, Week, Weeks};
use crate::follow::{Period, date_of};

const POPULATION: [(&str, &str); 2] = [("kind", "complaint"), ("outcome", "repaired")];

/// The jobs of one closing week whose window has not ended by the as-of.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RecentWeek {
    pub week_from: NaiveDate,
    /// The week's last day, or an earlier as-of.
    pub week_to: NaiveDate,
    pub count: i64,
    /// Came back so far.
    pub returns: i64,
    /// Expected to come back before their window ends, of those still out;
    /// absent while nothing is known to be usual.
    pub expected: Option<f64>,
    /// Selects the jobs.
    pub jobs: String,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TooRecent {
    pub count: i64,
    pub returns: i64,
    pub expected: Option<f64>,
    /// The latest first; weeks without jobs are left out.
    pub weeks: Vec<RecentWeek>,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
    pub jobs: String,
}

/// Jobs closed up to the end of the week, as of `as_of`.
pub(super) fn too_recent(
    weeks: &Weeks<'_>,
    week: Week,
    as_of: i32,
    usual: &Usual<'_>,
) -> TooRecent {
    let first = as_of.saturating_sub(weeks.window).saturating_add(1);
    let period = weeks.period(first, week.to, as_of);
    let chances = usual.chances();
    let starts = std::iter::successors(Some(week.start_by(week.to)), |from| from.checked_sub(7));
    let lines: Vec<RecentWeek> = starts
        .take_while(|from| from.saturating_add(6) >= first)
        .map(|from| line(weeks, &period, chances.as_ref(), from))
        .filter(|line| line.count > 0)
        .collect();
    TooRecent {
        count: lines.iter().map(|line| line.count).sum(),
        returns: lines.iter().map(|line| line.returns).sum(),
        expected: chances.map(|_| lines.iter().filter_map(|line| line.expected).sum()),
        weeks: lines,
        definition: "too_recent",
        jobs: period.selector(&POPULATION),
    }
}

/// The jobs of the week that starts on `from`.
fn line(weeks: &Weeks<'_>, all: &Period, chances: Option<&Chances<'_>>, from: i32) -> RecentWeek {
    let period = all.within(from, from.saturating_add(6));
    let first = weeks.cases.partition_point(|case| case.closed_day < period.first);
    let end = weeks.cases.partition_point(|case| case.closed_day <= period.last);
    let cases = weeks.cases.get(first..end).unwrap_or_default();
    let (back, out): (Vec<&Case>, Vec<&Case>) =
        cases.iter().partition(|case| period.returned(case.closed_day, case.back.days).is_some());
    RecentWeek {
        week_from: date_of(from),
        week_to: date_of(period.last),
        count: cases.len() as i64,
        returns: back.len() as i64,
        expected: chances.map(|chances| still_to_come(weeks, &period, chances, &out)),
        jobs: period.selector(&POPULATION),
    }
}

/// Jobs still out that will come back before their window ends, on average.
fn still_to_come(weeks: &Weeks<'_>, period: &Period, chances: &Chances<'_>, out: &[&Case]) -> f64 {
    // Counted before anything is added, so that the order of jobs never shows.
    let mut counts: BTreeMap<(Option<&str>, i32), i64> = BTreeMap::new();
    for case in out {
        let age = period.as_of - case.closed_day;
        *counts.entry((weeks.history.text(case.system), age)).or_default() += 1;
    }
    let lines = counts.into_iter();
    lines
        .map(|((system, age), count)| {
            let days = chances.get(&system).map(Vec::as_slice).unwrap_or_default();
            let ahead = days.iter().zip(0..=period.window).filter(|(_, day)| *day > age);
            let stays: f64 = ahead.map(|(chance, _)| 1.0 - chance).product();
            count as f64 * (1.0 - stays)
        })
        .sum()
}
