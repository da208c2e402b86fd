//! The shop's tablets over HTTP.

use actix_web::HttpResponse;

use super::tablet::{self, EnrolledTablet, NewTablet, Tablet};
use crate::domain::ids::TabletId;
use crate::problem::Problem;
use crate::web::answer::{Page, ok};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// The shop's tablets.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/tablets", operation_id = "listTablets", tag = "tablet",
    description = "The tablets of the shop floor, the latest first; revoked ones stay in the list.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The tablets", body = Page<Tablet>), Problems)
)]
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let items = ctx.read(|conn, shop| tablet::of_shop(conn, shop.id)).await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Enrolls a tablet.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/tablets", operation_id = "enrolTablet", tag = "tablet",
    description = "Enrolls a tablet, on which the shop's people come in with a PIN. The token is told once. It takes no Idempotency-Key: no answer with a secret is kept. In a browser, enroll the tablet in hand on the page of tablets instead.",
    params(("shop" = String, Path, description = "The shop's id")),
    request_body = NewTablet,
    responses((status = 201, description = "The tablet, with its token", body = EnrolledTablet), Problems)
)]
pub async fn enroll(ctx: Ctx, body: Json<NewTablet>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    let made = ctx.write(move |write| tablet::enroll(write, &new)).await?;
    Ok(HttpResponse::Created().json(&made))
}

/// Revokes a tablet.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/tablets/{tablet}", operation_id = "revokeTablet", tag = "tablet",
    description = "Revokes a tablet: the sessions opened on it end at once.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("tablet" = String, Path, description = "The tablet's id")),
    responses((status = 204, description = "Revoked"), Problems)
)]
pub async fn revoke(ctx: Ctx, parts: Parts<(String, TabletId)>) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    ctx.write(move |write| tablet::revoke(write, &id)).await?;
    Ok(HttpResponse::NoContent().finish())
}
