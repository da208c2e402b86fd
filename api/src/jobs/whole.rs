//! A job with everything on it: what the technician has in hand.

use serde::Serialize;

use super::checks::{self, Check};
use super::close::{Closing, Standing, decide};
use super::labor::{self, LaborEntry};
use super::model::{Job, by_id, known_code, open_job, same_version, save};
use super::operations::{self, Operation};
use super::parts::{self, MoneyRights, PartUse};
use super::proofs::{self, Proof};
use crate::comebacks::model::{self as comebacks, Comeback};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::JobId;
use crate::domain::refusal::Refusal;
use crate::jobs::model::optional;
use crate::shops::write::ShopWrite;

/// A job with its checks, parts, operations, labor, proofs and comebacks.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct WholeJob {
    #[serde(flatten)]
    pub job: Job,
    pub checks: Vec<Check>,
    pub parts: Vec<PartUse>,
    pub operations: Vec<Operation>,
    pub labor: Vec<LaborEntry>,
    pub proofs: Vec<Proof>,
    /// Comebacks that the job is part of, as the earlier or the later one.
    pub comebacks: Vec<Comeback>,
}

/// Reads a job whole.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn read(conn: &mut Conn, shop_id: i32, id: &JobId, rights: MoneyRights) -> Answer<WholeJob> {
    let job = by_id(conn, shop_id, id)?;
    let parts = parts::of_job(conn, shop_id, id)?;
    let operations = operations::of_job(conn, shop_id, id)?;
    Ok(WholeJob {
        job,
        checks: checks::of_job(conn, shop_id, id)?,
        parts: parts.into_iter().map(|part| part.for_eyes(rights)).collect(),
        operations: operations.into_iter().map(|op| op.for_eyes(rights)).collect(),
        labor: labor::of_job(conn, shop_id, id)?,
        proofs: proofs::of_job(conn, shop_id, id)?,
        comebacks: comebacks::of_job(conn, shop_id, id)?,
    })
}

/// Closes a job and proposes comebacks anew with what is known now.
///
/// # Errors
/// What is missing; stale; a conflict where it is finished.
pub fn close(
    write: &mut ShopWrite<'_>,
    id: &JobId,
    seen: i32,
    closing: &Closing,
    rights: MoneyRights,
) -> Answer<WholeJob> {
    let mut row = open_job(write, id)?;
    same_version(&row, seen)?;
    let running = labor::of_job(write.conn, write.shop.id, id)?
        .iter()
        .filter(|entry| entry.ended_at.is_none())
        .count();
    let last_proof_passed = proofs::of_job(write.conn, write.shop.id, id)?.last().map(|p| p.passed);
    let standing = Standing {
        kind: row.kind.0,
        symptom: row.symptom.as_deref(),
        cause: row.cause.as_deref(),
        cause_state: row.cause_state.map(|state| state.0),
        cause_how: row.cause_how.as_deref(),
        correction: row.correction.as_deref(),
        running_labor: running,
        last_proof_passed,
    };
    let concluded = decide(standing, closing).map_err(Refusal::Invalid)?;
    row.outcome = Some(Word(closing.outcome));
    let held = (row.symptom.clone(), row.cause.clone());
    row.symptom = optional("symptom", concluded.symptom.as_deref(), 80)?;
    row.cause = optional("cause", concluded.cause.as_deref(), 80)?;
    row.cause_state = concluded.cause_state.map(Word);
    row.cause_how = optional("cause_how", concluded.cause_how.as_deref(), 1000)?;
    row.correction = optional("correction", concluded.correction.as_deref(), 4000)?;
    if let Some(position) = optional("cause_position", closing.cause_position.as_deref(), 100)? {
        row.cause_position = Some(position);
    }
    row.waiting_for = None;
    row.finished_at = Some(write.now);
    // What the job held already may stay, offered or not.
    if row.symptom != held.0 {
        known_code(write, "symptom", "symptom", row.symptom.as_deref())?;
    }
    if row.cause != held.1 {
        known_code(write, "cause", "cause", row.cause.as_deref())?;
    }
    save(write, &row)?;
    write.stamp_order(&row.order_id)?;
    if closing.outcome == analytics::words::Outcome::Repaired {
        let now = by_id(write.conn, write.shop.id, id)?;
        comebacks::propose(write, &now, "close")?;
    }
    read(write.conn, write.shop.id, id, rights)
}
