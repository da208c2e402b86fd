//! The weekly review: what was closed, what came back and whether that is
//! more than usual, and how the last closing weeks stand.

mod arrivals;
mod cohorts;

use chrono::{Days, NaiveDate};
use serde::Serialize;

pub use arrivals::{Answer, Arrivals, SystemArrivals};
pub use cohorts::Cohort;

use crate::comeback::{self, ChainCount, ComebackLine, ComebackTally, comeback_lines};
use crate::figure::{Head, Query};
use crate::follow::{Period, day_number, head};
use crate::history::History;
use crate::outcomes::{self, CaughtHere, caught_here, has_more_to_come};
use crate::words::{JobKind, LinkState, Outcome};

/// What the review is asked for. Days are shop-local.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WeekQuery {
    /// End of this day: today's record, cut here.
    pub as_of: NaiveDate,
    /// First day of the week looked at.
    pub week_from: NaiveDate,
    /// Comeback window in days; the shop's own where absent.
    pub window_days: Option<i32>,
}

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

/// The review of one week.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WeeklyReview {
    /// From the week's first day to its last, or to an earlier as-of.
    pub head: Head,
    pub week_from: NaiveDate,
    pub week_to: NaiveDate,
    /// The as-of lies inside the week: it is not over.
    pub partial: bool,
    pub closed: Vec<ClosedLine>,
    pub caught_here: CaughtHere,
    pub arrivals: Arrivals,
    /// Confirmed comebacks whose later order was opened in the week, and returns
    /// told in it, the latest first.
    pub comebacks: Vec<ComebackLine>,
    pub chains: ChainCount,
    pub by_reason: Vec<Tallied>,
    pub by_system: Vec<Tallied>,
    pub undecided: Undecided,
    /// The last twelve closing weeks up to this one, the latest first.
    pub cohorts: Vec<Cohort>,
    /// Everything closed up to the end of the week.
    pub overall: Cohort,
}

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "arrivals",
        "Jobs whose first return fell into the week (a confirmed comeback that was opened, or a \
         repair told not to have held), against those expected from \
         all repaired complaints at risk: the chance of a day to bring one, by elapsed days and \
         system, as seen in the 52 weeks before. Exact Poisson; more or fewer than usual where \
         the two-sided probability is below 5 %. Not yet: fewer than 26 weeks of record before \
         the week, or the week has not begun.",
    ),
    (
        "comeback_so_far",
        "The comeback share after as many days as every job of the week has been followed, at \
         most the window.",
    ),
    ("comeback_30", "The comeback share at 30 days."),
];

/// The week's closings, its comebacks, and how the closing weeks stand.
#[must_use]
pub fn weekly(history: &History, query: &WeekQuery) -> WeeklyReview {
    let last = query.week_from.checked_add_days(Days::new(6)).unwrap_or(NaiveDate::MAX);
    let week_to = last.min(query.as_of);
    let asked = Query {
        as_of: query.as_of,
        from: Some(query.week_from),
        to: Some(week_to),
        window_days: query.window_days,
        by: None,
    };
    let week = Period::new(&asked, history.facts());
    let (from, to) = (day_number(query.week_from), day_number(week_to));
    let arrived = |_, _, opened| (from..=to).contains(&opened);
    let (comebacks, chains) = comeback_lines(history, query.as_of, arrived);
    let definitions = [comeback::DEFINITIONS, outcomes::DEFINITIONS, DEFINITIONS].concat();
    let tally = ComebackTally::of(history, None);
    // Jobs closed before links were recorded are in no tally; the selectors
    // leave them out too.
    let linked = history.facts().links_from;
    let record = Period::new(&Query { from: linked, ..asked.clone() }, history.facts());
    WeeklyReview {
        head: head("weekly", history.facts(), history.change_no(), &asked, &definitions),
        week_from: query.week_from,
        week_to,
        partial: week_to < last,
        closed: closed(history, &week),
        caught_here: caught_here(history, &week),
        arrivals: arrivals::arrivals(history, from, to),
        by_reason: tallied(&comebacks, |line| line.reason.as_deref()),
        by_system: tallied(&comebacks, |line| line.system.as_deref()),
        comebacks,
        chains,
        undecided: undecided(history, from, to, day_number(query.as_of)),
        cohorts: cohorts::cohorts(history, &tally, &record, from),
        overall: cohorts::overall(&tally, &record, to),
    }
}

fn closed(history: &History, week: &Period) -> Vec<ClosedLine> {
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
fn tallied(lines: &[ComebackLine], name: impl Fn(&ComebackLine) -> Option<&str>) -> Vec<Tallied> {
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

fn undecided(history: &History, from: i32, to: i32, as_of: i32) -> Undecided {
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
