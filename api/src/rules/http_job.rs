//! Rules on a job, over HTTP.

use actix_web::HttpResponse;

use super::answers::{self, NewRuleAnswer, RuleAnswer};
use super::on_job::{self, JobRule};
use crate::codes::lists::Lists;
use crate::domain::ids::{JobId, RuleId};
use crate::jobs::model::by_id;
use crate::jobs::usual::{self, Usual};
use crate::problem::Problem;
use crate::web::answer::{Page, ok, versioned};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// The rules that touch a job.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/jobs/{job}/rules", operation_id = "listRulesOfJob", tag = "rule",
    description = "The rules in force that touch a job, and whether it keeps them as it stands. No rule holds a job up.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id")),
    responses((status = 200, description = "The rules", body = Page<JobRule>), Problems)
)]
pub async fn list(ctx: Ctx, parts: Parts<(String, JobId)>) -> Result<HttpResponse, Problem> {
    let (id, now) = (parts.0.1, ctx.now);
    let items = ctx
        .read(move |conn, shop| {
            let job = by_id(conn, shop.id, &id)?;
            let usual = match &job.symptom {
                Some(symptom) => usual::of(conn, shop.id, symptom, job.cause.as_deref())?,
                None => Usual::default(),
            };
            let lists = Lists::load(conn, shop.id)?;
            on_job::of(conn, shop, &lists, (&job, &usual), shop.zone().day(now))
        })
        .await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Answers a rule on a job.
#[utoipa::path(
    put, path = "/api/v1/shops/{shop}/jobs/{job}/rules/{rule}", operation_id = "answerRule", tag = "rule",
    description = "Says why a job does not follow a rule, or of a rule in words whether it does, over what was said before.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("rule" = String, Path, description = "The rule's id")),
    request_body = NewRuleAnswer,
    responses((status = 200, description = "The answer", body = RuleAnswer), Problems)
)]
pub async fn answer(
    ctx: Ctx,
    parts: Parts<(String, JobId, RuleId)>,
    body: Json<NewRuleAnswer>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, job, rule)) = parts;
    let new = body.value;
    let row = ctx.write(move |write| answers::set(write, (&job, &rule), &new)).await?;
    Ok(versioned(row.version, &row))
}

/// Takes an answer back.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/jobs/{job}/rules/{rule}", operation_id = "removeRuleAnswer", tag = "rule",
    description = "Takes back what was said of a rule on a job.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("rule" = String, Path, description = "The rule's id")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn remove(
    ctx: Ctx,
    parts: Parts<(String, JobId, RuleId)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, job, rule)) = parts;
    ctx.write(move |write| answers::remove(write, (&job, &rule))).await?;
    Ok(HttpResponse::NoContent().finish())
}
