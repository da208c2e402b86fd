//! The orders that are compared: the shop's own, the advised one with what has
//! to come first, and the best there could be.

use super::super::basis::{Basis, Candidate};
use super::super::order::{
    Check, MAX_CHECKS, Plan, Problem, ProblemParts, best_order, best_order_against,
    expected_minutes, ratio_rule_holds,
};
use crate::figure::Interval;
use crate::follow::LEVEL;
use crate::stats::normal_quantile;
use crate::words::Access;

/// The orders of one symptom, as places among its candidates.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Orders {
    /// The candidates whose minutes are known, by name: an order's sums are over
    /// these.
    pub counted: Vec<usize>,
    /// Every candidate, as the shop is used to; `None` where no order was ever
    /// measured.
    pub habit: Option<Vec<usize>>,
    pub habit_minutes: Option<f64>,
    /// The same with what has to come first moved there.
    pub held: Option<Vec<usize>>,
    pub held_minutes: Option<f64>,
    /// What has to come first, whether or not its minutes are known, and then
    /// the rest of the counted ones.
    pub advised: Vec<usize>,
    pub advised_plan: Option<Plan>,
    pub best: Vec<usize>,
    pub best_plan: Option<Plan>,
    pub ratio_rule_holds: bool,
}

/// The orders of a basis; `first` names the checks that come first, each once.
pub(super) fn orders(basis: &Basis, first: &[String]) -> Orders {
    let candidates = &basis.candidates;
    let place = |check: &String| candidates.iter().position(|known| known.check == *check);
    let first: Vec<usize> = first.iter().filter_map(place).collect();
    let counted = counted(candidates, &first);
    let inside = |order: &[usize]| -> Vec<usize> {
        order.iter().filter_map(|at| counted.iter().position(|known| known == at)).collect()
    };
    let outside = |order: &[usize]| -> Vec<usize> {
        order.iter().filter_map(|at| counted.get(*at).copied()).collect()
    };
    let habit = habit(candidates);
    let (free, held) =
        (problem(candidates, &counted, &[]), problem(candidates, &counted, &inside(&first)));
    // Where no order was measured, any will do: nothing is said of it.
    let used = inside(habit.as_deref().unwrap_or(&counted));
    let with_first = moved(&inside(&first), &used);
    let minutes = |order: &[usize]| {
        let problem = unordered(candidates, &counted).filter(|problem| !problem.is_empty())?;
        expected_minutes(&problem, order).ok()
    };
    let known = habit.is_some();
    let advised_plan = held.as_ref().map(|problem| {
        // A habit out of turn is no order to start from.
        best_order_against(problem, &with_first).unwrap_or_else(|_| best_order(problem))
    });
    let best_plan = free.as_ref().map(best_order);
    let order = |plan: &Option<Plan>| plan.as_ref().map_or(Vec::new(), |plan| outside(&plan.order));
    Orders {
        habit_minutes: minutes(&used).filter(|_| known),
        held: habit.as_deref().map(|habit| moved(&first, habit)),
        held_minutes: minutes(&with_first).filter(|_| known),
        advised: moved(&first, &order(&advised_plan)),
        best: order(&best_plan),
        // Whether checks share what has to be opened is not known either.
        ratio_rule_holds: held.as_ref().is_some_and(ratio_rule_holds) && !basis.opens(),
        advised_plan: advised_plan.filter(|_| !counted.is_empty()),
        best_plan: best_plan.filter(|_| !counted.is_empty()),
        habit,
        counted,
    }
}

/// Candidates whose minutes are known, by name; never those that only trained
/// people may do. Past the most that can be
/// ordered: those that come first, then those that found the most.
fn counted(candidates: &[Candidate], first: &[usize]) -> Vec<usize> {
    let known = candidates.iter().enumerate();
    let known = known.filter(|(_, known)| known.minutes.is_some() && !known.trained);
    let mut ranked: Vec<(usize, &Candidate)> = known.collect();
    ranked.sort_by_key(|(at, known)| (!first.contains(at), -known.found, -known.done));
    let mut counted: Vec<usize> = ranked.iter().take(MAX_CHECKS).map(|(at, _)| *at).collect();
    counted.sort_unstable();
    counted
}

/// By mean place; those never done in a measured order after the others.
fn habit(candidates: &[Candidate]) -> Option<Vec<usize>> {
    candidates.iter().find(|known| known.mean_place.is_some())?;
    let mut order: Vec<(f64, usize)> = candidates
        .iter()
        .enumerate()
        .map(|(at, known)| (known.mean_place.unwrap_or(f64::INFINITY), at))
        .collect();
    // Stable: equals stay by name.
    order.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    Some(order.into_iter().map(|(_, at)| at).collect())
}

/// An order with these moved to its beginning.
fn moved(first: &[usize], order: &[usize]) -> Vec<usize> {
    let rest = order.iter().filter(|at| !first.contains(at));
    first.iter().chain(rest).copied().collect()
}

