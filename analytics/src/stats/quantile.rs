//! Sample quantiles by four conventions of Hyndman & Fan, "Sample quantiles in
//! statistical packages", The American Statistician 50 (1996) 361-365, with
//! what else is read off ordered values.

use std::collections::BTreeMap;

use statrs::function::beta::checked_beta_reg;

/// Makes the median absolute deviation of normal values their standard
/// deviation: 1 over the normal quantile of 3/4, as rounded in common use.
const NORMAL_MAD: f64 = 1.4826;

/// Where between two neighboring values a quantile lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Convention {
    /// The first value with a share p at or below it: always one of the values.
    One,
    /// Rank p(n + 1): the engineering handbooks' percentile.
    Six,
    /// Rank p(n - 1) + 1: what most statistical libraries give unasked.
    Seven,
    /// Rank p(n + 1/3) + 1/3: close to the median of what the quantile may be,
    /// whatever the distribution.
    Eight,
}

/// Two ordered values that hold a quantile of what they were drawn from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankInterval {
    /// Absent where even the smallest value is not low enough.
    pub low: Option<f64>,
    /// Absent where even the largest value is not high enough.
    pub high: Option<f64>,
    /// Rank of the low end, from 1; 0 where it is absent.
    pub low_rank: usize,
    /// Rank of the high end; one past the count where it is absent.
    pub high_rank: usize,
    /// How often such an interval holds the quantile, at least the level asked
    /// for: exact for values without ties, and more often with them.
    pub coverage: f64,
}

/// Lower quartile, median and upper quartile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quartiles {
    pub lower: f64,
    pub median: f64,
    pub upper: f64,
}

/// Whole numbers that products of fractions miss by their last digits: 0.07 x
/// 100 comes out above 7.
const NEARLY: f64 = 4.0 * f64::EPSILON;

/// A whole rank and the fraction of the way to the next.
fn rank(count: u64, p: f64, convention: Convention) -> Option<(u64, f64)> {
    if count == 0 || !(0.0..=1.0).contains(&p) {
        return None;
    }
    let n = count as f64;
    let position = match convention {
        Convention::One => (p * n * (1.0 - NEARLY)).ceil(),
        Convention::Six => p * (n + 1.0),
        Convention::Seven => p.mul_add(n - 1.0, 1.0),
        Convention::Eight => p.mul_add(n + 1.0 / 3.0, 1.0 / 3.0),
    }
    .clamp(1.0, n);
    let whole = position.floor();
    Some((whole as u64, position - whole))
}

/// The quantile at `p` (0 to 1) of ascending values. `None` for no values or
/// `p` outside its range.
#[must_use]
pub fn of_sorted(values: &[f64], p: f64, convention: Convention) -> Option<f64> {
    let (whole, fraction) = rank(values.len() as u64, p, convention)?;
    let at = usize::try_from(whole).ok()?;
    let low = *values.get(at.checked_sub(1)?)?;
    let high = values.get(at).copied().unwrap_or(low);
    Some(fraction.mul_add(high - low, low))
}

/// The quantile at `p` (0 to 1) of a histogram: value to how often it occurs.
/// Counts below one are passed over. `None` for an empty histogram or `p`
/// outside its range.
#[must_use]
pub fn of_histogram(histogram: &BTreeMap<i64, i64>, p: f64, convention: Convention) -> Option<f64> {
    let steps = || {
        histogram
            .iter()
            .filter_map(|(&value, &count)| Some((value, u64::try_from(count).ok()?)))
            .filter(|&(_, count)| count > 0)
    };
    let (whole, fraction) = rank(steps().map(|(_, count)| count).sum(), p, convention)?;
    let mut seen = 0;
    let mut low = None;
    for (value, count) in steps() {
        seen += count;
        if let Some(low) = low {
            return Some((value as f64 - low) * fraction + low);
        }
        if seen > whole || (seen == whole && fraction == 0.0) {
            return Some(value as f64);
        }
        if seen == whole {
            low = Some(value as f64);
        }
    }
    low
}

/// The median of a histogram.
#[must_use]
pub fn median(histogram: &BTreeMap<i64, i64>) -> Option<f64> {
    of_histogram(histogram, 0.5, Convention::Seven)
}

/// Quartiles of a histogram by convention seven.
#[must_use]
pub fn quartiles(histogram: &BTreeMap<i64, i64>) -> Option<Quartiles> {
    let at = |p| of_histogram(histogram, p, Convention::Seven);
    Some(Quartiles { lower: at(0.25)?, median: at(0.5)?, upper: at(0.75)? })
}

/// The mean of ascending values without the smallest and the largest ones:
/// a `fraction` of their number, rounded down, is left out at each end. `None`
/// for no values, or a fraction outside 0 to below 1/2.
#[must_use]
pub fn trimmed_mean(values: &[f64], fraction: f64) -> Option<f64> {
    if !(0.0..0.5).contains(&fraction) {
        return None;
    }
    let cut = (values.len() as f64 * fraction * (1.0 + NEARLY)).floor() as usize;
    let kept = values.get(cut..values.len().checked_sub(cut)?)?;
    let mean = kept.iter().sum::<f64>() / kept.len() as f64;
    mean.is_finite().then_some(mean)
}

