//! Checks in the form an order is searched in, and what an order of them takes.

use super::parts::{Check, MAX_CHECKS, OrderError, ProblemError, ProblemParts};
use super::sound::{before, chain, doors, sound_total};

/// Checks, one bit each.
pub(super) type Set = u128;

/// The set of one check.
pub(super) fn only(check: usize) -> Set {
    u32::try_from(check).ok().and_then(|shift| Set::from(1_u8).checked_shl(shift)).unwrap_or(0)
}

/// Whether a check is in a set.
pub(super) fn holds(set: Set, check: usize) -> bool {
    set & only(check) != 0
}

/// A teardown, and the checks that have it open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Door {
    pub minutes: f64,
    /// The checks in it or in a cluster within it.
    pub opened_by: Set,
}

/// A check with all it waits for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Item {
    pub check: Check,
    /// All checks that precede it, directly or not.
    pub before: Set,
    /// Its clusters, the innermost first.
    doors: Vec<Door>,
}

impl Item {
    /// Chance that its cause is the fault and that it shows it.
    pub fn found(&self) -> f64 {
        self.check.probability * self.check.sensitivity
    }

    /// Whether one of these checks precedes it or opens a teardown it needs.
    pub fn tied_to(&self, checks: Set) -> bool {
        self.before & checks != 0 || self.doors.iter().any(|door| door.opened_by & checks != 0)
    }
}

/// Checks that can be ordered: every number is sound and no check precedes
/// itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    pub(super) items: Vec<Item>,
    pub(super) doors: Vec<Door>,
    pub(super) first: Vec<usize>,
    pub(super) has_pairs: bool,
    /// Chance that the fault is none of the causes.
    pub(super) none: f64,
    pub(super) first_set: Set,
    /// Checks whose probability is above 0.
    pub(super) causes: Set,
    /// Those of them that may miss.
    unsure: Set,
    /// Whether the last cause can ever be inferred.
    pub(super) infers: bool,
}

/// How far a walk through an order came.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Walk {
    /// Expected minutes.
    pub minutes: f64,
    pub done: Set,
    /// Chance that the fault is not found yet.
    pub left: f64,
    /// The check whose cause was inferred: from there on nothing is done.
    pub inferred: Option<usize>,
}

impl Problem {
    /// Checks the parts.
    ///
    /// # Errors
    ///
    /// The first thing in them that does not hold.
    pub fn new(parts: &ProblemParts) -> Result<Self, ProblemError> {
        let count = parts.checks.len();
        if count.max(parts.clusters.len()) > MAX_CHECKS {
            return Err(ProblemError::TooMany);
        }
        let total = sound_total(&parts.checks)?;
        let doors = doors(parts)?;
        let before = before(parts)?;
        let mut items = Vec::with_capacity(count);
        for (check, before) in parts.checks.iter().zip(before) {
            let chain = chain(&parts.clusters, check.cluster)?;
            let doors = chain.iter().filter_map(|cluster| doors.get(*cluster).copied()).collect();
            items.push(Item { check: *check, before, doors });
        }
        let none = (1.0 - total).max(0.0);
        let causes = set_of(&items, |item| item.check.probability > 0.0);
        Ok(Self {
            unsure: causes & set_of(&items, |item| item.check.sensitivity < 1.0),
            causes,
            items,
            doors,
            has_pairs: !parts.pairs.is_empty(),
            first_set: parts.first.iter().fold(0, |set, check| set | only(*check)),
            first: parts.first.clone(),
            none,
            infers: parts.infer_last && none <= 0.0,
        })
    }

    /// The number of checks.
    #[must_use]
    pub fn len(&self) -> usize {
        self.items.len()
    }

    /// Whether there is no check.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.items.is_empty()
    }

    /// Chance that the fault is none of the causes.
    #[must_use]
    pub fn none_of_them(&self) -> f64 {
        self.none
    }

    /// Chance that the fault is not found once these checks are done.
    pub(super) fn left(&self, done: Set) -> f64 {
        let missed = self.items.iter().enumerate().map(|(check, item)| {
            let still = if holds(done, check) { 1.0 - item.check.sensitivity } else { 1.0 };
            item.check.probability * still
        });
        self.none + missed.sum::<f64>()
    }

    /// Minutes of a check once these are done: its own, and the teardown that
    /// none of them needed.
    pub(super) fn step_minutes(item: &Item, done: Set) -> f64 {
        let closed = item.doors.iter().take_while(|door| door.opened_by & done == 0);
        item.check.minutes + closed.map(|door| door.minutes).sum::<f64>()
    }

    /// The check whose cause is inferred once these are done.
    pub(super) fn inferred(&self, done: Set) -> Option<usize> {
        let open = self.causes & !done;
        let settled = self.infers
            && self.first_set & !done == 0
            && self.unsure & done == 0
            && open.count_ones() == 1;
        settled.then(|| usize::try_from(open.trailing_zeros()).ok()).flatten()
    }

    /// Goes through an order, or the beginning of one.
    pub(super) fn walk(&self, order: &[usize]) -> Result<Walk, OrderError> {
        let mut walk = Walk { minutes: 0.0, done: 0, left: 1.0, inferred: self.inferred(0) };
        for &check in order {
            let Some(item) = self.items.get(check) else {
                return Err(OrderError::Unknown { check });
            };
            if holds(walk.done, check) {
                return Err(OrderError::Twice { check });
            }
            if item.before & !walk.done != 0 {
                return Err(OrderError::OutOfTurn { check });
            }
            if walk.inferred.is_none() {
                walk.minutes += walk.left * Self::step_minutes(item, walk.done);
                walk.left = (walk.left - item.found()).max(0.0);
            }
            walk.done |= only(check);
            walk.inferred = walk.inferred.or_else(|| self.inferred(walk.done));
        }
        Ok(walk)
    }

    /// Goes through a complete order.
    pub(super) fn walk_all(&self, order: &[usize]) -> Result<Walk, OrderError> {
        let walk = self.walk(order)?;
        if order.len() < self.len() {
            return Err(OrderError::Incomplete);
        }
        Ok(walk)
    }
}

/// Expected minutes until the fault is found, in one pass through an order that
/// names every check once. Each check is done with the chance that the fault is
/// not found before it; where the pass misses it, all are done. Looking again
/// is [`super::looks`].
///
/// # Errors
///
/// Why the order cannot be followed.
pub fn expected_minutes(problem: &Problem, order: &[usize]) -> Result<f64, OrderError> {
    problem.walk_all(order).map(|walk| walk.minutes)
}

fn set_of(items: &[Item], which: impl Fn(&Item) -> bool) -> Set {
    let chosen = items.iter().enumerate().filter(|(_, item)| which(item));
    chosen.fold(0, |set, (check, _)| set | only(check))
}
