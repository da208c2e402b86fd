//! Minutes that no order can be below.
//!
//! An order takes the sum, over all that is done, of its minutes times the
//! chance `left` that the fault is not found before it. Three relaxations, each
//! of which can only lower that sum:
//!
//! 1. A teardown is paid no later than its first check, and a check no later
//!    than one it precedes. `left` never rises along an order. So minutes
//!    carried from a teardown to the checks that need it, or from a check to one
//!    that comes after it, are multiplied by no more than before. This holds for
//!    any amount carried, as long as nothing is carried that is not there.
//! 2. After that teardown and precedence are dropped: the least over all orders
//!    is no more than the least over those allowed. Without them the ratio rule
//!    gives the least (Smith 1956; Gluss 1959).
//! 3. Where a cause may be inferred, the checks done are all but its own and
//!    perhaps some that find nothing. For the cause left out, what the others
//!    take is no less than the ratio rule's value of the others that may find
//!    something; the least over all causes is the bound.
//!
//! The mandatory first checks come first in every order: they are counted as
//! they are.

use super::problem::{Problem, Set, holds};

/// Rounds of carrying. More would raise the bound by little.
const ROUNDS: usize = 64;

/// Something that takes minutes and may find the fault.
#[derive(Debug, Clone, Copy)]
struct Load {
    minutes: f64,
    found: f64,
    /// The check, unless it is a teardown.
    check: Option<usize>,
}

/// Expected minutes that no order of all checks can be below: the highest of the
/// bounds along the rounds of carrying, the first of which carries nothing.
#[must_use]
pub fn least_minutes(problem: &Problem) -> f64 {
    let Ok(start) = problem.walk(&problem.first) else {
        return 0.0;
    };
    if start.inferred.is_some() {
        return start.minutes;
    }
    let mut loads = loads(problem);
    let ways = ways(problem, &loads);
    let mut highest = relaxed(problem, start.left, &loads);
    for _ in 0..ROUNDS {
        carry(&mut loads, &ways);
        highest = highest.max(relaxed(problem, start.left, &loads));
    }
    start.minutes + highest
}

/// The least that these loads take without teardown and precedence, once the
/// fault is still to be found with the chance `left`.
fn relaxed(problem: &Problem, left: f64, loads: &[Load]) -> f64 {
    let mut loads = loads.to_vec();
    loads.sort_by(|a, b| (b.found / b.minutes).total_cmp(&(a.found / a.minutes)));
    let mut least = by_ratio(left, loads.iter());
    if problem.infers {
        for left_out in loads.iter().filter_map(|load| load.check) {
            if holds(problem.causes, left_out) {
                let others =
                    loads.iter().filter(|load| load.found > 0.0 && load.check != Some(left_out));
                least = least.min(by_ratio(left, others));
            }
        }
    }
    least
}

/// The checks after the mandatory first ones, then the teardowns these left.
fn loads(problem: &Problem) -> Vec<Load> {
    let free =
        problem.items.iter().enumerate().filter(|(check, _)| !holds(problem.first_set, *check));
    let checks = free.map(|(check, item)| Load {
        minutes: item.check.minutes,
        found: item.found(),
        check: Some(check),
    });
    let closed = closed(problem).map(|(minutes, _)| Load { minutes, found: 0.0, check: None });
    checks.chain(closed).collect()
}

/// Minutes and checks of the teardowns that some check still needs.
fn closed(problem: &Problem) -> impl Iterator<Item = (f64, Set)> + '_ {
    let doors = problem.doors.iter();
    doors
        .filter(|door| door.opened_by != 0 && door.opened_by & problem.first_set == 0)
        .map(|door| (door.minutes, door.opened_by))
}

/// From where to where minutes can be carried, by places among the loads.
fn ways(problem: &Problem, loads: &[Load]) -> Vec<(usize, usize)> {
    let mut ways: Vec<(usize, usize)> = Vec::new();
    let free: Vec<usize> = loads.iter().filter_map(|load| load.check).collect();
    for (to, check) in free.iter().enumerate() {
        let before = problem.items.get(*check).map_or(0, |item| item.before);
        let earlier = free.iter().enumerate().filter(|(_, other)| holds(before, **other));
        ways.extend(earlier.map(|(from, _)| (from, to)));
        let doors = closed(problem).enumerate().filter(|(_, (_, checks))| holds(*checks, *check));
        ways.extend(doors.map(|(door, _)| (free.len() + door, to)));
    }
    ways
}

/// Carries minutes along each way, until both ends find as much per minute.
fn carry(loads: &mut [Load], ways: &[(usize, usize)]) {
    for &(from, to) in ways {
        let (Some(&earlier), Some(&later)) = (loads.get(from), loads.get(to)) else { continue };
        let gap = later.found * earlier.minutes - earlier.found * later.minutes;
        let amount = (gap / (earlier.found + later.found)).min(earlier.minutes);
        if amount > 0.0 {
            loads.get_mut(from).into_iter().for_each(|load| load.minutes -= amount);
            loads.get_mut(to).into_iter().for_each(|load| load.minutes += amount);
        }
    }
}

/// What these loads take in the order given.
fn by_ratio<'a>(left: f64, loads: impl Iterator<Item = &'a Load>) -> f64 {
    let mut left = left;
    loads.fold(0.0, |minutes, load| {
        let before = left;
        left = (left - load.found).max(0.0);
        minutes + before * load.minutes
    })
}
