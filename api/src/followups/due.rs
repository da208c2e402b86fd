//! When a customer is called after the hand-over. Pure: what stands of a job in,
//! a day out.

use chrono::{Days, NaiveDate};

/// Days after the hand-over, where the shop has not said.
pub const USUAL_DAYS: i32 = 7;
/// The same for a complaint that comes and goes: it needs time to show again.
pub const INTERMITTENT_DAYS: i32 = 21;
/// A customer who was not reached is called again after so many days.
pub const AGAIN_DAYS: u64 = 3;
/// Who was not reached so often is left in peace.
pub const MOST_TRIES: usize = 3;
/// A call that is later than this asks about something long forgotten.
pub const LATEST_DAYS: u64 = 60;

/// How a call ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reached {
    /// The customer answered, whatever was said.
    Yes,
    No,
}

/// After how many days a shop calls; 0: never.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Terms {
    pub days: i32,
    pub intermittent_days: i32,
}

/// What stands of a complaint that was handed over.
#[derive(Debug, Clone)]
pub struct Standing {
    pub closed_on: NaiveDate,
    /// It comes and goes, was not reproduced, or its cause is only suspected.
    pub intermittent: bool,
    /// It came back, or somebody told that it did not hold.
    pub returned: bool,
    /// The calls made, by day.
    pub calls: Vec<(NaiveDate, Reached)>,
}

/// A call that is owed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Due {
    pub due_on: NaiveDate,
    /// Calls before that reached nobody.
    pub tries: usize,
}

fn after(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_add_days(Days::new(days)).unwrap_or(NaiveDate::MAX)
}

/// The first day on which the shop means to call; none where it does not.
#[must_use]
pub fn first_day(closed_on: NaiveDate, intermittent: bool, terms: Terms) -> Option<NaiveDate> {
    let days = if intermittent { terms.intermittent_days } else { terms.days };
    let days = u64::try_from(days).ok().filter(|days| *days > 0)?;
    Some(after(closed_on, days))
}

/// The call that is owed by today, if any.
#[must_use]
pub fn due(standing: &Standing, terms: Terms, today: NaiveDate) -> Option<Due> {
    let first = first_day(standing.closed_on, standing.intermittent, terms)?;
    let reached = standing.calls.iter().any(|(_, reached)| *reached == Reached::Yes);
    if standing.returned || reached || today > after(first, LATEST_DAYS) {
        return None;
    }
    let tries = standing.calls.len();
    if tries >= MOST_TRIES {
        return None;
    }
    let last = standing.calls.iter().map(|(day, _)| *day).max();
    let due_on = last.map_or(first, |day| first.max(after(day, AGAIN_DAYS)));
    (due_on <= today).then_some(Due { due_on, tries })
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const TERMS: Terms = Terms { days: USUAL_DAYS, intermittent_days: INTERMITTENT_DAYS };

    fn day(n: u64) -> NaiveDate {
        after(NaiveDate::from_ymd_opt(2026, 1, 1).unwrap(), n)
    }

    fn standing() -> Standing {
        Standing { closed_on: day(0), intermittent: false, returned: false, calls: Vec::new() }
    }

    #[test]
    fn a_week_after_three_where_it_comes_and_goes() {
        let due_on = |standing: &Standing, today| due(standing, TERMS, today).map(|due| due.due_on);
        assert_eq!(due_on(&standing(), day(6)), None);
        assert_eq!(due_on(&standing(), day(7)), Some(day(7)));
        assert_eq!(due_on(&standing(), day(67)), Some(day(7)));
        assert_eq!(due_on(&standing(), day(68)), None);
        let comes_and_goes = Standing { intermittent: true, ..standing() };
        assert_eq!(due_on(&comes_and_goes, day(20)), None);
        assert_eq!(due_on(&comes_and_goes, day(21)), Some(day(21)));
    }

    #[test]
    fn nobody_is_called_who_came_back_or_was_reached() {
        assert_eq!(due(&Standing { returned: true, ..standing() }, TERMS, day(9)), None);
        let reached = Standing { calls: vec![(day(7), Reached::Yes)], ..standing() };
        assert_eq!(due(&reached, TERMS, day(30)), None);
        let never = Terms { days: 0, ..TERMS };
        assert_eq!(due(&standing(), never, day(30)), None);
    }

    #[test]
    fn tried_again_after_three_days_three_times_in_all() {
        let tried = |days: &[u64]| Standing {
            calls: days.iter().map(|n| (day(*n), Reached::No)).collect(),
            ..standing()
        };
        assert_eq!(due(&tried(&[7]), TERMS, day(9)), None);
        let second = Due { due_on: day(10), tries: 1 };
        assert_eq!(due(&tried(&[7]), TERMS, day(10)), Some(second));
        assert_eq!(due(&tried(&[7, 10]), TERMS, day(13)).unwrap().tries, 2);
        assert_eq!(due(&tried(&[7, 10, 13]), TERMS, day(30)), None);
        // Somebody tried early: the day that was meant stays.
        assert_eq!(due(&tried(&[2]), TERMS, day(7)).unwrap().due_on, day(7));
    }

    proptest! {
        /// Never before its day, never later than sixty days past it, never to
        /// who was reached, and never a fourth time.
        #[test]
        fn a_call_is_owed_inside_its_time(
            days in 0_i32..40, intermittent_days in 0_i32..90, intermittent in any::<bool>(),
            returned in any::<bool>(), today in 0_u64..200,
            calls in prop::collection::vec((0_u64..150, any::<bool>()), 0..5),
        ) {
            let terms = Terms { days, intermittent_days };
            let calls: Vec<(NaiveDate, Reached)> = calls
                .into_iter()
                .map(|(n, yes)| (day(n), if yes { Reached::Yes } else { Reached::No }))
                .collect();
            let reached = calls.iter().any(|(_, reached)| *reached == Reached::Yes);
            let count = calls.len();
            let standing = Standing { closed_on: day(0), intermittent, returned, calls };
            let term = if intermittent { intermittent_days } else { days };
            if let Some(found) = due(&standing, terms, day(today)) {
                let term = u64::try_from(term).unwrap();
                prop_assert!(term > 0 && !returned && !reached && count < MOST_TRIES);
                prop_assert!(found.due_on >= day(term) && found.due_on <= day(today));
                prop_assert!(today <= term + LATEST_DAYS && found.tries == count);
            }
        }
    }
}
