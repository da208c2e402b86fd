//! Cumulative incidence of competing causes (Aalen-Johansen) from counts.
//!
//! A unit leaves by one of several causes, or is censored. The incidence of a
//! cause is the share that left by it so far; the incidences of all causes and
//! the share without an event add to 1. Treating the other causes as
//! censorings instead (1 minus Kaplan-Meier of one cause) overstates it.
//!
//! Sources: Aalen and Johansen (1978) Scand J Stat 5:141-150; Gaynor et al.
//! (1993) JASA 88:400-409 for the variance, the Greenwood-type one. It equals
//! the infinitesimal jackknife; Aalen's, which is larger, is not used. Events
//! come before censorings at the same time, as in the product-limit estimate.

use std::collections::BTreeMap;

use super::survival::{Curve, Estimate, Moment, Scale};
use super::tally;

/// Units that left at one time, by a cause or (`None`) censored. Several
/// entries may share time and cause; their counts add.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Exit<C> {
    pub time: i32,
    pub cause: Option<C>,
    pub count: i64,
}

/// What happened at one time at which anybody had an event.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Step {
    time: i32,
    at_risk: i64,
    /// Events of all causes.
    events: i64,
    /// Share without an event just before.
    before: f64,
}

/// Cumulative incidence of each cause. The causes are values of the caller's
/// own type; one that never occurred has an incidence of 0.
#[derive(Debug, Clone, PartialEq)]
pub struct Incidence<C> {
    event_free: Curve,
    steps: Vec<Step>,
    /// Events of each cause by time.
    causes: BTreeMap<C, BTreeMap<i32, i64>>,
}

/// The incidence of one cause at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CauseShare {
    /// Share that left by this cause.
    pub share: f64,
    variance: Option<f64>,
}

impl CauseShare {
    /// Greenwood-type variance; `None` once everybody left by this cause.
    #[must_use]
    pub fn variance(&self) -> Option<f64> {
        self.variance
    }

    /// The root of [`CauseShare::variance`].
    #[must_use]
    pub fn standard_error(&self) -> Option<f64> {
        self.variance.map(f64::sqrt)
    }

    /// The pointwise interval (low, high) of the share. The scale is that of
    /// the complement, so that with a single cause it is the product-limit
    /// interval turned over. (0, 0) before the first event of the cause; `None`
    /// without a variance or for a level outside 0 to 1.
    #[must_use]
    pub fn interval(&self, scale: Scale, level: f64) -> Option<(f64, f64)> {
        let (low, high) = Estimate::of(1.0 - self.share, self.variance?).interval(scale, level)?;
        Some((1.0 - high, 1.0 - low))
    }
}

/// One step's part of the variance of an incidence: `own` events of the cause
/// at the step, `later` the incidence still to come after it.
///
/// At the step a unit at risk stays, leaves by the cause, or by another one.
/// The three outcomes move the final incidence by different amounts; this is
/// the multinomial variance of that move, written as a sum over pairs of
/// outcomes so that nothing cancels.
fn step_variance(step: &Step, own: i64, later: f64) -> f64 {
    let n = step.at_risk as f64;
    let stay = (step.at_risk - step.events) as f64 / n;
    let by_cause = own as f64 / n;
    let by_other = (step.events - own) as f64 / n;
    let gone = by_cause * by_other * step.before * step.before;
    if step.at_risk == step.events {
        return gone / n;
    }
    let gain = stay * step.before - later;
    (gone + (by_cause * gain * gain + by_other * later * later) / stay) / n
}

