//! Changes to labor entries over HTTP.

use actix_web::HttpResponse;

use super::http_change::line;
use super::labor::LaborEntry;
use super::labor_change::{self, LaborPatch};
use crate::domain::ids::{JobId, LaborId};
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Changes a labor entry.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/jobs/{job}/labor/{id}", operation_id = "changeLabor", tag = "work",
    description = "Changes a labor entry: its times, activity, as what it counts (JSON merge patch, on the job's version). A technician changes their own time of the last 7 days; an adviser or manager anybody's. On a job that has ended, only the service manager may change it, as a correction.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The labor entry's id"),
        ("If-Match" = String, Header, description = "The ETag of the job")),
    request_body(content = LaborPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The labor entry as it is now, with the job's new ETag", body = LaborEntry), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, JobId, LaborId)>,
    body: Json<LaborPatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let Parts((_, job, id)) = parts;
    let (wanted, anybody) = (body.value, ctx.may(Permission::WriteFront));
    line(&ctx, job, move |write, job| {
        labor_change::change(write, job, &id, seen, (&wanted, anybody))
    })
    .await
}

/// Takes a labor entry back.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/jobs/{job}/labor/{id}", operation_id = "removeLabor", tag = "work",
    description = "Takes a labor entry back. A technician takes back their own of the last 7 days; an adviser or manager anybody's. On a job that has ended, only the service manager may.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The labor entry's id")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn remove(
    ctx: Ctx,
    parts: Parts<(String, JobId, LaborId)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, job, id)) = parts;
    let anybody = ctx.may(Permission::WriteFront);
    ctx.write(move |write| labor_change::remove(write, &job, &id, anybody)).await?;
    Ok(HttpResponse::NoContent().finish())
}
