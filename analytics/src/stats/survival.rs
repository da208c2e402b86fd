//! The product-limit (Kaplan-Meier) estimate from counts.
//!
//! Sources: Kaplan and Meier (1958) JASA 53:457-481; Greenwood (1926) for the
//! variance; Brookmeyer and Crowley (1982) Biometrics 38:29-41 for the
//! interval of a quantile. Events come before censorings at the same time: a
//! unit censored at t is at risk at t.

use super::{normal_quantile, tally};

/// What happened at one time, as integer counts. Several entries may share a
/// time; their counts add.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    pub time: i32,
    pub events: i64,
    pub censored: i64,
}

/// The scale on which an interval is symmetric.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// log(-log S).
    LogLog,
    /// log S.
    Log,
    /// S itself.
    Plain,
}

/// The curve right after an event time.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Step {
    time: i32,
    at_risk: i64,
    events: i64,
    survival: f64,
    /// Greenwood's sum of d / (n (n - d)); infinite once nobody is left.
    greenwood: f64,
}

/// The estimate at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Share without an event.
    pub survival: f64,
    greenwood: f64,
}

/// A quantile of the time to the event; absent where it is not reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantile {
    pub time: Option<f64>,
    pub low: Option<f64>,
    pub high: Option<f64>,
}

/// A product-limit curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    units: i64,
    steps: Vec<Step>,
    /// Time and units leaving (with or without event), ascending.
    leaving: Vec<(i32, i64)>,
}

impl Estimate {
    /// A share and its variance, for estimates that share the intervals.
    pub(super) fn of(survival: f64, variance: f64) -> Self {
        Self { survival, greenwood: variance / (survival * survival) }
    }

    /// Greenwood's variance; `None` once the estimate is 0.
    #[must_use]
    pub fn variance(&self) -> Option<f64> {
        (self.survival > 0.0).then_some(self.survival * self.survival * self.greenwood)
    }

    /// The root of [`Estimate::variance`].
    #[must_use]
    pub fn standard_error(&self) -> Option<f64> {
        self.variance().map(f64::sqrt)
    }

    /// The pointwise interval (low, high) of the share without an event.
    /// Before the first event it is (1, 1) on every scale; at 0 there is none
    /// on the two logarithmic ones.
    #[must_use]
    pub fn interval(&self, scale: Scale, level: f64) -> Option<(f64, f64)> {
        let z = normal_quantile(level)?;
        let s = self.survival;
        let spread = z * self.greenwood.sqrt();
        if s <= 0.0 {
            return None;
        }
        if s >= 1.0 {
            return Some((1.0, 1.0));
        }
        Some(match scale {
            Scale::Plain => ((s - s * spread).max(0.0), (s + s * spread).min(1.0)),
            Scale::Log => (s * (-spread).exp(), (s * spread.exp()).min(1.0)),
            Scale::LogLog => {
                let exponent = spread / s.ln().abs();
                (s.powf(exponent.exp()), s.powf((-exponent).exp()))
            }
        })
    }
}

/// Each time once, ascending, with all its counts. Where times lie close together,
/// a place for each costs less than sorting.
pub(crate) fn by_time(mut moments: Vec<Moment>) -> Vec<Moment> {
    let times = || moments.iter().map(|moment| i64::from(moment.time));
    let (first, last) = (times().min().unwrap_or(0), times().max().unwrap_or(-1));
    let places = usize::try_from(last - first + 1).unwrap_or(usize::MAX);
    if places <= moments.len().saturating_mul(8) {
        return by_place(&moments, first, places);
    }
    moments.sort_unstable_by_key(|moment| moment.time);
    moments.dedup_by(|next, kept| {
        let same = next.time == kept.time;
        if same {
            kept.events += next.events;
            kept.censored += next.censored;
        }
        same
    });
    moments
}

fn by_place(moments: &[Moment], first: i64, places: usize) -> Vec<Moment> {
    let mut sums = vec![(0, 0); places];
    for moment in moments {
        let place = usize::try_from(i64::from(moment.time) - first).ok();
        if let Some((events, censored)) = place.and_then(|place| sums.get_mut(place)) {
            *events += moment.events;
            *censored += moment.censored;
        }
    }
    (first..)
        .zip(sums)
        .filter(|(_, (events, censored))| events + censored > 0)
        .filter_map(|(time, (events, censored))| {
            i32::try_from(time).ok().map(|time| Moment { time, events, censored })
        })
        .collect()
}

