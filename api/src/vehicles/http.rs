//! Vehicles over HTTP.

use actix_web::HttpResponse;
use serde::{Deserialize, Serialize};

use super::change::{self, VehiclePatch};
use super::model::{self, NewVehicle, Vehicle};
use super::odometer_reset::{self, NewOdometerReset, OdometerReset};
use crate::db::{Answer, Conn};
use crate::domain::ids::VehicleId;
use crate::domain::refusal::Refusal;
use crate::domain::vin;
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::{Problems, bad_cursor, limit, page};

/// A vehicle with what is odd about its VIN, and its odometer's resets.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct ShownVehicle {
    #[serde(flatten)]
    pub vehicle: Vehicle,
    /// By 49 CFR 565; a warning, never a block.
    pub vin_warning: Option<String>,
    pub odometer_resets: Vec<OdometerReset>,
}

impl ShownVehicle {
    fn of(conn: &mut Conn, vehicle: Vehicle) -> Answer<Self> {
        let vin_warning = vehicle.vin.as_deref().and_then(vin::warning).map(|w| w.to_string());
        let odometer_resets = odometer_reset::of_vehicle(conn, vehicle.shop_id, &vehicle.id)?;
        Ok(Self { vehicle, vin_warning, odometer_resets })
    }
}

/// Which vehicles.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct VehicleQuery {
    /// The end of a VIN or plate.
    pub q: Option<String>,
    /// How many at most, 1 to 200; absent: 50.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// The `next_cursor` of the page before.
    pub cursor: Option<String>,
}

/// The shop's vehicles.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/vehicles", operation_id = "listVehicles", tag = "vehicle",
    description = "Vehicles of the shop, found by the end of VIN or plate.",
    params(("shop" = String, Path, description = "The shop's id"), VehicleQuery),
    responses((status = 200, description = "The vehicles", body = Page<Vehicle>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<VehicleQuery>) -> Result<HttpResponse, Problem> {
    let most = limit(query.0.limit)?;
    let after = match &query.0.cursor {
        Some(text) => Some(VehicleId::parse(text).ok_or_else(bad_cursor)?),
        None => None,
    };
    let words = query.0.q;
    let rows = ctx
        .read(move |conn, shop| {
            model::search(conn, shop.id, words.as_deref(), after.as_ref(), most + 1)
        })
        .await?;
    Ok(ok(&page(rows, most, |row| row.id.to_string())))
}

/// One vehicle.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/vehicles/{vehicle}", operation_id = "readVehicle", tag = "vehicle",
    description = "A vehicle, with a warning where its VIN's check digit does not fit, and the resets of its odometer.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("vehicle" = String, Path, description = "The vehicle's id")),
    responses((status = 200, description = "The vehicle", body = ShownVehicle), Problems)
)]
pub async fn read(ctx: Ctx, parts: Parts<(String, VehicleId)>) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let shown = ctx
        .read(move |conn, shop| {
            let row = model::by_id(conn, shop.id, &id)?;
            ShownVehicle::of(conn, row)
        })
        .await?;
    Ok(versioned(shown.vehicle.version, &shown))
}

/// Adds a vehicle.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/vehicles", operation_id = "addVehicle", tag = "vehicle",
    description = "Adds a vehicle; a VIN or plate that is known already gives the known vehicle.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each vehicle you add")),
    request_body = NewVehicle,
    responses((status = 201, description = "The vehicle", body = ShownVehicle), Problems)
)]
pub async fn add(ctx: Ctx, body: Json<NewVehicle>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    ctx.once(&body.hash, move |write| {
        let described = new.parse("").map_err(Refusal::Invalid)?;
        let row = model::find_or_make(write, &described)?;
        let place = format!("/api/v1/shops/{}/vehicles/{}", write.shop.public_id, row.id);
        Ok(Made::created(place, row.version, ShownVehicle::of(write.conn, row)?))
    })
    .await
}

/// Changes a vehicle.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/vehicles/{vehicle}", operation_id = "changeVehicle", tag = "vehicle",
    description = "Changes what is known of a vehicle, or that it was sold (JSON merge patch). Its history stays with it.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("vehicle" = String, Path, description = "The vehicle's id"),
        ("If-Match" = String, Header, description = "The ETag you read")),
    request_body(content = VehiclePatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The vehicle as it is now", body = ShownVehicle), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, VehicleId)>,
    body: Json<VehiclePatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, patch) = (parts.0.1, body.value);
    let shown = ctx
        .write(move |write| {
            let row = change::patch(write, &id, seen, &patch)?;
            ShownVehicle::of(write.conn, row)
        })
        .await?;
    Ok(versioned(shown.vehicle.version, &shown))
}

/// Records a replaced odometer.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/vehicles/{vehicle}/odometer-resets", operation_id = "resetOdometer", tag = "vehicle",
    description = "Records that the odometer was replaced: readings before and after do not go on from one another.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("vehicle" = String, Path, description = "The vehicle's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each reset you record")),
    request_body = NewOdometerReset,
    responses((status = 201, description = "The reset", body = OdometerReset), Problems)
)]
pub async fn reset_odometer(
    ctx: Ctx,
    parts: Parts<(String, VehicleId)>,
    body: Json<NewOdometerReset>,
) -> Result<HttpResponse, Problem> {
    let (id, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = odometer_reset::add(write, &id, &new)?;
        let place = format!("/api/v1/shops/{}/vehicles/{id}", write.shop.public_id);
        Ok(Made::created(place, row.version, row))
    })
    .await
}
