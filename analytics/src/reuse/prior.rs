//! What is believed before a part has a record of its own.
//!
//! The mean of the prior is the shop's starting assumption with the weight of
//! ten cases plus all the shop's cases of the same role and choice. Its
//! strength is ten cases; from five parts on it is fitted between 2 and 20
//! (beta-binomial: Skellam, JRSS B 10 (1948) 257-261).

use statrs::function::gamma::ln_gamma;

use crate::follow::Cases;
use crate::stats::beta::Beta;

/// Cases a starting assumption is worth.
const ASSUMPTION_WEIGHT: f64 = 10.0;
const STARTING_STRENGTH: f64 = 10.0;
const WEAKEST: f64 = 2.0;
const STRONGEST: f64 = 20.0;
/// Parts with cases from which the strength is fitted.
const FITTED_FROM: usize = 5;
const GRID_STEPS: i32 = 36;

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

/// The strength in cases. It is averaged over the range by its likelihood
/// instead of taken at the maximum, and enters with a weight that grows from
/// the fifth part on: so that one more case never throws the advice.
fn strength(mean: f64, parts: &[Cases]) -> f64 {
    let known: Vec<Cases> = parts.iter().copied().filter(|part| part.cases > 0).collect();
    let count = known.len();
    if count < FITTED_FROM || mean <= 0.0 || mean >= 1.0 {
        return STARTING_STRENGTH;
    }
    let grid: Vec<(f64, f64)> = (0..=GRID_STEPS)
        .map(|step| {
            let s = WEAKEST + (STRONGEST - WEAKEST) * f64::from(step) / f64::from(GRID_STEPS);
            (s, log_likelihood(mean, s, &known))
        })
        .collect();
    let best = grid.iter().map(|&(_, log)| log).fold(f64::NEG_INFINITY, f64::max);
    let (weighted, weights) = grid.iter().fold((0.0, 0.0), |(sum, all), &(s, log)| {
        let weight = (log - best).exp();
        (sum + s * weight, all + weight)
    });
    let trust = (count + 1 - FITTED_FROM) as f64 / count as f64;
    trust.mul_add(weighted / weights - STARTING_STRENGTH, STARTING_STRENGTH)
}

/// Beta-binomial log-likelihood of a strength, less what does not depend on it.
fn log_likelihood(mean: f64, strength: f64, parts: &[Cases]) -> f64 {
    let (a, b) = (mean * strength, (1.0 - mean) * strength);
    let ln_beta = |a: f64, b: f64| ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b);
    let whole: f64 = parts
        .iter()
        .map(|part| {
            let (x, n) = (part.returns as f64, part.cases as f64);
            ln_beta(a + x, b + n - x)
        })
        .sum();
    whole - ln_beta(a, b) * parts.len() as f64
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
    fn the_log_likelihood_agrees_with_scipy() {
        // scipy 1.17.1: sum(betabinom.logpmf(x, n, 2, 6) - log(binom(n, x)))
        // over (1, 12), (4, 20), (0, 7), (9, 15), (2, 30).
        let parts = cases(&[(1, 12), (4, 20), (0, 7), (9, 15), (2, 30)]);
        let log = log_likelihood(0.25, 8.0, &parts);
        assert!((log - -37.22929038282989).abs() < 1e-9, "{log}");
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
