//! Where to probe a signal path: stages in a row, exactly one of them bad, and a
//! probe between two stages tells on which side the bad one lies.

use std::fmt;

use super::parts::MAX_CHECKS;

/// Why there is no path.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SignalError {
    /// No stage, or more than [`MAX_CHECKS`].
    Stages,
    /// Not 0 or more, or not a number.
    Weight { stage: usize },
    /// All weights are 0, or their sum is too large.
    Sum,
}

impl fmt::Display for SignalError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Stages => write!(f, "a path has 1 to {MAX_CHECKS} stages"),
            Self::Weight { stage } => write!(f, "stage {stage}: the weight must be 0 or more"),
            Self::Sum => write!(f, "the weights must add up to a number above 0"),
        }
    }
}

impl std::error::Error for SignalError {}

/// Stages with the chance of each that it is the bad one. After a probe, ask
/// again with the weights of the stages that remain.
#[derive(Debug, Clone, PartialEq)]
pub struct SignalPath {
    odds: Vec<f64>,
}

/// The best way to probe a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probing {
    /// Expected number of probes.
    pub probes: f64,
    /// Stages before the first probe; `None` for a single stage, which needs
    /// none.
    pub first_after: Option<usize>,
}

impl SignalPath {
    /// A path of these stages, from weights (chances, or counts of causes), 0 or
    /// more, on any scale.
    ///
    /// # Errors
    ///
    /// What the weights lack.
    pub fn new(weights: &[f64]) -> Result<Self, SignalError> {
        if weights.is_empty() || weights.len() > MAX_CHECKS {
            return Err(SignalError::Stages);
        }
        if let Some(stage) = weights.iter().position(|weight| weight.is_nan() || *weight < 0.0) {
            return Err(SignalError::Weight { stage });
        }
        let total: f64 = weights.iter().sum();
        if !(total > 0.0 && total.is_finite()) {
            return Err(SignalError::Sum);
        }
        Ok(Self { odds: weights.iter().map(|weight| weight / total).collect() })
    }

    /// Expected probes from the first stage on. The last stage needs none of its
    /// own: it is bad if all others are good.
    #[must_use]
    pub fn linear(&self) -> f64 {
        let last = self.odds.len() - 1;
        self.odds.iter().enumerate().map(|(stage, p)| p * (stage + 1).min(last) as f64).sum()
    }

    /// Expected probes if each probe halves the number of stages left (the
    /// smaller half first): at most log2 of it, rounded up.
    #[must_use]
    pub fn half_split(&self) -> f64 {
        halved(&self.odds)
    }

    /// The fewest expected probes, and where the first one goes (the earliest of
    /// equals): the best binary tree over stages that keep their places.
    ///
    /// Source: Gilbert and Moore (1959) Bell System Technical Journal
    /// 38:933-967; Hu and Tucker (1971) SIAM Journal on Applied Mathematics
    /// 21:514-532 (both from memory).
    #[must_use]
    pub fn best(&self) -> Probing {
        // Two splits this near are equal.
        const SAME: f64 = 1e-12;
        let stages = self.odds.len();
        // by_end[e] holds the cost of the stages s..e at s.
        let mut by_end: Vec<Vec<f64>> = vec![Vec::new()];
        let mut first_after = None;
        for end in 1..=stages {
            // Costs of s..end for falling s, so that the right part is there.
            let mut right = vec![0.0; end];
            for start in (0..end - 1).rev() {
                let parts = (start + 1..end).filter_map(|split| {
                    let before = by_end.get(split)?.get(start)?;
                    Some((before + right.get(split)?, split))
                });
                let Some((cost, split)) = parts.reduce(|a, b| if b.0 < a.0 - SAME { b } else { a })
                else {
                    continue;
                };
                let chance: f64 = self.odds.iter().take(end).skip(start).sum();
                if let Some(value) = right.get_mut(start) {
                    *value = cost + chance;
                }
                if start == 0 && end == stages {
                    first_after = Some(split);
                }
            }
            by_end.push(right);
        }
        let probes = by_end.last().and_then(|costs| costs.first()).copied().unwrap_or(0.0);
        Probing { probes, first_after }
    }

    /// The entropy of the odds in bits: no way to probe is below it (Shannon
    /// 1948 Bell System Technical Journal 27:379-423).
    #[must_use]
    pub fn entropy_bits(&self) -> f64 {
        let bits = self.odds.iter().filter(|p| **p > 0.0).map(|p| -p * p.log2());
        bits.sum::<f64>().max(0.0)
    }
}

/// The chance of these stages times the probes they still need.
fn halved(odds: &[f64]) -> f64 {
    if odds.len() < 2 {
        return 0.0;
    }
    let (before, after) = odds.split_at(odds.len() / 2);
    odds.iter().sum::<f64>() + halved(before) + halved(after)
}
