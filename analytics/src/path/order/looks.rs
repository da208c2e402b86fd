//! Looking again: checks that may miss their cause.
//!
//! Source: Blackwell's result on searching for a lost thing, in Matula (1964)
//! American Mathematical Monthly 71:15-21; Black (1965) Information and Control
//! 8:159-162 (both from memory).

use super::problem::{Item, Problem};

/// One look in the sequence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    pub check: usize,
    /// Its number among the looks of its check, from 1.
    pub look: u32,
    /// Chance per minute, seen from the start, that this look is the one to
    /// find the fault.
    pub index: f64,
    /// Chance that the fault is still not found after it.
    pub unexplained: f64,
}

/// Where the fault may be after looks that found nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct AfterClean {
    /// Chance that all those looks find nothing.
    pub unexplained: f64,
    /// For each check the chance, given that, that its cause is the fault.
    pub causes: Vec<f64>,
    /// Chance, given that, that it is none of them.
    pub none: f64,
}

/// The looks in their best order, without end unless nothing more can be found:
/// always the one with the highest index `p d (1 - d)^(k - 1) / c` for the k-th
/// look of a check with probability p, sensitivity d and c minutes; the one
/// listed first goes first among equals. What a look misses stays as likely to
/// be missed. Teardown, pairs and mandatory first checks play no part.
pub fn looks(problem: &Problem) -> impl Iterator<Item = Look> + '_ {
    let mut counts = vec![0_u32; problem.len()];
    std::iter::from_fn(move || {
        let indices = problem.items.iter().zip(&counts).map(|(item, count)| {
            missed(item, *count) * item.check.sensitivity / item.check.minutes
        });
        let (check, index) = indices.enumerate().reduce(|a, b| if b.1 > a.1 { b } else { a })?;
        if index <= 0.0 {
            return None;
        }
        let count = counts.get_mut(check)?;
        *count = count.checked_add(1)?;
        let look = *count;
        Some(Look { check, look, index, unexplained: unexplained(problem, &counts) })
    })
}

/// What looks that found nothing leave: `counts` holds, for each check, how many
/// looks it had. A clean look lowers a cause; only a sure one removes it.
/// `None` unless there is one count for each check and the looks can all have
/// found nothing.
#[must_use]
pub fn after_clean(problem: &Problem, counts: &[u32]) -> Option<AfterClean> {
    let unexplained = unexplained(problem, counts);
    if counts.len() != problem.len() || unexplained <= 0.0 {
        return None;
    }
    let causes = problem.items.iter().zip(counts);
    Some(AfterClean {
        unexplained,
        causes: causes.map(|(item, count)| missed(item, *count) / unexplained).collect(),
        none: problem.none / unexplained,
    })
}

/// Chance that a check's cause is the fault and that so many looks missed it.
fn missed(item: &Item, count: u32) -> f64 {
    // 0 to the power 0 is 1: before its first look a sure check missed nothing.
    item.check.probability * (1.0 - item.check.sensitivity).powf(f64::from(count))
}

fn unexplained(problem: &Problem, counts: &[u32]) -> f64 {
    let missed = problem.items.iter().zip(counts).map(|(item, count)| missed(item, *count));
    problem.none + missed.sum::<f64>()
}
