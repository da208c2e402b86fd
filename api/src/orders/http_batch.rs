//! Many repair orders at once over HTTP.

use actix_web::HttpResponse;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::model::{self, NewOrder, WholeOrder};
use crate::db::{Answer, Fault};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::role::Permission;
use crate::jobs::http::money;
use crate::problem::{Problem, ProblemBody};
use crate::shops::write::ShopWrite;
use crate::web::answer::Made;
use crate::web::body::{Json, from_value};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// The most that one request opens.
const MOST_ITEMS: usize = 500;

/// Write-ups to open in their order.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOrders {
    #[schema(value_type = Vec<NewOrder>, min_items = 1, max_items = 500)]
    pub items: Vec<Value>,
    /// Whether one refused write-up refuses all. Absent: false, each stands or
    /// falls by itself.
    #[serde(default)]
    pub atomic: bool,
}

/// What became of the write-ups, in their order.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct OpenedOrders {
    pub items: Vec<OpenedOrder>,
}

/// What became of one write-up: an order or a problem.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct OpenedOrder {
    /// The status that it would have had by itself.
    pub status: u16,
    pub order: Option<WholeOrder>,
    pub problem: Option<ProblemBody>,
}

/// Opens many orders.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/orders/batch", operation_id = "openOrders", tag = "order",
    description = "Writes up as many as 500 visits at once, each as by openOrder, in their order and under one Idempotency-Key. The body may weigh up to 2 MiB. Without `atomic` each stands or falls by itself, and the answer tells for each its status; with it one refused write-up refuses all, and `errors` points into `items`.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each batch you send")),
    request_body = NewOrders,
    responses((status = 200, description = "What became of each", body = OpenedOrders), Problems)
)]
pub async fn open(ctx: Ctx, body: Json<NewOrders>) -> Result<HttpResponse, Problem> {
    let NewOrders { items, atomic } = body.value;
    if !(1..=MOST_ITEMS).contains(&items.len()) {
        return Err(Refusal::field("items", "range", "send between 1 and 500 write-ups").into());
    }
    let may = (ctx.may(Permission::WriteFront), ctx.may(Permission::LinkComeback));
    let rights = money(&ctx);
    let read: Vec<Result<NewOrder, Refusal>> =
        items.into_iter().map(|item| read(item, may)).collect();
    ctx.once(&body.hash, move |write| {
        let mut items = if atomic { open_all(write, &read)? } else { open_each(write, &read)? };
        for item in &mut items {
            item.order = item.order.take().map(|order| order.for_eyes(rights));
        }
        Ok(Made { status: 200, body: OpenedOrders { items }, location: None, version: None })
    })
    .await
}

/// A write-up that the asker may send.
fn read(item: Value, (fronts, links): (bool, bool)) -> Result<NewOrder, Refusal> {
    let new: NewOrder = from_value(item).map_err(|fault| Refusal::Invalid(vec![fault]))?;
    if new.is_of_the_front() && !fronts {
        let why = "your role may not write customers or authorizations here";
        return Err(Refusal::Forbidden(why.to_owned()));
    }
    if new.links() && !links {
        let why = "your role may not link a comeback; leave it to an adviser or the manager";
        return Err(Refusal::Forbidden(why.to_owned()));
    }
    Ok(new)
}

fn open_one(write: &mut ShopWrite<'_>, read: &Result<NewOrder, Refusal>) -> Answer<WholeOrder> {
    let new = read.as_ref().map_err(Refusal::clone)?;
    model::open(write, new)
}

/// All, or none: every fault is told with its place.
fn open_all(
    write: &mut ShopWrite<'_>,
    all: &[Result<NewOrder, Refusal>],
) -> Answer<Vec<OpenedOrder>> {
    let mut opened = Vec::new();
    let mut faults: Vec<FieldFault> = Vec::new();
    for (place, read) in all.iter().enumerate() {
        match write.apart(|write| open_one(write, read)) {
            Ok(order) => {
                opened.push(OpenedOrder { status: 201, order: Some(order), problem: None });
            }
            Err(Fault::Refused(refusal)) => faults.extend(at_place(place, refusal)),
            Err(fault) => return Err(fault),
        }
    }
    if faults.is_empty() { Ok(opened) } else { Err(Refusal::Invalid(faults).into()) }
}

fn at_place(place: usize, refusal: Refusal) -> Vec<FieldFault> {
    let base = format!("/items/{place}");
    if let Refusal::Invalid(faults) = refusal {
        let moved =
            |fault: FieldFault| FieldFault { pointer: format!("{base}{}", fault.pointer), ..fault };
        return faults.into_iter().map(moved).collect();
    }
    let problem = Problem::from(refusal);
    vec![FieldFault { pointer: base, code: problem.kind.slug, detail: problem.detail }]
}

/// Each by itself.
fn open_each(
    write: &mut ShopWrite<'_>,
    all: &[Result<NewOrder, Refusal>],
) -> Answer<Vec<OpenedOrder>> {
    let mut items = Vec::new();
    for read in all {
        items.push(match write.apart(|write| open_one(write, read)) {
            Ok(order) => OpenedOrder { status: 201, order: Some(order), problem: None },
            Err(Fault::Refused(refusal)) => {
                let problem = Problem::from(refusal);
                let status = problem.kind.status;
                OpenedOrder { status, order: None, problem: Some(problem.body()) }
            }
            Err(fault) => return Err(fault),
        });
    }
    Ok(items)
}
