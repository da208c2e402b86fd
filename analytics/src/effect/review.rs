//! The day on which a rule can be judged, from how often its jobs come.

use chrono::NaiveDate;

use crate::comeback::in_population;
use crate::figure::TOO_FEW;
use crate::follow::{Period, date_of, day_number, first_returns};
use crate::history::History;
use crate::select::{Selector, fitting};
use crate::stats::poisson::mean_reaching;

/// The pace is that of so many days before.
pub(super) const PACE_DAYS: i32 = 365;
/// How sure it is to be that enough windows have ended.
const SURE: f64 = 0.8;
/// Days after the window in which jobs are closed, at the least.
const LEAST_DAYS: i32 = 30;
/// Days after the start that a rule is judged by, at the most.
const MOST_DAYS: i32 = 730;

/// A day for the one verdict, and how it was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReviewPlan {
    pub day: NaiveDate,
    /// Repaired complaints that the rule is about, in so many days before.
    pub jobs: i64,
    pub days: i64,
    pub window_days: i32,
    /// Windows that will likely have ended by then, of jobs closed since the start.
    pub expected_after: f64,
    /// Those that will have ended of jobs closed in as many days before it.
    pub before: i64,
    /// Even then ten windows are not likely to have ended.
    pub too_few: bool,
}

/// Days that a record has up to the as-of, at most a year.
pub(super) fn pace_days(first: i32, as_of: i32) -> i32 {
    as_of.saturating_sub(first).saturating_add(1).clamp(1, PACE_DAYS)
}

/// When ten windows will likely have ended of jobs closed since the start, at the
/// pace of the last year; thirty days after the first window's end at the earliest.
#[must_use]
pub fn plan_review(
    history: &History,
    about: &Selector,
    start: NaiveDate,
    as_of: NaiveDate,
) -> ReviewPlan {
    let window = Period::window_of(None, history.facts());
    let (start, as_of) = (day_number(start), day_number(as_of));
    let closed = closed_days(history, about, (as_of, window));
    let first = history.jobs().closed_day.first().copied().unwrap_or(as_of);
    let days = pace_days(first, as_of);
    let jobs = closed.iter().filter(|day| as_of - **day < days).count() as i64;
    let pace = jobs as f64 / f64::from(days);
    let wanted = mean_reaching(TOO_FEW, SURE).unwrap_or(f64::INFINITY);
    let needed = if pace > 0.0 { (wanted / pace).ceil() } else { f64::INFINITY };
    // Past the longest nobody waits; a float that is too large stays the longest.
    let most = f64::from((MOST_DAYS - window).max(LEAST_DAYS));
    let closing_days = needed.clamp(f64::from(LEAST_DAYS), most);
    let length = window.saturating_add(closing_days as i32);
    let day = start.saturating_add(length);
    let before = closed
        .iter()
        .filter(|closed| {
            (start.saturating_sub(length)..start).contains(*closed)
                && closed.saturating_add(window) <= day
        })
        .count() as i64;
    ReviewPlan {
        day: date_of(day),
        jobs,
        days: i64::from(days),
        window_days: window,
        expected_after: pace * closing_days,
        before,
        too_few: needed > most,
    }
}

/// Closing days of the repaired complaints that a rule is about.
fn closed_days(history: &History, about: &Selector, seen: (i32, i32)) -> Vec<i32> {
    let touched = fitting(history, about, first_returns(history), seen);
    let rows = touched.into_iter().zip(in_population(history)).zip(history.jobs().closed_day);
    rows.filter(|((touched, inside), _)| *touched && **inside).map(|(_, day)| *day).collect()
}
