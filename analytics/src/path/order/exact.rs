//! The best of all orders, by dynamic programming over the subsets done.
//!
//! What is still to come depends on the set of checks done, not on their order
//! (Held and Karp 1962, from memory): 2^14 sets instead of 14! orders.

use super::plan::free_by_ratio;
use super::problem::{Problem, Set, only};

/// Two orders this near are the same, and the one by ratio is kept.
const SAME: f64 = 1e-12;

/// The best order. Its time and memory double with each check that is not
/// among the first: for at most [`super::EXACT_CHECKS`] of them.
pub(super) fn order(problem: &Problem) -> Vec<usize> {
    let free = free_by_ratio(problem);
    let all = (1_usize << free.len()) - 1;
    let mut minutes = vec![0.0; all + 1];
    let mut next = vec![None; all + 1];
    for state in (0..all).rev() {
        let done = done(problem, &free, state);
        // Once the last cause is inferred, nothing more is paid.
        let left = if problem.inferred(done).is_some() { None } else { Some(problem.left(done)) };
        let mut best: Option<(f64, usize)> = None;
        for (place, &check) in free.iter().enumerate().filter(|(place, _)| state >> place & 1 == 0)
        {
            let Some(item) = problem.items.get(check).filter(|item| item.before & !done == 0)
            else {
                continue;
            };
            let rest = minutes.get(state | 1 << place).copied().unwrap_or(0.0);
            let total = left.map_or(0.0, |left| left * Problem::step_minutes(item, done) + rest);
            if best.is_none_or(|(least, _)| total < least * (1.0 - SAME)) {
                best = Some((total, place));
            }
        }
        if let (Some((least, place)), Some(value), Some(choice)) =
            (best, minutes.get_mut(state), next.get_mut(state))
        {
            *value = least;
            *choice = Some(place);
        }
    }
    follow(problem, &free, &next)
}

/// The checks done in a state: the first ones, and those of its bits.
fn done(problem: &Problem, free: &[usize], state: usize) -> Set {
    let chosen = free.iter().enumerate().filter(|(place, _)| state >> place & 1 == 1);
    chosen.fold(problem.first_set, |set, (_, check)| set | only(*check))
}

/// The order that the choices make.
fn follow(problem: &Problem, free: &[usize], next: &[Option<usize>]) -> Vec<usize> {
    let mut order = problem.first.clone();
    let mut state = 0;
    while let Some(place) = next.get(state).copied().flatten() {
        order.extend(free.get(place));
        state |= 1 << place;
    }
    order
}
