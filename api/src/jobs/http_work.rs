//! The work on a job over HTTP: checks, parts, operations, labor, proofs.

use actix_web::HttpResponse;

use super::checks::{self, Check, NewCheck};
use super::http::money;
use super::labor::{self, LaborEntry, NewLabor};
use super::operations::{self, NewOperation, Operation};
use super::parts::{self as part_uses, NewPartUse, PartOnJob};
use super::proofs::{self, NewProof, Proof};
use crate::domain::ids::{CheckId, JobId, LaborId, OperationId, PartUseId};
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::answer::Made;
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// The address of a job that was written to.
pub(super) fn place(write: &ShopWrite<'_>, job: &JobId) -> String {
    format!("/api/v1/shops/{}/jobs/{job}", write.shop.public_id)
}

/// Adds a check.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/checks", operation_id = "addCheck", tag = "work",
    description = "Adds a step of the diagnosis, at the end of its path.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each one you add")),
    request_body = NewCheck,
    responses((status = 201, description = "The check", body = Check), Problems)
)]
pub async fn add_check(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewCheck>,
) -> Result<HttpResponse, Problem> {
    let (job, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = checks::add(write, &job, &new)?;
        Ok(Made::created(place(write, &job), row.version, row))
    })
    .await
}

/// Takes a check back.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/jobs/{job}/checks/{id}", operation_id = "removeCheck", tag = "work",
    description = "Takes a check back; on a job that has ended, only the service manager may.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The id of the check")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn remove_check(
    ctx: Ctx,
    parts: Parts<(String, JobId, CheckId)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, job, id)) = parts;
    ctx.write(move |write| checks::remove(write, &job, &id)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Adds a part use.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/parts", operation_id = "addPartUse", tag = "work",
    description = "Adds a part that was touched: why, and what was done with it. One that is cleaned and put back again says why.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each one you add")),
    request_body = NewPartUse,
    responses((status = 201, description = "The part use", body = PartOnJob), Problems)
)]
pub async fn add_part_use(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewPartUse>,
) -> Result<HttpResponse, Problem> {
    let (job, new, rights) = (parts.0.1, body.value, money(&ctx));
    ctx.once(&body.hash, move |write| {
        let row = part_uses::add(write, &job, &new, rights)?;
        Ok(Made::created(place(write, &job), row.part.version, row))
    })
    .await
}

/// Takes a part use back.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/jobs/{job}/parts/{id}", operation_id = "removePartUse", tag = "work",
    description = "Takes a part use back; on a job that has ended, only the service manager may.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The id of the part use")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn remove_part_use(
    ctx: Ctx,
    parts: Parts<(String, JobId, PartUseId)>,
) -> Result<HttpResponse, Problem> {
    let (Parts((_, job, id)), rights) = (parts, money(&ctx));
    ctx.write(move |write| part_uses::remove(write, &job, &id, rights)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Adds an operation.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/operations", operation_id = "addOperation", tag = "work",
    description = "Adds what is charged.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each one you add")),
    request_body = NewOperation,
    responses((status = 201, description = "The operation", body = Operation), Problems)
)]
pub async fn add_operation(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewOperation>,
) -> Result<HttpResponse, Problem> {
    let (job, new, rights) = (parts.0.1, body.value, money(&ctx));
    ctx.once(&body.hash, move |write| {
        let row = operations::add(write, &job, &new, rights)?;
        Ok(Made::created(place(write, &job), row.version, row))
    })
    .await
}

/// Takes an operation back.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/jobs/{job}/operations/{id}", operation_id = "removeOperation", tag = "work",
    description = "Takes an operation back; on a job that has ended, only the service manager may.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The id of the operation")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn remove_operation(
    ctx: Ctx,
    parts: Parts<(String, JobId, OperationId)>,
) -> Result<HttpResponse, Problem> {
    let (Parts((_, job, id)), rights) = (parts, money(&ctx));
    ctx.write(move |write| operations::remove(write, &job, &id, rights)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Starts work, or records work that is over.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/labor", operation_id = "startLabor", tag = "work",
    description = "Starts a labor entry that runs until it is stopped, or records a stretch that is over. A person's entries never overlap. A technician records their own time; an adviser or manager anybody's. A start ends what the job waits for. Who was put on the job as a trainee works as one, under the same supervisor, unless said otherwise.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each start")),
    request_body = NewLabor,
    responses((status = 201, description = "The labor entry", body = LaborEntry), Problems)
)]
pub async fn start_labor(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewLabor>,
) -> Result<HttpResponse, Problem> {
    let (job, new) = (parts.0.1, body.value);
    if new.person_id.as_ref().is_some_and(|id| *id != ctx.asker().person.id) {
        ctx.demand(Permission::WriteFront)?;
    }
    ctx.once(&body.hash, move |write| {
        let row = labor::start(write, &job, &new)?;
        Ok(Made::created(place(write, &job), row.version, row))
    })
    .await
}

/// Stops work.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/labor/{id}/stop", operation_id = "stopLabor", tag = "work",
    description = "Stops a running labor entry now. A technician stops their own; an adviser or manager anybody's.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The labor entry's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each stop")),
    responses((status = 200, description = "The labor entry", body = LaborEntry), Problems)
)]
pub async fn stop_labor(
    ctx: Ctx,
    parts: Parts<(String, JobId, LaborId)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, job, id)) = parts;
    let anybody = ctx.may(Permission::WriteFront);
    ctx.once("", move |write| {
        let row = labor::stop(write, &job, &id, anybody, None)?;
        Ok(Made::done(row.version, row))
    })
    .await
}

/// Adds a proof.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/proofs", operation_id = "addProof", tag = "work",
    description = "Records how the repair was shown to hold. One that fails is rework, caught here, and never a comeback.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each proof")),
    request_body = NewProof,
    responses((status = 201, description = "The proof", body = Proof), Problems)
)]
pub async fn add_proof(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewProof>,
) -> Result<HttpResponse, Problem> {
    let (job, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = proofs::add(write, &job, &new)?;
        Ok(Made::created(place(write, &job), row.version, row))
    })
    .await
}
