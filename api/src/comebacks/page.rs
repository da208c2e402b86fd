//! Comebacks: the list, one with both jobs side by side, and the decision.

use actix_web::HttpResponse;
use actix_web::http::header;
use analytics::words::LinkState;
use askama::Template;
use serde::Deserialize;

use super::decide::{self, Decision};
use super::link::{self, NewComeback};
use super::model::{self, Comeback};
use super::outside;
use super::view::{ListedComeback, ToldAfter, ToldComeback, ToldOutside, listed, told};
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
use crate::web::words::Pick;

/// Undecided ones shown at once: a manager works them off from the top.
const UNDECIDED: i64 = 100;
/// Decided ones on one page.
const DECIDED: i64 = 30;
/// Returns without a visit that are shown.
const OUTSIDE: i64 = 30;

/// Which part of the list.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ListQuery {
    /// The last decided one of the page before.
    pub before: Option<String>,
}

#[derive(Template)]
#[template(path = "comebacks.html")]
struct ListPage {
    viewer: Viewer,
    shop: String,
    undecided: Vec<ListedComeback>,
    decided: Vec<ListedComeback>,
    outside: Vec<ToldOutside>,
    first_page: bool,
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

/// Undecided comebacks first, then the decided ones, newest first.
///
/// # Errors
/// Where the record does not answer.
pub async fn list(ctx: Ctx, query: Params<ListQuery>) -> Result<HttpResponse, Problem> {
    let now = ctx.now;
    let before = query.0.before.as_deref().and_then(ComebackId::parse);
    let first_page = before.is_none();
    let (shop, undecided, mut decided, outside) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let waiting = if before.is_none() {
                model::list(conn, shop.id, Some(LinkState::Proposed), None, UNDECIDED)?
            } else {
                Vec::new()
            };
            let done = model::decided(conn, shop.id, before.as_ref(), DECIDED + 1)?;
            let waiting = listed(conn, &words, &waiting)?;
            let done = listed(conn, &words, &done)?;
            Ok((shop.code.clone(), waiting, done, outside(conn, &words)?))
        })
        .await?;
    let most = usize::try_from(DECIDED).unwrap_or(usize::MAX);
    let more = decided.len() > most;
    decided.truncate(most);
    page::html(&ListPage {
        viewer: Viewer::of(&ctx),
        shop,
        undecided,
        outside,
        first_page,
        older: decided.last().filter(|_| more).map(|last| last.link.id.clone()),
        decided,
    })
}

#[derive(Template)]
#[template(path = "comeback.html")]
struct ComebackPage {
    viewer: Viewer,
    shop: String,
    comeback: ToldComeback,
    /// Parts of the earlier job that the later one holds for the cause.
    returned: Vec<String>,
    /// What became of the two jobs after their hand-over.
    after: Vec<ToldAfter>,
    reasons: Vec<Pick>,
    tried: Option<Tried>,
}

impl ComebackPage {
    fn form(&self, name: &str) -> FormView {
        FormView::of(name, self.tried.as_ref(), Fields::default())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }
}

async fn view(ctx: &Ctx, id: ComebackId, tried: Option<Tried>) -> Result<ComebackPage, Problem> {
    let (now, rights, asker) = (ctx.now, money(ctx), ctx.asker.person.id.clone());
    let (comeback, words, returned, after) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let row = model::by_id(conn, shop.id, &id)?;
            let back =
                model::returned_parts(conn, shop.id, &row.earlier_job_id, &row.later_job_id)?;
            let mut after = Vec::new();
            for job in [&row.earlier_job_id, &row.later_job_id] {
                after.extend(ToldAfter::read(conn, &words, job, rights)?);
            }
            Ok((told(conn, &words, &row, rights, &asker)?, words, back, after))
        })
        .await?;
    let back = |id: &String| returned.iter().any(|part| part.part_use_id.as_str() == id);
    Ok(ComebackPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        returned: comeback
            .earlier
            .parts
            .iter()
            .filter(|part| back(&part.id))
            .map(|part| match &part.position {
                Some(position) => format!("{}, {position}: {}", part.name, part.done),
                None => format!("{}: {}", part.name, part.done),
            })
            .collect(),
        comeback,
        after,
        reasons: words.lists.picks("comeback_reason"),
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

fn yes_or_no(text: &str) -> Option<bool> {
    match text {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    }
}

fn decision(fields: &Fields) -> Result<(i32, Decision), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let confirm = read.owed("confirm", yes_or_no);
    let reason = read.owed("reason", |text| Some(text.to_owned()));
    let part_returned = read.word("part_returned", yes_or_no);
    let decision = confirm.zip(reason).map(|(confirm, reason)| Decision {
        confirm,
        reason,
        note: read.text("note"),
        part_returned,
    });
    read.finish(seen.zip(decision))
}

/// Decides.
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
    let done = match decision(&form.value) {
        Ok((seen, decision)) => {
            let comeback = id.clone();
            ctx.once(&form.hash, move |write| {
                let row = decide::decide(write, &comeback, seen, &decision)?;
                Ok(Made::done(row.version, row))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => Ok(see_other(&format!("/shops/{}/comebacks/{id}#decision", ctx.shop()?.code))),
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
