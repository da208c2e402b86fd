//! What became of a job after the hand-over: what the customer told without a
//! visit, and what suppliers paid back.

use actix_web::HttpResponse;
use analytics::words::{JobKind, Outcome};
use askama::Template;
use chrono::NaiveDate;
use serde::Serialize;

use super::model::of_job;
use super::outside::{self, NewOutsideReturn, OutsideReturn};
use super::pay_back::{self, NewPayBack, PayBack};
use super::view::{ListedComeback, ToldBrief, ToldOutside, amount, listed, told_words};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, PayBackId};
use crate::domain::money::Currency;
use crate::domain::role::Permission;
use crate::jobs::brief::{self, Brief};
use crate::jobs::http::money;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::shops::write::ShopWrite;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::Pick;

type Done = Result<HttpResponse, Problem>;

struct ToldPayBack {
    supplier: String,
    amount: Option<String>,
    day: String,
    note: Option<String>,
    /// Where it is taken back.
    removal: String,
}

impl ToldPayBack {
    fn of(row: PayBack, words: &Words) -> Self {
        Self {
            amount: row.amount_minor.map(|minor| amount(minor, words)),
            day: words.day(row.paid_on),
            removal: format!(
                "/shops/{}/jobs/{}/pay-backs/{}/removal",
                words.shop.code, row.job_id, row.id
            ),
            supplier: row.supplier,
            note: row.note,
        }
    }
}

#[derive(Template)]
#[template(path = "after.html")]
struct AfterPage {
    viewer: Viewer,
    shop: String,
    currency: String,
    job: ToldBrief,
    /// A repaired complaint that was handed over.
    can_return: bool,
    may_tell: bool,
    outside: Option<ToldOutside>,
    pay_backs: Vec<ToldPayBack>,
    /// Later visits linked to it.
    comebacks: Vec<ListedComeback>,
    told_picks: Vec<Pick>,
    reasons: Vec<Pick>,
    today: String,
    tried: Option<Tried>,
}

impl AfterPage {
    fn form(&self, name: &str) -> FormView {
        let blank = Fields::of(&[("told_on", self.today.clone()), ("paid_on", self.today.clone())]);
        FormView::of(name, self.tried.as_ref(), blank)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        match self.tried.as_ref().map(|tried| tried.form) {
            Some("pay-back") => "pay-backs",
            Some(other) => other,
            None => "",
        }
    }
}

/// What one moment of the record holds for the page.
struct Loaded {
    words: Words,
    job: Brief,
    outside: Option<OutsideReturn>,
    pay_backs: Vec<PayBack>,
    comebacks: Vec<ListedComeback>,
}

fn load(conn: &mut Conn, shop: &Shop, now: UtcStamp, id: &JobId) -> Answer<Loaded> {
    let words = Words::load(conn, shop, now)?;
    let mut later = of_job(conn, shop.id, id)?;
    later.retain(|row| row.earlier_job_id == *id);
    Ok(Loaded {
        job: brief::of(conn, shop.id, id)?,
        comebacks: listed(conn, &words, &later)?,
        words,
        outside: outside::of_job(conn, shop.id, id)?,
        pay_backs: pay_back::of_job(conn, shop.id, id)?,
    })
}

async fn view(ctx: &Ctx, id: JobId, tried: Option<Tried>) -> Result<AfterPage, Problem> {
    let (now, rights) = (ctx.now, money(ctx));
    let Loaded { words, job, outside, pay_backs, comebacks } =
        ctx.read(move |conn, shop| load(conn, shop, now, &id)).await?;
    let repaired = job.job.outcome.is_some_and(|word| word.0 == Outcome::Repaired);
    Ok(AfterPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        currency: words.shop.currency.clone(),
        can_return: repaired && job.closed_on.is_some() && job.job.kind.0 == JobKind::Complaint,
        may_tell: ctx.may(Permission::LinkComeback),
        outside: outside.map(|row| ToldOutside::of(&row, &job, &words)),
        job: ToldBrief::of(&job, &words),
        pay_backs: pay_backs
            .into_iter()
            .map(|row| ToldPayBack::of(row.for_eyes(rights), &words))
            .collect(),
        comebacks,
        told_picks: outside::TOLD.iter().map(|word| Pick::new(*word, told_words(word))).collect(),
        reasons: words.lists.picks("comeback_reason"),
        today: words.shop.zone().day(now).to_string(),
        tried,
    })
}

