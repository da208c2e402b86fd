//! ISO 8601 weeks, as `2026-W41`.

use chrono::{Datelike, Duration, NaiveDate, Weekday};

/// The Monday of an ISO week written `2026-W41`, moved to the day a shop's week
/// starts on (`week_start` 1 = Monday ... 7 = Sunday: the six days before count
/// to that week).
#[must_use]
pub fn parse(text: &str, week_start: i32) -> Option<NaiveDate> {
    let (year, week) = text.split_once("-W")?;
    let plain = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if year.len() != 4 || week.len() != 2 || !plain(year) || !plain(week) {
        return None;
    }
    let monday = NaiveDate::from_isoywd_opt(year.parse().ok()?, week.parse().ok()?, Weekday::Mon)?;
    let back = i64::from((8 - week_start).rem_euclid(7));
    monday.checked_sub_signed(Duration::days(back))
}

/// The name of the week that starts on `first_day`: of the ISO week that holds
/// most of it.
#[must_use]
pub fn name(first_day: NaiveDate) -> String {
    let middle = first_day.checked_add_signed(Duration::days(3)).unwrap_or(first_day);
    let week = middle.iso_week();
    format!("{}-W{:02}", week.year(), week.week())
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    // ISO 8601: week 53 of 2026 runs from 2026-12-28 to 2027-01-03.
    #[test]
    fn the_last_week_of_2026() {
        let monday = parse("2026-W53", 1).unwrap();
        assert_eq!(monday.to_string(), "2026-12-28");
        assert_eq!(name(monday), "2026-W53");
        assert_eq!(parse("2025-W53", 1), None);
    }

    #[test]
    fn a_week_that_starts_on_sunday() {
        let sunday = parse("2026-W41", 7).unwrap();
        assert_eq!(sunday.to_string(), "2026-10-04");
        assert_eq!(name(sunday), "2026-W41");
    }
}
