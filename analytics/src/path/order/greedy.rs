//! A good order of many checks.
//!
//! In an order that is best, a group that finds the most per minute, with all it
//! waits for, comes first (Sidney 1975 Operations Research 23:283-298, from
//! memory). The groups tried here are each check with what precedes it, and
//! then whatever hangs on these and still raises the ratio: the best beginning
//! of a teardown or of a chain.

use super::problem::{Problem, Set, only};

/// Rounds of exchanges at most; a handful is usual.
const ROUNDS: usize = 50;

/// A gain below this share of the whole is rounding.
const GAIN: f64 = 1e-12;

/// Checks to be done one after another.
#[derive(Debug, Clone, Default)]
struct Group {
    checks: Vec<usize>,
    done: Set,
    found: f64,
    minutes: f64,
}

impl Group {
    fn ratio(&self) -> f64 {
        if self.minutes > 0.0 { self.found / self.minutes } else { 0.0 }
    }

    fn push(&mut self, problem: &Problem, check: usize) {
        if let Some(item) = problem.items.get(check) {
            self.minutes += Problem::step_minutes(item, self.done);
            self.found += item.found();
            self.done |= only(check);
            self.checks.push(check);
        }
    }
}

/// An order, group by group.
pub(super) fn build(problem: &Problem) -> Vec<usize> {
    let mut order = problem.first.clone();
    let mut done = problem.first_set;
    loop {
        let groups = open(problem, done).map(|check| group(problem, done, check));
        let Some(best) = groups.reduce(|a, b| if b.ratio() > a.ratio() { b } else { a }) else {
            return order;
        };
        done = best.done;
        order.extend(best.checks);
    }
}

fn open(problem: &Problem, done: Set) -> impl Iterator<Item = usize> + '_ {
    (0..problem.len()).filter(move |check| done & only(*check) == 0)
}

/// The group that one check leads to.
fn group(problem: &Problem, done: Set, check: usize) -> Group {
    let before = |check: usize| problem.items.get(check).map_or(0, |item| item.before);
    let mut needed: Vec<usize> =
        open(problem, done).filter(|other| before(check) & only(*other) != 0).collect();
    // Whatever precedes a check precedes what that check precedes: the one
    // with fewer before it comes first.
    needed.sort_by_key(|other| before(*other).count_ones());
    let mut group = Group { done, ..Group::default() };
    for other in needed.into_iter().chain([check]) {
        group.push(problem, other);
    }
    loop {
        let ready = problem.items.iter().enumerate().filter(|(other, item)| {
            group.done & only(*other) == 0
                && item.before & !group.done == 0
                && item.tied_to(group.done & !done)
        });
        let ratios = ready
            .map(|(other, item)| (item.found() / Problem::step_minutes(item, group.done), other));
        let best = ratios.reduce(|a, b| if b.0 > a.0 { b } else { a });
        match best {
            Some((ratio, other)) if ratio > group.ratio() => group.push(problem, other),
            _ => return group,
        }
    }
}

/// Exchanges two checks, or moves one, while that shortens the order. Never
/// longer than before; an order that cannot be followed stays as it is.
pub(super) fn improve(problem: &Problem, mut order: Vec<usize>) -> Vec<usize> {
    let minutes = |order: &[usize]| problem.walk_all(order).map(|walk| walk.minutes);
    let Ok(mut best) = minutes(&order) else {
        return order;
    };
    let count = order.len();
    let from = problem.first.len();
    for _ in 0..ROUNDS {
        let before = best;
        for a in from..count {
            for b in from..count {
                for change in [exchange, carry] {
                    let Some(tried) = change(&order, a, b) else { continue };
                    if let Ok(value) = minutes(&tried)
                        && value < best * (1.0 - GAIN)
                    {
                        best = value;
                        order = tried;
                    }
                }
            }
        }
        if best >= before {
            break;
        }
    }
    order
}

/// Two checks in each other's place.
fn exchange(order: &[usize], a: usize, b: usize) -> Option<Vec<usize>> {
    (a < b).then(|| {
        let mut order = order.to_vec();
        order.swap(a, b);
        order
    })
}

/// One check taken from one place to another.
fn carry(order: &[usize], from: usize, to: usize) -> Option<Vec<usize>> {
    (from != to).then(|| {
        let mut order = order.to_vec();
        let check = order.remove(from);
        order.insert(to, check);
        order
    })
}
