//! Silences of warnings over HTTP. The warnings themselves are a report.

use actix_web::HttpResponse;

use super::silence::{self, NewSilence, Silence};
use crate::domain::ids::SilenceId;
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// The shop's silences.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/warning-silences", operation_id = "listWarningSilences", tag = "report",
    description = "Groups that are not warned of, and why, the latest first; those that were ended too.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The silences", body = Page<Silence>), Problems)
)]
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let items = ctx.read(|conn, shop| silence::list(conn, shop.id)).await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Silences a group.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/warning-silences", operation_id = "silenceWarning", tag = "report",
    description = "Silences a group, until a day or for good: its warning stays in the report, with the reason.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each group you silence")),
    request_body = NewSilence,
    responses((status = 201, description = "The silence", body = Silence), Problems)
)]
pub async fn add(ctx: Ctx, body: Json<NewSilence>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    ctx.once(&body.hash, move |write| {
        let row = silence::add(write, &new)?;
        let place = format!("/api/v1/shops/{}/warning-silences", write.shop.public_id);
        Ok(Made::created(place, row.version, row))
    })
    .await
}

/// Ends a silence.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/warning-silences/{silence}/end", operation_id = "endWarningSilence", tag = "report",
    description = "Ends a silence: the group is warned of again.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("silence" = String, Path, description = "The silence's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each silence you end")),
    responses((status = 200, description = "The silence that has ended", body = Silence), Problems)
)]
pub async fn end(ctx: Ctx, parts: Parts<(String, SilenceId)>) -> Result<HttpResponse, Problem> {
    let Parts((_, id)) = parts;
    ctx.once("", move |write| {
        let row = silence::end(write, &id)?;
        Ok(Made::done(row.version, row))
    })
    .await
}
