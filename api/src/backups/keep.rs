//! Which backups are kept: of the last hours, days and months that have one, the
//! newest of each.

use std::collections::BTreeSet;

use chrono::{DateTime, Datelike, Timelike, Utc};

const HOURS: usize = 24;
const DAYS: usize = 30;
const MONTHS: usize = 12;

/// Those that may go. The newest stays whatever the clock says.
#[must_use]
pub fn dropped(made: &BTreeSet<DateTime<Utc>>) -> Vec<DateTime<Utc>> {
    let hour = |at: &DateTime<Utc>| (at.date_naive(), at.hour());
    let day = |at: &DateTime<Utc>| at.date_naive();
    let month = |at: &DateTime<Utc>| (at.year(), at.month());
    let mut kept = newest_of(made, HOURS, hour);
    kept.extend(newest_of(made, DAYS, day));
    kept.extend(newest_of(made, MONTHS, month));
    made.difference(&kept).copied().collect()
}

/// The newest of each of the last so many periods that have any.
fn newest_of<P: PartialEq>(
    made: &BTreeSet<DateTime<Utc>>,
    periods: usize,
    of: impl Fn(&DateTime<Utc>) -> P,
) -> BTreeSet<DateTime<Utc>> {
    let mut kept = BTreeSet::new();
    let mut last = None;
    for at in made.iter().rev() {
        let period = Some(of(at));
        if period == last {
            continue;
        }
        if kept.len() == periods {
            break;
        }
        kept.insert(*at);
        last = period;
    }
    kept
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn at(minutes: i64) -> DateTime<Utc> {
        DateTime::from_timestamp(1_790_000_000 + minutes * 60, 0).unwrap()
    }

    proptest! {
        #[test]
        fn what_is_kept_is_enough_and_stays(minutes in prop::collection::btree_set(0_i64..1_500_000, 1..300)) {
            let made: BTreeSet<DateTime<Utc>> = minutes.iter().map(|minutes| at(*minutes)).collect();
            let gone = dropped(&made);
            let kept: BTreeSet<DateTime<Utc>> =
                made.iter().filter(|at| !gone.contains(at)).copied().collect();
            prop_assert!(kept.contains(made.last().unwrap()));
            prop_assert!(kept.len() <= HOURS + DAYS + MONTHS);
            // Asked again, nothing more goes.
            prop_assert!(dropped(&kept).is_empty());
            // Whatever hour, day or month is among the last ones keeps its newest.
            let days: BTreeSet<_> = made.iter().map(DateTime::date_naive).collect();
            for day in days.iter().rev().take(DAYS) {
                let newest = made.iter().rfind(|at| at.date_naive() == *day).unwrap();
                prop_assert!(kept.contains(newest), "{newest}");
            }
            let months: BTreeSet<_> = made.iter().map(|at| (at.year(), at.month())).collect();
            let there: BTreeSet<_> = kept.iter().map(|at| (at.year(), at.month())).collect();
            prop_assert!(months.iter().rev().take(MONTHS).all(|month| there.contains(month)));
        }
    }

    /// A year and a half of hourly backups, each time cut back: the last day by the
    /// hour, the last month by the day, the last year by the month.
    #[test]
    fn cut_back_each_hour_the_past_stays_within_reach() {
        let mut kept = BTreeSet::new();
        let hours = 24 * 548;
        for hour in 0..hours {
            kept.insert(at(hour * 60));
            for gone in dropped(&kept) {
                kept.remove(&gone);
            }
        }
        let within = |back: i64, wide: i64| {
            let (from, to) = (at((hours - back - wide) * 60), at((hours - back) * 60));
            kept.range(from..to).next().is_some()
        };
        assert!((1..24).all(|hour| within(hour, 1)));
        assert!((1..29).all(|day| within(day * 24, 24)));
        assert!((1..11).all(|month| within(month * 24 * 31, 24 * 31)));
        assert!(kept.len() <= HOURS + DAYS + MONTHS && kept.len() >= 55, "{}", kept.len());
    }
}
