//! What is believed before a part has a record of its own.
//!
//! The mean of the prior is the shop's starting assumption with the weight of
//! ten cases plus all the shop's cases of the same role and choice. Its
//! strength is ten cases; from five parts on it is fitted between 2 and 20.

use crate::follow::Cases;
use crate::stats::beta::Beta;
use crate::stats::shrink::{self, Group, STARTING_STRENGTH};

/// Cases a starting assumption is worth.
const ASSUMPTION_WEIGHT: f64 = 10.0;

/// The cases of every part of the shop in one role with one choice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pool {
    total: Cases,
    strength: f64,
}

/// A beta prior by its mean and its strength in cases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Prior {
    pub mean: f64,
    pub strength: f64,
}

impl Default for Pool {
    fn default() -> Self {
        Self { total: Cases::default(), strength: STARTING_STRENGTH }
    }
}

impl Pool {
    /// Fits the strength once, around the share assumed for most such parts.
    pub fn new(assumed: f64, parts: &[Cases]) -> Self {
        let total = Cases {
            cases: parts.iter().map(|part| part.cases).sum(),
            returns: parts.iter().map(|part| part.returns).sum(),
        };
        Self { total, strength: strength(mean(assumed, total), parts) }
    }

    /// The prior of a part with its own assumed share.
    pub fn prior(&self, assumed: f64) -> Prior {
        Prior { mean: mean(assumed, self.total), strength: self.strength }
    }
}

fn mean(assumed: f64, total: Cases) -> f64 {
    (ASSUMPTION_WEIGHT * assumed.clamp(0.0, 1.0) + total.returns as f64)
        / (ASSUMPTION_WEIGHT + total.cases as f64)
}

impl Prior {
    /// The belief after a part's own cases. Shapes are kept inside the range
    /// the beta functions are tested for: an assumption of 0 % or 100 % is
    /// taken for nearly so.
    pub fn posterior(&self, own: Cases) -> Beta {
        let returned = self.mean * self.strength + own.returns as f64;
        let held = (1.0 - self.mean) * self.strength + (own.cases - own.returns) as f64;
        Beta::nearest(returned, held)
    }
}

/// The strength in cases that the parts show around one mean.
fn strength(mean: f64, parts: &[Cases]) -> f64 {
    let groups: Vec<Group> =
        parts.iter().map(|part| Group { mean, cases: part.cases, events: part.returns }).collect();
    shrink::strength(&groups)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cases(pairs: &[(i64, i64)]) -> Vec<Cases> {
        pairs.iter().map(|&(returns, cases)| Cases { cases, returns }).collect()
    }

    #[test]
    fn without_cases_the_assumption_stands() {
        let prior = Pool::default().prior(0.3);
        assert_eq!(Pool::new(0.3, &[]), Pool::default());
        assert_eq!((prior.mean, prior.strength), (0.3, 10.0));
        assert_eq!(prior.posterior(Cases::default()).shapes(), (3.0, 7.0));
    }

    #[test]
    fn parts_alike_make_a_strong_prior_and_parts_apart_a_weak_one() {
        let alike = Pool::new(0.1, &cases(&[(5, 50); 12]));
        let apart =
            Pool::new(0.1, &cases(&[(0, 50), (25, 50), (1, 50), (20, 50), (0, 50), (2, 50)]));
        assert!(alike.strength > 12.0, "{alike:?}");
        assert!(apart.strength < 8.0, "{apart:?}");
    }

    proptest! {
        #[test]
        fn one_more_case_never_throws_the_belief(
            parts in proptest::collection::vec((0_i64..20, 0_i64..20), 1..9),
            at in 0_usize..9,
            returned in proptest::bool::ANY,
        ) {
            let before: Vec<Cases> = parts
                .iter()
                .map(|&(back, held)| Cases { cases: back + held, returns: back })
                .collect();
            let mut after = before.clone();
            let at = at % after.len();
            after[at].cases += 1;
            after[at].returns += i64::from(returned);
            let mean = |parts: &[Cases]| {
                Pool::new(0.3, parts).prior(0.3).posterior(parts[at]).mean()
            };
            // One case among at least ten of weight moves a share by less
            // than twice a tenth of itself plus a fit's step.
            prop_assert!((mean(&after) - mean(&before)).abs() < 0.2);
        }
    }
}
