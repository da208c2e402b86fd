//! Sheets of readings over HTTP.

use actix_web::HttpResponse;
use serde::Deserialize;

use super::reading::NewReading;
use super::sheet_write;
use super::sheets::{self, NewReadingSheet, ReadingSheet, ShownReadingSheet, Wanted};
use crate::domain::ids::{JobId, ReadingSheetId, VehicleId};
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::{Problems, bad_cursor, limit, page};

/// Which sheets.
#[derive(Debug, Clone, Default, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ReadingSheetQuery {
    #[param(value_type = Option<String>, format = Uuid)]
    pub job_id: Option<JobId>,
    #[param(value_type = Option<String>, format = Uuid)]
    pub vehicle_id: Option<VehicleId>,
    /// Only those that are not passed.
    pub open: Option<bool>,
    /// How many at most, 1 to 200; absent: 50.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// The `next_cursor` of the page before.
    pub cursor: Option<String>,
}

/// The shop's sheets.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/reading-sheets", operation_id = "listReadingSheets", tag = "preparation",
    description = "Sheets of readings, the latest first.",
    params(("shop" = String, Path, description = "The shop's id"), ReadingSheetQuery),
    responses((status = 200, description = "The sheets", body = Page<ReadingSheet>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<ReadingSheetQuery>) -> Result<HttpResponse, Problem> {
    let query = query.0;
    let most = limit(query.limit)?;
    let after = match &query.cursor {
        Some(text) => Some(ReadingSheetId::parse(text).ok_or_else(bad_cursor)?),
        None => None,
    };
    let wanted = Wanted {
        job_id: query.job_id,
        vehicle_id: query.vehicle_id,
        open: query.open.unwrap_or(false),
        after,
        limit: most + 1,
    };
    let rows = ctx.read(move |conn, shop| sheets::all(conn, shop.id, &wanted)).await?;
    Ok(ok(&page(rows, most, |row| row.id.to_string())))
}

/// Begins a sheet.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/reading-sheets", operation_id = "beginReadingSheet", tag = "preparation",
    description = "Begins a sheet of readings on a job, or of a vehicle alone. Without a list it goes by the narrowest one that fits.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each sheet you begin")),
    request_body = NewReadingSheet,
    responses((status = 201, description = "The sheet", body = ShownReadingSheet), Problems)
)]
pub async fn begin(ctx: Ctx, body: Json<NewReadingSheet>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    ctx.once(&body.hash, move |write| {
        let begun = sheet_write::begin(write, &new)?;
        let shop = &write.shop.public_id;
        let place = format!("/api/v1/shops/{shop}/reading-sheets/{}", begun.sheet.id);
        Ok(Made::created(place, begun.sheet.version, begun))
    })
    .await
}

/// One sheet.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/reading-sheets/{sheet}", operation_id = "readReadingSheet", tag = "preparation",
    description = "A sheet: its list, every reading that was taken, and the verdict line by line.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("sheet" = String, Path, description = "The sheet's id")),
    responses((status = 200, description = "The sheet", body = ShownReadingSheet), Problems)
)]
pub async fn read(
    ctx: Ctx,
    parts: Parts<(String, ReadingSheetId)>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let shown = ctx
        .read(move |conn, shop| {
            let sheet = sheets::by_id(conn, shop.id, &id)?;
            sheets::shown(conn, sheet)
        })
        .await?;
    Ok(versioned(shown.sheet.version, &shown))
}

/// Takes a reading.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/reading-sheets/{sheet}/readings", operation_id = "takeReading", tag = "preparation",
    description = "Takes the reading of one line, or says why there is none. Taken again it is another attempt: both stay, and the later counts.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("sheet" = String, Path, description = "The sheet's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each reading you take")),
    request_body = NewReading,
    responses((status = 200, description = "The sheet as it is now", body = ShownReadingSheet), Problems)
)]
pub async fn take(
    ctx: Ctx,
    parts: Parts<(String, ReadingSheetId)>,
    body: Json<NewReading>,
) -> Result<HttpResponse, Problem> {
    let (id, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let shown = sheet_write::read(write, &id, &new)?;
        Ok(Made::done(shown.sheet.version, shown))
    })
    .await
}

/// Says that the vehicle passes.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/reading-sheets/{sheet}/pass", operation_id = "passReadingSheet", tag = "preparation",
    description = "Says that the vehicle passes, which ends the sheet. Refused while a line fails or is not measured.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("sheet" = String, Path, description = "The sheet's id")),
    responses((status = 200, description = "The sheet as it is now", body = ShownReadingSheet), Problems)
)]
pub async fn pass(
    ctx: Ctx,
    parts: Parts<(String, ReadingSheetId)>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let shown = ctx.write(move |write| sheet_write::pass(write, &id)).await?;
    Ok(versioned(shown.sheet.version, &shown))
}
