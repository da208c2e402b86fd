//! Looks over the parts of a problem, and works out what each check waits for.

use super::parts::{Check, Cluster, MAX_MINUTES, ProblemError, ProblemParts};
use super::problem::{Door, Set, holds, only};

/// What probabilities that add up to 1 may miss it by.
const SUM_ROOM: f64 = 1e-9;

/// What the probabilities add up to, after a look at every number. Exactly 1
/// where they miss it by rounding.
pub(super) fn sound_total(checks: &[Check]) -> Result<f64, ProblemError> {
    let share = 0.0..=1.0;
    for (index, check) in checks.iter().enumerate() {
        if !(check.minutes > 0.0 && check.minutes <= MAX_MINUTES) {
            return Err(ProblemError::Minutes { check: index });
        }
        if !share.contains(&check.probability) {
            return Err(ProblemError::Probability { check: index });
        }
        if !share.contains(&check.sensitivity) {
            return Err(ProblemError::Sensitivity { check: index });
        }
    }
    let total: f64 = checks.iter().map(|check| check.probability).sum();
    if total > 1.0 + SUM_ROOM {
        return Err(ProblemError::ProbabilitySum);
    }
    Ok(if total >= 1.0 - SUM_ROOM { 1.0 } else { total })
}

/// A cluster and those it lies within, the innermost first.
pub(super) fn chain(clusters: &[Cluster], from: Option<usize>) -> Result<Vec<usize>, ProblemError> {
    let mut chain = Vec::new();
    let mut next = from;
    while let Some(cluster) = next {
        let Some(found) = clusters.get(cluster) else {
            return Err(ProblemError::UnknownCluster { cluster });
        };
        if chain.contains(&cluster) {
            return Err(ProblemError::WithinItself { cluster });
        }
        chain.push(cluster);
        next = found.within;
    }
    Ok(chain)
}

/// Each cluster's minutes, and the checks that have it open.
pub(super) fn doors(parts: &ProblemParts) -> Result<Vec<Door>, ProblemError> {
    let mut doors = Vec::with_capacity(parts.clusters.len());
    for (index, cluster) in parts.clusters.iter().enumerate() {
        if !(0.0..=MAX_MINUTES).contains(&cluster.opening_minutes) {
            return Err(ProblemError::Opening { cluster: index });
        }
        chain(&parts.clusters, Some(index))?;
        doors.push(Door { minutes: cluster.opening_minutes, opened_by: 0 });
    }
    for (index, check) in parts.checks.iter().enumerate() {
        for cluster in chain(&parts.clusters, check.cluster)? {
            if let Some(door) = doors.get_mut(cluster) {
                door.opened_by |= only(index);
            }
        }
    }
    Ok(doors)
}

/// For each check all that precede it: by the pairs, and by the first ones.
pub(super) fn before(parts: &ProblemParts) -> Result<Vec<Set>, ProblemError> {
    let count = parts.checks.len();
    let named = parts.pairs.iter().flat_map(|(a, b)| [a, b]).chain(&parts.first);
    if let Some(&check) = named.into_iter().find(|check| **check >= count) {
        return Err(ProblemError::UnknownCheck { check });
    }
    let mut first = 0;
    let mut before = vec![0; count];
    for &check in &parts.first {
        if holds(first, check) {
            return Err(ProblemError::FirstTwice { check });
        }
        before.get_mut(check).into_iter().for_each(|set| *set |= first);
        first |= only(check);
    }
    for (check, set) in before.iter_mut().enumerate() {
        if !holds(first, check) {
            *set |= first;
        }
        let direct = parts.pairs.iter().filter(|(_, after)| *after == check);
        *set = direct.fold(*set, |set, (earlier, _)| set | only(*earlier));
    }
    // Warshall (1962): what precedes a predecessor precedes.
    for middle in 0..count {
        let through = before.get(middle).copied().unwrap_or(0);
        before.iter_mut().filter(|set| holds(**set, middle)).for_each(|set| *set |= through);
    }
    match before.iter().enumerate().find(|(check, set)| holds(**set, *check)) {
        Some((check, _)) => Err(ProblemError::BeforeItself { check }),
        None => Ok(before),
    }
}
