//! Comebacks: the list, one with both jobs side by side, and the decision.

use actix_web::HttpResponse;
use actix_web::http::header;
use analytics::words::LinkState;
use askama::Template;
use serde::Deserialize;

use super::link::{self, NewComeback};
use super::model::{self, Comeback};
use super::outside;
use super::page_decide::{Reasons, settle, yes_or_no};
use super::pair::{LinkedPair, Teller};
use super::view::{ListedComeback, ToldAfter, ToldOutside, listed};
use crate::codes::uses;
use crate::db::{Answer, Conn};
use crate::domain::ids::ComebackId;
use crate::domain::role::Permission;
use crate::jobs::brief;
use crate::jobs::http::money;
use crate::jobs::model as jobs;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::web::answer::Made;
use crate::web::body::{Form, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};

/// Undecided ones shown at once: a manager works them off from the top.
const UNDECIDED: i64 = 100;
/// Decided ones on one page.
const DECIDED: i64 = 20;
/// Returns without a visit that are shown.
const OUTSIDE: i64 = 30;

/// Which part of the list.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ListQuery {
    /// The last decided one of the page before.
    pub before: Option<String>,
    /// `undecided`, `confirmed` or `rejected`; absent: all.
    pub state: Option<String>,
}

/// One way to look at the list.
struct Way {
    label: &'static str,
    /// Its word in the address; empty for all.
    word: &'static str,
    here: bool,
}

const WAYS: [(&str, &str); 4] =
    [("All", ""), ("To decide", "undecided"), ("Confirmed", "confirmed"), ("Rejected", "rejected")];

/// The decided ones whose vehicle was here again in one month.
struct Month {
    name: String,
    comebacks: Vec<ListedComeback>,
}

#[derive(Template)]
#[template(path = "comebacks.html")]
struct ListPage {
    viewer: Viewer,
    shop: String,
    ways: Vec<Way>,
    /// The word of the way chosen.
    state: &'static str,
    undecided: Vec<ListedComeback>,
    shows_undecided: bool,
    months: Vec<Month>,
    shows_decided: bool,
    outside: Vec<ToldOutside>,
    /// The last one shown, where older ones follow.
    older: Option<String>,
}

/// The latest returns without a visit.
fn outside(conn: &mut Conn, words: &Words) -> Answer<Vec<ToldOutside>> {
    outside::latest(conn, words.shop.id, OUTSIDE)?
        .iter()
        .map(|row| {
            let job = brief::of(conn, words.shop.id, &row.job_id)?;
            Ok(ToldOutside::of(row, &job, words))
        })
        .collect()
}

/// Rows in the order of months: one heading a month.
fn by_month(rows: Vec<ListedComeback>) -> Vec<Month> {
    let mut months: Vec<Month> = Vec::new();
    for back in rows {
        let name = back.returned_on.format("%B %Y").to_string();
        match months.last_mut().filter(|month| month.name == name) {
            Some(month) => month.comebacks.push(back),
            None => months.push(Month { name, comebacks: vec![back] }),
        }
    }
    months
}

/// What one look at the list holds.
struct Listed {
    undecided: Vec<ListedComeback>,
    decided: Vec<ListedComeback>,
    outside: Vec<ToldOutside>,
}

/// Undecided comebacks first, then the decided ones by month, newest first.
///
/// # Errors
/// Where the record does not answer.
pub async fn list(ctx: Ctx, query: Params<ListQuery>) -> Result<HttpResponse, Problem> {
    let now = ctx.now;
    let before = query.0.before.as_deref().and_then(ComebackId::parse);
    let asked = query.0.state.as_deref().unwrap_or_default();
    let state = WAYS.iter().map(|(_, word)| *word).find(|word| *word == asked).unwrap_or("");
    let shows_undecided = before.is_none() && ["", "undecided"].contains(&state);
    let shows_decided = state != "undecided";
    let shows_outside = before.is_none() && state.is_empty();
    let Listed { undecided, mut decided, outside } = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let waiting = if shows_undecided {
                model::list(conn, shop.id, Some(LinkState::Proposed), None, UNDECIDED)?
            } else {
                Vec::new()
            };
            let done = if shows_decided {
                model::decided(
                    conn,
                    shop.id,
                    LinkState::parse(state),
                    before.as_ref(),
                    DECIDED + 1,
                )?
            } else {
                Vec::new()
            };
            Ok(Listed {
                undecided: listed(conn, &words, &waiting)?,
                decided: listed(conn, &words, &done)?,
                outside: if shows_outside { outside(conn, &words)? } else { Vec::new() },
            })
        })
        .await?;
    let most = usize::try_from(DECIDED).unwrap_or(usize::MAX);
    let more = decided.len() > most;
    decided.truncate(most);
    page::html(&ListPage {
        viewer: Viewer::of(&ctx),
        shop: ctx.shop()?.code.clone(),
        ways: WAYS.iter().map(|(label, word)| Way { label, word, here: *word == state }).collect(),
        state,
        undecided,
        shows_undecided,
        older: decided.last().filter(|_| more).map(|last| last.link.id.clone()),
        months: by_month(decided),
        shows_decided,
        outside,
    })
}

