//! Making plans, giving them another version, withdrawing them.

use std::collections::BTreeSet;

use serde::Deserialize;

use super::model::{self, CheckPlan, VersionRow, WholePlan};
use super::named;
use super::sound::{self, Known};
use super::starting;
use super::step::{PlanStep, trimmed};
use crate::codes::merge::end_of;
use crate::codes::model::{self as codes, CodeEntry};
use crate::codes::starting::CHECKS;
use crate::db::Answer;
use crate::db::types::Word;
use crate::domain::ids::{ActionId, CheckPlanId, CheckPlanVersionId};
use crate::domain::refusal::Refusal;
use crate::enquiries::action::{Answered, answered};
use crate::jobs::model::{no_faults, optional};
use crate::shops::write::{About, ShopWrite};

/// A new plan.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPlan {
    /// A code of the shop's list of symptoms.
    pub symptom: String,
    /// Only for this model; absent: for all.
    pub model: Option<String>,
    /// Only for this engine; absent: for all.
    pub engine: Option<String>,
    /// Absent: the steps of the starting plan for the symptom.
    pub steps: Option<Vec<PlanStep>>,
    pub reason: Option<String>,
    /// The corrective action that it answers.
    pub action_id: Option<ActionId>,
}

/// Another version of a plan, in force at once.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPlanVersion {
    pub steps: Vec<PlanStep>,
    /// What changes and why.
    pub reason: String,
    /// The corrective action that it answers.
    pub action_id: Option<ActionId>,
}

/// Why a plan is withdrawn.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanWithdrawal {
    pub reason: String,
}

/// The codes that a plan may name.
///
/// # Errors
/// Where the database does not answer.
pub fn known(write: &mut ShopWrite<'_>) -> Answer<Known> {
    let live = |entries: Vec<CodeEntry>| -> BTreeSet<String> {
        entries.into_iter().filter(CodeEntry::is_live).map(|entry| entry.code).collect()
    };
    let trained = write.shop.facts(write.conn)?.trained_checks;
    Ok(Known {
        checks: live(codes::entries(write.conn, write.shop.id, Some("check"))?),
        causes: live(codes::entries(write.conn, write.shop.id, Some("cause"))?),
        trained,
    })
}

/// Checks of the starting list that the shop does not have yet come into its
/// list with the plan that names them.
fn bring_checks(write: &mut ShopWrite<'_>, steps: &[PlanStep]) -> Answer<()> {
    for step in steps {
        let Some(check) = CHECKS.iter().find(|check| check.code == step.check) else { continue };
        if codes::find(write.conn, write.shop.id, "check", check.code)?.is_some() {
            continue;
        }
        let entry = CodeEntry {
            typical_minutes: Some(check.minutes),
            access: Some(Word(check.access)),
            source: Some(crate::codes::sources::of_entry("check", check.code)),
            ..CodeEntry::plain(write.shop.id, "check", check.code, check.label, "starting")
        };
        codes::add(write.conn, &entry)?;
        write.note(
            &About::new("code", format!("check/{}", entry.code)),
            "added",
            None,
            Some(&entry),
        )?;
    }
    Ok(())
}

pub(super) fn checked(write: &mut ShopWrite<'_>, steps: &[PlanStep]) -> Answer<Vec<PlanStep>> {
    let steps = trimmed(steps);
    bring_checks(write, &steps)?;
    no_faults(sound::faults(&steps, &known(write)?))?;
    Ok(steps)
}

pub(super) fn blank(write: &ShopWrite<'_>, plan: &CheckPlanId, number: i32) -> VersionRow {
    VersionRow {
        shop_id: write.shop.id,
        id: CheckPlanVersionId::make(),
        plan_id: plan.clone(),
        number,
        state: "proposed".to_owned(),
        origin: "own".to_owned(),
        steps_json: String::new(),
        evidence_json: None,
        reason: None,
        person_id: Some(write.person.clone()),
        made_at: write.now,
        decided_by: None,
        decided_at: None,
        from_at: None,
        to_at: None,
    }
}

