//! Shares of many small groups, each drawn toward a mean by how much the
//! groups differ beyond chance: beta-binomial empirical Bayes.
//!
//! Sources: Skellam (1948) JRSS B 10:257-261 for the distribution; Efron and
//! Morris (1975) JASA 70:311-319 for the idea and the test data.
//!
//! The strength of a prior is counted in cases: a group with as many cases of
//! its own lies halfway between its own share and the mean.

use statrs::function::gamma::{digamma, ln_gamma};

use super::rising_root;

/// Cases a mean is worth where too few groups tell. Common practice, without a
/// source, as are the bounds below.
pub const STARTING_STRENGTH: f64 = 10.0;
/// Bounds of a fitted strength, in cases.
pub const WEAKEST: f64 = 2.0;
pub const STRONGEST: f64 = 20.0;
/// Groups with cases from which the strength is fitted.
pub const FITTED_FROM: usize = 5;
const GRID_STEPS: i32 = 36;

/// Bounds of the strength with the largest likelihood, in cases.
const FIRST: f64 = 1e-2;
const LAST: f64 = 1e5;
const SEARCH_STEPS: i32 = 48;

/// One group: events among its cases, and the mean its share is drawn to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Group {
    pub mean: f64,
    pub cases: i64,
    pub events: i64,
}

impl Group {
    fn tells(&self) -> bool {
        self.cases > 0
            && (0..=self.cases).contains(&self.events)
            && self.mean > 0.0
            && self.mean < 1.0
    }

    /// Both shapes of the prior, then events and what is no event.
    fn numbers(&self, strength: f64) -> (f64, f64, f64, f64) {
        let (events, cases) = (self.events as f64, self.cases as f64);
        (self.mean * strength, (1.0 - self.mean) * strength, events, cases - events)
    }
}

/// A group's share drawn toward its mean: `(mean * strength + events) /
/// (strength + cases)`, from 0 to 1. `None` unless the mean is a share, the
/// strength is finite and not negative, `0 <= events <= cases`, and there is
/// any strength or case.
#[must_use]
pub fn shrunk(group: &Group, strength: f64) -> Option<f64> {
    let Group { mean, cases, events } = *group;
    let weight = strength + cases as f64;
    let sound = (0.0..=1.0).contains(&mean)
        && strength >= 0.0
        && weight.is_finite()
        && (0..=cases).contains(&events)
        && weight > 0.0;
    sound.then(|| (mean.mul_add(strength, events as f64) / weight).min(1.0))
}

/// Beta-binomial log-likelihood of a strength, less what does not depend on
/// mean and strength (the ways to place the events among the cases). Not a
/// number where the strength is not positive, or the mean no share between 0
/// and 1.
#[must_use]
pub fn log_likelihood(strength: f64, groups: &[Group]) -> f64 {
    let ln_beta = |a: f64, b: f64| ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b);
    groups
        .iter()
        .map(|group| {
            let (a, b, events, others) = group.numbers(strength);
            if a > 0.0 && b > 0.0 {
                ln_beta(a + events, b + others) - ln_beta(a, b)
            } else {
                f64::NAN
            }
        })
        .sum()
}