impl Curve {
    /// The curve of these counts, in any order. Negative counts count as none.
    #[must_use]
    pub fn new(moments: impl IntoIterator<Item = Moment>) -> Self {
        let moments: Vec<Moment> = moments
            .into_iter()
            .map(|m| Moment { time: m.time, events: tally(m.events), censored: tally(m.censored) })
            .filter(|m| m.events > 0 || m.censored > 0)
            .collect();
        let moments = by_time(moments);
        let units = moments.iter().map(|m| m.events + m.censored).sum();
        let mut curve = Self { units, steps: Vec::new(), leaving: Vec::new() };
        let (mut at_risk, mut survival, mut greenwood) = (units, 1.0, 0.0);
        for Moment { time, events, censored } in moments {
            if events > 0 {
                let (n, d) = (at_risk as f64, events as f64);
                survival *= (n - d) / n;
                greenwood += d / (n * (n - d));
                curve.steps.push(Step { time, at_risk, events, survival, greenwood });
            }
            at_risk -= events + censored;
            curve.leaving.push((time, events + censored));
        }
        curve
    }

    /// All units, and the events among them.
    #[must_use]
    pub fn units(&self) -> i64 {
        self.units
    }

    /// Events up to and including a time.
    #[must_use]
    pub fn events_by(&self, time: i32) -> i64 {
        self.steps_by(time).iter().map(|step| step.events).sum()
    }

