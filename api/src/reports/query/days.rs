//! The days a report looks at.

use chrono::{Datelike, Duration, NaiveDate};

use super::{Faults, ReportQuery};
use crate::domain::clock::UtcStamp;
use crate::domain::week;
use crate::domain::zone::week_first_day;
use crate::shops::model::Shop;

/// No record of a shop reaches back before this year.
const FIRST_YEAR: i32 = 1980;
/// A day with a year of four digits, so that no sum of days leaves the calendar.
pub(super) fn parse_date(text: &str) -> Option<NaiveDate> {
    (text.len() == 10).then(|| NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()).flatten()
}

pub(super) fn as_of(
    faults: &mut Faults,
    query: &ReportQuery,
    shop: &Shop,
    now: UtcStamp,
) -> NaiveDate {
    let zone = shop.zone();
    let (last, today) = (zone.last_complete_day(now), zone.day(now));
    match faults.date("as_of", query.as_of.as_deref()) {
        // A later day would count jobs as held for days that nobody has seen.
        Some(day) if day > today => {
            faults.add("as_of", "range", format!("write a day up to {today}"));
            last
        }
        Some(day) if day.year() < FIRST_YEAR => {
            faults.add("as_of", "range", format!("write a day from {FIRST_YEAR}-01-01 on"));
            last
        }
        Some(day) => day,
        None => last,
    }
}

pub(super) fn week(faults: &mut Faults, query: &ReportQuery, shop: &Shop) -> Option<NaiveDate> {
    if query.week.is_some() && (query.from.is_some() || query.to.is_some()) {
        faults.add("week", "value", "write a week or from and to, not both");
    }
    faults.read(
        "week",
        query.week.as_deref(),
        |text| week::parse(text, shop.week_start).filter(|day| day.year() >= FIRST_YEAR),
        || "write a week such as 2026-W41".to_owned(),
    )
}

/// Refuses a week or a period of which nothing has happened by the as-of (or by
/// today, where none was asked for).
pub(super) fn begun(
    faults: &mut Faults,
    (week, from): (Option<NaiveDate>, Option<NaiveDate>),
    last: NaiveDate,
) {
    match (week, from) {
        (Some(first), _) if first > last => {
            let detail = format!("the week has not begun: write one that begins by {last}");
            faults.add("week", "range", detail);
        }
        (None, Some(first)) if first > last => {
            let detail = format!("the period has not begun: write a day up to {last}");
            faults.add("from", "range", detail);
        }
        _ => {}
    }
}

/// First day of the last week that is over at the end of `as_of`.
pub(super) fn last_complete_week(as_of: NaiveDate, week_start: i32) -> NaiveDate {
    let next = as_of.succ_opt().unwrap_or(as_of);
    let running = week_first_day(next, week_start);
    running.checked_sub_signed(Duration::days(7)).unwrap_or(running)
}

pub(super) fn period(
    faults: &mut Faults,
    query: &ReportQuery,
) -> (Option<NaiveDate>, Option<NaiveDate>) {
    let from = faults.date("from", query.from.as_deref());
    let to = faults.date("to", query.to.as_deref());
    if let (Some(first), Some(last)) = (from, to)
        && first > last
    {
        faults.add("from", "range", format!("write a day up to {last}, the last one asked for"));
    }
    (from, to)
}
