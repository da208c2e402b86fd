//! A job with everything on it: what the technician has in hand.

use analytics::words::{JobKind, Outcome, WorkedAs};
use serde::Serialize;

use super::checks::{self, Check};
use super::close::{Closing, Concluded, Standing, decide};
use super::labor::{self, LaborEntry};
use super::model::{Job, by_id, known_code, same_version, save};
use super::operations::{self, Operation};
use super::parts::{self, MoneyRights, PartOnJob};
use super::patch::standing;
use super::people::{self, JobPerson};
use super::proofs::{self, Proof};
use super::sublets::{self, Sublet};
use super::waits::{self, Wait};
use super::{cleanings, writable};
use crate::comebacks::model::{self as comebacks, Comeback};
use crate::comebacks::outside::{self, OutsideReturn};
use crate::comebacks::pay_back::{self, PayBack};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, PersonId};
use crate::domain::refusal::Refusal;
use crate::jobs::model::optional;
use crate::orders::planned;
use crate::shops::write::{About, ShopWrite};

/// A job with everything on it.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct WholeJob {
    #[serde(flatten)]
    pub job: Job,
    /// The job whose planned second visit this is.
    pub second_visit_of_job_id: Option<JobId>,
    /// Who is on it besides who leads it.
    pub people: Vec<JobPerson>,
    pub checks: Vec<Check>,
    pub parts: Vec<PartOnJob>,
    pub operations: Vec<Operation>,
    pub labor: Vec<LaborEntry>,
    pub waits: Vec<Wait>,
    pub sublets: Vec<Sublet>,
    pub proofs: Vec<Proof>,
    /// Comebacks that the job is part of, as the earlier or the later one.
    pub comebacks: Vec<Comeback>,
    /// What the customer told later of a repair that did not hold.
    pub outside_return: Option<OutsideReturn>,
    /// What suppliers paid back; empty for who may not see costs.
    pub pay_backs: Vec<PayBack>,
}

/// Reads a job whole.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn read(conn: &mut Conn, shop_id: i32, id: &JobId, rights: MoneyRights) -> Answer<WholeJob> {
    let job = by_id(conn, shop_id, id)?;
    let parts = parts::of_job(conn, shop_id, id)?;
    let parts = cleanings::told(conn, &job, parts)?;
    let operations = operations::of_job(conn, shop_id, id)?;
    let sublets = sublets::of_job(conn, shop_id, id)?;
    let pay_backs = if rights.costs { pay_back::of_job(conn, shop_id, id)? } else { Vec::new() };
    Ok(WholeJob {
        second_visit_of_job_id: planned::of_job(conn, shop_id, id)?,
        people: people::of_job(conn, shop_id, id)?,
        checks: checks::of_job(conn, shop_id, id)?,
        parts: parts.into_iter().map(|part| part.for_eyes(rights)).collect(),
        operations: operations.into_iter().map(|op| op.for_eyes(rights)).collect(),
        labor: labor::of_job(conn, shop_id, id)?,
        waits: waits::of_job(conn, shop_id, id)?,
        sublets: sublets.into_iter().map(|sublet| sublet.for_eyes(rights)).collect(),
        proofs: proofs::of_job(conn, shop_id, id)?,
        comebacks: comebacks::of_job(conn, shop_id, id)?,
        outside_return: outside::of_job(conn, shop_id, id)?,
        pay_backs,
        job,
    })
}

/// Closes a job and proposes comebacks anew with what is known now. A repaired
/// complaint that nobody leads is led from now on by whoever worked on it as
/// lead alone, else by who closes it: a return must belong to somebody.
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
    let before = writable::unfinished(write, id)?;
    same_version(&before, seen)?;
    let mut row = before.clone();
    let owes_lead = before.kind.0 == JobKind::Complaint && closing.outcome == Outcome::Repaired;
    if owes_lead && before.lead_id.is_none() {
        row.lead_id = Some(led_by(write, id)?);
    }
    let concluded = conclude(write, &row, closing)?;
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
    // What the job held already may stay, offered or not.
    if row.symptom != held.0 {
        known_code(write, "symptom", "symptom", row.symptom.as_deref())?;
    }
    if row.cause != held.1 {
        known_code(write, "cause", "cause", row.cause.as_deref())?;
    }
    if row.lead_id != before.lead_id {
        let target = writable::open(write, id)?;
        people::lead_changed(write, &target, row.lead_id.as_ref())?;
    }
    waits::end_running(write, &before, write.now)?;
    row.waiting_for = None;
    row.finished_at = Some(write.now);
    save(write, &mut row)?;
    write.stamp_order(&row.order_id)?;
    let about = About::new("job", &row.id).job(&row.id).order(&row.order_id);
    write.note(&about, "closed", Some(&before), Some(&row))?;
    if closing.outcome == Outcome::Repaired {
        comebacks::propose(write, &row, "close")?;
    }
    read(write.conn, write.shop.id, id, rights)
}

/// Who led a job that nobody was said to lead.
fn led_by(write: &mut ShopWrite<'_>, job: &JobId) -> Answer<PersonId> {
    let mut leads: Vec<PersonId> = labor::of_job(write.conn, write.shop.id, job)?
        .into_iter()
        .filter(|entry| entry.worked_as.0 == WorkedAs::Lead)
        .map(|entry| entry.person_id)
        .collect();
    leads.sort();
    leads.dedup();
    let alone = if leads.len() == 1 { leads.pop() } else { None };
    Ok(alone.unwrap_or_else(|| write.person.clone()))
}

fn conclude(write: &mut ShopWrite<'_>, row: &Job, closing: &Closing) -> Answer<Concluded> {
    let shop_id = write.shop.id;
    let running = labor::of_job(write.conn, shop_id, &row.id)?
        .iter()
        .filter(|entry| entry.ended_at.is_none())
        .count();
    let last_proof_passed = proofs::of_job(write.conn, shop_id, &row.id)?.last().map(|p| p.passed);
    let sublets = match closing.outcome {
        Outcome::Sublet => sublets::of_job(write.conn, shop_id, &row.id)?.len(),
        _ => 0,
    };
    let standing = Standing { running_labor: running, ..standing(row, last_proof_passed, sublets) };
    decide(standing, closing).map_err(|faults| Refusal::Invalid(faults).into())
}

/// Reopens a job before the vehicle is handed over: what was found stays.
///
/// # Errors
/// Stale; a conflict where it is open, or handed over.
pub fn reopen(
    write: &mut ShopWrite<'_>,
    id: &JobId,
    seen: i32,
    rights: MoneyRights,
) -> Answer<WholeJob> {
    let before = writable::finished(write, id)?;
    same_version(&before, seen)?;
    let mut row = before.clone();
    row.outcome = None;
    row.finished_at = None;
    save(write, &mut row)?;
    write.stamp_order(&row.order_id)?;
    let about = About::new("job", &row.id).job(&row.id).order(&row.order_id);
    write.note(&about, "reopened", Some(&before), Some(&row))?;
    read(write.conn, write.shop.id, id, rights)
}
