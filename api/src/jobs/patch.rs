//! Changes to a job's own fields, while it is open and as a correction.

use analytics::words::{CauseState, Outcome};
use serde::Deserialize;

use super::close::Standing;
use super::correct;
use super::model::{Job, WAITS, known_code, known_person, optional, save};
use super::writable::{self, Writable};
use super::{people, proofs, sublets, waits};
use crate::db::Answer;
use crate::db::types::Word;
use crate::domain::ids::{JobId, PersonId};
use crate::domain::refusal::Refusal;
use crate::shops::write::ShopWrite;
use crate::web::body::present;

/// A change to a job. Absent fields stay, null removes.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JobPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub symptom: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub cause: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<CauseState>)]
    pub cause_state: Option<Option<CauseState>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub cause_how: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub cause_position: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub correction: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<PersonId>)]
    pub lead_id: Option<Option<PersonId>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub bay: Option<Option<String>>,
    /// `part`, `customer`, `sublet` or `bay`: starts that wait; null ends the one
    /// that runs.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub waiting_for: Option<Option<String>>,
    /// How it ended: only to correct a job that has ended.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Outcome>)]
    pub outcome: Option<Option<Outcome>>,
}

/// Applies a merge patch to a job.
///
/// # Errors
/// Stale, faulty fields, a conflict where it has ended and the writer may not
/// correct it.
pub fn change(write: &mut ShopWrite<'_>, id: &JobId, seen: i32, change: &JobPatch) -> Answer<Job> {
    let target = writable::open(write, id)?;
    target.seen(seen)?;
    let mut row = target.job.clone();
    texts(&mut row, change)?;
    cause(&mut row, change)?;
    if let Some(lead) = &change.lead_id {
        row.lead_id = lead.clone();
    }
    known(write, &target.job, &row)?;
    if target.reach.is_correction() {
        corrected(write, &target.job, &mut row, change)?;
    } else if change.outcome.is_some() {
        return Err(Refusal::field(
            "outcome",
            "open_job",
            "close the job to say how it ended; leave this out",
        )
        .into());
    }
    wait(write, &target, &mut row, change)?;
    if row.lead_id != target.job.lead_id {
        people::lead_changed(write, &target, row.lead_id.as_ref())?;
    }
    save(write, &mut row)?;
    target.mark(write)?;
    write.note(&target.about("job", &row.id), "changed", Some(&target.job), Some(&row))?;
    if told_by(&row) != told_by(&target.job) {
        target.propose(write)?;
    }
    Ok(row)
}

fn texts(row: &mut Job, change: &JobPatch) -> Answer<()> {
    let set = |field: &str,
               to: &mut Option<String>,
               new: &Option<Option<String>>,
               most: usize|
     -> Answer<()> {
        if let Some(new) = new {
            *to = optional(field, new.as_deref(), most)?;
        }
        Ok(())
    };
    set("symptom", &mut row.symptom, &change.symptom, 80)?;
    set("cause", &mut row.cause, &change.cause, 80)?;
    set("cause_how", &mut row.cause_how, &change.cause_how, 1000)?;
    set("cause_position", &mut row.cause_position, &change.cause_position, 100)?;
    set("correction", &mut row.correction, &change.correction, 4000)?;
    set("bay", &mut row.bay, &change.bay, 40)
}

fn cause(row: &mut Job, change: &JobPatch) -> Answer<()> {
    if let Some(state) = change.cause_state {
        row.cause_state = state.map(Word);
    }
    match (&row.cause, row.cause_state) {
        (Some(_), None) => row.cause_state = Some(Word(CauseState::Suspected)),
        (None, Some(_)) if change.cause_state.flatten().is_some() => {
            return Err(Refusal::field("cause", "required", "name the cause, too").into());
        }
        (None, Some(_)) => row.cause_state = None,
        _ => {}
    }
    Ok(())
}

/// What was put in anew must be known; what stood before may have left the
/// lists since.
fn known(write: &mut ShopWrite<'_>, before: &Job, row: &Job) -> Answer<()> {
    if row.symptom != before.symptom {
        known_code(write, "symptom", "symptom", row.symptom.as_deref())?;
    }
    if row.cause != before.cause {
        known_code(write, "cause", "cause", row.cause.as_deref())?;
    }
    if row.lead_id != before.lead_id {
        known_person(write, "lead_id", row.lead_id.as_ref())?;
    }
    Ok(())
}

type ToldBy<'a> =
    (Option<&'a str>, Option<&'a str>, Option<Word<CauseState>>, Option<Word<Outcome>>);

/// What a comeback is recognized by.
fn told_by(row: &Job) -> ToldBy<'_> {
    (row.symptom.as_deref(), row.cause.as_deref(), row.cause_state, row.outcome)
}

/// Sets what the job waits for, through the waits themselves.
fn wait(
    write: &mut ShopWrite<'_>,
    target: &Writable,
    row: &mut Job,
    change: &JobPatch,
) -> Answer<()> {
    let Some(wanted) = &change.waiting_for else { return Ok(()) };
    let wanted = optional("waiting_for", wanted.as_deref(), 40)?;
    if wanted.as_deref().is_some_and(|word| !WAITS.contains(&word)) {
        return Err(Refusal::field(
            "waiting_for",
            "word",
            format!("choose one of: {}", WAITS.join(", ")),
        )
        .into());
    }
    if wanted == row.waiting_for {
        return Ok(());
    }
    if target.reach.is_correction() {
        return Err(Refusal::field(
            "waiting_for",
            "finished",
            "a job that has ended waits for nothing; leave this out",
        )
        .into());
    }
    waits::end_running(write, &target.job, write.now)?;
    if let Some(word) = &wanted {
        waits::begin(write, &target.job, waits::NewWait::of(word))?;
    }
    row.waiting_for = wanted;
    Ok(())
}

fn corrected(
    write: &mut ShopWrite<'_>,
    before: &Job,
    row: &mut Job,
    change: &JobPatch,
) -> Answer<()> {
    let Some(was) = before.outcome else {
        return Err(Refusal::Conflict("the job never ended; nothing to correct".into()).into());
    };
    let Some(now) = change.outcome.unwrap_or(Some(was.0)) else {
        return Err(Refusal::field(
            "outcome",
            "required",
            "choose how it ended; to go on working, reopen the job",
        )
        .into());
    };
    let shop_id = write.shop.id;
    let last_proof_passed = proofs::of_job(write.conn, shop_id, &row.id)?.last().map(|p| p.passed);
    let sublets = sublets::of_job(write.conn, shop_id, &row.id)?.len();
    correct::decide(
        &correct::Ended { standing: standing(before, last_proof_passed, sublets), outcome: was.0 },
        &correct::Ended { standing: standing(row, last_proof_passed, sublets), outcome: now },
    )
    .map_err(Refusal::Invalid)?;
    row.outcome = Some(Word(now));
    row.corrected_at = Some(write.now);
    Ok(())
}

/// A job as the decisions see it.
pub(super) fn standing(row: &Job, last_proof_passed: Option<bool>, sublets: usize) -> Standing<'_> {
    Standing {
        kind: row.kind.0,
        symptom: row.symptom.as_deref(),
        cause: row.cause.as_deref(),
        cause_state: row.cause_state.map(|state| state.0),
        cause_how: row.cause_how.as_deref(),
        correction: row.correction.as_deref(),
        running_labor: 0,
        last_proof_passed,
        sublets,
        led: row.lead_id.is_some(),
    }
}
