//! Writing corrective actions: agreed on, changed, ended, looked back on.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Deserialize;

use super::action::{CorrectiveAction, by_id};
use super::closure::{self, State, Step};
use super::model as enquiries;
use crate::db::Answer;
use crate::db::schema::corrective_action;
use crate::domain::day;
use crate::domain::ids::{ActionId, EnquiryId, PersonId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::text;
use crate::jobs::model::{known_person, no_faults, optional};
use crate::shops::write::{About, ShopWrite};
use crate::web::body::{given, present};

/// What a shop may change.
pub const KINDS: &[&str] = &["rule", "check_plan", "training", "supplier", "other"];

/// An action as agreed on.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAction {
    /// The enquiry it comes of, if any.
    pub enquiry_id: Option<EnquiryId>,
    /// `rule`, `check_plan`, `training`, `supplier`, `other`.
    pub kind: String,
    pub words: String,
    /// Who sees to it; absent: who asks.
    pub owner_id: Option<PersonId>,
    pub due_on: Option<NaiveDate>,
}

/// A change to an action. Absent fields stay.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ActionPatch {
    #[serde(default, deserialize_with = "given")]
    pub kind: Option<String>,
    #[serde(default, deserialize_with = "given")]
    pub words: Option<String>,
    #[serde(default, deserialize_with = "given")]
    pub owner_id: Option<PersonId>,
    /// Null removes the day.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<NaiveDate>)]
    pub due_on: Option<Option<NaiveDate>>,
}

/// How an action ends.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Ending {
    /// `done` or `dropped`.
    pub state: String,
    /// Owed where it is dropped.
    pub note: Option<String>,
}

/// Whether an action keeps the trouble away.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Verification {
    pub held: bool,
    /// What it is judged by.
    pub how: String,
}

fn about(row: &CorrectiveAction) -> About<'_> {
    About::new("corrective_action", &row.id)
}

fn faults(kind: &str, due_on: Option<NaiveDate>) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    if !KINDS.contains(&kind) {
        let detail = format!("choose one of: {}", KINDS.join(", "));
        faults.push(FieldFault::new("kind", "word", detail));
    }
    faults.extend(due_on.and_then(|on| day::known("due_on", on).err()));
    faults
}

fn owed(field: &str, text: &str, most: usize, faults: &mut Vec<FieldFault>) -> String {
    text::required(field, text, most).unwrap_or_else(|fault| {
        faults.push(fault);
        String::new()
    })
}

/// A closed enquiry takes no action more, and none of its actions opens again.
fn refuse_closed(write: &mut ShopWrite<'_>, enquiry: Option<&EnquiryId>) -> Answer<()> {
    let Some(id) = enquiry else { return Ok(()) };
    if enquiries::by_id(write.conn, write.shop.id, id)?.closed_on.is_none() {
        return Ok(());
    }
    Err(Refusal::Conflict("its enquiry is closed: reopen that first".into()).into())
}

/// Agrees on an action.
///
/// # Errors
/// Faulty fields; not found, or a conflict, where its enquiry is not there or is
/// closed.
pub fn add(write: &mut ShopWrite<'_>, new: &NewAction) -> Answer<CorrectiveAction> {
    let mut faults = faults(&new.kind, new.due_on);
    let words = owed("words", &new.words, 2000, &mut faults);
    no_faults(faults)?;
    refuse_closed(write, new.enquiry_id.as_ref())?;
    known_person(write, "owner_id", new.owner_id.as_ref())?;
    let row = CorrectiveAction {
        shop_id: write.shop.id,
        id: ActionId::make(),
        enquiry_id: new.enquiry_id.clone(),
        kind: new.kind.clone(),
        words,
        owner_id: new.owner_id.clone().unwrap_or_else(|| write.person.clone()),
        due_on: new.due_on,
        state: State::Open.as_str().to_owned(),
        done_on: None,
        done_note: None,
        rule_id: None,
        plan_id: None,
        verified_on: None,
        verified_by: None,
        verified_how: None,
        held: None,
        made_by: write.person.clone(),
        made_at: write.now,
        version: 1,
    };
    diesel::insert_into(corrective_action::table).values(&row).execute(write.conn)?;
    write.note(&about(&row), "added", None, Some(&row))?;
    Ok(row)
}

fn seen(write: &mut ShopWrite<'_>, id: &ActionId, version: i32) -> Answer<CorrectiveAction> {
    let row = by_id(write.conn, write.shop.id, id)?;
    if row.version == version { Ok(row) } else { Err(Refusal::Stale(row.version).into()) }
}

