//! What a rule's review day will have to go by, before it has come.

use chrono::NaiveDate;
use serde::Serialize;

use super::review::pace_days;
use crate::comeback::Fate;
use crate::counts::Counts;
use crate::follow::{Period, day_number};

/// Windows that will have ended by the review day.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = EffectAhead))]
pub struct Ahead {
    /// From this day on it is not too early.
    pub review: NaiveDate,
    /// Of jobs closed since the start, those whose windows have ended by now.
    pub ended_after: i64,
    /// Of jobs closed since the start, those whose windows end by the review day.
    pub known_after: i64,
    /// The same with the jobs to come, at the pace of the last year.
    pub expected_after: f64,
    /// Of jobs closed before the start, in as many days.
    pub known_before: i64,
    /// Jobs that the pace is from, in so many days.
    pub pace_jobs: i64,
    pub pace_days: i64,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
}

/// From the touched jobs by the as-of; `begins` is the first closing day of the
/// record that is looked at.
pub(super) fn ahead(
    touched: &Counts<Fate>,
    (start, review): (NaiveDate, NaiveDate),
    period: &Period,
    begins: i32,
) -> Ahead {
    let (first, last) = (day_number(start), day_number(review));
    let count = |fits: &dyn Fn(i32) -> bool| -> i64 {
        let closed = touched.iter().filter(|(fate, _)| {
            (period.first..=period.as_of).contains(&fate.closed_day) && fits(fate.closed_day)
        });
        closed.map(|(_, count)| count).sum()
    };
    // The last closing day whose window ends by the review day.
    let closing = last.saturating_sub(period.window);
    let days = pace_days(begins, period.as_of);
    let pace_jobs = count(&|day| period.as_of - day < days);
    let to_come = closing.saturating_sub(period.as_of.max(first.saturating_sub(1))).max(0);
    let known_after = count(&|day| day >= first && day <= closing);
    let as_long = first.saturating_sub(last.saturating_sub(first).saturating_add(1));
    Ahead {
        review,
        ended_after: count(&|day| day >= first && period.window_closed(day)),
        known_after,
        expected_after: known_after as f64
            + f64::from(to_come) * pace_jobs as f64 / f64::from(days),
        known_before: count(&|day| (as_long..first).contains(&day) && day <= closing),
        pace_jobs,
        pace_days: i64::from(days),
        definition: "ahead",
    }
}
