//! The mean cumulative function: how many events, or how much of an amount,
//! a unit has had on average by a time, with units followed for different
//! lengths of time.
//!
//! Sources: Nelson (1995) Technometrics 37:147-157 for the estimate; Lawless
//! and Nadeau (1995) Technometrics 37:158-168 for the robust variance, which
//! holds whether or not the events of a unit depend on each other. A unit is
//! at risk at t when its observation ends at t or later.

use super::{normal_quantile, tally};

/// One event of a unit. The amount is 1 to count events, or integer units of
/// what adds up (minor units of money, tenths of an hour).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Event {
    pub time: i32,
    pub amount: i64,
}

/// What is known of one unit, or of `units` identical ones. Events after the
/// end of observation are left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct History<'a> {
    /// Last time at which an event would have been seen.
    pub end: i32,
    /// In any order; several may share a time.
    pub events: &'a [Event],
    pub units: i64,
}

/// The scale on which an interval is symmetric.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// The mean itself (normal interval); its low end may be negative.
    Plain,
    /// The logarithm of the mean.
    Log,
}

/// The curve right after a time with an event.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    pub time: i32,
    /// Units under observation at the time.
    pub at_risk: i64,
    /// The mean cumulative amount of a unit.
    pub mean: f64,
    /// Sum of amount / at_risk^2 so far: what the variance takes off a unit
    /// for having been at risk.
    exposure: f64,
}

/// Identical units.
#[derive(Debug, Clone, PartialEq)]
struct Followed {
    end: i32,
    units: i64,
    /// Event times ascending, each with the sum of amount / at_risk so far.
    marks: Vec<(i32, f64)>,
    /// The exposure of the last step these units were at risk at.
    exposure: f64,
}

/// The estimate at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Mean cumulative amount of a unit, in the unit of the amounts.
    pub mean: f64,
    variance: Option<f64>,
}

/// A mean cumulative function.
#[derive(Debug, Clone, PartialEq)]
pub struct MeanCurve {
    steps: Vec<Step>,
    followed: Vec<Followed>,
    /// Ends of observation, ascending, with the units followed so far or
    /// further.
    at_risk: Vec<(i32, i64)>,
}

impl Estimate {
    /// The robust variance of the mean; `None` below two units, which say
    /// nothing of a spread. It may fall with time.
    #[must_use]
    pub fn variance(&self) -> Option<f64> {
        self.variance
    }

    /// The root of [`Estimate::variance`].
    #[must_use]
    pub fn standard_error(&self) -> Option<f64> {
        self.variance.map(f64::sqrt)
    }

    /// The pointwise interval (low, high) of the mean. `None` without a
    /// variance, for a level outside 0 to 1, and on the log scale for a mean
    /// that is not positive or an end too large to write.
    #[must_use]
    pub fn interval(&self, scale: Scale, level: f64) -> Option<(f64, f64)> {
        let spread = normal_quantile(level)? * self.standard_error()?;
        match scale {
            Scale::Plain => Some((self.mean - spread, self.mean + spread)),
            Scale::Log if self.mean > 0.0 => {
                let factor = (spread / self.mean).exp();
                let (low, high) = (self.mean / factor, self.mean * factor);
                high.is_finite().then_some((low, high))
            }
            Scale::Log => None,
        }
    }
}

/// A history with its events sorted and those after the end left out.
type Sorted = (i32, Vec<Event>, i64);

/// Identical histories taken together, ascending by end of observation.
fn merged<'a>(histories: impl IntoIterator<Item = History<'a>>) -> Vec<Sorted> {
    let mut sorted: Vec<Sorted> = histories
        .into_iter()
        .filter(|history| history.units > 0)
        .map(|History { end, events, units }| {
            let mut events: Vec<Event> =
                events.iter().copied().filter(|event| event.time <= end).collect();
            events.sort_unstable();
            (end, events, tally(units))
        })
        .collect();
    sorted.sort_unstable();
    sorted.dedup_by(|next, kept| {
        let same = (next.0, &next.1) == (kept.0, &kept.1);
        if same {
            kept.2 += next.2;
        }
        same
    });
    sorted
}