fn save(
    write: &mut ShopWrite<'_>,
    before: &CorrectiveAction,
    mut row: CorrectiveAction,
    action: &str,
) -> Answer<CorrectiveAction> {
    row.version += 1;
    diesel::update(corrective_action::table.find((write.shop.id, &row.id)))
        .set(&row)
        .execute(write.conn)?;
    write.note(&about(&row), action, Some(before), Some(&row))?;
    Ok(row)
}

/// Changes an action that is open.
///
/// # Errors
/// Not found, stale, faulty fields; a conflict where it has ended.
pub fn change(
    write: &mut ShopWrite<'_>,
    id: &ActionId,
    version: i32,
    patch: &ActionPatch,
) -> Answer<CorrectiveAction> {
    let before = seen(write, id, version)?;
    if before.state != State::Open.as_str() {
        return Err(Refusal::Conflict("the action has ended: reopen it first".into()).into());
    }
    let mut row = before.clone();
    row.kind = patch.kind.clone().unwrap_or(row.kind);
    row.due_on = patch.due_on.unwrap_or(row.due_on);
    let mut faults = faults(&row.kind, row.due_on);
    if let Some(words) = &patch.words {
        row.words = owed("words", words, 2000, &mut faults);
    }
    no_faults(faults)?;
    if let Some(owner) = &patch.owner_id {
        known_person(write, "owner_id", Some(owner))?;
        row.owner_id = owner.clone();
    }
    save(write, &before, row, "changed")
}

fn stepped(row: &CorrectiveAction, step: Step) -> Answer<State> {
    let state = State::parse(&row.state).ok_or(Refusal::NotFound)?;
    Ok(closure::step(state, step)?)
}

/// Ends an action: done, or dropped.
///
/// # Errors
/// Not found, stale, faulty fields; a conflict where it has ended.
pub fn end(
    write: &mut ShopWrite<'_>,
    id: &ActionId,
    version: i32,
    ending: &Ending,
) -> Answer<CorrectiveAction> {
    let before = seen(write, id, version)?;
    let step = match State::parse(&ending.state) {
        Some(State::Done) => Step::Finish,
        Some(State::Dropped) => Step::Drop,
        _ => return Err(Refusal::field("state", "word", "choose done or dropped").into()),
    };
    let state = stepped(&before, step)?;
    let note = optional("note", ending.note.as_deref(), 2000)?;
    if state == State::Dropped && note.is_none() {
        return Err(Refusal::field("note", "required", "say why it is dropped").into());
    }
    let row = CorrectiveAction {
        state: state.as_str().to_owned(),
        done_on: Some(write.shop.zone().day(write.now)),
        done_note: note,
        ..before.clone()
    };
    save(write, &before, row, state.as_str())
}

/// Opens an action again that had ended; what was said of it since is gone with
/// the ending.
///
/// # Errors
/// Not found, stale; a conflict where it is open, or its enquiry closed.
pub fn reopen(write: &mut ShopWrite<'_>, id: &ActionId, version: i32) -> Answer<CorrectiveAction> {
    let before = seen(write, id, version)?;
    let state = stepped(&before, Step::Reopen)?;
    refuse_closed(write, before.enquiry_id.as_ref())?;
    let row = CorrectiveAction {
        state: state.as_str().to_owned(),
        done_on: None,
        done_note: None,
        verified_on: None,
        verified_by: None,
        verified_how: None,
        held: None,
        ..before.clone()
    };
    save(write, &before, row, "reopened")
}

/// Says whether an action keeps the trouble away. Saying it again replaces what
/// was said.
///
/// # Errors
/// Not found, stale, faulty fields; a conflict where it is not done.
pub fn verify(
    write: &mut ShopWrite<'_>,
    id: &ActionId,
    version: i32,
    said: &Verification,
) -> Answer<CorrectiveAction> {
    let before = seen(write, id, version)?;
    stepped(&before, Step::Verify)?;
    let mut faults = Vec::new();
    let how = owed("how", &said.how, 2000, &mut faults);
    no_faults(faults)?;
    let row = CorrectiveAction {
        verified_on: Some(write.shop.zone().day(write.now)),
        verified_by: Some(write.person.clone()),
        verified_how: Some(how),
        held: Some(said.held),
        ..before.clone()
    };
    save(write, &before, row, "verified")
}
