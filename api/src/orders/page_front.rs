//! What the adviser keeps of an order: promise, customer, odometer; after the
//! hand-over the service manager corrects it.

use actix_web::HttpResponse;

use super::model::{self, Order, OrderPatch};
use super::page_order::settle;
use super::page_write_up::local_time;
use crate::domain::ids::OrderId;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};

/// The form as the order stands.
#[must_use]
pub fn blank(order: &Order, shop: &Shop) -> Fields {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    Fields::of(&[
        // As browsers want a time on the wall.
        (
            "promised_at",
            order.promised_at.map(|at| shop.zone().show(at).replace(' ', "T")).unwrap_or_default(),
        ),
        ("customer_name", text(&order.customer_name)),
        ("customer_contact", text(&order.customer_contact)),
        ("odometer_in", order.odometer_in.map(|read| read.to_string()).unwrap_or_default()),
        ("odometer_out", order.odometer_out.map(|read| read.to_string()).unwrap_or_default()),
    ])
}

fn patch(fields: &Fields, order: &Order, shop: &Shop) -> Result<(i32, OrderPatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let closed = order.status == "closed";
    let patch = OrderPatch {
        customer_name: Some(read.text("customer_name")),
        customer_contact: Some(read.text("customer_contact")),
        promised_at: Some(read.word("promised_at", |text| local_time(shop, text))),
        odometer_in: Some(read.whole("odometer_in")),
        odometer_out: closed.then(|| read.whole("odometer_out")),
        ..OrderPatch::default()
    };
    read.finish(seen.map(|seen| (seen, patch)))
}

/// Changes them.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn change(
    mut ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let wanted = id.clone();
    let order = ctx.read(move |conn, shop| model::by_id(conn, shop.id, &wanted)).await?;
    let shop = ctx.shop()?.clone();
    let done = match patch(&form.value, &order, &shop) {
        Ok((seen, patch)) => {
            let order = id.clone();
            ctx.once(&form.hash, move |write| {
                let whole = model::patch(write, &order, seen, &patch)?;
                Ok(Made::done(whole.order.version, whole.order))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, id, "front", form.value, done).await
}