/// Ends of observation, ascending, with the units followed that far.
fn still_followed(sorted: &[Sorted]) -> Vec<(i32, i64)> {
    let mut left = 0;
    let mut ends: Vec<(i32, i64)> = Vec::new();
    for group in sorted.chunk_by(|a, b| a.0 == b.0).rev() {
        left += group.iter().map(|(_, _, units)| units).sum::<i64>();
        ends.extend(group.first().map(|(end, _, _)| (*end, left)));
    }
    ends.reverse();
    ends
}

fn at_risk_at(still_followed: &[(i32, i64)], time: i32) -> i64 {
    let before = still_followed.partition_point(|(end, _)| *end < time);
    still_followed.get(before).map_or(0, |(_, units)| *units)
}

fn steps(sorted: &[Sorted], still_followed: &[(i32, i64)]) -> Vec<Step> {
    let mut amounts: Vec<(i32, i128)> = sorted
        .iter()
        .flat_map(|(_, events, units)| events.iter().map(move |event| (event, *units)))
        .map(|(event, units)| (event.time, i128::from(event.amount) * i128::from(units)))
        .collect();
    amounts.sort_unstable();
    let (mut mean, mut exposure) = (0.0, 0.0);
    let steps = amounts.chunk_by(|a, b| a.0 == b.0).filter_map(|group| {
        let (time, _) = *group.first()?;
        let amount = group.iter().map(|(_, amount)| amount).sum::<i128>() as f64;
        let at_risk = at_risk_at(still_followed, time);
        let n = at_risk as f64;
        mean += amount / n;
        exposure += amount / (n * n);
        Some(Step { time, at_risk, mean, exposure })
    });
    steps.collect()
}

/// The last step at or before a time.
fn step_by(steps: &[Step], time: i32) -> Option<&Step> {
    steps.partition_point(|step| step.time <= time).checked_sub(1).and_then(|i| steps.get(i))
}

impl Followed {
    fn new((end, events, units): Sorted, steps: &[Step]) -> Self {
        let mut sum = 0.0;
        let marks = events.iter().filter_map(|event| {
            sum += event.amount as f64 / step_by(steps, event.time)?.at_risk as f64;
            Some((event.time, sum))
        });
        let marks = marks.collect();
        Self { end, units, marks, exposure: step_by(steps, end).map_or(0.0, |s| s.exposure) }
    }

    /// What one of these units had by a time, over what it was to be expected
    /// to have; each amount divided by the units then at risk.
    fn excess(&self, time: i32, exposure: f64) -> f64 {
        let count = self.marks.partition_point(|(event, _)| *event <= time);
        let own = count.checked_sub(1).and_then(|i| self.marks.get(i)).map_or(0.0, |mark| mark.1);
        own - if self.end < time { self.exposure } else { exposure }
    }
}

