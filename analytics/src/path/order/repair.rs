//! The time until the vehicle is repaired, not only until the fault is found.

use super::parts::{MAX_MINUTES, OrderError};
use super::problem::Problem;

/// Expected minutes of checks and repair together, in one pass through an order
/// that names every check once: [`super::expected_minutes`] plus, for each
/// cause, its repair with the chance that the pass finds it or infers it. The
/// second part is the same for every order unless a cause may be inferred.
///
/// `repair_minutes` has one entry for each check: what repairing its cause
/// takes, 0 or more.
///
/// Source: Heckerman, Breese and Rommelse (1995) Communications of the ACM
/// 38(3):49-57 (from memory).
///
/// # Errors
///
/// Why the order cannot be followed, or a repair time that is missing or bad.
pub fn expected_with_repair(
    problem: &Problem,
    order: &[usize],
    repair_minutes: &[f64],
) -> Result<f64, OrderError> {
    let walk = problem.walk_all(order)?;
    let sound = repair_minutes.iter().all(|minutes| (0.0..=MAX_MINUTES).contains(minutes));
    if !sound || repair_minutes.len() != problem.len() {
        return Err(OrderError::RepairMinutes);
    }
    let repairs =
        problem.items.iter().zip(repair_minutes).enumerate().map(|(check, (item, minutes))| {
            let inferred = walk.inferred == Some(check);
            let chance = if inferred { item.check.probability } else { item.found() };
            chance * minutes
        });
    Ok(walk.minutes + repairs.sum::<f64>())
}
