//! Control charts with samples of varying size: the limits come from a
//! baseline, the points judged by them may be others.
//!
//! Sources: Shewhart (1931), Economic Control of Quality of Manufactured
//! Product, and the NIST/SEMATECH e-Handbook, sections 6.3.3.1 and 6.3.3.2,
//! for the p, u and c charts; Laney (2002) Quality Engineering 14:531-537 for
//! the p' chart.

use super::unlikely::MOST;

/// Standard deviations from the center to a limit.
const WIDTH: f64 = 3.0;
/// Mean range of two normal values, in standard deviations, to the three
/// digits Laney uses.
const MEAN_RANGE_OF_TWO: f64 = 1.128;

/// What a chart follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Share of cases, 0 to 1: the p chart.
    Share,
    /// Events per unit of exposure, from 0 up: the u chart. With one unit in
    /// every sample it is the c chart.
    Rate,
}

/// What was counted among the cases, or in the units, of one point in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sample {
    pub count: i64,
    pub size: i64,
}

impl Sample {
    /// A bare count, for a c chart: one unit of exposure.
    #[must_use]
    pub fn bare(count: i64) -> Self {
        Self { count, size: 1 }
    }

    fn is_sound(&self, kind: Kind) -> bool {
        let most = match kind {
            Kind::Share => self.size,
            Kind::Rate if self.size == 0 => 0,
            Kind::Rate => MOST,
        };
        (0..=MOST).contains(&self.size) && (0..=most).contains(&self.count)
    }
}

/// The limits a baseline gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chart {
    kind: Kind,
    baseline: Sample,
    sigma_z: f64,
}

/// One sample beside the limits for its size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// Share, or events per unit.
    pub value: f64,
    /// The limits, cut to what the value can be.
    pub low: f64,
    pub high: f64,
    /// Distance from the center in standard deviations of the chart: exactly 3
    /// on a limit, infinite off a center without any deviation.
    pub z: f64,
}

impl Judged {
    /// Beyond a limit; a point exactly on it is not.
    #[must_use]
    pub fn is_outside(&self) -> bool {
        self.z.abs() > WIDTH
    }
}

impl Chart {
    /// The plain chart (p, u or c) of a baseline. A sample without cases adds
    /// nothing. `None` where the baseline has no cases, a count is negative or
    /// passes its cases, or all of them together pass 2^31.
    #[must_use]
    pub fn plain(kind: Kind, baseline: &[Sample]) -> Option<Self> {
        let mut whole = Sample { count: 0, size: 0 };
        for sample in baseline {
            if !sample.is_sound(kind) {
                return None;
            }
            whole = Sample { count: whole.count + sample.count, size: whole.size + sample.size };
            if whole.count > MOST || whole.size > MOST {
                return None;
            }
        }
        (whole.size > 0).then_some(Self { kind, baseline: whole, sigma_z: 1.0 })
    }

    /// Laney's chart, for samples so large that chance alone is not the whole
    /// of what moves them: the plain chart with every deviation times sigma z,
    /// the mean moving range of the baseline's z over 1.128. The order of the
    /// baseline matters; samples without cases are passed over. `None` as for
    /// [`Chart::plain`], below two samples with cases, or where nothing moves.
    #[must_use]
    pub fn laney(kind: Kind, baseline: &[Sample]) -> Option<Self> {
        let plain = Self::plain(kind, baseline)?;
        let z: Vec<f64> =
            baseline.iter().filter_map(|&sample| Some(plain.judge(sample)?.z)).collect();
        let moved: f64 = z.iter().zip(z.iter().skip(1)).map(|(a, b)| (b - a).abs()).sum();
        let sigma_z = moved / z.len().saturating_sub(1) as f64 / MEAN_RANGE_OF_TWO;
        (sigma_z > 0.0).then_some(Self { sigma_z, ..plain })
    }

    /// Share, or events per unit, of the whole baseline.
    #[must_use]
    pub fn center(&self) -> f64 {
        self.baseline.count as f64 / self.baseline.size as f64
    }

