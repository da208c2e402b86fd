//! Proposals of the record: kept until they are decided.

use serde::Deserialize;

use super::change::{
    answer_action, blank, checked, make_room, next_number, note_version, owed_reason, put_in_force,
    seen_plan, touched,
};
use super::evidence::PlanEvidence;
use super::job::as_now;
use super::model::{self, VersionRow, WholePlan};
use super::sound;
use super::step::PlanStep;
use crate::codes::lists::Lists;
use crate::db::Answer;
use crate::domain::ids::{ActionId, CheckPlanId, CheckPlanVersionId};
use crate::domain::refusal::Refusal;
use crate::jobs::model::optional;
use crate::shops::write::ShopWrite;

/// What is decided on a proposed version.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanDecision {
    /// True takes it, false declines it.
    pub accept: bool,
    /// Owed where it is declined.
    pub reason: Option<String>,
    /// Taken with these steps in place of the proposed ones.
    pub steps: Option<Vec<PlanStep>>,
    /// The corrective action that it answers.
    pub action_id: Option<ActionId>,
}

/// Keeps what the record proposes, with what it was made from, until it is
/// decided.
///
/// # Errors
/// Not found, stale; a conflict where a proposal waits or the plan is withdrawn.
pub fn propose(
    write: &mut ShopWrite<'_>,
    id: &CheckPlanId,
    seen: i32,
    (steps, evidence): (&[PlanStep], &PlanEvidence),
) -> Answer<WholePlan> {
    let plan = seen_plan(write, id, seen)?;
    let rows = model::versions(write.conn, write.shop.id, id)?;
    if rows.iter().any(|row| row.state == "proposed") {
        return Err(Refusal::Conflict("a proposal waits: decide that first".into()).into());
    }
    let evidence = serde_json::to_string(evidence)
        .map_err(|error| crate::db::Fault::Unavailable(error.to_string()))?;
    let row = VersionRow {
        origin: "record".to_owned(),
        steps_json: model::steps_text(steps)?,
        evidence_json: Some(evidence),
        ..blank(write, id, next_number(&rows))
    };
    model::add_version(write.conn, &row)?;
    note_version(write, "proposed", None, &row)?;
    touched(write, &plan, "proposed")?;
    model::whole(write.conn, write.shop.id, id)
}

/// Takes a proposal, as it is or with other steps, or declines it.
///
/// # Errors
/// Not found, stale, faulty fields; a conflict where it is decided already.
pub fn decide(
    write: &mut ShopWrite<'_>,
    (id, version): (&CheckPlanId, &CheckPlanVersionId),
    seen: i32,
    decision: &PlanDecision,
) -> Answer<WholePlan> {
    let plan = seen_plan(write, id, seen)?;
    let rows = model::versions(write.conn, write.shop.id, id)?;
    let proposed = rows.iter().find(|row| row.id == *version).ok_or(Refusal::NotFound)?;
    if proposed.state != "proposed" {
        return Err(Refusal::Conflict("it is decided already".into()).into());
    }
    let reason = optional("reason", decision.reason.as_deref(), 1000)?;
    let mut decided = VersionRow {
        decided_by: Some(write.person.clone()),
        decided_at: Some(write.now),
        reason: reason.clone(),
        ..proposed.clone()
    };
    let action = match (decision.accept, &decision.steps) {
        (false, _) => {
            owed_reason(reason.as_deref().unwrap_or_default())?;
            decided.state = "declined".to_owned();
            "declined"
        }
        (true, None) => {
            allowed(write, &rows, &proposed.read()?.steps)?;
            make_room(write, &rows)?;
            decided.state = "in_force".to_owned();
            decided.from_at = Some(write.now);
            "accepted"
        }
        (true, Some(_)) => {
            decided.state = "declined".to_owned();
            decided.reason = Some("Taken with changes, as the version after it.".to_owned());
            "declined"
        }
    };
    model::save_standing(write.conn, &decided)?;
    note_version(write, action, Some(proposed), &decided)?;
    if let Some(steps) = decision.steps.as_ref().filter(|_| decision.accept) {
        let steps = allowed(write, &rows, steps)?;
        make_room(write, &rows)?;
        let row = VersionRow {
            origin: "record".to_owned(),
            steps_json: model::steps_text(&steps)?,
            evidence_json: proposed.evidence_json.clone(),
            reason,
            ..blank(write, id, next_number(&rows))
        };
        put_in_force(write, row)?;
    }
    touched(write, &plan, action)?;
    let action_id = decision.action_id.as_ref().filter(|_| decision.accept);
    answer_action(write, action_id, id)?;
    model::whole(write.conn, write.shop.id, id)
}

/// The steps of a proposal, sound and with every mandatory check of the version
/// in force.
fn allowed(
    write: &mut ShopWrite<'_>,
    rows: &[VersionRow],
    steps: &[PlanStep],
) -> Answer<Vec<PlanStep>> {
    let steps = checked(write, steps)?;
    let Some(row) = rows.iter().find(|row| row.state == "in_force") else { return Ok(steps) };
    let lists = Lists::load(write.conn, write.shop.id)?;
    let dropped = sound::dropped(&as_now(&lists, &row.read()?.steps), &steps);
    if dropped.is_empty() {
        return Ok(steps);
    }
    let detail = format!(
        "a proposal never drops what is mandatory: {}; change the plan itself to do so",
        dropped.join(", ")
    );
    Err(Refusal::field("steps", "mandatory", detail).into())
}
