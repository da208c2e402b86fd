//! The demo shop's weeks, in the shop's own time.

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveTime, Utc, Weekday};

use crate::domain::zone::Zone;

/// Weeks of the scenario.
pub(super) const WEEKS: usize = 50;
/// Days of a week on which the shop may be open, Monday first.
pub(super) const DAYS: usize = 6;
pub(super) const MONDAY: usize = 0;
pub(super) const FRIDAY: usize = 4;
pub(super) const SATURDAY: usize = 5;

/// One week: on which of its days the shop is open.
#[derive(Debug, Clone, Copy)]
pub(super) struct Week {
    pub monday: NaiveDate,
    open: [bool; DAYS],
}

impl Week {
    fn new(monday: NaiveDate, end: NaiveDate) -> Self {
        let mut open = [false; DAYS];
        for (day, is_open) in open.iter_mut().enumerate() {
            let date = later(monday, day as u64);
            // Every other Saturday.
            let works = day != SATURDAY || monday.num_days_from_ce() / 7 % 2 == 0;
            *is_open = works && date <= end && !is_holiday(date);
        }
        Self { monday, open }
    }

    /// Whether the shop is open on that day of the week.
    pub fn is_open(&self, day: usize) -> bool {
        self.open.get(day).copied().unwrap_or(false)
    }

    /// The open days.
    pub fn open_days(&self) -> impl Iterator<Item = usize> {
        (0..DAYS).filter(|day| self.is_open(*day))
    }

    /// The next open day of the same week.
    pub fn open_after(&self, day: usize) -> Option<usize> {
        self.open_days().find(|next| *next > day)
    }

    /// The open day before it in the same week.
    pub fn open_before(&self, day: usize) -> Option<usize> {
        self.open_days().filter(|before| *before < day).last()
    }

    pub fn date(&self, day: usize) -> NaiveDate {
        later(self.monday, day as u64)
    }

    /// How much work comes in, per thousand of an ordinary week: fewer days
    /// bring less, and between the years people do not think of their cars.
    pub fn weight(&self) -> u32 {
        let days = self.open_days().filter(|day| *day != SATURDAY).count() as u32;
        let quiet = (0..DAYS).any(|day| {
            let date = self.date(day);
            (date.month(), date.day()) == (12, 25) || (date.month(), date.day()) == (1, 1)
        });
        days * if quiet { 110 } else { 200 }
    }
}

/// Monday of the scenario's first week: fifty whole weeks, the last ending on
/// or before `end`.
pub(super) fn first_monday(end: NaiveDate) -> NaiveDate {
    let past_sunday = u64::from(end.weekday().num_days_from_sunday());
    earlier(end, past_sunday + WEEKS as u64 * 7 - 1)
}

/// The weeks from `monday` to the one that holds `end`, which may be broken off.
pub(super) fn weeks(monday: NaiveDate, end: NaiveDate) -> Vec<Week> {
    std::iter::successors(Some(monday), |day| Some(later(*day, 7)))
        .take_while(|day| *day <= end)
        .map(|day| Week::new(day, end))
        .collect()
}

/// The last day from Monday to Friday, at the latest `end`, that was open.
pub(super) fn last_working_day(end: NaiveDate) -> NaiveDate {
    std::iter::successors(Some(end), |day| day.pred_opt())
        .find(|day| day.weekday().num_days_from_monday() < 5 && !is_holiday(*day))
        .unwrap_or(end)
}

/// The instant of a minute of a shop-local day.
pub fn instant(zone: Zone, day: NaiveDate, minute: i32) -> DateTime<Utc> {
    let seconds = u32::try_from(minute * 60).unwrap_or(0);
    let time = NaiveTime::from_num_seconds_from_midnight_opt(seconds, 0).unwrap_or_default();
    let local = day.and_time(time);
    zone.instant(local).map_or(local.and_utc(), |at| at.utc())
}

pub(super) fn later(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_add_days(Days::new(days)).unwrap_or(day)
}

pub(super) fn earlier(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_sub_days(Days::new(days)).unwrap_or(day)
}

/// The days on which a United States shop is usually closed (common practice).
fn is_holiday(date: NaiveDate) -> bool {
    let nth = (date.day() - 1) / 7 + 1;
    let last = later(date, 7).month() != date.month();
    match (date.month(), date.weekday()) {
        (5, Weekday::Mon) => last,
        (9, Weekday::Mon) => nth == 1,
        (11, Weekday::Thu) => nth == 4,
        _ => matches!((date.month(), date.day()), (1, 1) | (7, 4) | (12, 25)),
    }
}
