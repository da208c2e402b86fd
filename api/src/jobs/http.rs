//! Jobs over HTTP.

use actix_web::HttpResponse;

use super::close::Closing;
use super::finish;
use super::parts::MoneyRights;
use super::patch::{self, JobPatch};
use super::whole::{self, WholeJob};
use crate::domain::ids::JobId;
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::web::answer::{Made, versioned};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// What the asker may see and write of money.
pub fn money(ctx: &Ctx) -> MoneyRights {
    MoneyRights { costs: ctx.may(Permission::ReadCosts), prices: ctx.may(Permission::ReadPrices) }
}

/// One job.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/jobs/{job}", operation_id = "readJob", tag = "job",
    description = "A job with its people, checks, parts, operations, labor, waits, sublets, proofs and comebacks.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id")),
    responses((status = 200, description = "The job", body = WholeJob), Problems)
)]
pub async fn read(ctx: Ctx, parts: Parts<(String, JobId)>) -> Result<HttpResponse, Problem> {
    let (id, rights) = (parts.0.1, money(&ctx));
    let job = ctx.read(move |conn, shop| whole::read(conn, shop.id, &id, rights)).await?;
    Ok(versioned(job.job.version, &job))
}

/// Changes a job.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/jobs/{job}", operation_id = "changeJob", tag = "job",
    description = "Changes a job: symptom, cause, correction, lead, bay, what it waits for (JSON merge patch). The customer's words stay. On a job that has ended or was handed over, the service manager may correct it this way, including the outcome; job and order are marked with the time.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("If-Match" = String, Header, description = "The ETag you read")),
    request_body(content = JobPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The job as it is now", body = WholeJob), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<JobPatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, wanted, rights) = (parts.0.1, body.value, money(&ctx));
    let job = ctx
        .write(move |write| {
            patch::change(write, &id, seen, &wanted)?;
            whole::read(write.conn, write.shop.id, &id, rights)
        })
        .await?;
    Ok(versioned(job.job.version, &job))
}

/// Closes a job.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/closure", operation_id = "closeJob", tag = "job",
    description = "Ends a job with its outcome. A repaired complaint names its cause and what was done. Where nobody leads it, whoever alone worked on it as lead does from now on, else who closes it. Comebacks are proposed anew with what is known now. Checks and part uses that are typed in only now come along, in the same write; what is wrong with them is told together with what the close owes.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each job you close")),
    request_body = Closing,
    responses((status = 200, description = "The closed job", body = WholeJob), Problems)
)]
pub async fn close(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<Closing>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, closing, rights) = (parts.0.1, body.value, money(&ctx));
    ctx.once(&body.hash, move |write| {
        let job = finish::close(write, &id, seen, &closing, rights)?;
        Ok(Made::done(job.job.version, job))
    })
    .await
}

/// Reopens a job.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/reopening", operation_id = "reopenJob", tag = "job",
    description = "Reopens a job that has ended, before the vehicle is handed over. What was found stays.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each job you reopen")),
    responses((status = 200, description = "The open job", body = WholeJob), Problems)
)]
pub async fn reopen(ctx: Ctx, parts: Parts<(String, JobId)>) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, rights) = (parts.0.1, money(&ctx));
    ctx.once("", move |write| {
        let job = whole::reopen(write, &id, seen, rights)?;
        Ok(Made::done(job.job.version, job))
    })
    .await
}
