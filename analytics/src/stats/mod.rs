//! The mathematics, without trade words. Every method is held against a
//! published example or a general-purpose library in the reference tests.

pub mod beta;
pub mod binomial;
pub mod chart;
pub mod competing;
pub mod cutoff;
pub mod difference;
pub mod funnel;
pub mod isotonic;
pub mod logistic;
pub mod logrank;
pub mod multiple;
pub mod poisson;
pub mod proportion;
pub mod quantile;
pub mod rate;
pub mod ratio;
pub mod recurrence;
pub mod replacement;
pub mod runs;
pub mod shrink;
pub mod stratified;
pub mod survival;
mod unlikely;
pub mod weibull;

use statrs::distribution::{ContinuousCDF, Normal};

/// The two-sided normal quantile of a level: 1.96 for 0.95.
/// `None` unless the level lies strictly between 0 and 1.
#[must_use]
pub fn normal_quantile(level: f64) -> Option<f64> {
    if !(level > 0.0 && level < 1.0) {
        return None;
    }
    Some(Normal::standard().inverse_cdf(0.5 + level / 2.0))
}

/// A count as it is used: a negative one as none, one past `u32::MAX` as that
/// many, so that no sum of counts that fits in memory leaves an `i64`.
pub(crate) fn tally(count: i64) -> i64 {
    count.clamp(0, i64::from(u32::MAX))
}

/// Where a rising function reaches `target` inside an interval, by halving it
/// until its ends are neighbors: slower than a library's inverse, but it can
/// neither diverge nor leave the interval.
pub(crate) fn rising_root(
    mut low: f64,
    mut high: f64,
    target: f64,
    value: impl Fn(f64) -> f64,
) -> f64 {
    loop {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            return middle;
        }
        if value(middle) < target {
            low = middle;
        } else {
            high = middle;
        }
    }
}
