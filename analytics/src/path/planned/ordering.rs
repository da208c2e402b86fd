//! The steps of a plan put into the order that finds the cause soonest.

use std::collections::{BTreeMap, BTreeSet};

use super::super::basis::Basis;
use super::super::order::{
    Check, Cluster, Plan, Problem, ProblemParts, best_order, best_order_against, expected_minutes,
};
use super::{PlanAsked, PlanCheckLine, PlanStepAsked};
use crate::figure::{Interval, TOO_FEW};
use crate::follow::LEVEL;
use crate::stats::normal_quantile;

/// A plan's steps with what the record knows of them.
pub(super) struct Ordering<'a> {
    steps: &'a [PlanStepAsked],
    minutes: Vec<Option<f64>>,
    /// Absent where the check was made too seldom to be judged.
    chances: Vec<Option<f64>>,
    found: Vec<i64>,
    /// Places of the steps that are in the sums, in the plan's order: those whose
    /// minutes are known and whose check can be judged.
    counted: Vec<usize>,
    pub minutes_before: Option<f64>,
    /// Its places are among the counted.
    pub plan: Option<Plan>,
}

impl<'a> Ordering<'a> {
    pub fn of(asked: &'a PlanAsked, basis: &Basis) -> Self {
        let steps = asked.steps.as_slice();
        let known =
            |step: &PlanStepAsked| basis.candidates.iter().find(|known| known.check == step.check);
        let minutes: Vec<Option<f64>> = steps
            .iter()
            .map(|step| {
                let known = known(step);
                if known.is_some_and(|known| known.trained) {
                    return None;
                }
                let listed = known.and_then(|known| known.minutes).map(|minutes| minutes.value);
                step.minutes.filter(|minutes| *minutes > 0.0).or(listed)
            })
            .collect();
        // A chance that nobody ever put to the test is only what each check starts with.
        let judged = |step: &PlanStepAsked| {
            known(step).filter(|known| known.done >= TOO_FEW).map(|known| known.probability)
        };
        let chances: Vec<Option<f64>> = steps.iter().map(judged).collect();
        let both = minutes.iter().zip(&chances).enumerate();
        let counted: Vec<usize> = both
            .filter(|(_, (minutes, chance))| minutes.is_some() && chance.is_some())
            .map(|(at, _)| at)
            .collect();
        let mut ordering = Self {
            steps,
            chances,
            found: steps.iter().map(|s| known(s).map_or(0, |k| k.found)).collect(),
            minutes,
            counted,
            minutes_before: None,
            plan: None,
        };
        if let Some(problem) = ordering.problem().filter(|problem| !problem.is_empty()) {
            let stands: Vec<usize> = (0..ordering.counted.len()).collect();
            ordering.minutes_before = expected_minutes(&problem, &stands).ok();
            // Checks beside the plan stand at its end, where they may break nothing.
            ordering.plan = Some(
                best_order_against(&problem, &stands).unwrap_or_else(|_| best_order(&problem)),
            );
        }
        ordering
    }

    fn is_mandatory(&self, at: usize) -> bool {
        self.steps.get(at).is_some_and(|step| step.mandatory)
    }

    /// Places of all steps: mandatory ones first, else as the plan has them.
    fn stands(&self) -> Vec<usize> {
        let (first, others): (Vec<usize>, Vec<usize>) =
            (0..self.steps.len()).partition(|at| self.is_mandatory(*at));
        [first, others].concat()
    }

