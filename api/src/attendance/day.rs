//! Whether a day's attendance can have been so, and how people write it.

use chrono::NaiveDate;

use crate::domain::decimal::parse_scaled;
use crate::domain::refusal::FieldFault;

/// Minutes of a day.
pub const MOST_MINUTES: i32 = 1440;
/// Nobody writes down what is longer ago.
pub const OLDEST_DAYS: i64 = 400;

/// Decides.
///
/// # Errors
/// What is wrong, field by field.
pub fn decide(worked_on: NaiveDate, today: NaiveDate, minutes: i32) -> Result<(), Vec<FieldFault>> {
    let mut faults = Vec::new();
    let back = (today - worked_on).num_days();
    if back < 0 {
        faults.push(FieldFault::new("day", "range", "that day is still to come"));
    }
    if back > OLDEST_DAYS {
        faults.push(FieldFault::new(
            "day",
            "range",
            format!("record attendance at most {OLDEST_DAYS} days back"),
        ));
    }
    if !(0..=MOST_MINUTES).contains(&minutes) {
        faults.push(FieldFault::new(
            "attended_minutes",
            "range",
            format!("write minutes between 0 and {MOST_MINUTES}"),
        ));
    }
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// Minutes of what people write: `8`, `7.5`, `7:30`.
#[must_use]
pub fn minutes_of(text: &str) -> Option<i32> {
    let minutes = match text.split_once(':') {
        Some((hours, minutes)) => {
            let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
            let minutes: i32 = Some(minutes).filter(|m| m.len() == 2 && digits(m))?.parse().ok()?;
            let hours: i32 = Some(hours).filter(|h| digits(h))?.parse().ok()?;
            (minutes < 60).then_some(hours.checked_mul(60)?.checked_add(minutes)?)?
        }
        None => {
            let hundredths = parse_scaled(text, 2).ok()?;
            i32::try_from((hundredths.checked_mul(60)? + 50).div_euclid(100)).ok()?
        }
    };
    (0..=MOST_MINUTES).contains(&minutes).then_some(minutes)
}

/// Minutes as hours and minutes on a sheet: `7:30`.
#[must_use]
pub fn as_hours(minutes: i64) -> String {
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn the_past_year_and_no_tomorrow() {
        let today = NaiveDate::from_ymd_opt(2026, 11, 27).unwrap();
        let at = |days: i64| today - chrono::Duration::days(days);
        assert!(decide(at(0), today, 480).is_ok());
        assert!(decide(at(400), today, 0).is_ok());
        for (days, minutes, pointer) in
            [(-1, 480, "/day"), (401, 480, "/day"), (1, 1441, "/attended_minutes")]
        {
            let faults = decide(at(days), today, minutes).unwrap_err();
            assert_eq!(faults.first().unwrap().pointer, pointer);
        }
        assert_eq!(decide(at(-1), today, -1).unwrap_err().len(), 2);
    }

    #[test]
    fn hours_as_people_write_them() {
        for (text, minutes) in [("8", 480), ("7.5", 450), ("7:30", 450), ("0", 0), ("24", 1440)] {
            assert_eq!(minutes_of(text), Some(minutes), "{text}");
        }
        for text in ["", "-1", "24.1", "7:60", "7:5", "8h", "99999999999", "99999999:00"] {
            assert_eq!(minutes_of(text), None, "{text}");
        }
        assert_eq!(as_hours(450), "7:30");
        assert_eq!(as_hours(5), "0:05");
    }
}
