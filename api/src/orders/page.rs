//! Today's open orders, and the page of one order.

use actix_web::HttpResponse;
use actix_web::http::header;
use askama::Template;

use super::model::{self, HandOver, WholeOrder};
use super::page_front;
use super::page_write_up::{JobPicks, new_job};
use crate::comebacks::view::{ListedComeback, ToldBrief, listed};
use crate::db::Answer;
use crate::domain::ids::OrderId;
use crate::domain::role::Permission;
use crate::jobs::brief;
use crate::jobs::labor::LaborEntry;
use crate::jobs::model::Job;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::{self, Shown};

/// Earlier visits shown beside an order.
const VISITS: i64 = 12;

/// A job of an open order, in a line.
pub struct JobLine {
    id: String,
    job_no: i32,
    kind: Option<&'static str>,
    complaint: Option<String>,
    symptom: Option<String>,
    lead: Option<String>,
    /// Who works on it now, on what.
    at_work: Vec<String>,
    waits_for: Option<String>,
    /// How it ended.
    outcome: Option<&'static str>,
    cause: Option<String>,
}

impl JobLine {
    fn of(job: &Job, words: &Words, running: &[LaborEntry]) -> Self {
        let complaint = analytics::words::JobKind::Complaint;
        Self {
            id: job.id.to_string(),
            job_no: job.job_no,
            kind: (job.kind.0 != complaint).then(|| job.kind.0.shown()),
            complaint: job.complaint.clone(),
            symptom: words.label("symptom", job.symptom.as_deref()),
            lead: words.name(job.lead_id.as_ref()),
            at_work: running
                .iter()
                .filter(|entry| entry.job_id == job.id)
                .filter_map(|entry| {
                    let who = words.name(Some(&entry.person_id))?;
                    let on = entry.activity.map_or("work", |activity| activity.0.shown());
                    Some(format!("{who}, {on} since {}", words.moment(entry.started_at)))
                })
                .collect(),
            waits_for: job
                .waiting_for
                .as_deref()
                .map(|word| words::label_of(&words::waits(), word)),
            outcome: job.outcome.map(|word| word.0.shown()),
            cause: words.label("cause", job.cause.as_deref()),
        }
    }
}

/// An order as lists and its own page show it.
pub struct ToldOrder {
    id: String,
    order_no: String,
    status: String,
    version: i32,
    vehicle: String,
    customer_name: Option<String>,
    customer_contact: Option<String>,
    opened: String,
    promised: Option<String>,
    /// Promised for a time that is over.
    late: bool,
    handed_over: Option<String>,
    odometer_in: Option<String>,
    odometer_out: Option<String>,
    authorized: Option<String>,
    jobs: Vec<JobLine>,
    /// Every job has ended.
    ended: bool,
}

impl ToldOrder {
    fn of(whole: &WholeOrder, words: &Words, running: &[LaborEntry]) -> Self {
        let order = &whole.order;
        let read = |value: i64| words::odometer(value, &order.odometer_unit);
        Self {
            id: order.id.to_string(),
            order_no: order.order_no.clone(),
            status: order.status.clone(),
            version: order.version,
            vehicle: whole.vehicle.label(),
            customer_name: order.customer_name.clone(),
            customer_contact: order.customer_contact.clone(),
            opened: words.moment(order.opened_at),
            promised: order.promised_at.map(|at| words.moment(at)),
            late: order.promised_at.is_some_and(|at| at < words.now),
            handed_over: order.closed_at.map(|at| words.moment(at)),
            odometer_in: order.odometer_in.map(read),
            odometer_out: order.odometer_out.map(read),
            authorized: authorized(whole, words),
            jobs: whole.jobs.iter().map(|job| JobLine::of(job, words, running)).collect(),
            ended: !whole.jobs.is_empty() && whole.jobs.iter().all(|job| job.outcome.is_some()),
        }
    }
}

fn authorized(whole: &WholeOrder, words: &Words) -> Option<String> {
    let order = &whole.order;
    let money = words.shop.money();
    let mut told = format!("{} {}", money.format_amount(order.authorized_minor?), money.code());
    for (lead, part) in [("by", &order.authorized_by), ("", &order.authorized_how)] {
        if let Some(part) = part {
            told.push_str(&format!(" {lead} {part}").replace("  ", " "));
        }
    }
    if let Some(at) = order.authorized_at {
        told.push_str(&format!(", {}", words.moment(at)));
    }
    Some(told)
}

