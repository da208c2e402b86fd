//! Repair orders over HTTP.

use actix_web::HttpResponse;
use serde::Deserialize;

use super::authorize::{self, Authorization, NewAuthorization};
use super::model::{self, Filter, HandOver, NewOrder, Order, OrderPatch, WholeOrder};
use super::void::{self, Voiding};
use super::write_up::links;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{OrderId, VehicleId};
use crate::domain::refusal::FieldFault;
use crate::domain::role::Permission;
use crate::jobs::http::money;
use crate::jobs::model::{Job, NewJob};
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::{Problems, bad_cursor, limit, page};

/// Which orders.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct OrderQuery {
    /// `open`, `closed` or `void`.
    pub status: Option<String>,
    /// The order with this number.
    pub order_no: Option<String>,
    /// The visits of this vehicle.
    #[param(value_type = Option<String>, format = Uuid)]
    pub vehicle_id: Option<VehicleId>,
    /// How many at most, 1 to 200; absent: 50.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// The `next_cursor` of the page before.
    pub cursor: Option<String>,
}

fn cursor(text: &str) -> Option<(UtcStamp, OrderId)> {
    let (at, id) = text.split_once('_')?;
    let at = chrono::DateTime::from_timestamp_micros(at.parse().ok()?)?;
    Some((UtcStamp::new(at), OrderId::parse(id)?))
}

/// The shop's orders.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/orders", operation_id = "listOrders", tag = "order",
    description = "Repair orders, newest first.",
    params(("shop" = String, Path, description = "The shop's id"), OrderQuery),
    responses((status = 200, description = "The orders", body = Page<Order>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<OrderQuery>) -> Result<HttpResponse, Problem> {
    let query = query.0;
    let most = limit(query.limit)?;
    if query.status.as_deref().is_some_and(|s| !["open", "closed", "void"].contains(&s)) {
        return Err(Problem::invalid(vec![FieldFault {
            pointer: "status".into(),
            code: "word",
            detail: "choose open, closed or void".into(),
        }]));
    }
    let after = match &query.cursor {
        Some(text) => Some(cursor(text).ok_or_else(bad_cursor)?),
        None => None,
    };
    let filter = Filter {
        status: query.status,
        order_no: query.order_no,
        vehicle_id: query.vehicle_id,
        after,
        limit: most + 1,
    };
    let rights = money(&ctx);
    let rows = ctx.read(move |conn, shop| model::list(conn, shop.id, &filter)).await?;
    let rows: Vec<Order> = rows.into_iter().map(|row| row.for_eyes(rights)).collect();
    Ok(ok(&page(rows, most, |row| {
        format!("{}_{}", row.opened_at.utc().timestamp_micros(), row.id)
    })))
}

/// Refuses a write-up that says more than its sender may: customer and
/// authorization are the front's, and so is what came back for what.
///
/// # Errors
/// Forbidden.
pub fn may_write_up(ctx: &Ctx, new: &NewOrder) -> Result<(), Problem> {
    if new.is_of_the_front() {
        ctx.demand(Permission::WriteFront)?;
    }
    if new.links() {
        ctx.demand(Permission::LinkComeback)?;
    }
    Ok(())
}

/// As [`may_write_up`], for one job.
///
/// # Errors
/// As there.
pub fn may_add_job(ctx: &Ctx, new: &NewJob) -> Result<(), Problem> {
    if links(new) { ctx.demand(Permission::LinkComeback) } else { Ok(()) }
}

/// Opens an order.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/orders", operation_id = "openOrder", tag = "order",
    description = "Writes up a visit: vehicle, customer's words, jobs. Comebacks are proposed where the vehicle was in before for something like it; ask the customer.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each order you open")),
    request_body = NewOrder,
    responses((status = 201, description = "The order with its jobs and proposed comebacks", body = WholeOrder), Problems)
)]
pub async fn open(ctx: Ctx, body: Json<NewOrder>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    may_write_up(&ctx, &new)?;
    let rights = money(&ctx);
    ctx.once(&body.hash, move |write| {
        let whole = model::open(write, &new)?.for_eyes(rights);
        let place = format!("/api/v1/shops/{}/orders/{}", write.shop.public_id, whole.order.id);
        Ok(Made::created(place, whole.order.version, whole))
    })
    .await
}

