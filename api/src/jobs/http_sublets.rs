//! Sublets of a job over HTTP.

use actix_web::HttpResponse;

use super::http::money;
use super::http_change::line;
use super::http_work::place;
use super::sublets::{self, NewSublet, Sublet, SubletPatch};
use crate::domain::ids::{JobId, SubletId};
use crate::problem::Problem;
use crate::web::answer::Made;
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Adds a sublet.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/sublets", operation_id = "addSublet", tag = "work",
    description = "Adds work that is sent to another business. The shop stays answerable for it.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each one you add")),
    request_body = NewSublet,
    responses((status = 201, description = "The sublet", body = Sublet), Problems)
)]
pub async fn add(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewSublet>,
) -> Result<HttpResponse, Problem> {
    let (job, new, rights) = (parts.0.1, body.value, money(&ctx));
    ctx.once(&body.hash, move |write| {
        let row = sublets::add(write, &job, &new, rights)?;
        Ok(Made::created(place(write, &job), row.version, row))
    })
    .await
}

/// Changes a sublet.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/jobs/{job}/sublets/{id}", operation_id = "changeSublet", tag = "work",
    description = "Changes work that is sent out: when it is due or back, what it costs (JSON merge patch, on the job's version). On a job that has ended, only the service manager may change it, as a correction.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The id of the sublet"),
        ("If-Match" = String, Header, description = "The ETag of the job")),
    request_body(content = SubletPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The sublet as it is now, with the job's new ETag", body = Sublet), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, JobId, SubletId)>,
    body: Json<SubletPatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let Parts((_, job, id)) = parts;
    let (wanted, rights) = (body.value, money(&ctx));
    line(&ctx, job, move |write, job| {
        sublets::change(write, job, &id, seen, (wanted.clone(), rights))
    })
    .await
}

/// Takes a sublet back.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/jobs/{job}/sublets/{id}", operation_id = "removeSublet", tag = "work",
    description = "Takes a sublet back; on a job that has ended, only the service manager may.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The id of the sublet")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn remove(
    ctx: Ctx,
    parts: Parts<(String, JobId, SubletId)>,
) -> Result<HttpResponse, Problem> {
    let (Parts((_, job, id)), rights) = (parts, money(&ctx));
    ctx.write(move |write| sublets::remove(write, &job, &id, rights)).await?;
    Ok(HttpResponse::NoContent().finish())
}
