//! Replacing by age: the age at which a planned replacement costs least per
//! unit of time, for a Weibull life.
//!
//! Source: Barlow and Hunter (1960) Operations Research 8:90-100. Cost rate of
//! replacing at age T, with R the share alive:
//! (planned R(T) + failure (1 - R(T))) / (integral of R from 0 to T).

use statrs::function::gamma::{checked_gamma_lr, ln_gamma};

use super::rising_root;

/// A life to plan for: share alive at t is exp(-(t / scale)^shape).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Life {
    pub shape: f64,
    /// In units of time or distance.
    pub scale: f64,
}

/// What one replacement costs, in one currency unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Costs {
    /// In time, before a failure.
    pub planned: f64,
    /// After a failure, all it brings along included.
    pub failure: f64,
}

/// The best age to replace at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planned {
    /// In the life's unit of time.
    pub age: f64,
    /// Cost per unit of time when replacing at this age or at failure.
    pub cost_rate: f64,
    /// Share of the cost of running to failure that is saved, 0 to 1.
    pub saving: f64,
    /// Share of units that fail before this age.
    pub failing_before: f64,
}

/// What replacing by age is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Replacement {
    /// Cost per unit of time when every unit runs to failure.
    pub run_to_failure_cost_rate: f64,
    /// Absent where no age is better: the failure rate does not rise
    /// (`shape <= 1`), a failure is not dearer than a planned replacement, or
    /// the age passes what a number holds (both only just).
    pub planned: Option<Planned>,
}

/// A shape, with what it makes of ages in units of the scale. An age x is held
/// as its hazard x^shape, which keeps its digits for any shape.
struct Standard {
    shape: f64,
    /// Mean life over scale.
    mean: f64,
}

impl Standard {
    fn new(shape: f64) -> Self {
        Self { shape, mean: ln_gamma(1.0 + 1.0 / shape).exp() }
    }

    /// Expected time in use up to an age: the integral of the share alive.
    fn time_in_use(&self, hazard: f64) -> f64 {
        self.mean * checked_gamma_lr(1.0 / self.shape, hazard).unwrap_or(f64::NAN)
    }

    fn failed(hazard: f64) -> f64 {
        -(-hazard).exp_m1()
    }

    /// Failure rate x time in use - share failed. It rises with age, from 0,
    /// and the best age is where it equals planned / (failure - planned).
    fn condition(&self, hazard: f64) -> f64 {
        let rate = self.shape * hazard.powf(1.0 - 1.0 / self.shape);
        rate * self.time_in_use(hazard) - Self::failed(hazard)
    }

    /// The hazard at the best age, where a number holds it.
    fn best(&self, target: f64) -> Option<f64> {
        let mut ceiling = 1.0;
        while self.condition(ceiling) < target {
            ceiling *= 2.0;
        }
        let hazard = rising_root(0.0, ceiling, target, |hazard| self.condition(hazard));
        (hazard > 0.0 && hazard.is_finite()).then_some(hazard)
    }
}

/// The best age to replace at, and what it saves.
///
/// `None` unless shape, scale and both costs are positive and finite, and
/// where a cost rate passes what a number holds.
#[must_use]
pub fn replacement(life: Life, costs: Costs) -> Option<Replacement> {
    let inputs = [life.shape, life.scale, costs.planned, costs.failure];
    if !inputs.iter().all(|value| *value > 0.0 && value.is_finite()) {
        return None;
    }
    let standard = Standard::new(life.shape);
    let rate = costs.failure / (life.scale * standard.mean);
    if !(rate > 0.0 && rate.is_finite()) {
        return None;
    }
    let planned = if life.shape > 1.0 && costs.failure > costs.planned {
        best_age(&standard, life, costs)
    } else {
        None
    };
    Some(Replacement { run_to_failure_cost_rate: rate, planned })
}

