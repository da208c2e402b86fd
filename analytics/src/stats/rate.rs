//! Rates of counted events: what was seen over what was expected, and the
//! ratio of two rates.
//!
//! Sources: Breslow and Day (1987) Statistical Methods in Cancer Research,
//! vol. II, IARC, ch. 2 (Byar's approximation; from memory); Garwood (1936)
//! Biometrika 28:437-442 (exact limits); Przyborowski and Wilenski (1940)
//! Biometrika 31:313-323 (two rates, given their sum).

use super::normal_quantile;
use super::poisson::mean_interval;
use super::proportion::clopper_pearson;
use super::unlikely::{MOST, Outcomes};

type Bounds = Option<(f64, f64)>;

fn counted(observed: i64, expected: f64) -> bool {
    (0..=MOST).contains(&observed) && expected > 0.0 && expected.is_finite()
}

/// Byar's approximate interval (low, high) of observed over expected. `None`
/// unless `observed` lies in 0 to 2^31, `expected` is positive and finite, and
/// the level lies between 0 and 1.
#[must_use]
pub fn byar(observed: i64, expected: f64, level: f64) -> Bounds {
    let z = normal_quantile(level)?;
    if !counted(observed, expected) {
        return None;
    }
    // Wilson and Hilferty: the cube root of such a count is nearly normal.
    let limit = |count: f64, z: f64| {
        let root = 1.0 - 1.0 / (9.0 * count) + z / (3.0 * count.sqrt());
        count * root.max(0.0).powi(3) / expected
    };
    let seen = observed as f64;
    Some((if observed == 0 { 0.0 } else { limit(seen, -z) }, limit(seen + 1.0, z)))
}

/// The exact interval (low, high) of observed over expected. `None` as for
/// [`byar`].
#[must_use]
pub fn exact(observed: i64, expected: f64, level: f64) -> Bounds {
    if !counted(observed, expected) {
        return None;
    }
    let (low, high) = mean_interval(observed, level)?;
    Some((low / expected, high / expected))
}

/// Two rates beside each other: the first over the second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateRatio {
    /// Absent where the second rate is zero.
    pub ratio: Option<f64>,
    pub low: f64,
    /// Absent where the second rate is zero: then no ratio is too high.
    pub high: Option<f64>,
    /// Probability, if both rates are one, of a split of the events no more
    /// likely than the one seen.
    pub two_sided: f64,
}

