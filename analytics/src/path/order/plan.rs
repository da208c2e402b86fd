//! The order to follow, and how good it is.

use super::bound::least_minutes;
use super::parts::{EXACT_CHECKS, OrderError};
use super::problem::Problem;
use super::{exact, greedy};

/// How an order was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// The best of all orders, by search.
    Exact,
    /// The best of all orders, because the ratio rule holds.
    Ratio,
    /// A good order; the best one may be shorter.
    Greedy,
}

/// An order of all checks.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Every check once.
    pub order: Vec<usize>,
    /// What it takes to find the fault.
    pub expected_minutes: f64,
    pub method: Method,
    /// Minutes that no order can be below; `None` where this one is the best.
    pub bound: Option<f64>,
    /// The check, if any, whose cause is taken for the fault without it.
    pub inferred: Option<usize>,
}

impl Plan {
    /// The order is at most this many minutes above the best one.
    #[must_use]
    pub fn at_most_above(&self) -> f64 {
        self.bound.map_or(0.0, |bound| (self.expected_minutes - bound).max(0.0))
    }
}

/// Whether the ratio rule gives the best order: no teardown, no pair that has
/// an order of its own, and no cause taken for the fault without its check. The
/// mandatory first checks do not disturb it; it orders what follows them.
#[must_use]
pub fn ratio_rule_holds(problem: &Problem) -> bool {
    !problem.has_pairs
        && !problem.infers
        && problem.doors.iter().all(|door| door.opened_by == 0 || door.minutes <= 0.0)
}

/// The mandatory first checks, then the others by falling chance of finding the
/// fault per minute (probability times sensitivity over minutes); the one
/// listed first goes first among equals. Teardown and pairs play no part: where
/// the rule does not hold, the order may break a pair.
///
/// Why it is best where it holds: neighbors a, b take
/// `left c_a + (left - found_a) c_b`, and `found_a c_b - found_b c_a` more the
/// other way round, which is 0 or more if a has the higher ratio (Smith 1956).
#[must_use]
pub fn ratio_order(problem: &Problem) -> Vec<usize> {
    let mut order = problem.first.clone();
    order.extend(free_by_ratio(problem));
    order
}

/// The checks that need not be first, by ratio.
pub(super) fn free_by_ratio(problem: &Problem) -> Vec<usize> {
    let mut free: Vec<(f64, usize)> = problem
        .items
        .iter()
        .enumerate()
        .filter(|(check, _)| !problem.first.contains(check))
        .map(|(check, item)| (item.found() / item.check.minutes, check))
        .collect();
    // Stable: equals stay as they are listed.
    free.sort_by(|(a, _), (b, _)| b.total_cmp(a));
    free.into_iter().map(|(_, check)| check).collect()
}

/// The best order: by the ratio rule where it holds, by search up to
/// [`EXACT_CHECKS`] checks, else a good one with a bound on the best.
#[must_use]
pub fn best_order(problem: &Problem) -> Plan {
    if ratio_rule_holds(problem) {
        return plan(problem, ratio_order(problem), Method::Ratio);
    }
    if problem.len() - problem.first.len() <= EXACT_CHECKS {
        return plan(problem, exact::order(problem), Method::Exact);
    }
    greedy_order(problem)
}

/// [`best_order`], and never above the order the shop is used to: where the best
/// one cannot be searched, the habit is improved too, and the better one kept.
///
/// # Errors
///
/// Why the habit cannot be followed.
pub fn best_order_against(problem: &Problem, habit: &[usize]) -> Result<Plan, OrderError> {
    problem.walk_all(habit)?;
    let best = best_order(problem);
    if best.method != Method::Greedy {
        return Ok(best);
    }
    let improved = plan(problem, greedy::improve(problem, habit.to_vec()), Method::Greedy);
    Ok(if improved.expected_minutes < best.expected_minutes { improved } else { best })
}

/// A good order of any number of checks: the group with the best ratio first,
/// then exchanges while they gain.
#[must_use]
pub fn greedy_order(problem: &Problem) -> Plan {
    let order = greedy::improve(problem, greedy::build(problem));
    plan(problem, order, Method::Greedy)
}

fn plan(problem: &Problem, order: Vec<usize>, method: Method) -> Plan {
    let walk = problem.walk_all(&order).ok();
    let expected_minutes = walk.map_or(f64::INFINITY, |walk| walk.minutes);
    Plan {
        expected_minutes,
        inferred: walk.and_then(|walk| walk.inferred),
        bound: (method == Method::Greedy).then(|| least_minutes(problem).min(expected_minutes)),
        method,
        order,
    }
}
