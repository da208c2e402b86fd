//! The page of one order: what is promised, who waits for what, what is charged
//! against what was agreed to.

use actix_web::HttpResponse;
use actix_web::http::header;
use analytics::words::{JobKind, Outcome};
use askama::Template;
use serde::Deserialize;

use super::earlier::{self, Earlier};
use super::model::{self, OtherOrder, WholeOrder};
use super::page_front;
use super::page_job::{self, JobPicks};
use super::planned;
use super::view::{ToldAuthorization, ToldCharges, ToldOrder};
use super::waiting::{self, ToldWaiting};
use crate::comebacks::view::{ListedComeback, listed};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId};
use crate::domain::role::Permission;
use crate::jobs::brief;
use crate::jobs::http::money;
use crate::jobs::labor::LaborEntry;
use crate::jobs::model::Job;
use crate::jobs::proofs;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::vehicles::odometer_reset::{self, OdometerReset};
use crate::vehicles::view::{self as history, ToldVisit};
use crate::vehicles::visits::{self, Visit};
use crate::web::body::{Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried, mendable, refused};
use crate::web::notice::{self, Notice};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::Pick;

/// Visits read beside an order.
const VISITS: i64 = 12;

/// What the page is opened for.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OrderQuery {
    /// `job`: the form for one more job stands open.
    pub add: Option<String>,
    /// What was just done.
    pub did: Option<String>,
}

#[derive(Template)]
#[template(path = "order.html")]
pub struct OrderPage {
    viewer: Viewer,
    notice: Option<Notice>,
    shop: String,
    order: ToldOrder,
    vin: Option<String>,
    plate: Option<String>,
    engine: Option<String>,
    vin_warning: Option<String>,
    comebacks: Vec<ListedComeback>,
    visits: Vec<ToldVisit>,
    /// Jobs that one more job may have come back for.
    earlier: Vec<Earlier>,
    window_days: i32,
    waiting: Vec<ToldWaiting>,
    /// How many jobs have ended, of how many.
    ended: (usize, usize),
    open: bool,
    /// The order may be changed by this viewer, as a correction where it is
    /// handed over.
    writes_front: bool,
    may_link: bool,
    closed: bool,
    odometer_warning: Option<String>,
    authorizations: Vec<ToldAuthorization>,
    charges: Option<ToldCharges>,
    /// Repaired complaints whose repair nobody has shown to hold, by number.
    unproved: Option<String>,
    open_orders: Vec<OtherOrder>,
    currency: String,
    picks: JobPicks,
    agreed_how: Vec<Pick>,
    adding: bool,
    blank_front: Fields,
    tried: Option<Tried>,
}

impl OrderPage {
    /// Whether another visit was to come of an earlier job.
    fn more_to_come(&self) -> bool {
        self.earlier.iter().any(|job| job.more_to_come)
    }

    fn form(&self, name: &str) -> FormView {
        let blank = match name {
            "front" => self.blank_front.clone(),
            "add-job" => page_job::blank(),
            _ => Fields::default(),
        };
        FormView::of(name, self.tried.as_ref(), blank)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }
}

/// What one moment of the record holds for the page.
struct Loaded {
    words: Words,
    whole: WholeOrder,
    running: Vec<LaborEntry>,
    comebacks: Vec<ListedComeback>,
    visits: Vec<Visit>,
    resets: Vec<OdometerReset>,
    waiting: Vec<ToldWaiting>,
    planned: Vec<JobId>,
    unproved: Vec<String>,
    picks: JobPicks,
}

/// The numbers of the repaired complaints whose last proof did not pass, or
/// that have none.
fn unproved(conn: &mut Conn, shop: &Shop, jobs: &[Job]) -> Answer<Vec<String>> {
    let mut numbers = Vec::new();
    let repaired = |job: &&Job| {
        job.kind.0 == JobKind::Complaint && job.outcome.is_some_and(|is| is.0 == Outcome::Repaired)
    };
    for job in jobs.iter().filter(repaired) {
        let proofs = proofs::of_job(conn, shop.id, &job.id)?;
        if !proofs.last().is_some_and(|proof| proof.passed) {
            numbers.push(job.job_no.to_string());
        }
    }
    Ok(numbers)
}