fn best_age(standard: &Standard, life: Life, costs: Costs) -> Option<Planned> {
    let ratio = costs.planned / costs.failure;
    let hazard = standard.best(ratio / (1.0 - ratio))?;
    let failing_before = Standard::failed(hazard);
    // Cost in units of a failure, time in units of the scale.
    let relative =
        (ratio + (1.0 - ratio) * failing_before) / standard.time_in_use(hazard) * standard.mean;
    let planned = Planned {
        age: life.scale * hazard.powf(1.0 / life.shape),
        cost_rate: relative * costs.failure / (life.scale * standard.mean),
        // No age is worse than running to failure: below 0 is rounding.
        saving: (1.0 - relative).max(0.0),
        failing_before,
    };
    [planned.age, planned.cost_rate, planned.saving]
        .iter()
        .all(|value| value.is_finite())
        .then_some(planned)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn of(shape: f64, scale: f64, planned: f64, failure: f64) -> Option<Replacement> {
        replacement(Life { shape, scale }, Costs { planned, failure })
    }

    #[test]
    fn what_is_not_positive_has_no_answer() {
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(of(bad, 1.0, 1.0, 2.0), None);
            assert_eq!(of(2.0, bad, 1.0, 2.0), None);
            assert_eq!(of(2.0, 1.0, bad, 2.0), None);
            assert_eq!(of(2.0, 1.0, 1.0, bad), None);
        }
        assert_eq!(of(2.0, 1e-300, 1.0, 1e300), None);
        // A mean life of gamma(1 + 1 / shape) past any number.
        assert_eq!(of(1e-3, 1.0, 1.0, 2.0), None);
        // The best hazard is about 3^1001.
        assert_eq!(of(1.001, 1.0, 2.0, 3.0).unwrap().planned, None);
    }

    #[test]
    fn no_age_where_nothing_wears_or_failing_is_cheap() {
        for (shape, failure) in [(1.0, 9.0), (0.5, 9.0), (3.0, 1.0), (3.0, 0.5)] {
            assert_eq!(of(shape, 100.0, 1.0, failure).unwrap().planned, None);
        }
    }

    /// Simpson's rule for the integral of the share alive.
    fn time_in_use(life: Life, age: f64) -> f64 {
        let steps = 2000;
        let width = age / f64::from(steps);
        let alive = |i: i32| (-(f64::from(i) * width / life.scale).powf(life.shape)).exp();
        let inner: f64 = (1..steps).map(|i| alive(i) * if i % 2 == 1 { 4.0 } else { 2.0 }).sum();
        (alive(0) + inner + alive(steps)) * width / 3.0
    }

    fn cost_rate(life: Life, costs: Costs, age: f64) -> f64 {
        let alive = (-(age / life.scale).powf(life.shape)).exp();
        (costs.planned * alive + costs.failure * (1.0 - alive)) / time_in_use(life, age)
    }

    proptest! {
        /// The cost rate is its definition by another quadrature, and no other
        /// age has a lower one.
        #[test]
        fn no_other_age_costs_less(
            shape in 1.2_f64..6.0, failure in 1.5_f64..50.0, factor in 0.3_f64..3.0,
        ) {
            let life = Life { shape, scale: 800.0 };
            let costs = Costs { planned: 1.0, failure };
            let best = replacement(life, costs).unwrap().planned.unwrap();
            let own = cost_rate(life, costs, best.age);
            prop_assert!((own / best.cost_rate - 1.0).abs() < 1e-5);
            prop_assert!(cost_rate(life, costs, best.age * factor) >= own * (1.0 - 1e-5));
            // At the optimum the cost rate is the failure rate times what a
            // failure costs more (identity of the condition).
            let rate = shape / life.scale * (best.age / life.scale).powf(shape - 1.0);
            prop_assert!((rate * (failure - 1.0) / best.cost_rate - 1.0).abs() < 1e-9);
        }

        /// Units of time and money scale through; a dearer failure never makes
        /// the age higher; shares stay shares.
        #[test]
        fn it_scales_and_falls_with_the_failure_cost(
            shape in 1.05_f64..20.0, failure in 1.1_f64..1e4,
            time in 1e-3_f64..1e6, money in 1e-3_f64..1e6, dearer in 1.0_f64..3.0,
        ) {
            let Some(best) = of(shape, 1.0, 1.0, failure).unwrap().planned else {
                return Ok(());
            };
            let scaled = of(shape, time, money, failure * money).unwrap().planned.unwrap();
            prop_assert!((scaled.age / time / best.age - 1.0).abs() < 1e-6);
            prop_assert!((scaled.cost_rate * time / money / best.cost_rate - 1.0).abs() < 1e-6);
            let more = of(shape, 1.0, 1.0, failure * dearer).unwrap().planned.unwrap();
            prop_assert!(more.age <= best.age * (1.0 + 1e-9));
            prop_assert!((0.0..=1.0).contains(&best.saving));
            prop_assert!((0.0..=1.0).contains(&best.failing_before));
        }

        #[test]
        fn any_numbers_are_answered(
            shape in proptest::num::f64::ANY, scale in proptest::num::f64::ANY,
            planned in proptest::num::f64::ANY, failure in proptest::num::f64::ANY,
        ) {
            if let Some(answer) = of(shape, scale, planned, failure) {
                prop_assert!(answer.run_to_failure_cost_rate > 0.0);
                if let Some(best) = answer.planned {
                    prop_assert!(best.age >= 0.0 && best.cost_rate.is_finite());
                }
            }
        }
    }
}
