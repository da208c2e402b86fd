//! Closing a job, with the checks and parts that are typed in with it: what is
//! needed is looked at once, the rows are written once, and the answer is put
//! together from both.

use analytics::words::{JobKind, Outcome, WorkedAs};

use super::checks::{self, Check};
use super::cleanings::Known;
use super::close::{Closing, Concluded, decide};
use super::hanging::{self, Hanging};
use super::labor::{self, LaborEntry};
use super::model::{Job, gather, known_code, no_faults, optional, same_version, save};
use super::parts::{self, MoneyRights, PartOnJob};
use super::patch::standing;
use super::whole::{self, WholeJob, any};
use super::writable::{self, Visit};
use super::{people, proofs, sublets, waits};
use crate::comebacks::model as comebacks;
use crate::db::Answer;
use crate::db::types::Word;
use crate::domain::ids::{JobId, PersonId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::shops::write::{About, ShopWrite};

/// Lines of one kind that come with a close.
const MOST_LINES: usize = 200;

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
    let (before, visit) = writable::at_work(write, id)?;
    same_version(&before, seen)?;
    let hangs = hanging::of_job(write.conn, write.shop.id, id)?;
    let mut faults = Vec::new();
    let row = concluded(write, &before, closing, (hangs, &mut faults))?;
    let lines = Lines::read(write, (&row, &visit), closing, hangs)?;
    let new = lines.typed(write, &row, closing, (rights, &mut faults))?;
    no_faults(faults)?;
    let row = end(write, &before, row, &new)?;
    let proposed = closing.outcome == Outcome::Repaired
        && comebacks::propose_on(write, &row, (&visit.vehicle, visit.opened_on), "close")?;
    let hangs = Hanging { comebacks: hangs.comebacks || proposed, ..hangs };
    whole::around(write.conn, lines.with(row, new), hangs, rights)
}

/// The job as it is to be, and what is missing.
fn concluded(
    write: &mut ShopWrite<'_>,
    before: &Job,
    closing: &Closing,
    (hangs, faults): (Hanging, &mut Vec<FieldFault>),
) -> Answer<Job> {
    let (shop_id, id) = (write.shop.id, &before.id);
    let labor = any(hangs.labor, || labor::of_job(write.conn, shop_id, id))?;
    let proofs = any(hangs.proofs, || proofs::of_job(write.conn, shop_id, id))?;
    let asks_sublets = hangs.sublets && closing.outcome == Outcome::Sublet;
    let sublets = any(asks_sublets, || sublets::of_job(write.conn, shop_id, id))?.len();
    let mut row = Job { outcome: Some(Word(closing.outcome)), ..before.clone() };
    let owes_lead = before.kind.0 == JobKind::Complaint && closing.outcome == Outcome::Repaired;
    if owes_lead && before.lead_id.is_none() {
        row.lead_id = Some(led_by(&labor, write.person));
    }
    let mut stands = standing(&row, proofs.last().map(|proof| proof.passed), sublets);
    stands.running_labor = labor.iter().filter(|entry| entry.ended_at.is_none()).count();
    match decide(stands, closing) {
        Ok(concluded) => {
            let filled = fill(write, &mut row, &concluded, closing);
            gather(filled, "", faults)?;
        }
        Err(found) => faults.extend(found),
    }
    Ok(row)
}

/// Who led a job that nobody was said to lead.
fn led_by(labor: &[LaborEntry], closes: &PersonId) -> PersonId {
    let as_lead = labor.iter().filter(|entry| entry.worked_as.0 == WorkedAs::Lead);
    let mut leads: Vec<&PersonId> = as_lead.map(|entry| &entry.person_id).collect();
    leads.sort();
    leads.dedup();
    match leads.as_slice() {
        [alone] => (*alone).clone(),
        _ => closes.clone(),
    }
}

fn fill(
    write: &mut ShopWrite<'_>,
    row: &mut Job,
    concluded: &Concluded,
    closing: &Closing,
) -> Answer<()> {
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
    Ok(())
}

/// The checks and parts of a job, and what its parts are judged by.
struct Lines {
    checks: Vec<Check>,
    parts: Vec<PartOnJob>,
    /// Absent: no part is there and none is sent.
    known: Option<Known>,
}

impl Lines {
    fn read(
        write: &mut ShopWrite<'_>,
        (row, visit): (&Job, &Visit),
        closing: &Closing,
        hangs: Hanging,
    ) -> Answer<Self> {
        let shop_id = write.shop.id;
        let checks = any(hangs.checks, || checks::of_job(write.conn, shop_id, &row.id))?;
        let parts = any(hangs.parts, || parts::of_job(write.conn, shop_id, &row.id))?;
        if parts.is_empty() && closing.parts.is_empty() {
            return Ok(Self { checks, parts: Vec::new(), known: None });
        }
        let known = Known::read(write.conn, shop_id, visit)?;
        Ok(Self { checks, parts: known.told(row, parts), known: Some(known) })
    }

    /// The rows of what is sent, behind those that stand.
    fn typed(
        &self,
        write: &mut ShopWrite<'_>,
        row: &Job,
        closing: &Closing,
        (rights, faults): (MoneyRights, &mut Vec<FieldFault>),
    ) -> Answer<(Vec<Check>, Vec<PartOnJob>)> {
        for (field, sent) in [("checks", closing.checks.len()), ("parts", closing.parts.len())] {
            if sent > MOST_LINES {
                let most = format!("send at most {MOST_LINES} with a close");
                return Err(Refusal::field(field, "too_many", most).into());
            }
        }
        let last = self.checks.last().map_or(0, |check| check.seq);
        let checks = checks::typed_at_close(write, &row.id, last, (&closing.checks, &mut *faults))?;
        let last = self.parts.last().map_or(0, |on| on.part.line);
        let parts = match &self.known {
            Some(known) => parts::at_close((row, last), known, rights, (&closing.parts, faults))?,
            None => Vec::new(),
        };
        Ok((checks, parts))
    }

    /// All lines of the closed job.
    fn with(
        self,
        row: Job,
        (checks, parts): (Vec<Check>, Vec<PartOnJob>),
    ) -> (Job, Vec<Check>, Vec<PartOnJob>) {
        let checks = self.checks.into_iter().chain(checks).collect();
        (row, checks, self.parts.into_iter().chain(parts).collect())
    }
}

/// Writes what was decided.
fn end(
    write: &mut ShopWrite<'_>,
    before: &Job,
    mut row: Job,
    (checks, parts): &(Vec<Check>, Vec<PartOnJob>),
) -> Answer<Job> {
    if row.lead_id != before.lead_id {
        let target = writable::open(write, &row.id)?;
        people::lead_changed(write, &target, row.lead_id.as_ref())?;
    }
    waits::end_running(write, before, write.now)?;
    row.waiting_for = None;
    row.finished_at = Some(write.now);
    checks::insert_all(write, before, checks)?;
    parts::insert_all(write, before, parts)?;
    save(write, &mut row)?;
    write.stamp_order(&row.order_id)?;
    let about = About::new("job", &row.id).job(&row.id).order(&row.order_id);
    write.note(&about, "closed", Some(before), Some(&row))?;
    Ok(row)
}
