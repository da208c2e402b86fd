//! The steps of a plan put into the order that finds the cause soonest.

use std::collections::{BTreeMap, BTreeSet};

use super::super::basis::Basis;
use super::super::order::{
    Check, Cluster, Plan, Problem, ProblemParts, best_order, best_order_against, expected_minutes,
};
use super::{PlanAsked, PlanCheckLine, PlanStepAsked};
use crate::figure::Interval;
use crate::follow::LEVEL;
use crate::stats::normal_quantile;

/// A plan's steps with what the record knows of them.
pub(super) struct Ordering<'a> {
    steps: &'a [PlanStepAsked],
    minutes: Vec<Option<f64>>,
    chances: Vec<f64>,
    found: Vec<i64>,
    /// Places of the steps that are in the sums, in the plan's order.
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
        let counted: Vec<usize> =
            (0..steps.len()).filter(|at| minutes.get(*at).is_some_and(Option::is_some)).collect();
        let mut ordering = Self {
            steps,
            chances: steps.iter().map(|s| known(s).map_or(0.0, |k| k.probability)).collect(),
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
            let cluster = step.opening.as_ref().map(|(name, opening_minutes)| {
                *openings.entry(name).or_insert_with(|| {
                    clusters.push(Cluster { opening_minutes: *opening_minutes, within: None });
                    clusters.len() - 1
                })
            });
            checks.push(Check {
                minutes: self.minutes.get(*at).copied().flatten()?,
                probability: self.chances.get(*at).copied()?,
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
        Problem::new(&ProblemParts { checks, clusters, pairs, first, infer_last: false }).ok()
    }

    /// The counted steps in the order found, as places of the plan.
    fn found_order(&self) -> Vec<usize> {
        let places = |plan: &Plan| {
            plan.order.iter().filter_map(|at| self.counted.get(*at).copied()).collect()
        };
        self.plan.as_ref().map_or_else(|| self.counted.clone(), places)
    }

    /// Every step once: mandatory ones as the plan has them; the others as found,
    /// with those in no sum right after what they wait for, else at the end.
    pub fn names(&self) -> Vec<String> {
        let mandatory = |at: &usize| self.steps.get(*at).is_some_and(|step| step.mandatory);
        let mut order: Vec<usize> = (0..self.steps.len()).filter(mandatory).collect();
        order.extend(self.found_order().into_iter().filter(|at| !mandatory(at)));
        let before = self.before();
        for at in (0..self.steps.len()).filter(|at| !self.counted.contains(at) && !mandatory(at)) {
            let waits = |other: &usize| before.get(at).is_some_and(|all| all.contains(other));
            let needed = before.iter().any(|all| all.contains(&at));
            let from = order.iter().filter(|at| mandatory(at)).count();
            let place = match order.iter().rposition(waits) {
                Some(last) if needed => (last + 1).max(from),
                None if needed => from,
                _ => order.len(),
            };
            order.insert(place, at);
        }
        order
            .into_iter()
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
            let Some(step) = self.steps.get(*at) else { continue };
            if let Some((name, minutes)) = &step.opening
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
        let square: f64 =
            self.chances.iter().zip(gains).map(|(chance, gain)| chance * gain * gain).sum();
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
                chance: self.chances.get(at).copied().unwrap_or(0.0),
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
            done: 0,
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
}