    /// How many times chance's own deviation the limits allow: 1 for a plain
    /// chart.
    #[must_use]
    pub fn sigma_z(&self) -> f64 {
        self.sigma_z
    }

    /// A sample beside the limits for its size. `None` where it has no cases,
    /// its count is negative or passes them, or either passes 2^31.
    #[must_use]
    pub fn judge(&self, sample: Sample) -> Option<Judged> {
        if sample.size == 0 || !sample.is_sound(self.kind) {
            return None;
        }
        let (size, whole) = (sample.size as f64, self.baseline.size as f64);
        let half = WIDTH * self.sigma_z * (self.variance_in_counts(1) as f64 / size).sqrt() / whole;
        let ceiling = match self.kind {
            Kind::Share => 1.0,
            Kind::Rate => f64::INFINITY,
        };
        Some(Judged {
            value: sample.count as f64 / size,
            low: (self.center() - half).max(0.0),
            high: (self.center() + half).min(ceiling),
            z: self.plain_z(sample) / self.sigma_z,
        })
    }

    /// Distance from the center in the plain chart's deviations, from whole
    /// numbers, so that a point on a limit is there and not a digit beside it.
    fn plain_z(&self, sample: Sample) -> f64 {
        let off = sample.count * self.baseline.size - self.baseline.count * sample.size;
        if off == 0 {
            return 0.0;
        }
        off as f64 / (self.variance_in_counts(sample.size) as f64).sqrt()
    }