pub(super) fn note_version(
    write: &mut ShopWrite<'_>,
    action: &str,
    before: Option<&VersionRow>,
    after: &VersionRow,
) -> Answer<()> {
    write.note(&About::new("check_plan_version", &after.id), action, before, Some(after))
}

/// Adds a version that is in force from now on.
pub(super) fn put_in_force(write: &mut ShopWrite<'_>, mut row: VersionRow) -> Answer<VersionRow> {
    row.state = "in_force".to_owned();
    row.from_at = Some(write.now);
    row.decided_by = Some(write.person.clone());
    row.decided_at = Some(write.now);
    model::add_version(write.conn, &row)?;
    note_version(write, "added", None, &row)?;
    Ok(row)
}

/// The version in force makes room for another.
pub(super) fn make_room(write: &mut ShopWrite<'_>, rows: &[VersionRow]) -> Answer<()> {
    for before in rows.iter().filter(|row| row.state == "in_force") {
        let after =
            VersionRow { state: "replaced".to_owned(), to_at: Some(write.now), ..before.clone() };
        model::save_standing(write.conn, &after)?;
        note_version(write, "replaced", Some(before), &after)?;
    }
    Ok(())
}

pub(super) fn next_number(rows: &[VersionRow]) -> i32 {
    rows.iter().map(|row| row.number).max().unwrap_or(0) + 1
}

/// The plan's version moves with each of its versions.
pub(super) fn touched(write: &mut ShopWrite<'_>, plan: &CheckPlan, action: &str) -> Answer<()> {
    let after = CheckPlan { version: plan.version + 1, ..plan.clone() };
    model::save_plan(write.conn, &after)?;
    write.note(&About::new("check_plan", &plan.id), action, Some(plan), Some(&after))
}

pub(super) fn answer_action(
    write: &mut ShopWrite<'_>,
    action: Option<&ActionId>,
    plan: &CheckPlanId,
) -> Answer<()> {
    match action {
        Some(action) => answered(write, action, Answered::Plan(plan.clone())),
        None => Ok(()),
    }
}

/// Makes a plan, in force from now on.
///
/// # Errors
/// Faulty fields; a conflict where there is a plan for the same vehicles.
pub fn make(write: &mut ShopWrite<'_>, new: &NewPlan) -> Answer<WholePlan> {
    let shop_id = write.shop.id;
    let symptom = new.symptom.trim().to_owned();
    codes::usable(write.conn, shop_id, "symptom", "symptom", &symptom)?;
    let named = (
        optional("model", new.model.as_deref(), 100)?,
        optional("engine", new.engine.as_deref(), 100)?,
    );
    let (model, engine) = named::as_written(write.conn, shop_id, named)?;
    let plan = CheckPlan {
        shop_id,
        id: CheckPlanId::make(),
        symptom,
        model,
        engine,
        made_at: write.now,
        withdrawn_at: None,
        withdrawn_reason: None,
        version: 1,
    };
    alone(write, &plan)?;
    let offered = starting::of(&plan.symptom).map(|plan| plan.steps());
    let Some(steps) = new.steps.clone().or_else(|| offered.clone()) else {
        let detail = "there is no starting plan for this symptom: give the steps";
        return Err(Refusal::field("steps", "required", detail).into());
    };
    let steps = checked(write, &steps)?;
    model::add_plan(write.conn, &plan)?;
    write.note(&About::new("check_plan", &plan.id), "added", None, Some(&plan))?;
    let starting = offered.is_some_and(|offered| trimmed(&offered) == steps);
    let row = VersionRow {
        origin: if starting { "starting" } else { "own" }.to_owned(),
        steps_json: model::steps_text(&steps)?,
        reason: optional("reason", new.reason.as_deref(), 1000)?,
        ..blank(write, &plan.id, 1)
    };
    put_in_force(write, row)?;
    answer_action(write, new.action_id.as_ref(), &plan.id)?;
    model::whole(write.conn, shop_id, &plan.id)
}