/// What became of a job.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn job(ctx: Ctx, parts: Parts<(String, JobId)>) -> Done {
    page::html(&view(&ctx, parts.0.1, None).await?)
}

/// Reads a form, does what it asks once, and goes back to the page; where it is
/// refused, the page is shown with what is wrong and what was typed.
async fn act<N, T>(
    mut ctx: Ctx,
    job: JobId,
    form: Form<Fields>,
    name: &'static str,
    parse: impl FnOnce(&Fields, &Currency) -> Result<N, Problem>,
    work: impl Fn(&mut ShopWrite<'_>, &JobId, &N) -> Answer<T> + Send + 'static,
) -> Done
where
    N: Send + 'static,
    T: Serialize,
{
    ctx.take(&form.value)?;
    let done = match parse(&form.value, &ctx.shop()?.money()) {
        Ok(new) => {
            let id = job.clone();
            ctx.once(&form.hash, move |write| {
                let body = work(write, &id, &new)?;
                Ok(Made { status: 200, body, location: None, version: None })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => Ok(see_other(&format!("/shops/{}/jobs/{job}/after", ctx.shop()?.code))),
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: name, fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, job, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Nothing to read: the address says it all.
fn nothing(_: &Fields, _: &Currency) -> Result<(), Problem> {
    Ok(())
}

fn day(text: &str) -> Option<NaiveDate> {
    text.parse().ok()
}

fn telling(fields: &Fields, _: &Currency) -> Result<NewOutsideReturn, Problem> {
    let mut read = Reader::new(fields);
    let told = read.owed("told", |text| Some(text.to_owned()));
    let told_on = read.owed("told_on", day);
    let new = told.zip(told_on).map(|(told, told_on)| NewOutsideReturn {
        told,
        told_on,
        reason: read.text("reason"),
        note: read.text("note"),
    });
    read.finish(new)
}

/// Keeps what the customer tells.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn tell(ctx: Ctx, parts: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    act(ctx, parts.0.1, form, "outside-return", telling, outside::tell).await
}

/// Withdraws what was told.
///
/// # Errors
/// As there.
pub async fn withdraw(ctx: Ctx, parts: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    let work = |write: &mut ShopWrite<'_>, job: &JobId, (): &()| outside::withdraw(write, job);
    act(ctx, parts.0.1, form, "outside-return", nothing, work).await
}

fn paid(fields: &Fields, currency: &Currency) -> Result<NewPayBack, Problem> {
    let mut read = Reader::new(fields);
    let amount_minor = read.owed("amount_minor", |text| currency.parse_amount(text).ok());
    let paid_on = read.owed("paid_on", day);
    let new = amount_minor.zip(paid_on).map(|(amount_minor, paid_on)| NewPayBack {
        supplier: read.text("supplier").unwrap_or_default(),
        amount_minor,
        paid_on,
        note: read.text("note"),
    });
    read.finish(new)
}

/// Adds a pay-back.
///
/// # Errors
/// As there.
pub async fn add_pay_back(ctx: Ctx, parts: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    act(ctx, parts.0.1, form, "pay-back", paid, pay_back::add).await
}

/// Takes a pay-back back.
///
/// # Errors
/// As there.
pub async fn remove_pay_back(
    ctx: Ctx,
    address: Parts<(String, JobId, PayBackId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let work =
        move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| pay_back::remove(write, job, &id);
    act(ctx, job, form, "pay-back", nothing, work).await
}
