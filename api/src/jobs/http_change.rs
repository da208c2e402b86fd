//! Changes to lines of a job over HTTP. Each carries the job's version and
//! answers with the new one.

use actix_web::HttpResponse;
use serde::Serialize;

use super::checks::{self, Check, CheckPatch};
use super::http::money;
use super::operations::{self, Operation, OperationPatch};
use super::part_patch::PartUsePatch;
use super::parts::{self as part_uses, PartOnJob};
use super::writable;
use crate::db::Answer;
use crate::domain::ids::{CheckId, JobId, OperationId, PartUseId};
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::answer::versioned;
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Writes a line of a job, and answers it with the job's new version.
///
/// # Errors
/// What `work` answers, as a problem.
pub(super) async fn line<T, F>(ctx: &Ctx, job: JobId, work: F) -> Result<HttpResponse, Problem>
where
    T: Serialize + Send + 'static,
    F: Fn(&mut ShopWrite<'_>, &JobId) -> Answer<T> + Send + 'static,
{
    let (version, row) = ctx
        .write(move |write| {
            let row = work(write, &job)?;
            Ok((writable::version(write, &job)?, row))
        })
        .await?;
    Ok(versioned(version, &row))
}

/// Changes a check.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/jobs/{job}/checks/{id}", operation_id = "changeCheck", tag = "work",
    description = "Changes a step of the diagnosis (JSON merge patch, on the job's version). On a job that has ended, only the service manager may change it, as a correction.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The id of the check"),
        ("If-Match" = String, Header, description = "The ETag of the job")),
    request_body(content = CheckPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The check as it is now, with the job's new ETag", body = Check), Problems)
)]
pub async fn change_check(
    ctx: Ctx,
    parts: Parts<(String, JobId, CheckId)>,
    body: Json<CheckPatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let Parts((_, job, id)) = parts;
    let wanted = body.value;
    line(&ctx, job, move |write, job| checks::change(write, job, &id, seen, wanted.clone())).await
}

/// Changes a part use.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/jobs/{job}/parts/{id}", operation_id = "changePartUse", tag = "work",
    description = "Changes a part that was touched (JSON merge patch, on the job's version). On a job that has ended, only the service manager may change it, as a correction.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The id of the part use"),
        ("If-Match" = String, Header, description = "The ETag of the job")),
    request_body(content = PartUsePatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The part use as it is now, with the job's new ETag", body = PartOnJob), Problems)
)]
pub async fn change_part_use(
    ctx: Ctx,
    parts: Parts<(String, JobId, PartUseId)>,
    body: Json<PartUsePatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let Parts((_, job, id)) = parts;
    let (wanted, rights) = (body.value, money(&ctx));
    line(&ctx, job, move |write, job| {
        part_uses::change(write, job, &id, seen, (wanted.clone(), rights))
    })
    .await
}

/// Changes an operation.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/jobs/{job}/operations/{id}", operation_id = "changeOperation", tag = "work",
    description = "Changes what is charged (JSON merge patch, on the job's version). On a job that has ended, only the service manager may change it, as a correction.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The id of the operation"),
        ("If-Match" = String, Header, description = "The ETag of the job")),
    request_body(content = OperationPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The operation as it is now, with the job's new ETag", body = Operation), Problems)
)]
pub async fn change_operation(
    ctx: Ctx,
    parts: Parts<(String, JobId, OperationId)>,
    body: Json<OperationPatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let Parts((_, job, id)) = parts;
    let (wanted, rights) = (body.value, money(&ctx));
    line(&ctx, job, move |write, job| {
        operations::change(write, job, &id, seen, (wanted.clone(), rights))
    })
    .await
}
