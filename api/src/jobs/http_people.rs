//! People on a job, and what it waits for, over HTTP.

use actix_web::HttpResponse;

use super::http_work::place;
use super::people::{self, JobPerson, NewJobPerson};
use super::waits::{self, NewWait, Wait};
use crate::domain::ids::{JobId, PersonId, WaitId};
use crate::problem::Problem;
use crate::web::answer::Made;
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Puts a person on a job.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/people", operation_id = "assignPerson", tag = "job",
    description = "Puts a person of the shop on a job besides who leads it, or changes what they work as. A trainee works under a supervisor who is no trainee there; where who leads is a trainee, this says under whom.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each person you put on a job")),
    request_body = NewJobPerson,
    responses((status = 201, description = "The person on the job", body = JobPerson), Problems)
)]
pub async fn assign(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewJobPerson>,
) -> Result<HttpResponse, Problem> {
    let (job, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let body = people::assign(write, &job, &new)?;
        Ok(Made { status: 201, location: Some(place(write, &job)), version: None, body })
    })
    .await
}

/// Takes a person off a job.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/jobs/{job}/people/{person}", operation_id = "unassignPerson", tag = "job",
    description = "Takes a person off a job. Time that was recorded stays.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("person" = String, Path, description = "The person's id")),
    responses((status = 204, description = "The person is off the job"), Problems)
)]
pub async fn unassign(
    ctx: Ctx,
    parts: Parts<(String, JobId, PersonId)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, job, person)) = parts;
    ctx.write(move |write| people::unassign(write, &job, &person)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Starts a wait.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/waits", operation_id = "startWait", tag = "job",
    description = "Says that the job waits from now on, and for what. Waiting is no clock time: labor that runs on the job is stopped. Starting labor or closing the job ends the wait.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each wait")),
    request_body = NewWait,
    responses((status = 201, description = "The wait", body = Wait), Problems)
)]
pub async fn start_wait(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewWait>,
) -> Result<HttpResponse, Problem> {
    let (job, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let body = waits::start(write, &job, new.clone())?;
        Ok(Made { status: 201, location: Some(place(write, &job)), version: None, body })
    })
    .await
}

/// Ends a wait.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/waits/{id}/end", operation_id = "endWait", tag = "job",
    description = "Ends a wait now: what the job waited for is there.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The wait's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each wait you end")),
    responses((status = 200, description = "The wait that has ended", body = Wait), Problems)
)]
pub async fn end_wait(
    ctx: Ctx,
    parts: Parts<(String, JobId, WaitId)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, job, id)) = parts;
    ctx.once("", move |write| {
        let body = waits::end(write, &job, &id)?;
        Ok(Made { status: 200, location: None, version: None, body })
    })
    .await
}