impl<C: Ord> Incidence<C> {
    /// The incidences of these exits, in any order. Entries without a positive
    /// count are left out.
    #[must_use]
    pub fn new(exits: impl IntoIterator<Item = Exit<C>>) -> Self {
        let mut moments = Vec::new();
        let mut causes: BTreeMap<C, BTreeMap<i32, i64>> = BTreeMap::new();
        for Exit { time, cause, count } in exits {
            let count = tally(count);
            let Some(cause) = cause else {
                moments.push(Moment { time, events: 0, censored: count });
                continue;
            };
            moments.push(Moment { time, events: count, censored: 0 });
            if count > 0 {
                *causes.entry(cause).or_default().entry(time).or_default() += count;
            }
        }
        let event_free = Curve::new(moments);
        let steps = event_free.steps();
        let steps = steps
            .map(|(time, at_risk, events, before)| Step { time, at_risk, events, before })
            .collect();
        Self { event_free, steps, causes }
    }

    /// The product-limit curve of any cause: share without an event, units,
    /// units at risk, event times.
    #[must_use]
    pub fn event_free(&self) -> &Curve {
        &self.event_free
    }

    /// The causes that occurred, ascending.
    pub fn causes(&self) -> impl Iterator<Item = &C> {
        self.causes.keys()
    }

    /// Events of a cause up to and including a time.
    #[must_use]
    pub fn events_by(&self, cause: &C, time: i32) -> i64 {
        self.causes.get(cause).map_or(0, |events| events.range(..=time).map(|(_, n)| n).sum())
    }

