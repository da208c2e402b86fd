//! Days on which something happened.

use chrono::{Datelike, NaiveDate};

use super::refusal::FieldFault;

/// Refuses a day that has not come yet, and one that nobody can mean.
///
/// # Errors
/// The fault at `field`.
pub fn past(field: &str, day: NaiveDate, today: NaiveDate) -> Result<(), FieldFault> {
    if day <= today && day.year() >= 1900 {
        return Ok(());
    }
    Err(FieldFault::new(field, "range", format!("write a day up to today, {today}")))
}

/// Refuses a day that nobody can mean, past or to come.
///
/// # Errors
/// The fault at `field`.
pub fn known(field: &str, day: NaiveDate) -> Result<(), FieldFault> {
    if (1900..=2200).contains(&day.year()) {
        return Ok(());
    }
    Err(FieldFault::new(field, "range", "write a day between 1900-01-01 and 2200-12-31"))
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn only_days_that_came() {
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        let today = day("2026-11-27");
        assert!(past("told_on", today, today).is_ok());
        assert!(past("told_on", day("1900-01-01"), today).is_ok());
        assert_eq!(past("told_on", day("2026-11-28"), today).unwrap_err().pointer, "/told_on");
        assert!(past("told_on", day("0026-11-27"), today).is_err());
    }

    #[test]
    fn only_days_that_can_be_meant() {
        assert!(
            known("due_on", NaiveDate::MIN).is_err() && known("due_on", NaiveDate::MAX).is_err()
        );
        assert!(known("due_on", NaiveDate::from_ymd_opt(2027, 1, 2).unwrap()).is_ok());
    }
}