/// Two plans for the same vehicles would leave open which one counts.
fn alone(write: &mut ShopWrite<'_>, plan: &CheckPlan) -> Answer<()> {
    let same = |one: &Option<String>, other: &Option<String>| match (one, other) {
        (Some(one), Some(other)) => model::same_name(one, other),
        (one, other) => one.is_none() && other.is_none(),
    };
    let symptoms = model::symptoms(write.conn, write.shop.id)?;
    let symptom = end_of(&symptoms, &plan.symptom);
    let mut others = model::plans(write.conn, write.shop.id, false)?.into_iter();
    let twin = others.any(|other| {
        end_of(&symptoms, &other.symptom) == symptom
            && same(&other.model, &plan.model)
            && same(&other.engine, &plan.engine)
    });
    if twin {
        let detail = "there is a plan for this symptom and these vehicles: give it another version";
        return Err(Refusal::Conflict(detail.to_owned()).into());
    }
    Ok(())
}

/// The plan as the writer saw it, still followed.
pub(super) fn seen_plan(
    write: &mut ShopWrite<'_>,
    id: &CheckPlanId,
    seen: i32,
) -> Answer<CheckPlan> {
    let plan = model::by_id(write.conn, write.shop.id, id)?;
    if plan.version != seen {
        return Err(Refusal::Stale(plan.version).into());
    }
    if plan.withdrawn_at.is_some() {
        return Err(Refusal::Conflict("the plan is withdrawn: make a new one".into()).into());
    }
    Ok(plan)
}

pub(super) fn owed_reason(reason: &str) -> Answer<String> {
    let owed = || Refusal::field("reason", "required", "say why");
    optional("reason", Some(reason), 1000)?.ok_or_else(|| owed().into())
}

/// Gives a plan another version, in force from now on.
///
/// # Errors
/// Not found, stale, faulty fields; a conflict where it is withdrawn.
pub fn revise(
    write: &mut ShopWrite<'_>,
    id: &CheckPlanId,
    seen: i32,
    new: &NewPlanVersion,
) -> Answer<WholePlan> {
    let plan = seen_plan(write, id, seen)?;
    let reason = owed_reason(&new.reason)?;
    let steps = checked(write, &new.steps)?;
    let rows = model::versions(write.conn, write.shop.id, id)?;
    make_room(write, &rows)?;
    let row = VersionRow {
        steps_json: model::steps_text(&steps)?,
        reason: Some(reason),
        ..blank(write, id, next_number(&rows))
    };
    put_in_force(write, row)?;
    touched(write, &plan, "changed")?;
    answer_action(write, new.action_id.as_ref(), id)?;
    model::whole(write.conn, write.shop.id, id)
}

/// Withdraws a plan: jobs follow it no more.
///
/// # Errors
/// Not found, stale, faulty fields; a conflict where it is withdrawn.
pub fn withdraw(
    write: &mut ShopWrite<'_>,
    id: &CheckPlanId,
    seen: i32,
    reason: &str,
) -> Answer<WholePlan> {
    let before = seen_plan(write, id, seen)?;
    let reason = owed_reason(reason)?;
    let rows = model::versions(write.conn, write.shop.id, id)?;
    make_room(write, &rows)?;
    for waiting in rows.iter().filter(|row| row.state == "proposed") {
        let after = VersionRow {
            state: "declined".to_owned(),
            decided_by: Some(write.person.clone()),
            decided_at: Some(write.now),
            reason: Some("The plan was withdrawn.".to_owned()),
            ..waiting.clone()
        };
        model::save_standing(write.conn, &after)?;
        note_version(write, "declined", Some(waiting), &after)?;
    }
    let after = CheckPlan {
        withdrawn_at: Some(write.now),
        withdrawn_reason: Some(reason),
        version: before.version + 1,
        ..before.clone()
    };
    model::save_plan(write.conn, &after)?;
    write.note(&About::new("check_plan", id), "withdrawn", Some(&before), Some(&after))?;
    model::whole(write.conn, write.shop.id, id)
}
