//! Whether an odometer runs on from where it stood. Pure: readings in, a warning
//! out.

use chrono::NaiveDate;

/// A reading, of a visit or after a reset.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    pub on: NaiveDate,
    pub value: i64,
    pub unit: String,
}

/// The reading that the one of a visit should not lie below: the highest one in
/// the same unit since the odometer was replaced, if ever, so that a reading
/// too low does not become the measure of the next. `visits` are those before,
/// the latest first.
#[must_use]
pub fn highest<'a>(
    now: &Reading,
    visits: &'a [Reading],
    resets: &'a [Reading],
) -> Option<&'a Reading> {
    let reset = resets.iter().filter(|reset| reset.on <= now.on).max_by_key(|reset| reset.on);
    visits
        .iter()
        // On the day of the reset itself nobody knows which odometer was read.
        .filter(|visit| reset.is_none_or(|reset| visit.on > reset.on))
        .chain(reset)
        .filter(|reading| reading.unit == now.unit)
        .reduce(|most, reading| if reading.value > most.value { reading } else { most })
}

/// That reading, where the new one lies below it.
#[must_use]
pub fn runs_backward<'a>(
    now: &Reading,
    visits: &'a [Reading],
    resets: &'a [Reading],
) -> Option<&'a Reading> {
    highest(now, visits, resets).filter(|before| now.value < before.value)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn reading(day: u32, value: i64, unit: &str) -> Reading {
        Reading { on: NaiveDate::from_ymd_opt(2026, 3, day).unwrap(), value, unit: unit.into() }
    }

    #[test]
    fn it_runs_on_from_the_highest_reading() {
        let visits = [reading(9, 81_206, "km"), reading(2, 79_000, "km")];
        assert_eq!(runs_backward(&reading(20, 81_206, "km"), &visits, &[]), None);
        assert_eq!(runs_backward(&reading(20, 81_205, "km"), &visits, &[]), visits.first());
        assert_eq!(runs_backward(&reading(20, 5, "km"), &[], &[]), None);
        // One reading too low is not the measure of the next.
        let visits = [reading(12, 1_000, "km"), reading(9, 81_206, "km")];
        assert_eq!(runs_backward(&reading(20, 81_000, "km"), &visits, &[]), visits.last());
        assert_eq!(runs_backward(&reading(20, 81_300, "km"), &visits, &[]), None);
    }

    #[test]
    fn units_are_not_compared() {
        let visits = [reading(9, 81_206, "km")];
        assert_eq!(runs_backward(&reading(20, 50_461, "[mi_i]"), &visits, &[]), None);
    }

    #[test]
    fn a_reset_begins_anew() {
        let visits = [reading(12, 40, "km"), reading(9, 81_206, "km")];
        let resets = [reading(10, 12, "km")];
        assert_eq!(runs_backward(&reading(20, 50, "km"), &visits, &resets), None);
        assert_eq!(runs_backward(&reading(20, 39, "km"), &visits, &resets), visits.first());
        // Nobody came since: the reset's own reading is the last.
        let before = [reading(9, 81_206, "km")];
        assert_eq!(runs_backward(&reading(20, 11, "km"), &before, &resets), resets.first());
        assert_eq!(runs_backward(&reading(20, 12, "km"), &before, &resets), None);
        // A reset that came later says nothing of this visit.
        assert!(runs_backward(&reading(9, 80_000, "km"), &before, &resets).is_some());
    }
}