/// Ratio of the rates `x1/t1` and `x2/t2`, with its exact interval given the
/// sum of the counts (Clopper-Pearson) and the exact test of equal rates.
/// Exposures in any one unit. `None` unless the counts are not negative, their
/// sum is at most 2^31, the exposures and their quotient are positive and
/// finite, and the level lies between 0 and 1.
#[must_use]
pub fn rate_ratio(x1: i64, t1: f64, x2: i64, t2: f64, level: f64) -> Option<RateRatio> {
    normal_quantile(level)?;
    let odds = t1 / t2;
    let number = |x: f64| x > 0.0 && x.is_finite();
    if !counted(x1, t1)
        || !counted(x2, t2)
        || x1 + x2 > MOST
        || !number(odds)
        || !number(1.0 / odds)
    {
        return None;
    }
    let all = x1 + x2;
    let splits = Outcomes {
        low: 0,
        high: all,
        peak: ((all + 1) as f64 * (odds / (1.0 + odds)).min(1.0)) as i64,
        next_over_this: |k: i64| (all - k) as f64 / (k + 1) as f64 * odds,
    };
    let two_sided = splits.no_likelier_than(x1);
    // Nothing seen says nothing of the split.
    let (low1, high1) = clopper_pearson(x1, all, level).unwrap_or((0.0, 1.0));
    // The other group's share is taken for itself: one less the first loses
    // digits where the first is nearly all.
    let (low2, high2) = clopper_pearson(x2, all, level).unwrap_or((0.0, 1.0));
    Some(RateRatio {
        ratio: (x2 > 0).then(|| x1 as f64 / x2 as f64 / odds),
        low: low1 / high2 / odds,
        high: (x2 > 0).then(|| high1 / low2 / odds),
        two_sided,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn nothing_without_counts_and_exposures() {
        for (x, t) in [(-1, 2.0), (1, 0.0), (1, -2.0), (1, f64::NAN), (1, f64::INFINITY)] {
            assert_eq!(byar(x, t, 0.95), None);
            assert_eq!(exact(x, t, 0.95), None);
            assert_eq!(rate_ratio(x, t, 1, 1.0, 0.95), None);
            assert_eq!(rate_ratio(1, 1.0, x, t, 0.95), None);
        }
        assert_eq!(byar(i64::MAX, 1.0, 0.95), None);
        assert_eq!(exact(i64::MAX, 1.0, 0.95), None);
        assert_eq!(rate_ratio(i64::MAX, 1.0, i64::MAX, 1.0, 0.95), None);
        assert_eq!(rate_ratio(1, 1e300, 1, 1e-300, 0.95), None);
        assert_eq!(byar(1, 1.0, 1.0), None);
        assert_eq!(rate_ratio(1, 1.0, 1, 1.0, f64::NAN), None);
    }

    /// A large count is nearly normal with its own size as variance; what is
    /// left out moves a limit by some (z^2 + 2) / 3.
    #[test]
    fn the_largest_counts_are_answered() {
        let half = 1.959964 * (MOST as f64).sqrt();
        for (low, high) in [byar(MOST, 1.0, 0.95).unwrap(), exact(MOST, 1.0, 0.95).unwrap()] {
            assert!((low - (MOST as f64 - half)).abs() < 5.0, "{low}");
            assert!((high - (MOST as f64 + half)).abs() < 5.0, "{high}");
        }
        let even = rate_ratio(MOST / 2, 1.0, MOST / 2, 1.0, 0.95).unwrap();
        assert!((even.low - 1.0).abs() < 1e-4 && (even.high.unwrap() - 1.0).abs() < 1e-4);
        assert!((even.two_sided - 1.0).abs() < 1e-6);
    }

    /// Nothing seen on either side leaves every ratio open.
    #[test]
    fn nothing_seen_says_nothing() {
        let none = rate_ratio(0, 3.0, 0, 4.0, 0.95).unwrap();
        assert_eq!(none, RateRatio { ratio: None, low: 0.0, high: None, two_sided: 1.0 });
    }

    proptest! {
        /// The approximation is within a tenth of a standard deviation of the
        /// exact limits from five events on (Breslow and Day call it accurate
        /// even there; from memory), and both hold what was seen.
        #[test]
        fn byar_follows_the_exact_limits(observed in 0_i64..400, expected in 0.1_f64..300.0) {
            let near = byar(observed, expected, 0.95).unwrap();
            let (low, high) = exact(observed, expected, 0.95).unwrap();
            let seen = observed as f64 / expected;
            prop_assert!(near.0 <= seen && seen <= near.1 && low <= seen && seen <= high);
            if observed >= 5 {
                let room = 0.1 * (observed as f64).sqrt() / expected;
                prop_assert!((near.0 - low).abs() < room && (near.1 - high).abs() < room);
            }
        }

        /// Turning the ratio over turns its limits over, and its unit of
        /// exposure does not matter.
        #[test]
        fn ratios_turn_over(
            x1 in 1_i64..200, x2 in 1_i64..200, t1 in 0.5_f64..50.0, t2 in 0.5_f64..50.0,
        ) {
            let one = rate_ratio(x1, t1, x2, t2, 0.95).unwrap();
            let other = rate_ratio(x2, t2 * 60.0, x1, t1 * 60.0, 0.95).unwrap();
            let (ratio, high) = (one.ratio.unwrap(), one.high.unwrap());
            prop_assert!(one.low <= ratio && ratio <= high);
            prop_assert!((ratio * other.ratio.unwrap() - 1.0).abs() < 1e-12);
            prop_assert!((one.low * other.high.unwrap() - 1.0).abs() < 1e-9);
            prop_assert!((high * other.low - 1.0).abs() < 1e-9);
            prop_assert!((one.two_sided - other.two_sided).abs() < 1e-9);
            prop_assert!((0.0..=1.0).contains(&one.two_sided));
        }

        /// With equal exposures one side's count is a fair coin's: the test is
        /// twice the smaller tail.
        #[test]
        fn equal_exposures_are_a_fair_coin(x1 in 0_i64..30, x2 in 0_i64..30, t in 0.1_f64..9.0) {
            let fewer = x1.min(x2);
            let mut single = 0.5_f64.powi(i32::try_from(x1 + x2).unwrap());
            let mut tail = single;
            for k in 0..fewer {
                single *= (x1 + x2 - k) as f64 / (k + 1) as f64;
                tail += single;
            }
            let expected = if x1 == x2 { 1.0 } else { 2.0 * tail };
            let ours = rate_ratio(x1, t, x2, t, 0.95).unwrap().two_sided;
            prop_assert!((ours - expected).abs() < 1e-10, "{ours} against {expected}");
        }
    }
}