    /// The incidence of a cause at a time. Past the last observation it stays
    /// at its last value: ask the curve of any cause who was at risk.
    #[must_use]
    pub fn at(&self, cause: &C, time: i32) -> CauseShare {
        let Some(events) = self.causes.get(cause) else {
            return CauseShare { share: 0.0, variance: Some(0.0) };
        };
        let everybody = self.event_free.at(time).survival <= 0.0
            && self.events_by(cause, time) == self.event_free.events_by(time);
        if everybody {
            return CauseShare { share: 1.0, variance: None };
        }
        let count = self.steps.partition_point(|step| step.time <= time);
        let (mut later, mut variance) = (0.0, 0.0);
        for step in self.steps.iter().take(count).rev() {
            let own = events.get(&step.time).copied().unwrap_or(0);
            variance += step_variance(step, own, later);
            later += step.before * own as f64 / step.at_risk as f64;
        }
        CauseShare { share: later, variance: Some(variance) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAYS: std::ops::Range<i32> = 0..60;

    type Row = (i32, Option<u8>, i64);

    fn incidence(rows: &[Row]) -> Incidence<u8> {
        Incidence::new(rows.iter().map(|&(time, cause, count)| Exit { time, cause, count }))
    }

    fn rows() -> impl proptest::strategy::Strategy<Value = Vec<Row>> {
        let row = (DAYS, proptest::option::weighted(0.7, 0_u8..3), -1_i64..4);
        proptest::collection::vec(row, 0..60)
    }

    #[test]
    fn nobody_and_one() {
        let empty = incidence(&[]);
        assert_eq!(empty.at(&1, 30), CauseShare { share: 0.0, variance: Some(0.0) });
        assert_eq!(empty.at(&1, 30).interval(Scale::LogLog, 0.95), Some((0.0, 0.0)));
        let one = incidence(&[(5, Some(1), 1)]);
        assert_eq!(one.at(&1, 4).share, 0.0);
        assert_eq!(one.at(&1, 5), CauseShare { share: 1.0, variance: None });
        assert_eq!(one.at(&1, 5).interval(Scale::LogLog, 0.95), None);
        assert_eq!(one.at(&2, 5).share, 0.0);
        let censored = incidence(&[(5, None, 3)]);
        assert_eq!(censored.causes().count(), 0);
        assert_eq!(censored.event_free().at_risk(5), 3);
    }

    #[test]
    fn huge_counts_do_not_overflow() {
        let huge =
            incidence(&[(0, Some(0), i64::MAX), (0, Some(1), i64::MAX), (1, None, i64::MIN)]);
        assert!((huge.at(&0, 0).share - 0.5).abs() < 1e-12);
    }

    proptest::proptest! {
        /// The causes share what the product-limit curve lost (an identity of
        /// the estimate), and the intervals hold their share.
        #[test]
        fn causes_add_to_the_loss(rows in rows()) {
            let all = incidence(&rows);
            for day in DAYS {
                let shares: f64 = all.causes().map(|cause| all.at(cause, day).share).sum();
                let loss = 1.0 - all.event_free().at(day).survival;
                proptest::prop_assert!((shares - loss).abs() < 1e-12);
                for cause in all.causes() {
                    let now = all.at(cause, day);
                    proptest::prop_assert!(now.variance().is_none_or(|variance| variance >= 0.0));
                    for scale in [Scale::LogLog, Scale::Log, Scale::Plain] {
                        let Some((low, high)) = now.interval(scale, 0.95) else { continue };
                        proptest::prop_assert!(0.0 <= low && low <= now.share + 1e-12);
                        proptest::prop_assert!(now.share <= high + 1e-12 && high <= 1.0);
                    }
                }
            }
        }

        /// With one cause the incidence is the loss of the product-limit curve,
        /// its variance Greenwood's, its intervals the same ones turned over.
        #[test]
        fn one_cause_is_the_product_limit(rows in rows()) {
            let rows: Vec<Row> =
                rows.into_iter().map(|(time, cause, n)| (time, cause.map(|_| 0), n)).collect();
            let one = incidence(&rows);
            for day in DAYS {
                let (ours, curve) = (one.at(&0, day), one.event_free().at(day));
                proptest::prop_assert!((ours.share + curve.survival - 1.0).abs() < 1e-12);
                let Some(greenwood) = curve.variance() else {
                    proptest::prop_assert_eq!(ours.variance(), None);
                    continue;
                };
                let variance = ours.variance().unwrap();
                proptest::prop_assert!((variance - greenwood).abs() < 1e-12 * greenwood.max(1e-3));
                for scale in [Scale::LogLog, Scale::Log, Scale::Plain] {
                    let (low, high) = ours.interval(scale, 0.95).unwrap();
                    let (below, above) = curve.interval(scale, 0.95).unwrap();
                    proptest::prop_assert!((low + above - 1.0).abs() < 1e-9);
                    proptest::prop_assert!((high + below - 1.0).abs() < 1e-9);
                }
            }
        }

        /// Without censoring each incidence is a plain share with the binomial
        /// variance (an identity of the estimate), whatever the other causes.
        #[test]
        fn without_censoring_it_is_the_share(
            rows in proptest::collection::vec((DAYS, 0_u8..3, 1_i64..4), 1..60),
        ) {
            let all = incidence(&rows.iter().map(|&(t, c, n)| (t, Some(c), n)).collect::<Vec<_>>());
            let units: i64 = rows.iter().map(|(_, _, count)| count).sum();
            for (day, cause) in DAYS.flat_map(|day| [(day, 0), (day, 1), (day, 2)]) {
                let left = rows.iter().filter(|(t, c, _)| *t <= day && *c == cause);
                let left: i64 = left.map(|(_, _, count)| count).sum();
                let (share, ours) = (left as f64 / units as f64, all.at(&cause, day));
                proptest::prop_assert_eq!(all.events_by(&cause, day), left);
                proptest::prop_assert!((ours.share - share).abs() < 1e-12);
                if left < units {
                    let variance = share * (1.0 - share) / units as f64;
                    proptest::prop_assert!((ours.variance().unwrap() - variance).abs() < 1e-12);
                }
            }
        }

        /// A count of two equals two entries of one, in whatever order.
        #[test]
        fn counts_are_frequency_weights(rows in rows()) {
            let split: Vec<Row> = rows.iter().rev()
                .flat_map(|&(time, cause, n)| (0..n).map(move |_| (time, cause, 1)))
                .collect();
            proptest::prop_assert_eq!(incidence(&rows), incidence(&split));
        }
    }
}
