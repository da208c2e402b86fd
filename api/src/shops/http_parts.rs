//! A part's times and cost over HTTP.

use actix_web::HttpResponse;

use super::part_policy::{self, PartTimes, PartTimesWritten};
use crate::domain::refusal::Refusal;
use crate::jobs::http::money;
use crate::problem::Problem;
use crate::web::answer::{Page, ok, versioned};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Every part with times or a cost.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/part-policies", operation_id = "listPartPolicies", tag = "shop",
    description = "Times and costs that the shop entered of parts, for the clean-or-replace advice. They stand where the record has none of its own; times to clean and to fit always do.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The parts", body = Page<PartTimes>), Problems)
)]
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let rights = money(&ctx);
    let items = ctx.read(|conn, shop| part_policy::list(conn, shop.id)).await?;
    let items = items.into_iter().map(|part| part.for_eyes(rights)).collect();
    Ok(ok(&Page { items, next_cursor: None }))
}

/// One part.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/part-policies/{part}", operation_id = "readPartPolicy", tag = "shop",
    description = "Times and cost that the shop entered of a part.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("part" = String, Path, description = "Part number, else name")),
    responses((status = 200, description = "The part", body = PartTimes), Problems)
)]
pub async fn read(ctx: Ctx, parts: Parts<(String, String)>) -> Result<HttpResponse, Problem> {
    let (Parts((_, part)), rights) = (parts, money(&ctx));
    let found = ctx.read(move |conn, shop| {
        part_policy::of_part(conn, shop.id, &part)?.ok_or_else(|| Refusal::NotFound.into())
    });
    let part: PartTimes = found.await?;
    Ok(versioned(part.version, &part.for_eyes(rights)))
}

/// Writes a part's times and cost.
#[utoipa::path(
    put, path = "/api/v1/shops/{shop}/part-policies/{part}", operation_id = "setPartPolicy", tag = "shop",
    description = "Writes times and cost of a part, over what stood before.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("part" = String, Path, description = "Part number, else name")),
    request_body = PartTimesWritten,
    responses((status = 200, description = "The part", body = PartTimes), Problems)
)]
pub async fn set(
    ctx: Ctx,
    parts: Parts<(String, String)>,
    body: Json<PartTimesWritten>,
) -> Result<HttpResponse, Problem> {
    let (Parts((_, part)), new) = (parts, body.value);
    let row = ctx.write(move |write| part_policy::put(write, &part, &new)).await?;
    Ok(versioned(row.version, &row))
}

/// Takes a part's times and cost back.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/part-policies/{part}", operation_id = "removePartPolicy", tag = "shop",
    description = "Takes back what the shop entered of a part.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("part" = String, Path, description = "Part number, else name")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn remove(ctx: Ctx, parts: Parts<(String, String)>) -> Result<HttpResponse, Problem> {
    let Parts((_, part)) = parts;
    ctx.write(move |write| part_policy::remove(write, &part)).await?;
    Ok(HttpResponse::NoContent().finish())
}
