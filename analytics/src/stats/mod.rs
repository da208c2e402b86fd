//! The mathematics, without trade words. Every method is held against a
//! published example or a general-purpose library in the reference tests.

pub mod beta;
pub mod binomial;
pub mod chart;
pub mod difference;
pub mod multiple;
pub mod poisson;
pub mod proportion;
pub mod quantile;
pub mod rate;
pub mod ratio;
pub mod runs;
pub mod survival;
mod unlikely;

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
