//! Corrective actions over HTTP.

use actix_web::HttpResponse;
use serde::Deserialize;

use super::action::{self, CorrectiveAction};
use super::action_write::{self, ActionPatch, Ending, NewAction, Verification};
use super::closure::State;
use crate::domain::ids::ActionId;
use crate::domain::refusal::FieldFault;
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::{Problems, bad_cursor, limit, page};

/// Which actions.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ActionQuery {
    /// `open`, `done` or `dropped`; absent: all.
    pub state: Option<String>,
    /// How many at most, 1 to 200; absent: 50.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// The `next_cursor` of the page before.
    pub cursor: Option<String>,
}

fn state(asked: Option<&str>) -> Result<Option<State>, Problem> {
    let Some(word) = asked else { return Ok(None) };
    State::parse(word).map(Some).ok_or_else(|| {
        let detail = "ask for open, done or dropped".to_owned();
        Problem::invalid(vec![FieldFault { pointer: "state".into(), code: "word", detail }])
    })
}

/// The shop's corrective actions.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/actions", operation_id = "listActions", tag = "enquiry",
    description = "What the shop means to change, newest first.",
    params(("shop" = String, Path, description = "The shop's id"), ActionQuery),
    responses((status = 200, description = "The actions", body = Page<CorrectiveAction>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<ActionQuery>) -> Result<HttpResponse, Problem> {
    let most = limit(query.0.limit)?;
    let state = state(query.0.state.as_deref())?;
    let before = match &query.0.cursor {
        Some(text) => Some(ActionId::parse(text).ok_or_else(bad_cursor)?),
        None => None,
    };
    let rows = ctx
        .read(move |conn, shop| action::list(conn, shop.id, state, before.as_ref(), most + 1))
        .await?;
    Ok(ok(&page(rows, most, |row| row.id.to_string())))
}

/// One action.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/actions/{action}", operation_id = "readAction", tag = "enquiry",
    description = "A corrective action, with what it became and whether it keeps the trouble away.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("action" = String, Path, description = "The action's id")),
    responses((status = 200, description = "The action", body = CorrectiveAction), Problems)
)]
pub async fn read(ctx: Ctx, parts: Parts<(String, ActionId)>) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let row = ctx.read(move |conn, shop| action::by_id(conn, shop.id, &id)).await?;
    Ok(versioned(row.version, &row))
}

/// Agrees on an action.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/actions", operation_id = "addAction", tag = "enquiry",
    description = "Agrees on a corrective action, of an enquiry or of none.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each action you agree on")),
    request_body = NewAction,
    responses((status = 201, description = "The action", body = CorrectiveAction), Problems)
)]
pub async fn add(ctx: Ctx, body: Json<NewAction>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    ctx.once(&body.hash, move |write| {
        let row = action_write::add(write, &new)?;
        let place = format!("/api/v1/shops/{}/actions/{}", write.shop.public_id, row.id);
        Ok(Made::created(place, row.version, row))
    })
    .await
}

/// Changes an action.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/actions/{action}", operation_id = "changeAction", tag = "enquiry",
    description = "Changes an action that is open (JSON merge patch).",
    params(("shop" = String, Path, description = "The shop's id"),
        ("action" = String, Path, description = "The action's id"),
        ("If-Match" = String, Header, description = "The ETag you read")),
    request_body(content = ActionPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The action as it is now", body = CorrectiveAction), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, ActionId)>,
    body: Json<ActionPatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, patch) = (parts.0.1, body.value);
    let row = ctx.write(move |write| action_write::change(write, &id, seen, &patch)).await?;
    Ok(versioned(row.version, &row))
}

/// Ends an action.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/actions/{action}/ending", operation_id = "endAction", tag = "enquiry",
    description = "Says that an action is done, or why it is dropped. Taking a shop rule or changing a check plan for it says so, too.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("action" = String, Path, description = "The action's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each ending")),
    request_body = Ending,
    responses((status = 200, description = "The ended action", body = CorrectiveAction), Problems)
)]
pub async fn end(
    ctx: Ctx,
    parts: Parts<(String, ActionId)>,
    body: Json<Ending>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, ending) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = action_write::end(write, &id, seen, &ending)?;
        Ok(Made::done(row.version, row))
    })
    .await
}

/// Opens an action again.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/actions/{action}/reopening", operation_id = "reopenAction", tag = "enquiry",
    description = "Opens an action again that was done or dropped.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("action" = String, Path, description = "The action's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each reopening")),
    responses((status = 200, description = "The open action", body = CorrectiveAction), Problems)
)]
pub async fn reopen(ctx: Ctx, parts: Parts<(String, ActionId)>) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let id = parts.0.1;
    ctx.once("", move |write| {
        let row = action_write::reopen(write, &id, seen)?;
        Ok(Made::done(row.version, row))
    })
    .await
}

/// Says whether an action holds.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/actions/{action}/verification", operation_id = "verifyAction", tag = "enquiry",
    description = "Says, later, whether an action that is done keeps the trouble away, and what that is judged by.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("action" = String, Path, description = "The action's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each verification")),
    request_body = Verification,
    responses((status = 200, description = "The action", body = CorrectiveAction), Problems)
)]
pub async fn verify(
    ctx: Ctx,
    parts: Parts<(String, ActionId)>,
    body: Json<Verification>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, said) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = action_write::verify(write, &id, seen, &said)?;
        Ok(Made::done(row.version, row))
    })
    .await
}
