//! Exact probabilities of a Poisson count.
//!
//! Source: Garwood (1936) Biometrika 28:437-442 for the interval; the tails
//! are incomplete gamma functions (an identity of the distribution).

use statrs::function::gamma::{checked_gamma_lr, checked_gamma_ur};

use super::{normal_quantile, rising_root};

/// P(X >= k) for a count of the given mean (`mean >= 0`, else not a number).
#[must_use]
pub fn at_least(k: i64, mean: f64) -> f64 {
    match (k <= 0, mean >= 0.0) {
        (_, false) => f64::NAN,
        (true, true) => 1.0,
        (false, true) if mean == 0.0 => 0.0,
        (false, true) => checked_gamma_lr(k as f64, mean).unwrap_or(f64::NAN),
    }
}

/// P(X <= k) for a count of the given mean (`mean >= 0`, else not a number).
#[must_use]
pub fn at_most(k: i64, mean: f64) -> f64 {
    match (k < 0, mean >= 0.0) {
        (_, false) => f64::NAN,
        (true, true) => 0.0,
        (false, true) if mean == 0.0 => 1.0,
        (false, true) => checked_gamma_ur(k as f64 + 1.0, mean).unwrap_or(f64::NAN),
    }
}

/// Two-sided probability: twice the smaller tail, at most 1. It agrees with
/// the exact interval: below 5 % exactly where the 95 % interval of
/// [`mean_interval`] leaves the mean out.
#[must_use]
pub fn two_sided(k: i64, mean: f64) -> f64 {
    (2.0 * at_least(k, mean).min(at_most(k, mean))).min(1.0)
}

/// The counts whose two-sided probability is at least `outside`, lowest and
/// highest: every other count is rarer than that. `None` for a mean below zero
/// or not finite, or `outside` not between 0 and 1.
#[must_use]
pub fn central_range(mean: f64, outside: f64) -> Option<(i64, i64)> {
    if !(mean.is_finite() && mean >= 0.0 && outside > 0.0 && outside < 1.0) {
        return None;
    }
    let tail = outside / 2.0;
    // The lower tail rises with the count, the upper one falls.
    let low = first_count(|k| at_most(k, mean) >= tail)?;
    let past = first_count(|k| at_least(k.saturating_add(1), mean) < tail)?;
    Some((low, past))
}

/// The first count that holds, where all later ones do too.
fn first_count(holds: impl Fn(i64) -> bool) -> Option<i64> {
    let (mut low, mut high) = (0_i64, 1_i64);
    while !holds(high) {
        high = high.checked_mul(2)?;
    }
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Some(low)
}

/// The exact (Garwood) interval of the mean behind a count.
/// `None` for a negative count or a level outside 0 to 1.
#[must_use]
pub fn mean_interval(k: i64, level: f64) -> Option<(f64, f64)> {
    if k < 0 {
        return None;
    }
    normal_quantile(level)?;
    let tail = (1.0 - level) / 2.0;
    // Far beyond any quantile a level short of 1 can ask for.
    let ceiling = 4.0 * (k as f64) + 1e3;
    let low = if k == 0 { 0.0 } else { rising_root(0.0, ceiling, tail, |mean| at_least(k, mean)) };
    let high = rising_root(0.0, ceiling, 1.0 - tail, |mean| at_least(k + 1, mean));
    Some((low, high))
}

/// The mean at which a count reaches `k` with a probability. `None` for a `k`
/// below 1 or a probability outside 0 to 1.
#[must_use]
pub fn mean_reaching(k: i64, probability: f64) -> Option<f64> {
    if k < 1 || !(probability > 0.0 && probability < 1.0) {
        return None;
    }
    let ceiling = 4.0 * (k as f64) + 1e3;
    Some(rising_root(0.0, ceiling, probability, |mean| at_least(k, mean)))
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        /// The tails are complements, and the probabilities of single counts
        /// (by their recursion from exp(-mean)) add up to them.
        #[test]
        fn tails_are_sums_of_single_counts(k in 0_i64..40, mean in 0.01_f64..30.0) {
            let mut single = (-mean).exp();
            let mut sum = single;
            for i in 1..=k {
                single *= mean / i as f64;
                sum += single;
            }
            proptest::prop_assert!((at_most(k, mean) - sum).abs() < 1e-10);
            proptest::prop_assert!((at_least(k + 1, mean) - (1.0 - sum)).abs() < 1e-10);
        }

        /// By definition: the counts of the range, and no others, have at least
        /// the probability.
        #[test]
        fn the_central_range_is_of_the_two_sided_probability(
            k in 0_i64..80, mean in 0.0_f64..60.0, outside in 0.001_f64..0.6,
        ) {
            let (low, high) = central_range(mean, outside).unwrap();
            let inside = (low..=high).contains(&k);
            proptest::prop_assert_eq!(two_sided(k, mean) >= outside, inside);
        }

        #[test]
        fn two_sided_agrees_with_the_interval(k in 0_i64..60, mean in 0.1_f64..60.0) {
            let (low, high) = mean_interval(k, 0.95).unwrap();
            let outside = mean < low || mean > high;
            proptest::prop_assert_eq!(two_sided(k, mean) < 0.05, outside);
        }
    }

    #[test]
    fn edges() {
        assert_eq!(at_least(0, 0.0), 1.0);
        assert_eq!(at_least(1, 0.0), 0.0);
        assert_eq!(at_most(0, 0.0), 1.0);
        assert!(at_least(1, -1.0).is_nan());
        assert_eq!(mean_interval(-1, 0.95), None);
        assert_eq!(central_range(0.0, 0.02), Some((0, 0)));
        for (mean, outside) in [(-1.0, 0.02), (f64::NAN, 0.02), (f64::INFINITY, 0.02), (1.0, 0.0)] {
            assert_eq!(central_range(mean, outside), None);
        }
        assert!(central_range(1e9, 0.02).is_some());
    }
}
