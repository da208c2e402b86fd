//! Two proportions beside each other: the difference with its interval, the
//! difference of two differences, and Fisher's exact test.
//!
//! Sources: Newcombe (1998) Statistics in Medicine 17:873-890, method 10, for
//! one difference; Zou and Donner (2008) Statistics in Medicine 27:1693-1702
//! for the square-and-add of any two intervals (from memory); Fisher (1935)
//! JRSS 98:39-82 for the test.
//!
//! A share is (x, n): `x` of `n`, with `0 <= x <= n` and `n > 0`.

use super::proportion::wilson;
use super::unlikely::{MOST, Outcomes};

type Share = (i64, i64);

/// An estimate with both ends of its interval.
#[derive(Debug, Clone, Copy)]
struct Estimate {
    value: f64,
    low: f64,
    high: f64,
}

impl Estimate {
    fn of_share((x, n): Share, level: f64) -> Option<Self> {
        let (low, high) = wilson(x, n, level)?;
        Some(Self { value: x as f64 / n as f64, low, high })
    }

    /// Each end adds the squares of the two distances that move it: of the
    /// first estimate to the same side, of the second to the other.
    fn minus(self, other: Self) -> Self {
        let value = self.value - other.value;
        Self {
            value,
            low: value - (self.value - self.low).hypot(other.high - other.value),
            high: value + (self.high - self.value).hypot(other.value - other.low),
        }
    }

    fn inside(self, widest: f64) -> (f64, f64) {
        (self.low.max(-widest), self.high.min(widest))
    }
}

fn difference(x: Share, y: Share, level: f64) -> Option<Estimate> {
    Some(Estimate::of_share(x, level)?.minus(Estimate::of_share(y, level)?))
}

/// Newcombe's hybrid score interval (low, high) of `x1/n1 - x2/n2`, inside -1
/// to 1. `None` where a share has no cases, its count lies outside them, or
/// the level lies outside 0 to 1.
#[must_use]
pub fn newcombe(x1: i64, n1: i64, x2: i64, n2: i64, level: f64) -> Option<(f64, f64)> {
    Some(difference((x1, n1), (x2, n2), level)?.inside(1.0))
}

/// Interval (low, high) of the difference of two differences of shares,
/// `(a - b) - (c - d)` for `first = [a, b]` and `second = [c, d]`, by the
/// square-and-add of their Newcombe intervals; inside -2 to 2. `None` as for
/// [`newcombe`].
#[must_use]
pub fn difference_in_differences(
    first: [Share; 2],
    second: [Share; 2],
    level: f64,
) -> Option<(f64, f64)> {
    let ([a, b], [c, d]) = (first, second);
    let both = difference(a, b, level)?.minus(difference(c, d, level)?);
    Some(both.inside(2.0))
}

