//! The plan that a job follows, and how far it has come in it.

use analytics::words::{CauseState, Finding, JobKind};
use serde::Serialize;

use super::model::{CheckPlan, PlanInForce, PlanVersion, choose, of_symptom};
use super::step::PlanStep;
use super::walk::{Made, Standing, standings};
use crate::codes::lists::Lists;
use crate::db::{Answer, Conn};
use crate::domain::ids::{CheckPlanId, CheckPlanVersionId};
use crate::jobs::checks::Check;
use crate::jobs::model::Job;
use crate::vehicles::model::Vehicle;

/// A job's plan.
#[derive(Debug, Clone)]
pub struct JobPlan {
    pub followed: PlanInForce,
    /// The steps, under the codes that they count as now, and where each stands.
    pub steps: Vec<(PlanStep, Standing)>,
}

/// A step of a job's plan.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct JobStep {
    #[serde(flatten)]
    pub step: PlanStep,
    /// `made`, `skipped` (with a reason), `passed_over` (nobody said why),
    /// `next` or `ahead`.
    pub standing: &'static str,
    /// What it showed.
    pub found: Option<Finding>,
    /// Why it was not done.
    pub not_done_reason: Option<String>,
}

/// The plan of a job, as programs read it.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct JobPlanView {
    /// Absent: there is no plan for this symptom and vehicle.
    pub plan_id: Option<CheckPlanId>,
    pub version_id: Option<CheckPlanVersionId>,
    pub number: Option<i32>,
    pub symptom: Option<String>,
    /// What the plan is for, where it is for fewer than all vehicles.
    pub model: Option<String>,
    pub engine: Option<String>,
    pub steps: Vec<JobStep>,
}

/// Whether no more checks are to be expected on a job.
#[must_use]
pub fn ends(job: &Job) -> bool {
    job.outcome.is_some() || job.cause_state.is_some_and(|word| word.0 == CauseState::Confirmed)
}

/// The job's checks, under the codes that they count as now.
#[must_use]
pub fn made(lists: &Lists, checks: &[Check]) -> Vec<Made> {
    let made = |check: &Check| Made {
        check: lists.now("check", &check.code),
        finding: check.finding.map(|word| word.0),
        reason: check.not_done_reason.clone(),
    };
    checks.iter().map(made).collect()
}

/// Steps under the codes that they count as now. Of two that were merged the
/// first stays.
#[must_use]
pub fn as_now(lists: &Lists, steps: &[PlanStep]) -> Vec<PlanStep> {
    let mut now: Vec<PlanStep> = Vec::with_capacity(steps.len());
    for step in steps {
        let check = lists.now("check", &step.check);
        if now.iter().any(|other| other.check == check) {
            continue;
        }
        let after = step.after.iter().map(|code| lists.now("check", code));
        let after = after.filter(|code| now.iter().any(|other| other.check == *code)).collect();
        now.push(PlanStep { check, after, ..step.clone() });
    }
    now
}

/// The plan of a complaint job: the one in force, or, where the job has ended,
/// the one that was in force then.
///
/// # Errors
/// Where the database does not answer.
pub fn of(
    conn: &mut Conn,
    lists: &Lists,
    (job, vehicle): (&Job, &Vehicle),
    checks: &[Check],
) -> Answer<Option<JobPlan>> {
    let Some(symptom) = job.symptom.as_deref().filter(|_| job.kind.0 == JobKind::Complaint) else {
        return Ok(None);
    };
    let plans = of_symptom(conn, job.shop_id, symptom)?;
    let named = (vehicle.model.as_deref(), vehicle.engine.as_deref());
    let chosen = choose(&plans, named, job.finished_at.filter(|_| job.outcome.is_some()));
    Ok(chosen.map(|(plan, version)| followed(lists, (plan, version), job, checks)))
}

fn followed(
    lists: &Lists,
    (plan, version): (&CheckPlan, &PlanVersion),
    job: &Job,
    checks: &[Check],
) -> JobPlan {
    let steps = as_now(lists, &version.steps);
    let stand = standings(&steps, &made(lists, checks), ends(job));
    JobPlan {
        followed: PlanInForce { plan: plan.clone(), version: version.clone() },
        steps: steps.into_iter().zip(stand).collect(),
    }
}

impl JobPlanView {
    /// As programs read it.
    #[must_use]
    pub fn of(plan: Option<JobPlan>) -> Self {
        let Some(plan) = plan else {
            return Self {
                plan_id: None,
                version_id: None,
                number: None,
                symptom: None,
                model: None,
                engine: None,
                steps: Vec::new(),
            };
        };
        let PlanInForce { plan: row, version } = plan.followed;
        Self {
            plan_id: Some(row.id),
            version_id: Some(version.id),
            number: Some(version.number),
            symptom: Some(row.symptom),
            model: row.model,
            engine: row.engine,
            steps: plan.steps.into_iter().map(|(step, standing)| viewed(step, standing)).collect(),
        }
    }
}

fn viewed(step: PlanStep, standing: Standing) -> JobStep {
    let (word, found, reason) = match standing {
        Standing::Made(found) => ("made", found, None),
        Standing::Said(reason) => ("skipped", None, Some(reason)),
        Standing::PassedOver => ("passed_over", None, None),
        Standing::Next => ("next", None, None),
        Standing::Ahead => ("ahead", None, None),
    };
    JobStep { step, standing: word, found, not_done_reason: reason }
}
