//! Vehicles in stock over HTTP.

use actix_web::HttpResponse;

use super::due::{self, ShownStockVehicle};
use super::stock::{self, NewStockVehicle, StockDeparture, StockVehicle};
use crate::domain::ids::StockId;
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// The vehicles that wait.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/stock", operation_id = "listStock", tag = "preparation",
    description = "The vehicles that wait in stock, with what is done again while they do: overdue ones first.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The vehicles", body = Page<ShownStockVehicle>), Problems)
)]
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let now = ctx.now;
    let rows = ctx.read(move |conn, shop| due::list(conn, shop.id, shop.zone().day(now))).await?;
    let items: Vec<ShownStockVehicle> = rows.into_iter().map(|(row, _)| row).collect();
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Puts a vehicle into stock.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/stock", operation_id = "addToStock", tag = "preparation",
    description = "Puts a vehicle into stock, where it waits until it leaves.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each vehicle you add")),
    request_body = NewStockVehicle,
    responses((status = 201, description = "The vehicle in stock", body = StockVehicle), Problems)
)]
pub async fn add(ctx: Ctx, body: Json<NewStockVehicle>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    ctx.once(&body.hash, move |write| {
        let row = stock::add(write, &new)?;
        let place = format!("/api/v1/shops/{}/stock", write.shop.public_id);
        Ok(Made::created(place, row.version, row))
    })
    .await
}

/// Takes a vehicle out of stock.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/stock/{stock}/departure", operation_id = "leaveStock", tag = "preparation",
    description = "Says that a vehicle left stock.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("stock" = String, Path, description = "The id of its wait in stock")),
    request_body = StockDeparture,
    responses((status = 200, description = "Its wait, ended", body = StockVehicle), Problems)
)]
pub async fn leave(
    ctx: Ctx,
    parts: Parts<(String, StockId)>,
    body: Json<StockDeparture>,
) -> Result<HttpResponse, Problem> {
    let (id, departure) = (parts.0.1, body.value);
    let row = ctx.write(move |write| stock::leave(write, &id, &departure)).await?;
    Ok(versioned(row.version, &row))
}
