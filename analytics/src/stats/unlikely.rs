//! The two-sided probability of an exact test: all outcomes no more likely
//! than the one seen, added up.
//!
//! Source: Fisher (1935) JRSS 98:39-82 for the idea; the slack that counts
//! outcomes equal but for rounding is the one of R's `fisher.test` and
//! `binom.test`, 1e-7 (from memory; held against R in the reference tests).

use std::iter::successors;

/// Outcomes this much likelier than the one seen still count as no likelier.
const SLACK: f64 = 1e-7;

/// The most things a test counts. It bounds the work of a sum to some 40
/// standard deviations, and keeps every product of two counts in 64 bits.
pub(super) const MOST: i64 = 1 << 31;

/// Outcomes `low..=high` with one peak, known by the ratios of neighbors.
#[derive(Debug, Clone, Copy)]
pub(super) struct Outcomes<F> {
    pub low: i64,
    pub high: i64,
    /// A place near the peak: every sum starts there, so that nothing
    /// overflows and what is lost underflows to nothing.
    pub peak: i64,
    /// Weight of the next outcome over the weight of this one.
    pub next_over_this: F,
}

impl<F: Fn(i64) -> f64> Outcomes<F> {
    /// Probability of all outcomes no more likely than `seen`, 0 to 1. Zero
    /// where the one seen weighs less beside the likeliest than the smallest
    /// normal number.
    pub fn no_likelier_than(&self, seen: i64) -> f64 {
        let weight = self.weights().find(|&(at, _)| at == seen).map_or(0.0, |(_, weight)| weight);
        let line = weight * (1.0 + SLACK);
        let (part, whole) = self.weights().fold((0.0, 0.0), |(part, whole), (_, weight)| {
            (if weight <= line { part + weight } else { part }, whole + weight)
        });
        (part / whole).min(1.0)
    }

    /// The outcomes that have any weight beside the peak's, from the peak up
    /// and then from the peak down.
    fn weights(&self) -> impl Iterator<Item = (i64, f64)> {
        let peak = self.peak.clamp(self.low, self.high);
        let up = successors(Some((peak, 1.0)), |&(at, weight)| {
            (at < self.high).then(|| (at + 1, weight * (self.next_over_this)(at)))
        });
        let down = successors(Some((peak, 1.0)), |&(at, weight)| {
            (at > self.low).then(|| (at - 1, weight / (self.next_over_this)(at - 1)))
        });
        // Below the smallest normal number a product no longer falls.
        let heavy = |&(_, weight): &(i64, f64)| weight >= f64::MIN_POSITIVE;
        up.take_while(heavy).chain(down.skip(1).take_while(heavy))
    }
}