/// What is deep lies below a cover: the checks that take the cover off come
/// before it, unless it is asked to come first itself. Places among the counted.
fn below_covers(
    candidates: &[Candidate],
    counted: &[usize],
    first: &[usize],
) -> Vec<(usize, usize)> {
    let with = |access: Access| {
        let checks = counted.iter().filter_map(|at| candidates.get(*at)).enumerate();
        checks.filter(move |(at, known)| known.access == Some(access) && !first.contains(at))
    };
    let deep: Vec<usize> = with(Access::Deep).map(|(at, _)| at).collect();
    let covers = with(Access::Cover);
    covers.flat_map(|(cover, _)| deep.iter().map(move |below| (cover, *below))).collect()
}

/// The problem with what comes first and what lies below covers. `None` where
/// the numbers make no problem: then there is no order.
fn problem(candidates: &[Candidate], counted: &[usize], first: &[usize]) -> Option<Problem> {
    let pairs = below_covers(candidates, counted, first);
    made(candidates, counted, first, pairs)
}

/// The same checks in whatever order.
fn unordered(candidates: &[Candidate], counted: &[usize]) -> Option<Problem> {
    made(candidates, counted, &[], Vec::new())
}

fn made(
    candidates: &[Candidate],
    counted: &[usize],
    first: &[usize],
    pairs: Vec<(usize, usize)>,
) -> Option<Problem> {
    let counted = counted.iter().filter_map(|at| candidates.get(*at));
    let checks = counted.filter_map(|known| {
        Some(Check {
            minutes: known.minutes?.value,
            probability: known.probability,
            // The probability is that of finding the cause: what the check
            // misses is not in it.
            sensitivity: 1.0,
            cluster: None,
        })
    });
    Problem::new(&ProblemParts {
        checks: checks.collect(),
        first: first.to_vec(),
        pairs,
        // A cause that nobody checked is what vehicles come back for.
        infer_last: false,
        ..ProblemParts::default()
    })
    .ok()
}

/// Minutes that the advised order takes less than the habit with the same checks
/// first, with their interval. `None` without a habit or without known minutes,
/// and where the advised order only puts off checks that found no cause: what
/// they are for, to narrow the search, is not in the sums, so that putting them
/// off would read as a saving. `None`, too, where something has to be opened: its
/// minutes are in no sum.
///
/// The expected minutes of an order are the sum over causes of the chance of
/// each times the minutes to the end of its check. So the difference is a
/// weighted mean of differences `d`, and with chances from a Dirichlet posterior
/// of weight `w` its variance is `(sum p d^2 - (sum p d)^2) / (w + 1)` (Johnson
/// and Kotz 1972, Distributions in Statistics: Continuous Multivariate
/// Distributions, chapter 40, from memory). A cause that no check of the order
/// finds takes as long in every order. No interval where the orders do not
/// differ.
pub(super) fn saving(basis: &Basis, orders: &Orders) -> Option<(f64, Option<Interval>)> {
    if basis.opens() {
        return None;
    }
    let mean = orders.held_minutes? - orders.advised_plan.as_ref()?.expected_minutes;
    let held = orders.held.as_ref()?;
    if only_puts_off(basis, orders, held) {
        return None;
    }
    let before = ends(basis, orders, held);
    let after = ends(basis, orders, &orders.advised);
    let gains = before.iter().zip(&after).map(|(before, after)| before - after);
    let square: f64 = basis
        .candidates
        .iter()
        .zip(gains)
        .map(|(known, gain)| known.probability * gain * gain)
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

/// Whether the advised order is another one than the habit with the same checks
/// first, but not among the checks that found causes.
fn only_puts_off(basis: &Basis, orders: &Orders, held: &[usize]) -> bool {
    let found = |at: &usize| basis.candidates.get(*at).is_some_and(|known| known.found > 0);
    let counted = |order: &[usize]| -> Vec<usize> {
        order.iter().copied().filter(|at| orders.counted.contains(at)).collect()
    };
    let (held, advised) = (counted(held), counted(&orders.advised));
    held != advised && held.iter().filter(|at| found(at)).eq(advised.iter().filter(|at| found(at)))
}

/// By candidate, the minutes of an order to the end of its check; 0 for those
/// that are in no sum.
fn ends(basis: &Basis, orders: &Orders, order: &[usize]) -> Vec<f64> {
    let mut ends = vec![0.0; basis.candidates.len()];
    let mut passed = 0.0;
    for at in order.iter().filter(|at| orders.counted.contains(at)) {
        let minutes = basis.candidates.get(*at).and_then(|known| known.minutes);
        passed += minutes.map_or(0.0, |minutes| minutes.value);
        ends.get_mut(*at).into_iter().for_each(|end| *end = passed);
    }
    ends
}
