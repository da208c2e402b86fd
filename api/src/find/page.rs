//! The page of a search: straight to what was meant where that is beyond doubt,
//! else what it may be.

use actix_web::HttpResponse;
use askama::Template;
use serde::Deserialize;

use super::asked::Asked;
use super::model::{self, Found, FoundOrder, FoundVehicle};
use crate::domain::decimal::thousands;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::web::body::Params;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer, see_other};

/// What is looked for.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FindQuery {
    pub q: Option<String>,
    /// Present: a list even of one thing, for who is still typing.
    pub list: Option<String>,
}

struct ToldOrder {
    id: String,
    order_no: String,
    vehicle: String,
    customer: Option<String>,
    opened: String,
    /// `open`, `handed over` or `void`.
    state: &'static str,
    open: bool,
    about: Vec<String>,
}

impl ToldOrder {
    fn of(row: FoundOrder, words: &Words) -> Self {
        let state = match row.order.status.as_str() {
            "open" => "open",
            "void" => "void",
            _ => "handed over",
        };
        Self {
            id: row.order.id.to_string(),
            vehicle: row.vehicle.label(),
            opened: words.day(row.order.opened_on),
            open: state == "open",
            state,
            about: row.about.iter().map(|text| words.lists.label("symptom", text)).collect(),
            order_no: row.order.order_no,
            customer: row.order.customer_name,
        }
    }
}

struct ToldVehicle {
    id: String,
    label: String,
    vin: Option<String>,
    engine: Option<String>,
    last_visit: Option<String>,
    /// The order that is open now: its id and number.
    here: Option<(String, String)>,
}

impl ToldVehicle {
    fn of(row: FoundVehicle, words: &Words) -> Self {
        let label = row.vehicle.label();
        Self {
            id: row.vehicle.id.to_string(),
            vin: row.vehicle.vin.filter(|vin| !label.contains(vin.as_str())),
            label,
            engine: row.vehicle.engine,
            last_visit: row.last_visit.map(|day| words.day(day)),
            here: row.open.map(|order| (order.id.to_string(), order.order_no)),
        }
    }
}

#[derive(Template)]
#[template(path = "find.html")]
struct FindPage {
    viewer: Viewer,
    shop: String,
    q: String,
    /// Something was looked for.
    asked: bool,
    orders: Vec<ToldOrder>,
    vehicles: Vec<ToldVehicle>,
    more_orders: bool,
    more_vehicles: bool,
    most: usize,
    latest: String,
}

/// Where the one thing is that was meant.
fn place(found: &Found, shop: &str) -> Option<String> {
    if let Some(job) = &found.job {
        return Some(format!("/shops/{shop}/jobs/{job}"));
    }
    match (&found.numbered, found.known.as_slice()) {
        (Some(order), []) if found.vehicles.is_empty() => {
            Some(format!("/shops/{shop}/orders/{order}"))
        }
        (None, [vehicle]) => Some(format!("/shops/{shop}/vehicles/{vehicle}")),
        (None, []) if found.orders.is_empty() => {
            found.told.as_ref().map(|vehicle| format!("/shops/{shop}/vehicles/{vehicle}"))
        }
        _ => None,
    }
}

/// Looks for it.
///
/// # Errors
/// Where the record does not answer.
pub async fn find(ctx: Ctx, query: Params<FindQuery>) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(query.0.q.as_deref().unwrap_or_default());
    let now = ctx.now;
    let (wanted, q) = (!asked.is_empty(), asked.text.clone());
    let (words, found) = ctx
        .read(move |conn, shop| {
            Ok((Words::load(conn, shop, now)?, model::search(conn, shop.id, &asked)?))
        })
        .await?;
    let shop = words.shop.code.clone();
    if let (Some(place), None) = (place(&found, &shop), query.0.list) {
        return Ok(see_other(&place));
    }
    page::html(&FindPage {
        viewer: Viewer::of(&ctx),
        shop,
        q,
        asked: wanted,
        orders: found.orders.into_iter().map(|row| ToldOrder::of(row, &words)).collect(),
        vehicles: found.vehicles.into_iter().map(|row| ToldVehicle::of(row, &words)).collect(),
        more_orders: found.more_orders,
        more_vehicles: found.more_vehicles,
        most: model::MOST,
        latest: thousands(&model::LATEST.to_string()),
    })
}
