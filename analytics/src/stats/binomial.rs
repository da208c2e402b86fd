//! Exact probabilities of a count of successes among `n` cases.
//!
//! The tails are incomplete beta functions (DLMF 8.17.5, an identity of the
//! distribution).

use super::beta::Beta;

/// P(X >= x) of `n` cases with the chance `p` each. Not a number unless `n` is
/// not negative, at most a million, and `p` lies in 0 to 1.
#[must_use]
pub fn at_least(x: i64, n: i64, p: f64) -> f64 {
    if !(0..=1_000_000).contains(&n) || !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if x <= 0 {
        return 1.0;
    }
    if x > n {
        return 0.0;
    }
    Beta::new(x as f64, (n - x + 1) as f64).map_or(f64::NAN, |beta| beta.cdf(p))
}

/// P(X <= x), as [`at_least`].
#[must_use]
pub fn at_most(x: i64, n: i64, p: f64) -> f64 {
    // Failures mirror successes, and keep the digits of a small tail.
    n.checked_sub(x).map_or(f64::NAN, |failures| at_least(failures, n, 1.0 - p))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edges() {
        assert_eq!((at_least(0, 5, 0.3), at_least(6, 5, 0.3)), (1.0, 0.0));
        assert_eq!((at_most(5, 5, 0.3), at_most(-1, 5, 0.3)), (1.0, 0.0));
        assert_eq!((at_least(1, 5, 0.0), at_least(5, 5, 1.0)), (0.0, 1.0));
        assert_eq!((at_least(0, 0, 0.5), at_most(0, 0, 0.5)), (1.0, 1.0));
        for (x, n, p) in [(1, -1, 0.5), (1, 5, -0.1), (1, 5, f64::NAN), (1, i64::MAX, 0.5)] {
            assert!(at_least(x, n, p).is_nan() && at_most(x, n, p).is_nan());
        }
        assert!(at_most(i64::MIN, 5, 0.5).is_nan());
    }

    proptest::proptest! {
        /// Probabilities of single counts, by their recursion from the first,
        /// add up to the tails.
        #[test]
        fn tails_are_sums_of_single_counts(n in 1_i64..60, k in 0_i64..60, p in 0.001_f64..0.999) {
            let k = k.min(n);
            let mut single = (1.0 - p).powi(i32::try_from(n).unwrap());
            let mut sum = single;
            for i in 1..=k {
                single *= (n - i + 1) as f64 / i as f64 * p / (1.0 - p);
                sum += single;
            }
            proptest::prop_assert!((at_most(k, n, p) - sum).abs() < 1e-9);
            proptest::prop_assert!((at_least(k + 1, n, p) - (1.0 - sum)).abs() < 1e-9);
        }
    }
}
