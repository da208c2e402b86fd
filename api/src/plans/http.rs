//! Check plans over HTTP.

use actix_web::HttpResponse;
use serde::{Deserialize, Serialize};

use super::change::{self, NewPlan, NewPlanVersion, PlanWithdrawal};
use super::decide::{self, PlanDecision};
use super::job::{self, JobPlanView};
use super::model::{self, WholePlan};
use super::step::PlanStep;
use super::{propose, starting};
use crate::codes::lists::Lists;
use crate::codes::merge::end_of;
use crate::domain::ids::{CheckPlanId, CheckPlanVersionId, JobId};
use crate::jobs::{brief, checks};
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Which plans.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PlanQuery {
    /// A code of the shop's list of symptoms; absent: all.
    pub symptom: Option<String>,
    /// True: withdrawn plans, too.
    pub withdrawn: Option<bool>,
}

/// A plan that a shop is offered at first.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct OfferedPlan {
    pub symptom: String,
    /// What it stands on.
    pub basis: String,
    pub steps: Vec<PlanStep>,
}

/// The shop's plans.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/plans", operation_id = "listPlans", tag = "plan",
    description = "The shop's check plans with their versions, the latest first. A job follows the narrowest that is in force: for its engine and model, its model, its engine, for all.",
    params(("shop" = String, Path, description = "The shop's id"), PlanQuery),
    responses((status = 200, description = "The plans", body = Page<WholePlan>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<PlanQuery>) -> Result<HttpResponse, Problem> {
    let query = query.0;
    let items = ctx
        .read(move |conn, shop| {
            let mut plans = model::whole_plans(conn, shop.id, query.withdrawn.unwrap_or(false))?;
            if let Some(symptom) = &query.symptom {
                let symptoms = model::symptoms(conn, shop.id)?;
                let wanted = end_of(&symptoms, symptom);
                plans.retain(|whole| end_of(&symptoms, &whole.plan.symptom) == wanted);
            }
            Ok(plans)
        })
        .await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Starting plans.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/starting-plans", operation_id = "listStartingPlans", tag = "plan",
    description = "The plans that a shop is offered at first, with what they stand on. They count for nothing until the shop takes one: make a plan of that symptom without steps.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The plans", body = Page<OfferedPlan>), Problems)
)]
pub async fn starting(ctx: Ctx) -> Result<HttpResponse, Problem> {
    ctx.shop()?;
    let offered = |plan: starting::StartingPlan| OfferedPlan {
        symptom: plan.symptom.to_owned(),
        basis: plan.basis.to_owned(),
        steps: plan.steps(),
    };
    let items: Vec<OfferedPlan> = starting::all().into_iter().map(offered).collect();
    Ok(ok(&Page { items, next_cursor: None }))
}

/// One plan.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/plans/{plan}", operation_id = "readPlan", tag = "plan",
    description = "One check plan with its versions, the latest first.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("plan" = String, Path, description = "The plan's id")),
    responses((status = 200, description = "The plan", body = WholePlan), Problems)
)]
pub async fn read(ctx: Ctx, parts: Parts<(String, CheckPlanId)>) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let whole = ctx.read(move |conn, shop| model::whole(conn, shop.id, &id)).await?;
    Ok(versioned(whole.plan.version, &whole))
}

/// Makes a plan.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/plans", operation_id = "makePlan", tag = "plan",
    description = "Makes a check plan for a symptom, for all vehicles or for a model or an engine; it is in force at once. Without steps it takes those of the starting plan. Checks of the starting list that the shop does not have come into its list.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each plan")),
    request_body = NewPlan,
    responses((status = 201, description = "The plan", body = WholePlan), Problems)
)]
pub async fn make(ctx: Ctx, body: Json<NewPlan>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    ctx.once(&body.hash, move |write| {
        let whole = change::make(write, &new)?;
        let place = format!("/api/v1/shops/{}/plans/{}", write.shop.public_id, whole.plan.id);
        Ok(Made::created(place, whole.plan.version, whole))
    })
    .await
}