    /// Variance of a sample's value, times the square of its size and of the
    /// baseline's.
    fn variance_in_counts(&self, size: i64) -> i128 {
        let Sample { count, size: whole } = self.baseline;
        let other = match self.kind {
            Kind::Share => whole - count,
            Kind::Rate => whole,
        };
        i128::from(count) * i128::from(other) * i128::from(size)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const KINDS: [Kind; 2] = [Kind::Share, Kind::Rate];

    fn sample(count: i64, size: i64) -> Sample {
        Sample { count, size }
    }

    fn samples() -> impl Strategy<Value = Vec<Sample>> {
        let one = (0_i64..200).prop_flat_map(|n| (0..=n, Just(n)));
        proptest::collection::vec(one.prop_map(|(x, n)| sample(x, n)), 1..30)
    }

    #[test]
    fn unsound_counts_make_no_chart() {
        for kind in KINDS {
            for bad in [sample(-1, 4), sample(1, -4), sample(1, 0), sample(1, i64::MAX)] {
                assert_eq!(Chart::plain(kind, &[sample(1, 4), bad]), None);
                assert_eq!(Chart::plain(kind, &[sample(1, 4)]).unwrap().judge(bad), None);
            }
            assert_eq!(Chart::plain(kind, &[]), None);
            assert_eq!(Chart::plain(kind, &[sample(0, 0)]), None);
            assert_eq!(Chart::plain(kind, &[sample(1, MOST), sample(1, MOST)]), None);
            assert_eq!(Chart::laney(kind, &[sample(1, 4), sample(0, 0)]), None);
            assert_eq!(Chart::laney(kind, &[sample(1, 4), sample(2, 8)]), None);
            let chart = Chart::plain(kind, &[sample(1, 4)]).unwrap();
            assert_eq!(chart.judge(sample(0, 0)), None);
        }
        assert_eq!(Chart::plain(Kind::Share, &[sample(5, 4)]), None);
        assert_eq!(Chart::plain(Kind::Rate, &[sample(5, 4)]).unwrap().center(), 1.25);
    }

    /// By hand: 0.1 + 3 x sqrt(0.1 x 0.9 / 100) = 0.19; 0.5 + 3 x 0.5 / 6 =
    /// 0.75; 4 + 3 x sqrt(4 / 9) = 6; 16 + 3 x 4 = 28.
    #[test]
    fn a_point_on_the_limit_is_not_outside() {
        for (kind, center, size, on) in [
            (Kind::Share, sample(1, 10), 100, 19),
            (Kind::Share, sample(17, 34), 36, 27),
            (Kind::Rate, sample(12, 3), 9, 54),
            (Kind::Rate, Sample::bare(16), 1, 28),
        ] {
            let chart = Chart::plain(kind, &[center]).unwrap();
            assert_eq!(chart.judge(sample(on, size)).unwrap().z, 3.0);
            assert!(!chart.judge(sample(on, size)).unwrap().is_outside());
            assert!(chart.judge(sample(on + 1, size)).unwrap().is_outside());
        }
    }

    /// Where the baseline never saw one, the first is a signal.
    #[test]
    fn a_center_without_deviation_lets_nothing_else_pass() {
        let chart = Chart::plain(Kind::Share, &[sample(0, 50)]).unwrap();
        let (none, one) = (chart.judge(sample(0, 9)).unwrap(), chart.judge(sample(1, 9)).unwrap());
        assert_eq!((none.low, none.high, none.z), (0.0, 0.0, 0.0));
        assert_eq!(one.z, f64::INFINITY);
        assert!(one.is_outside() && !none.is_outside());
    }

    proptest! {
        /// A point is outside where its value is beyond a limit, except by
        /// rounding, and the limits hold the center.
        #[test]
        fn limits_hold_the_center_and_tell_who_is_outside(
            baseline in samples(), judged in samples(),
        ) {
            for kind in KINDS {
                for chart in [Chart::plain(kind, &baseline), Chart::laney(kind, &baseline)] {
                    let Some(chart) = chart else { continue };
                    for &one in judged.iter().filter(|one| one.size > 0) {
                        let at = chart.judge(one).unwrap();
                        prop_assert!(0.0 <= at.low && at.low <= chart.center());
                        prop_assert!(chart.center() <= at.high);
                        prop_assert!(kind == Kind::Rate || at.high <= 1.0);
                        let beyond = (at.low - at.value).max(at.value - at.high);
                        if beyond.abs() > 1e-9 {
                            prop_assert_eq!(at.is_outside(), beyond > 0.0);
                        }
                    }
                }
            }
        }

        /// The order of a plain chart's baseline never matters, nor whether a
        /// sample is counted whole or in parts.
        #[test]
        fn a_baseline_is_a_sum(baseline in samples(), more in samples()) {
            for kind in KINDS {
                let both: Vec<Sample> = baseline.iter().chain(&more).copied().collect();
                let turned: Vec<Sample> = both.iter().rev().copied().collect();
                prop_assert_eq!(Chart::plain(kind, &both), Chart::plain(kind, &turned));
                let sum = |samples: &[Sample]| sample(
                    samples.iter().map(|one| one.count).sum(),
                    samples.iter().map(|one| one.size).sum(),
                );
                let halves = [sum(&baseline), sum(&more)];
                prop_assert_eq!(Chart::plain(kind, &both), Chart::plain(kind, &halves));
            }
        }

        /// Counting the others turns a share's chart over; counting exposure
        /// in smaller units changes no distance.
        #[test]
        fn charts_turn_over_and_rescale(baseline in samples()) {
            let others: Vec<Sample> =
                baseline.iter().map(|one| sample(one.size - one.count, one.size)).collect();
            let finer: Vec<Sample> =
                baseline.iter().map(|one| sample(one.count, one.size * 60)).collect();
            for make in [Chart::plain, Chart::laney] {
                let pairs = [
                    (make(Kind::Share, &baseline), make(Kind::Share, &others), &others, -1.0),
                    (make(Kind::Rate, &baseline), make(Kind::Rate, &finer), &finer, 1.0),
                ];
                for (chart, other, samples, sign) in pairs {
                    prop_assert_eq!(chart.is_some(), other.is_some());
                    let (Some(chart), Some(other)) = (chart, other) else { continue };
                    for (&one, &same) in baseline.iter().zip(samples) {
                        let z = chart.judge(one).map(|at| at.z);
                        let turned = other.judge(same).map(|at| at.z * sign);
                        prop_assert_eq!(z.is_some(), turned.is_some());
                        let (z, turned) = (z.unwrap_or(0.0), turned.unwrap_or(0.0));
                        prop_assert!((z - turned).abs() <= 1e-9 * z.abs());
                    }
                }
            }
        }
    }
}
