//! How far observed over expected strays by chance alone: the limits of a
//! funnel plot.
//!
//! Source: Spiegelhalter (2005) Statistics in Medicine 24:1185-1202, appendix
//! A.1 (limits interpolated between counts; from memory).

use super::normal_quantile;
use super::poisson::at_most;

/// Largest expected count that is drawn.
const MOST: f64 = 2_147_483_648.0;

/// Between which values (low, high) a Poisson count over its own mean lies with
/// about this probability. Between two counts the limits are interpolated, so
/// that they narrow smoothly with the mean. `None` unless `expected` lies
/// between 0 and 2^31 and the level between 0 and 1.
#[must_use]
pub fn limits(expected: f64, level: f64) -> Option<(f64, f64)> {
    normal_quantile(level)?;
    if !(expected > 0.0 && expected <= MOST) {
        return None;
    }
    let tail = (1.0 - level) / 2.0;
    let (low, high) = (quantile(expected, tail), quantile(expected, 1.0 - tail));
    Some((low / expected, high / expected))
}

/// The interpolated `p` quantile of a count of this mean, not below 0.
fn quantile(mean: f64, p: f64) -> f64 {
    // Past any quantile that a number short of 1 can ask for.
    let (mut below, mut reached) = (-1_i64, (mean + 40.0 * mean.sqrt() + 100.0) as i64);
    while reached - below > 1 {
        let middle = below + (reached - below) / 2;
        if at_most(middle, mean) < p {
            below = middle;
        } else {
            reached = middle;
        }
    }
    let (before, after) = (at_most(reached - 1, mean), at_most(reached, mean));
    let part = if after > before { (after - p) / (after - before) } else { 0.0 };
    (reached as f64 - part.clamp(0.0, 1.0)).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_without_an_expectation() {
        for expected in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(limits(expected, 0.95), None);
        }
        for level in [0.0, 1.0, f64::NAN] {
            assert_eq!(limits(5.0, level), None);
        }
    }

    /// A large count is nearly normal with its mean as variance.
    #[test]
    fn the_largest_expectations_have_limits() {
        let (low, high) = limits(MOST, 0.95).unwrap();
        let half = 1.959_964 / MOST.sqrt();
        assert!((low - (1.0 - half)).abs() < 1e-8 && (high - (1.0 + half)).abs() < 1e-8);
    }

    proptest::proptest! {
        #[test]
        fn limits_hold_one_and_narrow(expected in 0.05_f64..400.0, more in 0.5_f64..100.0) {
            let (low, high) = limits(expected, 0.95).unwrap();
            proptest::prop_assert!((0.0..=1.0).contains(&low) && high >= 1.0);
            let (wide_low, wide_high) = limits(expected, 0.998).unwrap();
            proptest::prop_assert!(wide_low <= low && high <= wide_high);
            let (later_low, later_high) = limits(expected + more, 0.95).unwrap();
            // A scan in Python finds them monotone for expectations half an event
            // apart.
            proptest::prop_assert!(low <= later_low + 1e-9);
            proptest::prop_assert!(later_high <= high + 1e-9);
        }
    }
}