/// Gives a plan another version.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/plans/{plan}/versions", operation_id = "revisePlan", tag = "plan",
    description = "Puts another version of the plan in force; the one before it is kept.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("plan" = String, Path, description = "The plan's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each version")),
    request_body = NewPlanVersion,
    responses((status = 200, description = "The plan as it is now", body = WholePlan), Problems)
)]
pub async fn revise(
    ctx: Ctx,
    parts: Parts<(String, CheckPlanId)>,
    body: Json<NewPlanVersion>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let whole = change::revise(write, &id, seen, &new)?;
        Ok(Made::done(whole.plan.version, whole))
    })
    .await
}

/// Nothing to say: the record says it all.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AskProposal {}

/// Asks the record for a better order.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/plans/{plan}/proposals", operation_id = "proposePlan", tag = "plan",
    description = "Works out, from the shop's own causes and minutes, in which order the plan's own steps find the cause in the fewest minutes: mandatory steps first, what has to come before a step before it, a shared opening paid once. Kept as a proposed version with what it was made from, until it is decided.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("plan" = String, Path, description = "The plan's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each proposal")),
    request_body = AskProposal,
    responses((status = 200, description = "The plan with the proposal", body = WholePlan), Problems)
)]
pub async fn propose(
    ctx: Ctx,
    parts: Parts<(String, CheckPlanId)>,
    body: Json<AskProposal>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let id = parts.0.1;
    let (steps, evidence) = propose::of_record(&ctx, &id).await?;
    ctx.once(&body.hash, move |write| {
        let whole = decide::propose(write, &id, seen, (&steps, &evidence))?;
        Ok(Made::done(whole.plan.version, whole))
    })
    .await
}

/// Decides a proposal.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/plans/{plan}/versions/{version}/decision", operation_id = "decidePlan", tag = "plan",
    description = "Takes a proposed version, as it is or with other steps, or declines it with a reason. Mandatory checks of the version in force stay.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("plan" = String, Path, description = "The plan's id"),
        ("version" = String, Path, description = "The version's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each decision")),
    request_body = PlanDecision,
    responses((status = 200, description = "The plan as it is now", body = WholePlan), Problems)
)]
pub async fn decide(
    ctx: Ctx,
    parts: Parts<(String, CheckPlanId, CheckPlanVersionId)>,
    body: Json<PlanDecision>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (Parts((_, id, version)), decision) = (parts, body.value);
    ctx.once(&body.hash, move |write| {
        let whole = decide::decide(write, (&id, &version), seen, &decision)?;
        Ok(Made::done(whole.plan.version, whole))
    })
    .await
}

/// Withdraws a plan.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/plans/{plan}/withdrawal", operation_id = "withdrawPlan", tag = "plan",
    description = "Withdraws a plan: jobs follow it no more. Its versions are kept.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("plan" = String, Path, description = "The plan's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each withdrawal")),
    request_body = PlanWithdrawal,
    responses((status = 200, description = "The plan as it was", body = WholePlan), Problems)
)]
pub async fn withdraw(
    ctx: Ctx,
    parts: Parts<(String, CheckPlanId)>,
    body: Json<PlanWithdrawal>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, reason) = (parts.0.1, body.value.reason);
    ctx.once(&body.hash, move |write| {
        let whole = change::withdraw(write, &id, seen, &reason)?;
        Ok(Made::done(whole.plan.version, whole))
    })
    .await
}

/// The plan of a job.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/jobs/{job}/plan", operation_id = "readJobPlan", tag = "plan",
    description = "The check plan that a job follows, and where each step stands: made, skipped with a reason, passed over without one, next or ahead. Say why a step is skipped by recording the check with the finding `not_done`.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id")),
    responses((status = 200, description = "The plan; empty where there is none", body = JobPlanView), Problems)
)]
pub async fn of_job(ctx: Ctx, parts: Parts<(String, JobId)>) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let plan = ctx
        .read(move |conn, shop| {
            let lists = Lists::load(conn, shop.id)?;
            let brief = brief::of(conn, shop.id, &id)?;
            let checks = checks::of_job(conn, shop.id, &id)?;
            job::of(conn, &lists, (&brief.job, &brief.vehicle), &checks)
        })
        .await?;
    Ok(ok(&JobPlanView::of(plan)))
}
