//! How the jobs of each closing week stand.

use chrono::NaiveDate;
use serde::Serialize;

use crate::comeback::{ComebackFigures, ComebackTally, Tally, figures, share_at, week_start_of};
use crate::figure::Share;
use crate::follow::{Period, date_of};
use crate::history::History;

/// Closing weeks shown.
const WEEKS: i32 = 12;
/// The early share beside that of the window.
const EARLY_DAYS: i32 = 30;

/// The repaired complaints closed in one week.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Cohort {
    /// Absent for the overall line.
    pub week_from: Option<NaiveDate>,
    pub week_to: NaiveDate,
    pub figures: ComebackFigures,
    pub share_30: Share,
    /// Days that every job of the line has been followed, at most the window.
    pub followed_days: i32,
    /// The share after that many days; absent for the overall line, whose last
    /// job was closed today.
    pub so_far: Option<Share>,
}

/// The last closing weeks up to the one that starts on `week_from`, the latest
/// first. `record` is everything closed up to the end of that week.
pub(super) fn cohorts(
    history: &History,
    tally: &ComebackTally,
    record: &Period,
    week_from: i32,
) -> Vec<Cohort> {
    let jobs = history.jobs();
    // The week asked for decides where weeks start, not the shop's setting: a
    // review of any seven days compares like with like.
    let first = first_weekday(week_from);
    let closed = jobs.closed_day.first().filter(|day| **day <= record.as_of);
    let Some(oldest) = closed.map(|day| week_start_of(*day, first)) else {
        return Vec::new();
    };
    (0..WEEKS)
        .map(|back| week_from - 7 * back)
        .take_while(|from| *from >= oldest)
        .map(|from| {
            let period = record.within(from, from + 6);
            let tally = tally.all().closed_between(period.first, period.last);
            cohort(&tally, &period, Some(from), from + 6)
        })
        .collect()
}

/// Everything closed up to the end of the week.
pub(super) fn overall(tally: &ComebackTally, record: &Period, week_to: i32) -> Cohort {
    cohort(tally.all(), record, None, week_to)
}

/// The weekday of a day as the shop's setting counts it, 1 = Monday.
fn first_weekday(day: i32) -> u8 {
    // week_start_of(day, f) == day exactly for the day's own weekday.
    (1..=7).find(|first| week_start_of(day, *first) == day).unwrap_or(1)
}

fn cohort(tally: &Tally, period: &Period, from: Option<i32>, to: i32) -> Cohort {
    let figures = figures(tally, period, &[]);
    let followed_days = (period.as_of - to).clamp(0, period.window);
    let jobs = &figures.jobs;
    Cohort {
        week_from: from.map(date_of),
        week_to: date_of(to.min(period.as_of)),
        share_30: share_at(tally, &period.windowed(EARLY_DAYS), "comeback_30", jobs),
        so_far: from
            .map(|_| share_at(tally, &period.windowed(followed_days), "comeback_so_far", jobs)),
        followed_days,
        figures,
    }
}
