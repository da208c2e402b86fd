//! Comebacks over HTTP.

use actix_web::HttpResponse;
use analytics::words::LinkState;
use serde::Deserialize;

use super::decide::{self, Decision};
use super::link;
use super::model::{self, Comeback, NewComeback};
use super::outside::{self, NewOutsideReturn, OutsideReturn};
use super::pay_back::{self, NewPayBack, PayBack};
use crate::domain::ids::{ComebackId, JobId, PayBackId};
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::{Problems, bad_cursor, limit, page};

/// Which comebacks.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ComebackQuery {
    /// Absent: all.
    #[param(inline)]
    pub state: Option<LinkState>,
    /// How many at most, 1 to 200; absent: 50.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// The `next_cursor` of the page before.
    pub cursor: Option<String>,
}

/// The shop's comebacks.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/comebacks", operation_id = "listComebacks", tag = "comeback",
    description = "Comebacks proposed, confirmed and rejected, newest first.",
    params(("shop" = String, Path, description = "The shop's id"), ComebackQuery),
    responses((status = 200, description = "The comebacks", body = Page<Comeback>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<ComebackQuery>) -> Result<HttpResponse, Problem> {
    let most = limit(query.0.limit)?;
    let before = match &query.0.cursor {
        Some(text) => Some(ComebackId::parse(text).ok_or_else(bad_cursor)?),
        None => None,
    };
    let state = query.0.state;
    let rows = ctx
        .read(move |conn, shop| model::list(conn, shop.id, state, before.as_ref(), most + 1))
        .await?;
    Ok(ok(&page(rows, most, |row| row.id.to_string())))
}

/// One comeback.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/comebacks/{comeback}", operation_id = "readComeback", tag = "comeback",
    description = "A comeback with its labels and its decision.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("comeback" = String, Path, description = "The comeback's id")),
    responses((status = 200, description = "The comeback", body = Comeback), Problems)
)]
pub async fn read(ctx: Ctx, parts: Parts<(String, ComebackId)>) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let row = ctx.read(move |conn, shop| model::by_id(conn, shop.id, &id)).await?;
    Ok(versioned(row.version, &row))
}

/// Links two jobs.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/comebacks", operation_id = "linkComeback", tag = "comeback",
    description = "Says that a job came back for an earlier one of the same vehicle, as the customer tells at write-up. The manager decides; what is decided is left to the manager.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each link")),
    request_body = NewComeback,
    responses((status = 201, description = "The proposed comeback", body = Comeback), Problems)
)]
pub async fn link(ctx: Ctx, body: Json<NewComeback>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    let decides = ctx.may(Permission::DecideComeback);
    ctx.once(&body.hash, move |write| {
        let row = link::link(write, &new, decides)?;
        let place = format!("/api/v1/shops/{}/comebacks/{}", write.shop.public_id, row.id);
        Ok(Made::created(place, row.version, row))
    })
    .await
}

/// Decides a comeback.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/comebacks/{comeback}/decision", operation_id = "decideComeback", tag = "comeback",
    description = "Confirms or rejects a comeback with a reason of the shop's list. Deciding again replaces the decision.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("comeback" = String, Path, description = "The comeback's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each decision")),
    request_body = Decision,
    responses((status = 200, description = "The decided comeback", body = Comeback), Problems)
)]
pub async fn decide(
    ctx: Ctx,
    parts: Parts<(String, ComebackId)>,
    body: Json<Decision>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, decision) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = decide::decide(write, &id, seen, &decision)?;
        Ok(Made::done(row.version, row))
    })
    .await
}

/// Keeps a return without a visit.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/outside-return", operation_id = "tellOutsideReturn", tag = "comeback",
    description = "Keeps what the customer tells after the hand-over: fixed by somebody else, or not fixed. It counts as a return on the day it is told.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each return you tell")),
    request_body = NewOutsideReturn,
    responses((status = 201, description = "The return", body = OutsideReturn), Problems)
)]
pub async fn tell_outside(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewOutsideReturn>,
) -> Result<HttpResponse, Problem> {
    let (job, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = outside::tell(write, &job, &new)?;
        let place = format!("/api/v1/shops/{}/jobs/{job}", write.shop.public_id);
        Ok(Made::created(place, row.version, row))
    })
    .await
}

/// Withdraws a return without a visit.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/jobs/{job}/outside-return", operation_id = "withdrawOutsideReturn", tag = "comeback",
    description = "Withdraws what was told of a job after the hand-over.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn withdraw_outside(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
) -> Result<HttpResponse, Problem> {
    let job = parts.0.1;
    ctx.write(move |write| outside::withdraw(write, &job)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Adds a pay-back.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/pay-backs", operation_id = "addPayBack", tag = "comeback",
    description = "Records what a supplier paid back for a job: it lowers what the comeback cost.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each one you add")),
    request_body = NewPayBack,
    responses((status = 201, description = "The pay-back", body = PayBack), Problems)
)]
pub async fn add_pay_back(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewPayBack>,
) -> Result<HttpResponse, Problem> {
    let (job, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = pay_back::add(write, &job, &new)?;
        let place = format!("/api/v1/shops/{}/jobs/{job}", write.shop.public_id);
        Ok(Made::created(place, row.version, row))
    })
    .await
}

/// Takes a pay-back back.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/jobs/{job}/pay-backs/{id}", operation_id = "removePayBack", tag = "comeback",
    description = "Takes a pay-back back that was recorded wrongly.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The id of the pay-back")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn remove_pay_back(
    ctx: Ctx,
    parts: Parts<(String, JobId, PayBackId)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, job, id)) = parts;
    ctx.write(move |write| pay_back::remove(write, &job, &id)).await?;
    Ok(HttpResponse::NoContent().finish())
}