    /// Steps in the sums that the record may move.
    fn free(&self) -> impl Iterator<Item = usize> + '_ {
        self.counted.iter().copied().filter(|at| !self.is_mandatory(*at))
    }

    fn opening_name(&self, at: usize) -> Option<&str> {
        self.steps.get(at)?.opening.as_ref().map(|(name, _)| name.as_str())
    }

    /// The opening that a counted step pays for. A step in no sum that stands above
    /// has it open already, in every order.
    fn opening(&self, at: usize) -> Option<&(String, f64)> {
        let own = self.steps.get(at)?.opening.as_ref()?;
        let stands = self.stands();
        let open = stands
            .iter()
            .take_while(|other| **other != at)
            .filter(|other| !self.counted.contains(other))
            .any(|other| self.opening_name(*other) == Some(own.0.as_str()));
        (!open).then_some(own)
    }

    /// Pairs of steps, the earlier one first, that keep a step in no sum in its
    /// place where it waits for others, they wait for it, or an opening is shared:
    /// nothing passes it.
    fn held(&self, before: &[BTreeSet<usize>]) -> Vec<(usize, usize)> {
        let waits = |at: usize, other: usize| {
            before.get(at).is_some_and(|earlier| earlier.contains(&other))
        };
        let shares = |at: usize, other: usize| {
            self.opening_name(at).is_some_and(|name| self.opening_name(other) == Some(name))
        };
        let tied = |at: usize| {
            self.free().any(|other| waits(at, other) || waits(other, at) || shares(at, other))
        };
        let still = |at: &usize| !self.counted.contains(at) && !self.is_mandatory(*at) && tied(*at);
        let mut pairs = Vec::new();
        for wall in (0..self.steps.len()).filter(still) {
            // Free steps stand in the plan's order.
            for earlier in self.free().filter(|at| *at < wall) {
                pairs.extend(self.free().filter(|at| *at > wall).map(|later| (earlier, later)));
            }
        }
        pairs
    }

    fn place(&self, check: &str) -> Option<usize> {
        self.steps.iter().position(|step| step.check == check)
    }

    /// By step, every step that comes before it, directly or not.
    fn before(&self) -> Vec<BTreeSet<usize>> {
        let mut before: Vec<BTreeSet<usize>> = Vec::with_capacity(self.steps.len());
        for step in self.steps {
            let mut all: BTreeSet<usize> = BTreeSet::new();
            for at in step.after.iter().filter_map(|check| self.place(check)) {
                all.insert(at);
                // What comes before stands above, so that its own are known.
                all.extend(before.get(at).into_iter().flatten());
            }
            before.push(all);
        }
        before
    }

    fn problem(&self) -> Option<Problem> {
        let inside = |step: usize| self.counted.iter().position(|at| *at == step);
        let mut openings: BTreeMap<&str, usize> = BTreeMap::new();
        let mut clusters: Vec<Cluster> = Vec::new();
        let mut checks = Vec::new();
        let before = self.before();
        let mut pairs = Vec::new();
        let mut first = Vec::new();
        for (place, at) in self.counted.iter().enumerate() {
            let step = self.steps.get(*at)?;
            let cluster = self.opening(*at).map(|(name, opening_minutes)| {
                *openings.entry(name).or_insert_with(|| {
                    clusters.push(Cluster { opening_minutes: *opening_minutes, within: None });
                    clusters.len() - 1
                })
            });
            checks.push(Check {
                minutes: self.minutes.get(*at).copied().flatten()?,
                probability: self.chances.get(*at).copied().flatten()?,
                // The chance is that of finding the cause: what the check misses
                // is not in it.
                sensitivity: 1.0,
                cluster,
            });
            let earlier = before.get(*at)?.iter().filter_map(|earlier| inside(*earlier));
            pairs.extend(earlier.map(|earlier| (earlier, place)));
            if step.mandatory {
                first.push(place);
            }
        }
        let held = self.held(&before);
        pairs.extend(held.iter().filter_map(|(a, b)| Some((inside(*a)?, inside(*b)?))));
        Problem::new(&ProblemParts { checks, clusters, pairs, first, infer_last: false }).ok()
    }

    /// The counted steps in the order found, as places of the plan.
    fn found_order(&self) -> Vec<usize> {
        let places = |plan: &Plan| {
            plan.order.iter().filter_map(|at| self.counted.get(*at).copied()).collect()
        };
        self.plan.as_ref().map_or_else(|| self.counted.clone(), places)
    }

    /// Every step once: mandatory ones first, as the plan has them. Those in no sum
    /// keep their place, and the others take the places between as found.
    pub fn names(&self) -> Vec<String> {
        let mut found = self.found_order();
        // Stable: all else stays as found.
        found.sort_by_key(|at| !self.is_mandatory(*at));
        let mut found = found.into_iter();
        self.stands()
            .into_iter()
            .filter_map(|at| if self.counted.contains(&at) { found.next() } else { Some(at) })
            .filter_map(|at| self.steps.get(at))
            .map(|step| step.check.clone())
            .collect()
    }

    /// By step, the minutes of an order to the end of its check; 0 for those in
    /// no sum.
    fn ends(&self, order: &[usize]) -> Vec<f64> {
        let mut ends = vec![0.0; self.steps.len()];
        let mut open: BTreeSet<&str> = BTreeSet::new();
        let mut passed = 0.0;
        for at in order {
            if let Some((name, minutes)) = self.opening(*at)
                && open.insert(name)
            {
                passed += minutes;
            }
            passed += self.minutes.get(*at).copied().flatten().unwrap_or(0.0);
            ends.get_mut(*at).into_iter().for_each(|end| *end = passed);
        }
        ends
    }

    /// Minutes saved a job, with their interval: as for any order that is advised
    /// (see `advised`). A cause that no step finds takes as long in every
    /// order, so the difference is a weighted mean over the steps.
    pub fn saving(&self, basis: &Basis) -> Option<(f64, Option<Interval>)> {
        let mean = self.minutes_before? - self.plan.as_ref()?.expected_minutes;
        let order = self.found_order();
        let finds = |at: &&usize| self.found.get(**at).is_some_and(|found| *found > 0);
        if order.iter().filter(finds).eq(self.counted.iter().filter(finds)) {
            return None;
        }
        let (before, after) = (self.ends(&self.counted), self.ends(&order));
        let gains = before.iter().zip(&after).map(|(before, after)| before - after);
        let square: f64 = self
            .chances
            .iter()
            .zip(gains)
            .map(|(chance, gain)| chance.unwrap_or(0.0) * gain * gain)
            .sum();
        let error = ((square - mean * mean).max(0.0) / (basis.weight() + 1.0)).sqrt();
        let interval = normal_quantile(LEVEL).filter(|_| error > 0.0).map(|z| Interval {
            low: mean - z * error,
            high: mean + z * error,
            level: LEVEL,
            method: "dirichlet",
        });
        Some((mean, interval))
    }

    /// A line a step; the first `own` are the plan's.
    pub fn lines(&self, basis: &Basis, own: usize) -> Vec<PlanCheckLine> {
        let line = |(at, step): (usize, &PlanStepAsked)| {
            let known = basis.candidates.iter().find(|known| known.check == step.check);
            PlanCheckLine {
                check: step.check.clone(),
                done: known.map_or(0, |known| known.done),
                found: known.map_or(0, |known| known.found),
                chance: self.chances.get(at).copied().flatten(),
                minutes: self.minutes.get(at).copied().flatten(),
                minutes_from: known
                    .and_then(|known| known.minutes)
                    .filter(|_| step.minutes.is_none())
                    .map(|minutes| minutes.from),
                in_plan: at < own,
            }
        };
        self.steps.iter().enumerate().map(line).collect()
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::super::super::basis::Candidate;
    use super::*;

    /// Steps of these minutes and openings, with chances given.
    fn ordered(steps: &[(PlanStepAsked, f64)]) -> (Vec<String>, f64, f64) {
        let asked = PlanAsked {
            steps: steps.iter().map(|(step, _)| step.clone()).collect(),
            ..PlanAsked::default()
        };
        let candidates = steps.iter().map(|(step, chance)| Candidate {
            check: step.check.clone(),
            // A check by the name of u is made too seldom to be judged.
            done: if step.check == "u" { TOO_FEW - 1 } else { TOO_FEW },
            found: 0,
            probability: *chance,
            minutes: None,
            access: None,
            mean_place: None,
            trained: step.minutes.is_none(),
        });
        let basis = Basis { confirmed: 0, otherwise: 0, candidates: candidates.collect() };
        let ordering = Ordering::of(&asked, &basis);
        let plan = ordering.plan.as_ref().unwrap();
        (ordering.names(), ordering.minutes_before.unwrap(), plan.expected_minutes)
    }

    fn step(check: &str, minutes: f64) -> PlanStepAsked {
        PlanStepAsked { check: check.into(), minutes: Some(minutes), ..PlanStepAsked::default() }
    }

    fn near(ours: f64, theirs: f64) {
        assert!((ours - theirs).abs() < 1e-9, "{ours} against {theirs}");
    }

    /// By hand: A 5 min .10, B 20 .25, Z 30 .20; X 5 .25 and Y 10 .20 behind one
    /// opening of 40. A B X Y Z: 5 + .9 x 20 + .65 x 45 + .4 x 10 + .2 x 30 = 62.25;
    /// A B Z X Y: 5 + 18 + .65 x 30 + .45 x 45 + .2 x 10 = 64.75.
    #[test]
    fn an_opening_is_paid_once() {
        let behind = |name: &str, minutes| PlanStepAsked {
            opening: Some(("cover".into(), 40.0)),
            ..step(name, minutes)
        };
        let (order, before, after) = ordered(&[
            (step("A", 5.0), 0.10),
            (step("B", 20.0), 0.25),
            (step("Z", 30.0), 0.20),
            (behind("X", 5.0), 0.25),
            (behind("Y", 10.0), 0.20),
        ]);
        assert_eq!(order, ["A", "B", "X", "Y", "Z"]);
        near(before, 64.75);
        near(after, 62.25);
    }

    /// By hand: a 10 .05 before b 5 .55; d 12 .40. a b d: 10 + .95 x 5 + .4 x 12
    /// = 19.55; d a b: 12 + .6 x 10 + .55 x 5 = 20.75.
    #[test]
    fn what_comes_before_stays_before() {
        let b = PlanStepAsked { after: vec!["a".into()], ..step("b", 5.0) };
        let (order, before, after) =
            ordered(&[(step("d", 12.0), 0.40), (step("a", 10.0), 0.05), (b, 0.55)]);
        assert_eq!(order, ["a", "b", "d"]);
        near(before, 20.75);
        near(after, 19.55);
    }

    /// The same, where d is mandatory: d stays first, whatever it finds.
    #[test]
    fn what_is_mandatory_stays_first() {
        let d = PlanStepAsked { mandatory: true, ..step("d", 12.0) };
        let b = PlanStepAsked { after: vec!["a".into()], ..step("b", 5.0) };
        let (order, before, after) = ordered(&[(d, 0.40), (step("a", 10.0), 0.05), (b, 0.55)]);
        assert_eq!(order, ["d", "a", "b"]);
        near(before, after);
    }

    /// u is for trained people: in no sum, between what it waits for and what
    /// waits for it.
    #[test]
    fn a_step_in_no_sum_keeps_its_place_in_the_chain() {
        let u = PlanStepAsked { check: "u".into(), after: vec!["a".into()], ..Default::default() };
        let b = PlanStepAsked { after: vec!["u".into()], ..step("b", 1.0) };
        let (order, ..) =
            ordered(&[(step("a", 10.0), 0.05), (u, 0.0), (b, 0.90), (step("c", 1.0), 0.01)]);
        assert_eq!(order, ["a", "u", "b", "c"]);
    }

    /// By hand: a 10 .05, u in between, b 5 .55. a b: 10 + .95 x 5 = 14.75; b a: 5 +
    /// .45 x 10 = 9.5. The 60 minutes of u are in neither.
    #[test]
    fn a_check_that_was_hardly_ever_made_stays_where_it_is() {
        let (order, before, after) =
            ordered(&[(step("a", 10.0), 0.05), (step("u", 60.0), 0.01), (step("b", 5.0), 0.55)]);
        assert_eq!(order, ["b", "u", "a"]);
        near(before, 14.75);
        near(after, 9.5);
    }

    /// u waits for a, so that nothing passes it. By hand: c 20 .05, a 10 .05, b 1
    /// .80. c a b: 20 + .95 x 10 + .9 = 30.4; a c b: 10 + .95 x 20 + .9 = 29.9.
    #[test]
    fn nothing_passes_a_check_that_stays_and_waits() {
        let u = PlanStepAsked { after: vec!["a".into()], ..step("u", 60.0) };
        let (order, before, after) = ordered(&[
            (step("c", 20.0), 0.05),
            (step("a", 10.0), 0.05),
            (u, 0.01),
            (step("b", 1.0), 0.80),
        ]);
        assert_eq!(order, ["a", "c", "u", "b"]);
        near(before, 30.4);
        near(after, 29.9);
    }

    /// u has the cover off already: X costs its 5 minutes alone. By hand: 5 + .75 x
    /// 20 = 20; with the 40 of the cover B would come first.
    #[test]
    fn what_a_check_that_stays_has_opened_is_open() {
        let behind = |name: &str, minutes| PlanStepAsked {
            opening: Some(("cover".into(), 40.0)),
            ..step(name, minutes)
        };
        let (order, before, after) = ordered(&[
            (behind("u", 60.0), 0.01),
            (behind("X", 5.0), 0.25),
            (step("B", 20.0), 0.30),
        ]);
        assert_eq!(order, ["u", "X", "B"]);
        near(before, 20.0);
        near(after, 20.0);
    }
}