/// One order.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/orders/{order}", operation_id = "readOrder", tag = "order",
    description = "An order with its vehicle, jobs and the comebacks they may be, what was agreed to and what is charged.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("order" = String, Path, description = "The order's id")),
    responses((status = 200, description = "The order", body = WholeOrder), Problems)
)]
pub async fn read(ctx: Ctx, parts: Parts<(String, OrderId)>) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let whole = ctx.read(move |conn, shop| model::whole(conn, shop.id, &id)).await?;
    Ok(versioned(whole.order.version, &whole.for_eyes(money(&ctx))))
}

/// Changes an order.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/orders/{order}", operation_id = "changeOrder", tag = "order",
    description = "Changes customer, promised time, authorization or odometer of an open order (JSON merge patch). The service manager may correct one that is handed over; it is marked.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("order" = String, Path, description = "The order's id"),
        ("If-Match" = String, Header, description = "The ETag you read")),
    request_body(content = OrderPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The order as it is now", body = WholeOrder), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    body: Json<OrderPatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, patch) = (parts.0.1, body.value);
    let whole = ctx.write(move |write| model::patch(write, &id, seen, &patch)).await?;
    Ok(versioned(whole.order.version, &whole.for_eyes(money(&ctx))))
}

/// Adds a job.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/orders/{order}/jobs", operation_id = "addJob", tag = "order",
    description = "Adds a job to an open order.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("order" = String, Path, description = "The order's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each job you add")),
    request_body = NewJob,
    responses((status = 201, description = "The job", body = Job), Problems)
)]
pub async fn add_job(
    ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    body: Json<NewJob>,
) -> Result<HttpResponse, Problem> {
    let (id, new) = (parts.0.1, body.value);
    may_add_job(&ctx, &new)?;
    ctx.once(&body.hash, move |write| {
        let job = model::append_job(write, &id, &new)?;
        let place = format!("/api/v1/shops/{}/jobs/{}", write.shop.public_id, job.id);
        Ok(Made::created(place, job.version, job))
    })
    .await
}

/// Hands the vehicle over.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/orders/{order}/closure", operation_id = "handOver", tag = "order",
    description = "Closes the order: the vehicle is handed over. Every job has ended by then. Nothing is reopened afterwards; a return is a new order.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("order" = String, Path, description = "The order's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each order you close")),
    request_body = HandOver,
    responses((status = 200, description = "The closed order", body = WholeOrder), Problems)
)]
pub async fn close(
    ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    body: Json<HandOver>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, with, rights) = (parts.0.1, body.value, money(&ctx));
    ctx.once(&body.hash, move |write| {
        let whole = model::hand_over(write, &id, seen, &with)?.for_eyes(rights);
        Ok(Made::done(whole.order.version, whole))
    })
    .await
}

/// Adds an amount that was agreed to.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/orders/{order}/authorizations", operation_id = "authorizeOrder", tag = "order",
    description = "Keeps an amount that the customer agreed to: the whole of it, not what was added. Earlier ones stay; the latest stands on the order.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("order" = String, Path, description = "The order's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each amount you add")),
    request_body = NewAuthorization,
    responses((status = 201, description = "The amount", body = Authorization), Problems)
)]
pub async fn authorize(
    ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    body: Json<NewAuthorization>,
) -> Result<HttpResponse, Problem> {
    let (id, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = authorize::add(write, &id, &new)?;
        let place = format!("/api/v1/shops/{}/orders/{id}", write.shop.public_id);
        Ok(Made { status: 201, body: row, location: Some(place), version: None })
    })
    .await
}

/// Voids an order.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/orders/{order}/void", operation_id = "voidOrder", tag = "order",
    description = "Voids an order that was a mistake: it keeps its number and the reason, and counts in no figure. One that is handed over is voided by the service manager.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("order" = String, Path, description = "The order's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each order you void")),
    request_body = Voiding,
    responses((status = 200, description = "The void order", body = WholeOrder), Problems)
)]
pub async fn void(
    ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    body: Json<Voiding>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, with, rights) = (parts.0.1, body.value, money(&ctx));
    ctx.once(&body.hash, move |write| {
        let whole = void::void(write, &id, seen, &with)?.for_eyes(rights);
        Ok(Made::done(whole.order.version, whole))
    })
    .await
}