/// The strength, in cases from [`WEAKEST`] to [`STRONGEST`], that the groups
/// show around their own means. It is averaged over that range by its
/// likelihood instead of taken at the maximum, and enters with a weight that
/// grows from the fifth group on: so that one more case never throws a share.
/// With fewer groups it is [`STARTING_STRENGTH`]. A group without cases, with
/// unsound counts, or with a mean not strictly between 0 and 1 tells nothing.
#[must_use]
pub fn strength(groups: &[Group]) -> f64 {
    let known: Vec<Group> = groups.iter().copied().filter(Group::tells).collect();
    let count = known.len();
    if count < FITTED_FROM {
        return STARTING_STRENGTH;
    }
    let grid: Vec<(f64, f64)> = (0..=GRID_STEPS)
        .map(|step| {
            let s = WEAKEST + (STRONGEST - WEAKEST) * f64::from(step) / f64::from(GRID_STEPS);
            (s, log_likelihood(s, &known))
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

/// A mean and a strength in cases, fitted to groups.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    pub mean: f64,
    /// From 0.01 to 100,000; at the upper end the groups differ by no more
    /// than chance.
    pub strength: f64,
}

/// Mean and strength of largest likelihood, from (events, cases) of each
/// group. `None` where counts are unsound, or without both an event and a case
/// without one.
#[must_use]
pub fn fit(counts: &[(i64, i64)]) -> Option<Fit> {
    let sound = counts.iter().all(|&(events, cases)| (0..=cases).contains(&events));
    let any = counts.iter().any(|&(events, _)| events > 0);
    let other = counts.iter().any(|&(events, cases)| events < cases);
    if !(sound && any && other) {
        return None;
    }
    let around = |mean: f64| -> Vec<Group> {
        counts.iter().map(|&(events, cases)| Group { mean, cases, events }).collect()
    };
    // For one strength the likelihood has one peak in the mean: it is a sum of
    // logarithms of rising lines and of falling ones.
    let best_mean =
        |strength: f64| rising_root(0.0, 1.0, 0.0, |mean| -slopes(strength, &around(mean)).0);
    let at = |step: i32| FIRST * (LAST / FIRST).powf(f64::from(step) / f64::from(SEARCH_STEPS));
    let (best, _) = (0..=SEARCH_STEPS)
        .map(|step| (step, log_likelihood(at(step), &around(best_mean(at(step))))))
        .fold((0, f64::NEG_INFINITY), |best, next| if next.1 > best.1 { next } else { best });
    let (low, high) = (at((best - 1).max(0)), at((best + 1).min(SEARCH_STEPS)));
    let strength = rising_root(low, high, 0.0, |s| -slopes(s, &around(best_mean(s))).1);
    Some(Fit { mean: best_mean(strength), strength })
}

/// Slopes of the log-likelihood in the mean (over the strength) and in the
/// strength. The second is also the slope along the best means, where the
/// first is zero.
fn slopes(strength: f64, groups: &[Group]) -> (f64, f64) {
    let rise = |from: f64, by: f64| digamma(from + by) - digamma(from);
    groups.iter().fold((0.0, 0.0), |(in_mean, in_strength), group| {
        let (a, b, events, others) = group.numbers(strength);
        let (up, down) = (rise(a, events), rise(b, others));
        let all = rise(strength, events + others);
        let along = group.mean * up + (1.0 - group.mean) * down - all;
        (in_mean + up - down, in_strength + along)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn groups() -> impl Strategy<Value = Vec<Group>> {
        let one = (0_i64..60, 0.001_f64..0.999)
            .prop_flat_map(|(cases, mean)| (Just(mean), Just(cases), 0..=cases));
        let one = one.prop_map(|(mean, cases, events)| Group { mean, cases, events });
        proptest::collection::vec(one, 0..12)
    }

    #[test]
    fn few_groups_leave_the_starting_strength() {
        let one = Group { mean: 0.2, cases: 9, events: 1 };
        assert_eq!(strength(&[]), STARTING_STRENGTH);
        assert_eq!(strength(&[one; 4]), STARTING_STRENGTH);
        assert!(strength(&[one; 5]) > STARTING_STRENGTH);
        for bad in [
            Group { mean: 0.0, ..one },
            Group { mean: 1.0, ..one },
            Group { mean: f64::NAN, ..one },
            Group { cases: 0, events: 0, ..one },
            Group { events: -1, ..one },
            Group { events: 10, ..one },
        ] {
            assert_eq!(strength(&[one, one, one, one, bad]), STARTING_STRENGTH, "{bad:?}");
        }
        let huge = Group { mean: 1e-300, cases: i64::MAX, events: 3 };
        assert!((WEAKEST..=STRONGEST).contains(&strength(&[huge; 5])));
    }

    #[test]
    fn nothing_is_drawn_without_sound_counts() {
        let one = Group { mean: 0.2, cases: 9, events: 1 };
        for (group, strength) in [
            (Group { mean: 1.2, ..one }, 1.0),
            (Group { mean: f64::NAN, ..one }, 1.0),
            (Group { events: 10, ..one }, 1.0),
            (Group { events: -1, ..one }, 1.0),
            (Group { cases: 0, events: 0, ..one }, 0.0),
            (one, -1.0),
            (one, f64::NAN),
            (one, f64::INFINITY),
        ] {
            assert_eq!(shrunk(&group, strength), None, "{group:?} {strength}");
        }
        // By hand: (0.2 x 10 + 1) / 19.
        assert_eq!(shrunk(&one, 10.0), Some(3.0 / 19.0));
        assert!(log_likelihood(0.0, &[one]).is_nan());
        assert!(log_likelihood(2.0, &[Group { mean: 1.0, ..one }]).is_nan());
    }

    #[test]
    fn a_fit_needs_an_event_and_another_case() {
        for counts in [&[][..], &[(0, 0)], &[(0, 9), (0, 3)], &[(4, 4)], &[(1, 4), (5, 4)]] {
            assert_eq!(fit(counts), None);
        }
        assert_eq!(fit(&[(1, 4), (-1, 4)]), None);
    }

    /// Groups with one share differ by less than chance; groups of nothing but
    /// events or none differ by all they can.
    #[test]
    fn fits_end_at_their_bounds() {
        let alike = fit(&[(5, 50); 6]).unwrap();
        // A mean below one half lies a little above the share, by some 1/strength.
        assert!((alike.mean - 0.1).abs() < 1.0 / LAST && alike.strength > 0.9 * LAST, "{alike:?}");
        let apart = fit(&[(20, 20), (0, 20), (20, 20), (0, 20)]).unwrap();
        assert!((apart.mean - 0.5).abs() < 1e-9 && apart.strength < 0.011, "{apart:?}");
    }

    proptest! {
        #[test]
        fn a_share_is_drawn_from_its_own_to_the_mean(all in groups(), s in 0.01_f64..50.0) {
            for group in all.iter().filter(|group| group.cases > 0) {
                let own = group.events as f64 / group.cases as f64;
                let drawn = shrunk(group, s).unwrap();
                prop_assert!(own.min(group.mean) - 1e-12 <= drawn);
                prop_assert!(drawn <= own.max(group.mean) + 1e-12);
                let more = shrunk(group, s + 1.0).unwrap();
                prop_assert!((more - group.mean).abs() <= (drawn - group.mean).abs() + 1e-12);
            }
        }

        #[test]
        fn a_strength_stays_in_bounds_in_any_order(all in groups()) {
            let fitted = strength(&all);
            prop_assert!((WEAKEST..=STRONGEST).contains(&fitted));
            let back: Vec<Group> = all.iter().rev().copied().collect();
            prop_assert!((strength(&back) - fitted).abs() < 1e-9);
            // Counting the others instead of the events is the same question.
            let others: Vec<Group> = all
                .iter()
                .map(|g| Group { mean: 1.0 - g.mean, events: g.cases - g.events, ..*g })
                .collect();
            prop_assert!((strength(&others) - fitted).abs() < 1e-8);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        /// No other mean or strength is likelier than the fitted ones.
        #[test]
        fn a_fit_is_the_likeliest(all in groups(), mean in 0.01_f64..0.99, s in 0.011_f64..9e4) {
            let counts: Vec<(i64, i64)> = all.iter().map(|g| (g.events, g.cases)).collect();
            if let Some(fitted) = fit(&counts) {
                let log = |mean: f64, strength: f64| {
                    let around: Vec<Group> = all.iter().map(|g| Group { mean, ..*g }).collect();
                    log_likelihood(strength, &around)
                };
                let best = log(fitted.mean, fitted.strength) + 1e-6;
                prop_assert!(best >= log(mean, s));
                prop_assert!(best >= log(fitted.mean, s));
                for factor in [0.9, 0.999, 1.001, 1.1] {
                    let near = (fitted.strength * factor).clamp(FIRST, LAST);
                    prop_assert!(best >= log(fitted.mean, near));
                    prop_assert!(best >= log(fitted.mean.powf(factor), fitted.strength));
                }
            }
        }
    }
}
