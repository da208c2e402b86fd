//! Sums to figures.

use crate::figure::Share;
use crate::follow::{LONGEST_WINDOW, curve_share};
use crate::path::MinuteFigures;
use crate::stats::survival::{Curve, Moment};

/// No share is shown past the longest window: later times are all alike.
const LATE: usize = LONGEST_WINDOW as usize + 1;
const TIMES: usize = LATE + 1;
const WORDS: usize = TIMES.div_ceil(64);

/// Minutes in a narrower range than this are counted, not sorted.
const NARROW: usize = 2048;
/// Fewer values are sorted sooner than counted.
const FEW: usize = 64;

/// Events and censorings by time, taken up group by group.
pub(super) struct Times {
    events: [i64; TIMES],
    censored: [i64; TIMES],
    /// A bit for each time at which anything stands.
    touched: [u64; WORDS],
}

impl Times {
    pub const fn new() -> Self {
        Self { events: [0; TIMES], censored: [0; TIMES], touched: [0; WORDS] }
    }

    fn touch(&mut self, time: usize) {
        self.touched.get_mut(time / 64).into_iter().for_each(|word| *word |= 1 << (time % 64));
    }

    fn censor(&mut self, time: usize, count: i64) {
        self.censored.get_mut(time).into_iter().for_each(|at| *at += count);
        self.touch(time);
    }

    /// Takes up cases by their closing days, ascending and none after the as-of, and
    /// those of them that came back by closing day and days to the return.
    pub fn take(&mut self, days: &[i32], returns: &[(i32, i32)], as_of: i32) {
        let followed = |day: i32| after(day, as_of);
        // From the last one back: most were closed long ago, and need no look.
        let late = days.iter().rposition(|day| followed(*day) == LATE).map_or(0, |last| last + 1);
        if late > 0 {
            self.censor(LATE, late as i64);
        }
        for day in days.get(late..).unwrap_or_default() {
            self.censor(followed(*day), 1);
        }
        for &(day, elapsed) in returns {
            if day.saturating_add(elapsed) <= as_of {
                self.censor(followed(day), -1);
                let time = after(0, elapsed);
                self.events.get_mut(time).into_iter().for_each(|at| *at += 1);
                self.touch(time);
            }
        }
    }

    /// The curve of what was taken up, which is let go.
    pub fn curve(&mut self) -> Curve {
        let mut moments = Vec::new();
        for word in 0..WORDS {
            let mut bits = self.touched.get_mut(word).map(std::mem::take).unwrap_or_default();
            while bits != 0 {
                let time = word * 64 + bits.trailing_zeros() as usize;
                bits &= bits - 1;
                let taken = |column: &mut [i64; TIMES]| {
                    column.get_mut(time).map(std::mem::take).unwrap_or_default()
                };
                let (events, censored) = (taken(&mut self.events), taken(&mut self.censored));
                moments.push(Moment {
                    time: i32::try_from(time).unwrap_or(i32::MAX),
                    events,
                    censored,
                });
            }
        }
        Curve::new(moments)
    }
}

/// Days between two days, as a time.
fn after(from: i32, to: i32) -> usize {
    usize::try_from(i64::from(to) - i64::from(from)).map_or(0, |days| days.min(LATE))
}

/// What a curve says by a time. Its jobs lie in several shops: no one list has them.
pub(super) fn share(curve: &Curve, days: i32, definition: &'static str) -> Share {
    curve_share(curve, days, definition, String::new())
}

/// Median and quartiles of minutes, which are put in order.
pub(super) fn minutes(values: &mut Vec<u32>, counts: &mut Vec<u32>) -> MinuteFigures {
    put_in_order(values, counts);
    // Hyndman and Fan's type 7: a quarter of so many steps from the first value.
    let quartile = |quarters: usize| {
        let steps = values.len().checked_sub(1)? * quarters;
        let at = |rank: usize| values.get(rank).map(|value| f64::from(*value));
        let (low, rest) = (at(steps / 4)?, (steps % 4) as f64 / 4.0);
        let high = at(steps / 4 + 1).unwrap_or(low);
        Some((high - low) * rest + low)
    };
    MinuteFigures {
        timed: values.len() as i64,
        lower_quartile: quartile(1),
        median: quartile(2),
        upper_quartile: quartile(3),
        total_minutes: values.iter().map(|value| i64::from(*value)).sum(),
    }
}

/// Sorts, by counting where there are many values in a narrow range.
fn put_in_order(values: &mut Vec<u32>, counts: &mut Vec<u32>) {
    let most = values.iter().max().map_or(0, |most| *most as usize);
    if values.len() < FEW || most >= NARROW {
        values.sort_unstable();
        return;
    }
    counts.clear();
    counts.resize(most + 1, 0);
    for value in &*values {
        counts.get_mut(*value as usize).into_iter().for_each(|count| *count += 1);
    }
    values.clear();
    for (value, count) in (0_u32..).zip(&*counts) {
        values.extend(std::iter::repeat_n(value, *count as usize));
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::prelude::*;

    use super::*;
    use crate::follow::{Followed, NEVER, Period, followed_share};
    use crate::stats::quantile::quartiles;

    proptest! {
        /// Held against the figures of the other reports.
        #[test]
        fn a_curve_of_times_is_that_of_its_cases(
            mut cases in proptest::collection::vec((0_i32..900, proptest::option::of(0_i32..700)), 0..90),
            as_of in 899_i32..1_000,
        ) {
            cases.sort_unstable();
            let days: Vec<i32> = cases.iter().map(|(day, _)| *day).collect();
            let returns: Vec<(i32, i32)> =
                cases.iter().filter_map(|(day, back)| Some((*day, (*back)?))).collect();
            let mut times = Times::new();
            times.take(&days, &returns, as_of);
            let curve = times.curve();
            for window in [0, 30, 90, 365, 400] {
                let period = Period { first: i32::MIN, last: as_of, as_of, window };
                let followed = cases.iter().map(|&(closed_day, back)| Followed {
                    closed_day,
                    elapsed: back.unwrap_or(NEVER),
                    count: 1,
                });
                let expected = followed_share(followed, &period, "comeback", String::new());
                prop_assert_eq!(share(&curve, window, "comeback"), expected);
            }
            prop_assert_eq!(times.curve().units(), 0);
        }

        #[test]
        fn minutes_say_what_their_histogram_says(
            values in proptest::collection::vec(0_u32..3_000, 0..200),
        ) {
            let mut histogram: BTreeMap<i64, i64> = BTreeMap::new();
            for value in &values {
                *histogram.entry(i64::from(*value)).or_default() += 1;
            }
            let expected = quartiles(&histogram);
            let figures = minutes(&mut values.clone(), &mut Vec::new());
            prop_assert_eq!(figures.lower_quartile, expected.map(|q| q.lower));
            prop_assert_eq!(figures.median, expected.map(|q| q.median));
            prop_assert_eq!(figures.upper_quartile, expected.map(|q| q.upper));
            prop_assert_eq!(figures.timed, values.len() as i64);
        }
    }
}