/// Fisher's exact test that `x1` of `n1` and `x2` of `n2` come from one share:
/// the two-sided probability, by adding all tables no more likely than the one
/// seen. `None` where a group has no cases, a count lies outside them, or all
/// cases together pass 2^31.
#[must_use]
pub fn fisher_two_sided(x1: i64, n1: i64, x2: i64, n2: i64) -> Option<f64> {
    let counted = |x: i64, n: i64| n > 0 && n <= MOST && (0..=n).contains(&x);
    if !counted(x1, n1) || !counted(x2, n2) || n1 + n2 > MOST {
        return None;
    }
    let successes = x1 + x2;
    let tables = Outcomes {
        low: (successes - n2).max(0),
        high: successes.min(n1),
        // The mode of the hypergeometric distribution; the sums stay in 64
        // bits because of the most that is counted.
        peak: ((successes + 1) as f64 * (n1 + 1) as f64 / (n1 + n2 + 2) as f64) as i64,
        next_over_this: |k: i64| {
            let up = (n1 - k) as f64 * (successes - k) as f64;
            up / ((k + 1) as f64 * (n2 - successes + k + 1) as f64)
        },
    };
    Some(tables.no_likelier_than(x1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const NOTHING: [Share; 3] = [(0, 0), (-1, 4), (5, 4)];

    fn share() -> impl Strategy<Value = Share> {
        (1_i64..300).prop_flat_map(|n| (0..=n, Just(n)))
    }

    fn value((x, n): Share) -> f64 {
        x as f64 / n as f64
    }

    #[test]
    fn nothing_without_two_shares() {
        for (x, n) in NOTHING {
            assert_eq!(newcombe(x, n, 1, 4, 0.95), None);
            assert_eq!(newcombe(1, 4, x, n, 0.95), None);
            assert_eq!(fisher_two_sided(x, n, 1, 4), None);
            assert_eq!(fisher_two_sided(1, 4, x, n), None);
            let (good, bad) = ([(1, 4), (2, 5)], [(1, 4), (x, n)]);
            assert_eq!(difference_in_differences(bad, good, 0.95), None);
            assert_eq!(difference_in_differences(good, bad, 0.95), None);
        }
        for level in [0.0, 1.0, f64::NAN] {
            assert_eq!(newcombe(1, 4, 2, 5, level), None);
        }
        assert_eq!(fisher_two_sided(1, i64::MAX, 1, i64::MAX), None);
        assert_eq!(fisher_two_sided(1, MOST, 1, 1), None);
    }

    /// The sums reach only as far as anything weighs: the answer comes at once.
    #[test]
    fn the_largest_tables_are_answered() {
        let half = MOST / 2;
        let p = fisher_two_sided(half / 2, half, half / 2, half).unwrap();
        assert!((p - 1.0).abs() < 1e-6, "{p}");
        assert_eq!(fisher_two_sided(0, half, half, half), Some(0.0));
    }

    proptest! {
        #[test]
        fn the_interval_holds_the_difference_and_mirrors(x in share(), y in share()) {
            let (low, high) = newcombe(x.0, x.1, y.0, y.1, 0.95).unwrap();
            let seen = value(x) - value(y);
            prop_assert!(-1.0 <= low && low <= seen && seen <= high && high <= 1.0);
            let (mirror_low, mirror_high) = newcombe(y.0, y.1, x.0, x.1, 0.95).unwrap();
            prop_assert!((low + mirror_high).abs() < 1e-12 && (high + mirror_low).abs() < 1e-12);
            let (narrow_low, narrow_high) = newcombe(x.0, x.1, y.0, y.1, 0.8).unwrap();
            prop_assert!(low <= narrow_low && narrow_high <= high);
        }

        /// The squares of four distances add up in any order: exchanging the
        /// middle two shares changes nothing.
        #[test]
        fn differences_of_differences_regroup(
            a in share(), b in share(), c in share(), d in share(),
        ) {
            let (low, high) = difference_in_differences([a, b], [c, d], 0.95).unwrap();
            let seen = value(a) - value(b) - value(c) + value(d);
            prop_assert!(-2.0 <= low && low <= seen + 1e-12);
            prop_assert!(seen - 1e-12 <= high && high <= 2.0);
            let (other_low, other_high) = difference_in_differences([a, c], [b, d], 0.95).unwrap();
            prop_assert!((low - other_low).abs() < 1e-12 && (high - other_high).abs() < 1e-12);
        }

        /// The test does not care which group stands first, nor which of the
        /// two outcomes is counted.
        #[test]
        fn the_test_is_symmetric(x in share(), y in share()) {
            let p = fisher_two_sided(x.0, x.1, y.0, y.1).unwrap();
            prop_assert!((0.0..=1.0).contains(&p));
            let same = |other: f64| (other - p).abs() <= 1e-12 * p.max(1e-100);
            prop_assert!(same(fisher_two_sided(y.0, y.1, x.0, x.1).unwrap()));
            prop_assert!(same(fisher_two_sided(x.1 - x.0, x.1, y.1 - y.0, y.1).unwrap()));
        }

        /// One success in all lies in either group by its size: the test is
        /// never below the likelier share of the two where that one was seen.
        #[test]
        fn one_success_is_drawn_by_size(n1 in 1_i64..500, n2 in 1_i64..500) {
            let p = fisher_two_sided(1, n1, 0, n2).unwrap();
            let drawn = if n1 >= n2 { 1.0 } else { n1 as f64 / (n1 + n2) as f64 };
            prop_assert!((p - drawn).abs() < 1e-12);
        }
    }
}
