//! The forms of an order's page: jobs added, amounts agreed to, the hand-over,
//! voiding.

use actix_web::HttpResponse;

use super::authorize::{self, NewAuthorization};
use super::model::{self, HandOver};
use super::page_job::{new_job, typed_or_picked};
use super::page_order::settle;
use super::page_write_up::local_time;
use super::void::{self, Voiding};
use crate::db::Answer;
use crate::domain::ids::OrderId;
use crate::jobs::model::Job;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};

fn hand_over(fields: &Fields) -> Result<(i32, HandOver), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let with = HandOver { odometer_out: read.whole("odometer_out") };
    read.finish(seen.map(|seen| (seen, with)))
}

/// Hands the vehicle over.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn close(
    mut ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let done = match hand_over(&form.value) {
        Ok((seen, with)) => {
            let order = id.clone();
            ctx.once(&form.hash, move |write| {
                let whole = model::hand_over(write, &order, seen, &with)?;
                Ok(Made::done(whole.order.version, whole.order))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, id, "hand-over", form.value, done).await
}

/// Adds a job to an open order, and goes to it.
///
/// # Errors
/// As there.
pub async fn add_job(
    mut ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let mut read = Reader::new(&form.value);
    let new = new_job(&ctx, &mut read)?;
    let another = form.value.typed("then") == "another";
    let done = match read.finish(Some(new)) {
        Ok(new) => {
            let order = id.clone();
            ctx.once(&form.hash, move |write| -> Answer<Made<Job>> {
                let job = model::append_job(write, &order, &new)?;
                let base = format!("/shops/{}/orders/{order}", write.shop.code);
                let place = if another {
                    format!("{base}?did=job-added&add=job#add-job")
                } else {
                    format!("{base}?did=job-added#job-{}", job.job_no)
                };
                Ok(Made { status: 200, location: Some(place), version: None, body: job })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, id, "add-job", form.value, done).await
}

fn agreed(fields: &Fields, shop: &Shop) -> Result<NewAuthorization, Problem> {
    let mut read = Reader::new(fields);
    read.require("amount_minor", "write the amount that the customer agreed to");
    let amount_minor = read.amount("amount_minor", &shop.money());
    let new = amount_minor.map(|amount_minor| NewAuthorization {
        amount_minor,
        authorized_by: read.text("authorized_by").unwrap_or_default(),
        authorized_how: typed_or_picked(fields, "authorized_how", "authorized_how_pick")
            .unwrap_or_default(),
        authorized_at: read.word("authorized_at", |text| local_time(shop, text)),
        note: read.text("note"),
    });
    read.finish(new)
}

/// Adds an amount that the customer agreed to.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn authorize(
    mut ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let done = match agreed(&form.value, ctx.shop()?) {
        Ok(new) => {
            let order = id.clone();
            ctx.once(&form.hash, move |write| {
                let body = authorize::add(write, &order, &new)?;
                Ok(Made { status: 200, location: None, version: None, body })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, id, "authorize", form.value, done).await
}

fn voiding(fields: &Fields) -> Result<(i32, Voiding), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let with = Voiding { reason: read.text("reason").unwrap_or_default() };
    read.finish(seen.map(|seen| (seen, with)))
}

/// Voids the order.
///
/// # Errors
/// As there.
pub async fn void(
    mut ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let done = match voiding(&form.value) {
        Ok((seen, with)) => {
            let order = id.clone();
            ctx.once(&form.hash, move |write| {
                let whole = void::void(write, &order, seen, &with)?;
                Ok(Made::done(whole.order.version, whole.order))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, id, "void", form.value, done).await
}
