//! Calls over HTTP.

use actix_web::HttpResponse;
use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};

use super::model::{self, FollowUp, NewFollowUp, Owed};
use super::summary::{self, CallSummary};
use crate::domain::day;
use crate::domain::ids::{FollowUpId, JobId, OrderId, VehicleId};
use crate::domain::refusal::FieldFault;
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok};
use crate::web::body::{Json, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::{Problems, bad_cursor, limit, page};

/// Days of hand-overs that the summary is about, where nothing is asked.
pub const USUAL_SPAN: u64 = 89;

/// A call that is owed.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct OwedCall {
    pub job_id: JobId,
    pub order_id: OrderId,
    pub vehicle_id: VehicleId,
    /// Order and job number.
    pub number: String,
    pub customer_name: Option<String>,
    pub customer_contact: Option<String>,
    /// The customer's own words.
    pub complaint: Option<String>,
    pub symptom: Option<String>,
    pub closed_on: Option<NaiveDate>,
    pub due_on: NaiveDate,
    /// It comes and goes, was not reproduced, or its cause is only suspected.
    pub intermittent: bool,
    /// Calls that reached nobody.
    pub tries: usize,
}

impl From<Owed> for OwedCall {
    fn from(owed: Owed) -> Self {
        let intermittent = owed.of.is_intermittent();
        let (job, order) = (owed.of.job, owed.of.order);
        Self {
            number: format!("{}/{}", order.order_no, job.job_no),
            job_id: job.id,
            order_id: order.id,
            vehicle_id: owed.of.vehicle.id,
            customer_name: order.customer_name,
            customer_contact: order.customer_contact,
            complaint: job.complaint,
            symptom: job.symptom,
            closed_on: order.closed_on,
            due_on: owed.due.due_on,
            intermittent,
            tries: owed.due.tries,
        }
    }
}

/// The calls owed.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/follow-ups/due", operation_id = "listDueFollowUps", tag = "follow-up",
    description = "Customers to call today, those with a contact first, then those longest due: repaired and not reproduced complaints that were handed over long enough ago, did not come back, and whose customer was not reached yet. A customer not reached is called again after three days, three times in all; sixty days past its day a call is owed no more.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The calls", body = Page<OwedCall>), Problems)
)]
pub async fn due(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let now = ctx.now;
    let owed = ctx.read(move |conn, shop| model::owed(conn, shop, shop.zone().day(now))).await?;
    let items: Vec<OwedCall> = owed.into_iter().map(OwedCall::from).collect();
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Which calls.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct FollowUpQuery {
    /// How many at most, 1 to 200; absent: 50.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// The `next_cursor` of the page before.
    pub cursor: Option<String>,
}

/// The calls made.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/follow-ups", operation_id = "listFollowUps", tag = "follow-up",
    description = "The calls made, the latest written first.",
    params(("shop" = String, Path, description = "The shop's id"), FollowUpQuery),
    responses((status = 200, description = "The calls", body = Page<FollowUp>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<FollowUpQuery>) -> Result<HttpResponse, Problem> {
    let most = limit(query.0.limit)?;
    let before = match &query.0.cursor {
        Some(text) => Some(FollowUpId::parse(text).ok_or_else(bad_cursor)?),
        None => None,
    };
    let rows =
        ctx.read(move |conn, shop| model::list(conn, shop.id, before.as_ref(), most + 1)).await?;
    Ok(ok(&page(rows, most, |row| row.id.to_string())))
}

/// Which hand-overs.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct SummaryQuery {
    /// First day of the hand-over; absent: 89 days before the last.
    pub from: Option<NaiveDate>,
    /// Last day; absent: today.
    pub to: Option<NaiveDate>,
}

fn refuse(pointer: &str, detail: &str) -> Problem {
    let fault = FieldFault { pointer: pointer.into(), code: "range", detail: detail.into() };
    Problem::invalid(vec![fault])
}

fn span(query: &SummaryQuery, today: NaiveDate) -> Result<(NaiveDate, NaiveDate), Problem> {
    for (name, asked) in [("from", query.from), ("to", query.to)] {
        if let Some(Err(fault)) = asked.map(|asked| day::known(name, asked)) {
            return Err(refuse(name, &fault.detail));
        }
    }
    let to = query.to.unwrap_or(today);
    let usual = || to.checked_sub_days(Days::new(USUAL_SPAN)).unwrap_or(to);
    let from = query.from.unwrap_or_else(usual);
    if from > to {
        return Err(refuse("from", "give a first day on or before the last"));
    }
    Ok((from, to))
}

/// What the calls say together.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/follow-ups/summary", operation_id = "readFollowUpSummary", tag = "follow-up",
    description = "Of the complaints handed over in a time: calls owed, made and answered, and the share of customers reached who said that it did not hold, with Wilson's interval. It stands beside the comeback share, which also counts who never was called.",
    params(("shop" = String, Path, description = "The shop's id"), SummaryQuery),
    responses((status = 200, description = "The summary", body = CallSummary), Problems)
)]
pub async fn summary(ctx: Ctx, query: Params<SummaryQuery>) -> Result<HttpResponse, Problem> {
    let today = ctx.shop()?.zone().day(ctx.now);
    let span = span(&query.0, today)?;
    let found = ctx.read(move |conn, shop| summary::read(conn, shop, span, today)).await?;
    Ok(ok(&found))
}

/// Keeps a call.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/jobs/{job}/follow-ups", operation_id = "addFollowUp", tag = "follow-up",
    description = "Keeps how a call ended. Who said that it holds may be asked again, though no second call is owed; after a return was told no call is kept. Not fixed, or fixed elsewhere, of a repaired complaint counts as a return on the day of the call.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each call you keep")),
    request_body = NewFollowUp,
    responses((status = 201, description = "The call", body = FollowUp), Problems)
)]
pub async fn add(
    ctx: Ctx,
    parts: Parts<(String, JobId)>,
    body: Json<NewFollowUp>,
) -> Result<HttpResponse, Problem> {
    let (job, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = model::record(write, &job, &new)?;
        let place = format!("/api/v1/shops/{}/jobs/{job}", write.shop.public_id);
        Ok(Made::created(place, row.version, row))
    })
    .await
}

/// Takes a call back.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/jobs/{job}/follow-ups/{id}", operation_id = "removeFollowUp", tag = "follow-up",
    description = "Takes a call back, with the return that it told of.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("job" = String, Path, description = "The job's id"),
        ("id" = String, Path, description = "The id of the call")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn remove(
    ctx: Ctx,
    parts: Parts<(String, JobId, FollowUpId)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, job, id)) = parts;
    ctx.write(move |write| model::remove(write, &job, &id)).await?;
    Ok(HttpResponse::NoContent().finish())
}