/// The median distance of ascending values from their median, times 1.4826:
/// the standard deviation where they are normal, and little moved by a few
/// wild ones (Hampel (1974) JASA 69:383-393). `None` for no values.
#[must_use]
pub fn median_deviation(values: &[f64]) -> Option<f64> {
    let median = of_sorted(values, 0.5, Convention::Seven)?;
    let mut distances: Vec<f64> = values.iter().map(|value| (value - median).abs()).collect();
    distances.sort_unstable_by(f64::total_cmp);
    Some(NORMAL_MAD * of_sorted(&distances, 0.5, Convention::Seven)?)
}

/// P(X <= k) for X of n with probability p, 0 < p < 1.
fn binomial_at_most(k: usize, n: usize, p: f64) -> f64 {
    if k >= n {
        return 1.0;
    }
    checked_beta_reg((n - k) as f64, k as f64 + 1.0, 1.0 - p).unwrap_or(f64::NAN)
}

/// The smallest k with P(X <= k) >= tail.
fn binomial_quantile(tail: f64, n: usize, p: f64) -> usize {
    let (mut low, mut high) = (0, n);
    while low < high {
        let middle = usize::midpoint(low, high);
        if binomial_at_most(middle, n, p) < tail {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    low
}

/// The interval of the `p` quantile between two ascending values, whatever the
/// distribution: as many values as lie below the quantile are binomial, and the
/// ranks are its tail quantiles (Conover (1999) Practical Nonparametric
/// Statistics, section 3.2). Few values leave an end open.
///
/// `None` for no values, and unless `p` and `level` lie strictly between 0 and
/// 1.
#[must_use]
pub fn rank_interval(values: &[f64], p: f64, level: f64) -> Option<RankInterval> {
    let n = values.len();
    if n == 0 || !(p > 0.0 && p < 1.0) || !(level > 0.0 && level < 1.0) {
        return None;
    }
    let tail = (1.0 - level) / 2.0;
    let low_rank = binomial_quantile(tail, n, p);
    let high_rank = binomial_quantile(1.0 - tail, n, p) + 1;
    let below = low_rank.checked_sub(1).map_or(0.0, |k| binomial_at_most(k, n, p));
    let value = |rank: usize| values.get(rank.checked_sub(1)?).copied();
    Some(RankInterval {
        low: value(low_rank),
        high: value(high_rank),
        low_rank,
        high_rank,
        coverage: binomial_at_most(high_rank - 1, n, p) - below,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // Twelve readings in ascending order, with a tie.
    const READINGS: [i64; 12] = [2, 4, 4, 5, 7, 9, 12, 13, 20, 21, 34, 60];

    // numpy 2.4.6: numpy.quantile(READINGS, P, method="weibull" | "linear");
    // numpy's documentation names them Hyndman & Fan's types 6 and 7.
    const P: [f64; 7] = [0.0, 0.05, 0.25, 0.5, 0.75, 0.9, 1.0];
    const SIX: [f64; 7] = [2.0, 2.0, 4.25, 10.5, 20.75, 52.2, 60.0];
    const SEVEN: [f64; 7] = [2.0, 3.1, 4.75, 10.5, 20.25, 32.7, 60.0];

    const ALL: [Convention; 4] =
        [Convention::One, Convention::Six, Convention::Seven, Convention::Eight];

    fn histogram(values: &[i64]) -> BTreeMap<i64, i64> {
        let mut counts = BTreeMap::new();
        for &value in values {
            *counts.entry(value).or_insert(0) += 1;
        }
        counts
    }

    #[test]
    fn quantiles_agree_with_numpy() {
        let sorted: Vec<f64> = READINGS.iter().map(|&v| v as f64).collect();
        for (convention, expected) in [(Convention::Six, SIX), (Convention::Seven, SEVEN)] {
            for (&p, &value) in P.iter().zip(&expected) {
                let from_slice = of_sorted(&sorted, p, convention).unwrap();
                let from_histogram = of_histogram(&histogram(&READINGS), p, convention).unwrap();
                assert!((from_slice - value).abs() < 1e-12, "{convention:?} {p} {from_slice}");
                assert!((from_histogram - value).abs() < 1e-12, "{convention:?} {p}");
            }
        }
    }

    #[test]
    fn nothing_has_no_quantile() {
        assert_eq!(of_sorted(&[], 0.5, Convention::Seven), None);
        assert_eq!(median(&BTreeMap::new()), None);
        assert_eq!(of_sorted(&[1.0], 1.5, Convention::Six), None);
        assert_eq!(of_sorted(&[1.0], f64::NAN, Convention::Six), None);
        assert_eq!(trimmed_mean(&[], 0.1), None);
        assert_eq!(median_deviation(&[]), None);
        assert_eq!(rank_interval(&[], 0.5, 0.95), None);
        for bad in [-0.1, 0.5, f64::NAN] {
            assert_eq!(trimmed_mean(&[1.0, 2.0], bad), None);
        }
        for bad in [0.0, 1.0, f64::NAN] {
            assert_eq!(rank_interval(&[1.0], bad, 0.95), None);
            assert_eq!(rank_interval(&[1.0], 0.5, bad), None);
        }
    }

    proptest! {
        #[test]
        fn a_histogram_says_what_its_values_say(
            mut values in proptest::collection::vec(-50_i64..50, 1..40),
            p in 0.0..=1.0,
        ) {
            values.sort_unstable();
            let sorted: Vec<f64> = values.iter().map(|&v| v as f64).collect();
            for convention in ALL {
                let a = of_sorted(&sorted, p, convention).unwrap();
                let b = of_histogram(&histogram(&values), p, convention).unwrap();
                prop_assert!((a - b).abs() < 1e-9);
            }
        }

        /// Convention one by its definition, in whole numbers: the first value
        /// with at least n p values at or below it. 7 of 100 at 0.07 is one of
        /// the shares that rounding would move.
        #[test]
        fn one_is_the_first_with_its_share(n in 1_usize..300, percent in 0_usize..=100) {
            let values: Vec<f64> = (1..=n).map(|i| i as f64).collect();
            let rank = (n * percent).div_ceil(100).max(1);
            let ours = of_sorted(&values, percent as f64 / 100.0, Convention::One);
            prop_assert_eq!(ours, Some(rank as f64));
            if percent < 50 {
                // What is left of 1..=n has its mean in the middle; how many
                // are cut shows once the largest is made wild.
                let mut wild = values;
                wild[n - 1] = 1e6;
                let cut = n * percent / 100;
                let mean = trimmed_mean(&wild, percent as f64 / 100.0).unwrap();
                let kept = (n - 2 * cut) as f64;
                let extra = if cut == 0 { (1e6 - n as f64) / kept } else { 0.0 };
                prop_assert!((mean - extra - (n as f64 + 1.0) / 2.0).abs() < 1e-6);
            }
        }

        /// Shifts move every average and no spread; factors stretch both.
        #[test]
        fn they_follow_shift_and_factor(
            mut values in proptest::collection::vec(-50_i32..50, 1..40),
            shift in -9_i32..9, factor in 1_i32..9, fraction in 0.0..0.49,
        ) {
            values.sort_unstable();
            let plain: Vec<f64> = values.iter().map(|&v| f64::from(v)).collect();
            let moved: Vec<f64> = values.iter().map(|&v| f64::from(v * factor + shift)).collect();
            let (a, b) = (f64::from(factor), f64::from(shift));
            let near = |x: f64, y: f64| (x - y).abs() < 1e-9;
            let trimmed = |values| trimmed_mean(values, fraction).unwrap();
            prop_assert!(near(trimmed(&moved), trimmed(&plain) * a + b));
            let mean = trimmed(&plain);
            prop_assert!(plain[0] - 1e-9 <= mean && mean <= plain[plain.len() - 1] + 1e-9);
            let deviation = |values| median_deviation(values).unwrap();
            prop_assert!(near(deviation(&moved), deviation(&plain) * a));
            for convention in ALL {
                let at = |values| of_sorted(values, fraction, convention).unwrap();
                prop_assert!(near(at(&moved), at(&plain) * a + b));
            }
        }

        /// The interval covers at least its level and holds the quantile seen;
        /// its coverage is the sum of single binomial terms, by their recursion from
        /// (1 - p)^n.
        #[test]
        fn the_rank_interval_keeps_its_level(
            n in 1_usize..200, p in 0.02_f64..0.98, level in 0.5_f64..0.99,
        ) {
            let values: Vec<f64> = (1..=n).map(|i| i as f64).collect();
            let ours = rank_interval(&values, p, level).unwrap();
            prop_assert!(ours.coverage >= level - 1e-12 && ours.coverage <= 1.0 + 1e-12);
            let seen = of_sorted(&values, p, Convention::One).unwrap();
            prop_assert!(ours.low.is_none_or(|low| low <= seen));
            prop_assert!(ours.high.is_none_or(|high| high >= seen));
            // As logarithms: (1 - p)^n may be smaller than any number there is.
            let mut term = n as f64 * (1.0 - p).ln();
            let mut sum = 0.0;
            for k in 0..=n {
                if (ours.low_rank..ours.high_rank).contains(&k) {
                    sum += term.exp();
                }
                term += ((n - k) as f64 / (k as f64 + 1.0) * p / (1.0 - p)).ln();
            }
            prop_assert!((sum - ours.coverage).abs() < 1e-9);
        }
    }
}