    /// The times at which the curve steps, ascending.
    pub fn event_times(&self) -> impl Iterator<Item = i32> + '_ {
        self.steps.iter().map(|step| step.time)
    }

    /// Time, units at risk and events of each step, and the share without an
    /// event just before it; ascending.
    pub(super) fn steps(&self) -> impl Iterator<Item = (i32, i64, i64, f64)> + '_ {
        let before = [1.0].into_iter().chain(self.steps.iter().map(|step| step.survival));
        let steps = self.steps.iter().zip(before);
        steps.map(|(step, before)| (step.time, step.at_risk, step.events, before))
    }

    /// Units still under observation just before a time.
    #[must_use]
    pub fn at_risk(&self, time: i32) -> i64 {
        let left: i64 = self
            .leaving
            .iter()
            .take_while(|(leaving, _)| *leaving < time)
            .map(|(_, count)| count)
            .sum();
        self.units - left
    }

    fn steps_by(&self, time: i32) -> &[Step] {
        let count = self.steps.partition_point(|step| step.time <= time);
        self.steps.get(..count).unwrap_or_default()
    }

    /// The estimate at a time. Past the last observation it stays at its last
    /// value: ask [`Curve::at_risk`] whether anybody was followed that far.
    #[must_use]
    pub fn at(&self, time: i32) -> Estimate {
        self.steps_by(time).last().map_or(Estimate { survival: 1.0, greenwood: 0.0 }, |step| {
            Estimate { survival: step.survival, greenwood: step.greenwood }
        })
    }

    /// The time by which a share `p` (0.5: the median) had the event, and the
    /// times at which the pointwise limits get there. Where the curve is flat
    /// exactly at `1 - p`, the middle of the flat stretch.
    #[must_use]
    pub fn quantile(&self, p: f64, scale: Scale, level: f64) -> Quantile {
        let limit = |pick: fn((f64, f64)) -> f64| {
            self.crossing(1.0 - p, |step| {
                Estimate { survival: step.survival, greenwood: step.greenwood }
                    .interval(scale, level)
                    .map(pick)
            })
        };
        Quantile {
            time: self.crossing(1.0 - p, |step| Some(step.survival)),
            low: limit(|(low, _)| low),
            high: limit(|(_, high)| high),
        }
    }

    /// The first time a falling value of the steps comes down to `target`.
    fn crossing(&self, target: f64, value: impl Fn(&Step) -> Option<f64>) -> Option<f64> {
        // Products of fractions miss a round target by some last digits.
        const NEARLY: f64 = 1e-9;
        let mut values = self
            .steps
            .iter()
            .filter_map(|step| value(step).map(|value| (f64::from(step.time), value)))
            .skip_while(|(_, value)| *value > target + NEARLY);
        let (time, reached) = values.next()?;
        if (reached - target).abs() > NEARLY {
            return Some(time);
        }
        let below = values.find(|(_, value)| *value < reached);
        Some(below.map_or(time, |(later, _)| (time + later) / 2.0))
    }

    /// The mean time without an event inside `0..tau`, with its standard
    /// error: the area under the curve.
    #[must_use]
    pub fn restricted_mean(&self, tau: i32) -> (f64, f64) {
        let steps = self.steps_by(tau);
        let ends = steps.iter().skip(1).map(|step| step.time).chain([tau]);
        let first = steps.first().map_or(tau, |step| step.time);
        let areas: Vec<f64> = steps
            .iter()
            .zip(ends)
            .map(|(step, end)| step.survival * f64::from(end - step.time))
            .collect();
        let (mut after, mut variance) = (0.0, 0.0);
        let befores = steps.iter().rev().skip(1).map(|step| step.greenwood).chain([0.0]);
        for ((step, area), before) in steps.iter().zip(&areas).rev().zip(befores) {
            after += area;
            if after > 0.0 {
                variance += after * after * (step.greenwood - before);
            }
        }
        (f64::from(first) + after, variance.sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve(moments: &[(i32, i64, i64)]) -> Curve {
        Curve::new(moments.iter().map(|&(time, events, censored)| Moment {
            time,
            events,
            censored,
        }))
    }

    #[test]
    fn nobody_makes_no_events() {
        let empty = curve(&[]);
        assert_eq!(empty.units(), 0);
        assert_eq!(empty.at(30).survival, 1.0);
        assert_eq!(empty.quantile(0.5, Scale::LogLog, 0.95).time, None);
    }

    proptest::proptest! {
        /// Held against a tree.
        #[test]
        fn counts_of_a_time_add_up_wherever_the_times_lie(
            rows in proptest::collection::vec((0_i32..30, 0_i64..4, 0_i64..4), 0..60),
            far in proptest::prop_oneof![proptest::strategy::Just(0), -2_000_i32..2_000],
        ) {
            let last = (far, 1, 0);
            let mut sums = std::collections::BTreeMap::<i32, (i64, i64)>::new();
            for (time, events, censored) in rows.iter().chain([&last]) {
                let sum = sums.entry(*time).or_default();
                *sum = (sum.0 + events, sum.1 + censored);
            }
            let moments = rows.iter().chain([&last]).filter(|row| row.1 + row.2 > 0);
            let found = by_time(
                moments.map(|&(time, events, censored)| Moment { time, events, censored }).collect(),
            );
            let found: Vec<_> = found.iter().map(|m| (m.time, (m.events, m.censored))).collect();
            sums.retain(|_, (events, censored)| *events + *censored > 0);
            proptest::prop_assert_eq!(found, sums.into_iter().collect::<Vec<_>>());
        }
    }

    #[test]
    fn huge_counts_do_not_overflow() {
        let huge = curve(&[(1, i64::MAX, i64::MAX), (2, i64::MAX, 0), (2, i64::MIN, i64::MIN)]);
        // All three counts are as large: one third had the event on day 1.
        assert!((huge.at(1).survival - 2.0 / 3.0).abs() < 1e-12);
        assert_eq!(huge.at(2).survival, 0.0);
    }

    proptest::proptest! {
        /// The curve falls inside 0 to 1, its intervals hold it, and a count
        /// of two equals two entries of one (counts are frequency weights).
        #[test]
        fn the_curve_stays_in_bounds(
            rows in proptest::collection::vec((0_i32..400, 0_i64..4, 0_i64..4), 0..60),
        ) {
            let whole = curve(&rows);
            let split: Vec<_> = rows.iter()
                .flat_map(|&(t, d, c)| {
                    let events = std::iter::repeat_n((t, 1, 0), d as usize);
                    events.chain(std::iter::repeat_n((t, 0, 1), c as usize))
                })
                .collect();
            proptest::prop_assert_eq!(&whole, &curve(&split));
            let mut before = 1.0;
            for day in 0..400 {
                let now = whole.at(day);
                proptest::prop_assert!((0.0..=before).contains(&now.survival));
                before = now.survival;
                for scale in [Scale::LogLog, Scale::Log, Scale::Plain] {
                    if let Some((low, high)) = now.interval(scale, 0.95) {
                        proptest::prop_assert!(0.0 <= low && low <= now.survival + 1e-12);
                        proptest::prop_assert!(now.survival <= high + 1e-12 && high <= 1.0);
                    }
                }
            }
        }

        /// Without censoring the curve is the plain share, and Greenwood's
        /// variance the binomial one (identities of the estimate).
        #[test]
        fn without_censoring_it_is_the_share(days in proptest::collection::vec(0_i32..50, 1..80)) {
            let all = Curve::new(days.iter().map(|&time| Moment { time, events: 1, censored: 0 }));
            let n = days.len() as f64;
            for day in 0..50 {
                let share = days.iter().filter(|time| **time > day).count() as f64 / n;
                let estimate = all.at(day);
                proptest::prop_assert!((estimate.survival - share).abs() < 1e-12);
                if share > 1e-9 {
                    let variance = estimate.variance().unwrap();
                    proptest::prop_assert!((variance - share * (1.0 - share) / n).abs() < 1e-12);
                }
            }
        }
    }
}