impl MeanCurve {
    /// The curve of these histories, in any order. Those without a positive
    /// number of units are left out.
    #[must_use]
    pub fn new<'a>(histories: impl IntoIterator<Item = History<'a>>) -> Self {
        let sorted = merged(histories);
        let at_risk = still_followed(&sorted);
        let steps = steps(&sorted, &at_risk);
        let followed = sorted.into_iter().map(|unit| Followed::new(unit, &steps)).collect();
        Self { steps, followed, at_risk }
    }

    /// All units.
    #[must_use]
    pub fn units(&self) -> i64 {
        self.at_risk.first().map_or(0, |(_, units)| *units)
    }

    /// Units under observation at a time (a unit that ends then still is).
    #[must_use]
    pub fn at_risk(&self, time: i32) -> i64 {
        at_risk_at(&self.at_risk, time)
    }

    /// The times at which the curve steps, ascending.
    #[must_use]
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// The estimate at a time. Past the last observation it stays at its last
    /// value: ask [`MeanCurve::at_risk`] whether anybody was followed that far.
    /// Each call goes once through the distinct histories.
    #[must_use]
    pub fn at(&self, time: i32) -> Estimate {
        let (mean, exposure) =
            step_by(&self.steps, time).map_or((0.0, 0.0), |step| (step.mean, step.exposure));
        let squares = self.followed.iter().map(|followed| {
            let excess = followed.excess(time, exposure);
            followed.units as f64 * excess * excess
        });
        Estimate { mean, variance: (self.units() > 1).then(|| squares.sum()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAYS: std::ops::Range<i32> = 0..50;

    type Row = (i32, Vec<Event>, i64);

    fn curve(rows: &[Row]) -> MeanCurve {
        MeanCurve::new(rows.iter().map(|(end, events, units)| History {
            end: *end,
            events,
            units: *units,
        }))
    }

    fn rows() -> impl proptest::strategy::Strategy<Value = Vec<Row>> {
        use proptest::strategy::Strategy;
        let event = (DAYS, -3_i64..9).prop_map(|(time, amount)| Event { time, amount });
        let row = (DAYS, proptest::collection::vec(event, 0..4), -1_i64..4);
        proptest::collection::vec(row, 0..25)
    }

    /// The definition, unit by unit and step by step: the sum over units of
    /// the squared sum of (own amount - mean amount) / at risk.
    fn by_definition(rows: &[Row], time: i32) -> (f64, f64) {
        let units: Vec<&Row> = rows.iter().flat_map(|row| (0..row.2).map(move |_| row)).collect();
        let own = |row: &Row, day: i32| -> f64 {
            let events = row.1.iter().filter(|event| event.time == day && day <= row.0);
            events.map(|event| event.amount as f64).sum()
        };
        let (mut mean, mut excess) = (0.0, vec![0.0; units.len()]);
        for day in 0..=time {
            let n = units.iter().filter(|row| row.0 >= day).count() as f64;
            let amount: f64 = units.iter().map(|row| own(row, day)).sum();
            mean += if n > 0.0 { amount / n } else { 0.0 };
            for (excess, row) in excess.iter_mut().zip(&units).filter(|(_, row)| row.0 >= day) {
                *excess += (own(row, day) - amount / n) / n;
            }
        }
        (mean, excess.iter().map(|excess| excess * excess).sum())
    }

    #[test]
    fn nobody_and_one() {
        let empty = curve(&[]);
        assert_eq!(empty.units(), 0);
        assert_eq!(empty.at(30), Estimate { mean: 0.0, variance: None });
        let event = |time| Event { time, amount: 1 };
        let one = curve(&[(9, vec![event(9), event(0), event(10)], 1), (5, vec![event(1)], -3)]);
        assert_eq!((one.units(), one.at_risk(9), one.at_risk(10)), (1, 1, 0));
        // The event on the last day counts, the one after it does not.
        assert_eq!(one.at(30), Estimate { mean: 2.0, variance: None });
        assert_eq!(one.at(30).interval(Scale::Plain, 0.95), None);
        let quiet = curve(&[(9, Vec::new(), 2)]);
        assert_eq!(quiet.at(30).interval(Scale::Plain, 0.95), Some((0.0, 0.0)));
        assert_eq!(quiet.at(30).interval(Scale::Log, 0.95), None);
    }

    #[test]
    fn huge_amounts_do_not_overflow() {
        let most = Event { time: 1, amount: i64::MAX };
        let least = Event { time: 1, amount: i64::MIN };
        let huge = curve(&[(1, vec![most; 5], i64::MAX), (1, vec![least; 4], i64::MAX)]);
        let now = huge.at(1);
        assert!(now.variance().unwrap().is_finite());
        assert!((now.mean / (i64::MAX as f64 / 2.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn an_end_too_large_to_write_is_none() {
        let paid = vec![Event { time: 1, amount: 1_000_001 }];
        let returned = vec![Event { time: 1, amount: -1_000_000 }];
        let now = curve(&[(1, paid, 1), (1, returned, 1)]).at(1);
        assert!((now.mean - 0.5).abs() < 1e-9);
        assert_eq!(now.interval(Scale::Log, 0.95), None);
        assert!(now.interval(Scale::Plain, 0.95).unwrap().0 < 0.0);
    }

    proptest::proptest! {
        #[test]
        fn it_is_what_the_definition_says(rows in rows(), day in DAYS) {
            let now = curve(&rows).at(day);
            let (mean, variance) = by_definition(&rows, day);
            proptest::prop_assert!((now.mean - mean).abs() < 1e-9);
            if let Some(ours) = now.variance() {
                proptest::prop_assert!((ours - variance).abs() < 1e-9);
                for scale in [Scale::Plain, Scale::Log] {
                    let Some((low, high)) = now.interval(scale, 0.95) else { continue };
                    proptest::prop_assert!(low <= now.mean + 1e-12 && now.mean <= high + 1e-12);
                }
            }
        }

        /// A count of two equals two entries of one, in whatever order.
        #[test]
        fn units_are_frequency_weights(rows in rows()) {
            let split: Vec<Row> = rows.iter().rev()
                .flat_map(|(end, events, units)| {
                    let events: Vec<Event> = events.iter().rev().copied().collect();
                    (0..*units).map(move |_| (*end, events.clone(), 1))
                })
                .collect();
            proptest::prop_assert_eq!(curve(&rows), curve(&split));
        }

        /// One event a unit at most and nobody leaving: the mean is the share
        /// of units, its variance the binomial one (identities).
        #[test]
        fn without_censoring_it_is_the_share(
            days in proptest::collection::vec(proptest::option::of(DAYS), 2..60),
        ) {
            let event = |time| Event { time, amount: 1 };
            let rows: Vec<Row> =
                days.iter().map(|day| (50, day.map(event).into_iter().collect(), 1)).collect();
            let (all, n) = (curve(&rows), days.len() as f64);
            for day in DAYS {
                let had = days.iter().flatten().filter(|time| **time <= day).count();
                let (share, now) = (had as f64 / n, all.at(day));
                proptest::prop_assert!((now.mean - share).abs() < 1e-12);
                let variance = now.variance().unwrap();
                proptest::prop_assert!((variance - share * (1.0 - share) / n).abs() < 1e-12);
            }
        }

        /// Amounts in tenths give ten times the mean and standard error; twice
        /// as many of each unit, the same mean and half the variance.
        #[test]
        fn it_scales(rows in rows(), day in DAYS) {
            let now = curve(&rows).at(day);
            let tenths: Vec<Row> = rows.iter().cloned()
                .map(|(end, mut events, units)| {
                    events.iter_mut().for_each(|event| event.amount *= 10);
                    (end, events, units)
                })
                .collect();
            let tenths = curve(&tenths).at(day);
            let twice = curve(&[rows.clone(), rows.clone()].concat()).at(day);
            proptest::prop_assert!((tenths.mean - 10.0 * now.mean).abs() < 1e-9);
            proptest::prop_assert!((twice.mean - now.mean).abs() < 1e-9);
            if let Some(variance) = now.variance() {
                let error = 10.0 * variance.sqrt();
                proptest::prop_assert!((tenths.standard_error().unwrap() - error).abs() < 1e-7);
                proptest::prop_assert!((twice.variance().unwrap() - variance / 2.0).abs() < 1e-9);
            }
        }

        /// The means of two kinds of events add to that of both together.
        #[test]
        fn kinds_of_events_add(rows in rows(), day in DAYS) {
            let kind = |even: bool| -> f64 {
                let rows: Vec<Row> = rows.iter().cloned()
                    .map(|(end, mut events, units)| {
                        events.retain(|event| (event.amount % 2 == 0) == even);
                        (end, events, units)
                    })
                    .collect();
                curve(&rows).at(day).mean
            };
            let both = curve(&rows).at(day).mean;
            proptest::prop_assert!((kind(true) + kind(false) - both).abs() < 1e-9);
        }
    }
}
