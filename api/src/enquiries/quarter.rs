//! Quarters of a year. Pure.

use chrono::{Datelike, NaiveDate};

/// A quarter of a year; in the order of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Quarter {
    year: i32,
    /// 0 to 3.
    place: u32,
}

impl Quarter {
    /// The quarter that a day is in.
    #[must_use]
    pub fn of(day: NaiveDate) -> Self {
        Self { year: day.year(), place: day.month0() / 3 }
    }

    /// The one before.
    #[must_use]
    pub const fn before(self) -> Self {
        match self.place {
            0 => Self { year: self.year - 1, place: 3 },
            place => Self { year: self.year, place: place - 1 },
        }
    }

    /// Its first day.
    #[must_use]
    pub fn first_day(self) -> NaiveDate {
        NaiveDate::from_ymd_opt(self.year, self.place * 3 + 1, 1).unwrap_or_default()
    }

    /// `2026-Q4`.
    #[must_use]
    pub fn name(self) -> String {
        format!("{}-Q{}", self.year, self.place + 1)
    }

    /// The last ones up to a day, the oldest first.
    #[must_use]
    pub fn last(count: usize, day: NaiveDate) -> Vec<Self> {
        let mut found: Vec<Self> =
            std::iter::successors(Some(Self::of(day)), |one| Some(one.before()))
                .take(count)
                .collect();
        found.reverse();
        found
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn four_a_year() {
        let names: Vec<String> =
            Quarter::last(4, day("2026-02-28")).into_iter().map(Quarter::name).collect();
        assert_eq!(names, ["2025-Q2", "2025-Q3", "2025-Q4", "2026-Q1"]);
        assert_eq!(Quarter::of(day("2026-12-31")).first_day(), day("2026-10-01"));
    }

    proptest! {
        #[test]
        fn a_day_is_in_one(n in 0_u64..40_000) {
            let on = day("1950-01-01") + chrono::Days::new(n);
            let one = Quarter::of(on);
            prop_assert!(one.first_day() <= on);
            prop_assert_eq!(Quarter::of(one.first_day()), one);
            prop_assert_eq!(Quarter::of(one.first_day().pred_opt().unwrap()), one.before());
        }
    }
}