#[derive(Template)]
#[template(path = "today.html")]
struct TodayPage {
    viewer: Viewer,
    shop: String,
    date: String,
    orders: Vec<ToldOrder>,
    undecided: usize,
}

/// Open orders by promised time.
///
/// # Errors
/// Where the record does not answer.
pub async fn today(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let now = ctx.now;
    let (words, orders, running, undecided) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let proposed = analytics::words::LinkState::Proposed;
            let waiting =
                crate::comebacks::model::list(conn, shop.id, Some(proposed), None, 200)?.len();
            let orders = model::open_by_promise(conn, shop.id)?;
            Ok((words, orders, brief::running(conn, shop.id)?, waiting))
        })
        .await?;
    page::html(&TodayPage {
        viewer: Viewer::of(&ctx),
        shop: words.shop.code.clone(),
        date: words.shop.zone().day(now).format("%A, %B %-d, %Y").to_string(),
        orders: orders.iter().map(|whole| ToldOrder::of(whole, &words, &running)).collect(),
        undecided,
    })
}

#[derive(Template)]
#[template(path = "order.html")]
struct OrderPage {
    viewer: Viewer,
    shop: String,
    order: ToldOrder,
    vin: Option<String>,
    plate: Option<String>,
    engine: Option<String>,
    vin_warning: Option<String>,
    comebacks: Vec<ListedComeback>,
    visits: Vec<ToldBrief>,
    open: bool,
    may_link: bool,
    front: bool,
    currency: String,
    picks: JobPicks,
    blank_front: Fields,
    tried: Option<Tried>,
}

impl OrderPage {
    fn form(&self, name: &str) -> FormView {
        let blank = if name == "front" { self.blank_front.clone() } else { Fields::default() };
        FormView::of(name, self.tried.as_ref(), blank)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }
}

async fn view(ctx: &Ctx, id: OrderId, tried: Option<Tried>) -> Result<OrderPage, Problem> {
    let now = ctx.now;
    let (words, whole, running, comebacks, visits, picks) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let whole = model::whole(conn, shop.id, &id)?;
            let comebacks = listed(conn, &words, &whole.comebacks)?;
            let visits = brief::of_vehicle(conn, shop.id, &whole.vehicle.id, VISITS)?;
            let picks = JobPicks::load(conn, &words)?;
            Ok((words, whole, brief::running(conn, shop.id)?, comebacks, visits, picks))
        })
        .await?;
    Ok(OrderPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        open: whole.order.status == "open" && ctx.may(Permission::WriteWork),
        may_link: ctx.may(Permission::LinkComeback),
        front: ctx.may(Permission::WriteFront),
        currency: words.shop.currency.clone(),
        blank_front: page_front::blank(&whole.order, &words.shop),
        order: ToldOrder::of(&whole, &words, &running),
        vin_warning: whole.vin_warning,
        vin: whole.vehicle.vin,
        plate: whole.vehicle.plate,
        engine: whole.vehicle.engine,
        comebacks,
        visits: visits
            .iter()
            .filter(|visit| visit.job.order_id != whole.order.id)
            .map(|visit| ToldBrief::of(visit, &words))
            .collect(),
        picks,
        tried,
    })
}

/// One order.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn order(ctx: Ctx, parts: Parts<(String, OrderId)>) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, parts.0.1, None).await?)
}

/// After a form of the order's page: back to it, or the page with what is wrong.
pub(super) async fn settle(
    ctx: &Ctx,
    id: OrderId,
    name: &'static str,
    fields: Fields,
    done: Result<HttpResponse, Problem>,
) -> Result<HttpResponse, Problem> {
    match done {
        Ok(made) => {
            let back = format!("/shops/{}/orders/{id}#{name}", ctx.shop()?.code);
            let place = made.headers().get(header::LOCATION).and_then(|v| v.to_str().ok());
            Ok(see_other(place.unwrap_or(&back)))
        }
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: name, fields, problem: problem.clone() };
            refused(&problem, &view(ctx, id, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

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
                Ok(Made::done(whole.order.version, whole))
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
    let done = match read.finish(Some(new)) {
        Ok(new) => {
            let order = id.clone();
            ctx.once(&form.hash, move |write| -> Answer<Made<Job>> {
                let job = model::append_job(write, &order, &new)?;
                let place = format!("/shops/{}/orders/{order}#job-{}", write.shop.code, job.job_no);
                Ok(Made { status: 200, location: Some(place), version: None, body: job })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, id, "add-job", form.value, done).await
}