fn load(conn: &mut Conn, shop: &Shop, now: UtcStamp, id: &OrderId) -> Answer<Loaded> {
    let words = Words::load(conn, shop, now)?;
    let whole = model::whole(conn, shop.id, id)?;
    let mut planned = Vec::new();
    for job in &whole.jobs {
        if planned::of_job(conn, shop.id, &job.id)?.is_some() {
            planned.push(job.id.clone());
        }
    }
    let mut visits = visits::of_vehicle(conn, shop.id, &whole.vehicle.id, VISITS + 1)?;
    visits.retain(|visit| visit.order.id != whole.order.id);
    Ok(Loaded {
        running: brief::running(conn, shop.id)?,
        comebacks: listed(conn, &words, &whole.comebacks)?,
        resets: odometer_reset::of_vehicle(conn, shop.id, &whole.vehicle.id)?,
        waiting: waiting::of_jobs(conn, &words, &whole.jobs)?,
        picks: JobPicks::load(conn, &words)?,
        unproved: unproved(conn, shop, &whole.jobs)?,
        visits,
        planned,
        words,
        whole,
    })
}

async fn view(
    ctx: &Ctx,
    id: OrderId,
    query: OrderQuery,
    tried: Option<Tried>,
) -> Result<OrderPage, Problem> {
    let now = ctx.now;
    let loaded = ctx.read(move |conn, shop| load(conn, shop, now, &id)).await?;
    let Loaded { words, whole, .. } = loaded;
    let whole = whole.for_eyes(money(ctx));
    let closed = whole.order.status == "closed";
    let open = whole.order.status == "open";
    let writable = open || closed && ctx.may(Permission::Correct);
    let mut order =
        ToldOrder::of(&whole.order, &whole.vehicle, &whole.jobs, &words, &loaded.running);
    order.mark_planned(&loaded.planned);
    let authorized = whole.authorizations.iter().map(|row| ToldAuthorization::of(row, &words));
    let ended = whole.jobs.iter().filter(|job| job.outcome.is_some()).count();
    Ok(OrderPage {
        viewer: Viewer::of(ctx),
        notice: notice::of_query(query.did.as_deref()),
        shop: words.shop.code.clone(),
        open: open && ctx.may(Permission::WriteWork),
        writes_front: writable && ctx.may(Permission::WriteFront),
        may_link: ctx.may(Permission::LinkComeback),
        closed,
        odometer_warning: whole.odometer_warning,
        authorizations: authorized.collect(),
        charges: ToldCharges::of(&whole.charges, &words),
        unproved: (!loaded.unproved.is_empty()).then(|| loaded.unproved.join(", ")),
        open_orders: whole.open_orders,
        currency: words.shop.currency.clone(),
        blank_front: page_front::blank(&whole.order, &words.shop),
        order,
        // Looked at while the vehicle is here; afterwards it is on its own page.
        vin_warning: whole.vin_warning.filter(|_| open),
        vin: whole.vehicle.vin,
        plate: whole.vehicle.plate,
        engine: whole.vehicle.engine,
        comebacks: loaded.comebacks,
        earlier: earlier::of(&loaded.visits, None, &words),
        visits: history::told(&loaded.visits, &loaded.resets, &words),
        window_days: words.shop.window_days,
        waiting: loaded.waiting,
        ended: (ended, whole.jobs.len()),
        picks: loaded.picks,
        agreed_how: page_job::ways_to_agree(),
        adding: query.add.as_deref() == Some("job"),
        tried,
    })
}

/// One order.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn order(
    ctx: Ctx,
    parts: Parts<(String, OrderId)>,
    query: Params<OrderQuery>,
) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, parts.0.1, query.0, None).await?)
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
            let word = if name == "front" { "saved" } else { name };
            let back = format!("/shops/{}/orders/{id}?did={word}#{name}", ctx.shop()?.code);
            let place = made.headers().get(header::LOCATION).and_then(|v| v.to_str().ok());
            Ok(see_other(place.unwrap_or(&back)))
        }
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: name, fields, problem: problem.clone() };
            refused(&problem, &view(ctx, id, OrderQuery::default(), Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}