#[derive(Template)]
#[template(path = "comeback.html")]
struct ComebackPage {
    viewer: Viewer,
    shop: String,
    both: LinkedPair,
    /// What became of the two jobs after their hand-over.
    after: Vec<ToldAfter>,
    reasons: Reasons,
    /// Where the form goes.
    action: String,
    /// Another one that waits for a decision.
    next: Option<String>,
    tried: Option<Tried>,
}

impl ComebackPage {
    fn form(&self) -> FormView {
        FormView::of("decision", self.tried.as_ref(), Fields::default())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|_| self.form())
    }

    fn refused_form(&self) -> &'static str {
        "decision"
    }
}

async fn view(ctx: &Ctx, id: ComebackId, tried: Option<Tried>) -> Result<ComebackPage, Problem> {
    let (now, rights, asker) = (ctx.now, money(ctx), ctx.asker().person.id.clone());
    let own = id.clone();
    let (both, after, reasons, next) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let row = model::by_id(conn, shop.id, &id)?;
            let mut after = Vec::new();
            for job in [&row.earlier_job_id, &row.later_job_id] {
                after.extend(ToldAfter::read(conn, &words, job, rights)?);
            }
            let reasons =
                Reasons::of(&words.lists, &uses::of_list(conn, shop.id, "comeback_reason")?);
            let waiting = model::list(conn, shop.id, Some(LinkState::Proposed), None, 2)?;
            let both = Teller::new(&words, rights, &asker).linked(conn, &row)?;
            Ok((both, after, reasons, waiting.into_iter().map(|row| row.id).find(|id| *id != own)))
        })
        .await?;
    let shop = ctx.shop()?.code.clone();
    Ok(ComebackPage {
        viewer: Viewer::of(ctx),
        action: format!("/shops/{shop}/comebacks/{}/decision", both.link.id),
        next: next.map(|id| format!("/shops/{shop}/comebacks/{id}")),
        shop,
        both,
        after,
        reasons,
        tried,
    })
}

/// One comeback.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn one(ctx: Ctx, parts: Parts<(String, ComebackId)>) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, parts.0.1, None).await?)
}

/// Decides, or takes the decision back.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn decide(
    mut ctx: Ctx,
    parts: Parts<(String, ComebackId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    match settle(&ctx, &id, &form).await {
        Ok(()) => Ok(see_other(&format!("/shops/{}/comebacks/{id}#decision", ctx.shop()?.code))),
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: "decision", fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, id, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Notes what the customer says, and goes back to the order.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn customer(
    mut ctx: Ctx,
    parts: Parts<(String, ComebackId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let mut read = Reader::new(&form.value);
    let says = read.owed("says", yes_or_no);
    let says = read.finish(says)?;
    let decides = ctx.may(Permission::DecideComeback);
    let made = ctx
        .once(&form.hash, move |write| {
            let row: Comeback = model::by_id(write.conn, write.shop.id, &id)?;
            let order = jobs::by_id(write.conn, write.shop.id, &row.later_job_id)?.order_id;
            let said = NewComeback {
                earlier_job_id: row.earlier_job_id,
                later_job_id: row.later_job_id,
                customer_says: Some(says),
                note: None,
            };
            let body = link::link(write, &said, decides)?;
            let place = format!("/shops/{}/orders/{order}#comebacks", write.shop.code);
            Ok(Made { status: 200, location: Some(place), version: None, body })
        })
        .await?;
    let place = made.headers().get(header::LOCATION).and_then(|v| v.to_str().ok());
    let list = format!("/shops/{}/comebacks", ctx.shop()?.code);
    Ok(see_other(place.unwrap_or(&list)))
}
