//! Calls as a page: whom to call, with what they had complained of at hand, and
//! one tap for how it ended.

use actix_web::{HttpRequest, HttpResponse};
use analytics::figure::Share;
use askama::Template;
use chrono::Days;

use super::http::USUAL_SPAN;
use super::model::{self, FollowUp, NewFollowUp, Owed};
use super::summary::{self, CallSummary};
use crate::db::{Answer, Conn};
use crate::domain::ids::{FollowUpId, JobId};
use crate::domain::percent::{percent, percents};
use crate::domain::role::Permission;
use crate::jobs::brief;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::reports::http as reports;
use crate::reports::query::{Report, ReportName, ReportQuery};
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::notice::{self, Did, Notice};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::counted;

/// Calls owed that are shown at once: an adviser works them off from the top.
const SHOWN: usize = 20;
/// Calls made that are shown.
const MADE: i64 = 15;

/// How a call ended, as people say it.
#[must_use]
pub fn answer_words(answer: &str) -> &'static str {
    match answer {
        "fixed" => "it holds",
        "not_fixed" => "not fixed",
        "fixed_elsewhere" => "fixed by somebody else",
        _ => "not reached",
    }
}

/// A customer to call.
struct ToldOwed {
    job: String,
    number: String,
    vehicle: String,
    customer: Option<String>,
    contact: Option<String>,
    /// Where a tap calls; the contact is a number.
    dial: Option<String>,
    complaint: Option<String>,
    symptom: Option<String>,
    cause: Option<String>,
    correction: Option<String>,
    handed_over: Option<String>,
    due: String,
    intermittent: bool,
    tries: usize,
}

/// The digits to dial, where the contact begins with a number.
fn dial(contact: &str) -> Option<String> {
    let number = contact.split([',', ';', '/']).next().unwrap_or_default();
    let kept: String = number.chars().filter(|c| c.is_ascii_digit() || *c == '+').collect();
    let other = number.chars().any(|c| !(c.is_ascii_digit() || " +-.()".contains(c)));
    (!other && kept.len() >= 5).then_some(kept)
}

impl ToldOwed {
    fn of(owed: Owed, words: &Words) -> Self {
        let intermittent = owed.of.is_intermittent();
        let (job, order) = (owed.of.job, owed.of.order);
        Self {
            number: format!("{}/{}", order.order_no, job.job_no),
            job: job.id.to_string(),
            vehicle: owed.of.vehicle.label(),
            dial: order.customer_contact.as_deref().and_then(dial),
            customer: order.customer_name,
            contact: order.customer_contact,
            symptom: words.label("symptom", job.symptom.as_deref()),
            cause: words.label("cause", job.cause.as_deref()),
            complaint: job.complaint,
            correction: job.correction,
            handed_over: order.closed_on.map(|day| words.day(day)),
            due: words.day(owed.due.due_on),
            intermittent,
            tries: owed.due.tries,
        }
    }
}

/// A call that was made.
struct ToldCall {
    job: String,
    number: String,
    vehicle: String,
    day: String,
    answer: &'static str,
    note: Option<String>,
    who: Option<String>,
    removal: String,
    /// Where the vehicle is written up, since it does not hold.
    write_up: Option<String>,
}

impl ToldCall {
    fn read(conn: &mut Conn, words: &Words, row: &FollowUp) -> Answer<Self> {
        let job = brief::of(conn, words.shop.id, &row.job_id)?;
        let shop = &words.shop.code;
        let back = row.answer == "not_fixed";
        Ok(Self {
            job: row.job_id.to_string(),
            number: job.number(),
            vehicle: job.vehicle.label(),
            day: words.day(row.called_on),
            answer: answer_words(&row.answer),
            note: row.note.clone(),
            who: words.name(Some(&row.person_id)),
            removal: format!("/shops/{shop}/jobs/{}/calls/{}/removal", row.job_id, row.id),
            write_up: back.then(|| format!("/shops/{shop}/write-up?vehicle={}", job.vehicle.id)),
        })
    }
}

#[derive(Template)]
#[template(path = "calls.html")]
struct CallsPage {
    viewer: Viewer,
    shop: String,
    notice: Option<Notice>,
    /// Where what was just told goes on.
    write_up: Option<String>,
    owed: Vec<ToldOwed>,
    left: usize,
    /// Those of whom neither number nor address is kept.
    unreachable: Vec<ToldOwed>,
    unreachable_left: usize,
    /// After how many days the shop calls, in words.
    terms: String,
    made: Vec<ToldCall>,
    figures: Vec<String>,
    may_call: bool,
    tried: Option<Tried>,
}

impl CallsPage {
    /// The form of one call.
    fn line(&self, job: &str) -> FormView {
        FormView::of_line("call", job, self.tried.as_ref(), Fields::default())
    }

    fn form(&self) -> FormView {
        FormView::default()
    }

    /// How many of them nothing is kept to call by.
    fn unreachable_count(&self) -> usize {
        self.unreachable.len() + self.unreachable_left
    }

    /// Whether what was refused is in the fold of those without a number.
    fn opens_fold(&self) -> bool {
        let line = self.tried.as_ref().map(|tried| tried.fields.typed("line"));
        line.is_some_and(|line| self.unreachable.iter().any(|one| one.job == line))
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.line(tried.fields.typed("line")))
    }

    fn refused_form(&self) -> String {
        let line = self.tried.as_ref().map_or("", |tried| tried.fields.typed("line"));
        format!("c-{line}")
    }
}

/// What one moment of the record holds for the page.
struct Loaded {
    words: Words,
    owed: Vec<Owed>,
    made: Vec<ToldCall>,
    did: Option<ToldCall>,
    summary: CallSummary,
}

fn terms_words(words: &Words) -> String {
    let terms = model::terms(&words.shop);
    let after = |days: i32| match days {
        0 => "never".to_owned(),
        days => format!("{} after the hand-over", counted(days.into(), "day", "days")),
    };
    format!(
        "{}; of complaints that come and go, {}",
        after(terms.days),
        after(terms.intermittent_days)
    )
}

/// A share as the page says it: with its interval, or that there is too little.
fn share_words(share: Option<f64>, bounds: Option<(f64, f64)>, too_few: bool) -> String {
    match (share, bounds) {
        (Some(share), Some((low, high))) => format!(
            "{} ({}{})",
            percent(share),
            percents(low, high),
            if too_few { ", too few to say much" } else { "" }
        ),
        _ => "nothing to say yet".to_owned(),
    }
}

fn figures(summary: &CallSummary, back: Option<&Share>, words: &Words) -> Vec<String> {
    let bounds = summary.low.zip(summary.high);
    let said = share_words(summary.share, bounds, summary.too_few);
    let mut lines = vec![format!(
        "Handed over {} to {}: {} due, {} called, {} reached; {} of them said that it did not \
         hold: {said}.",
        words.style().day(summary.from),
        words.style().day(summary.to),
        counted(summary.due, "call", "calls"),
        summary.called,
        summary.reached,
        summary.not_fixed,
    )];
    if let Some(share) = back {
        let bounds = share.interval.as_ref().map(|one| (one.low, one.high));
        let said = share_words(share.share, bounds, share.too_few);
        lines.push(format!(
            "Beside it the comeback share of the same hand-overs: {} of {} came back or told so: \
             {said}.",
            share.returns,
            counted(share.count, "job", "jobs"),
        ));
    }
    lines
}

/// The comeback share of the hand-overs that the summary is about, for who reads
/// reports.
async fn came_back(ctx: &Ctx, summary: &CallSummary) -> Result<Option<Share>, Problem> {
    if !ctx.may(Permission::ReadReports) {
        return Ok(None);
    }
    let query = ReportQuery { from: Some(summary.from.to_string()), ..ReportQuery::default() };
    match reports::make(ctx, ReportName::Comebacks, query).await? {
        Report::Comebacks(report) => Ok(Some(report.total.share)),
        _ => Ok(None),
    }
}

async fn view(ctx: &Ctx, did: Option<Did>, tried: Option<Tried>) -> Result<CallsPage, Problem> {
    let now = ctx.now;
    let plain = did.as_ref().and_then(notice::plain);
    let did = did.as_ref().and_then(|did| did.id_of("called")).and_then(FollowUpId::parse);
    let loaded = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let today = shop.zone().day(now);
            let from = today.checked_sub_days(Days::new(USUAL_SPAN)).unwrap_or(today);
            let made = model::list(conn, shop.id, None, MADE)?;
            let done = match did {
                Some(id) => model::find(conn, shop.id, &id)?,
                None => None,
            };
            Ok(Loaded {
                owed: model::owed(conn, shop, today)?,
                made: made
                    .iter()
                    .map(|row| ToldCall::read(conn, &words, row))
                    .collect::<Answer<_>>()?,
                did: done.map(|row| ToldCall::read(conn, &words, &row)).transpose()?,
                summary: summary::read(conn, shop, (from, today), today)?,
                words,
            })
        })
        .await?;
    let back = came_back(ctx, &loaded.summary).await?;
    let may_call = ctx.may(Permission::LinkComeback);
    let Loaded { words, owed, made, did, summary } = loaded;
    // Who cannot be called is in nobody's way.
    let (mut owed, mut unreachable): (Vec<Owed>, Vec<Owed>) =
        owed.into_iter().partition(|one| one.of.order.customer_contact.is_some());
    let left = owed.len().saturating_sub(SHOWN);
    owed.truncate(SHOWN);
    let unreachable_left = unreachable.len().saturating_sub(SHOWN);
    unreachable.truncate(SHOWN);
    Ok(CallsPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        notice: did.as_ref().map(|call| told(call, may_call)).or(plain),
        write_up: did.and_then(|call| call.write_up),
        owed: owed.into_iter().map(|one| ToldOwed::of(one, &words)).collect(),
        left,
        unreachable: unreachable.into_iter().map(|one| ToldOwed::of(one, &words)).collect(),
        unreachable_left,
        terms: terms_words(&words),
        figures: figures(&summary, back.as_ref(), &words),
        made,
        may_call,
        tried,
    })
}

fn told(call: &ToldCall, may_call: bool) -> Notice {
    let said = Notice::plain(format!("Job {}: {}.", call.number, call.answer));
    if may_call { said.undo("Take back", call.removal.clone()) } else { said }
}

/// Whom to call, and what was said.
///
/// # Errors
/// Where the record does not answer.
pub async fn calls(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, Did::of(&req), None).await?)
}

fn call(fields: &Fields) -> Result<NewFollowUp, Problem> {
    let mut read = Reader::new(fields);
    let answer = read.owed("answer", |text| Some(text.to_owned()));
    let note = read.text("note");
    read.finish(answer.map(|answer| NewFollowUp { answer, called_on: None, note }))
}

/// Keeps a call.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn add(
    mut ctx: Ctx,
    parts: Parts<(String, JobId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let job = parts.0.1;
    ctx.take(&form.value)?;
    let list = format!("/shops/{}/calls", ctx.shop()?.code);
    let done = match call(&form.value) {
        Ok(new) => {
            ctx.once(&form.hash, move |write| {
                let body = model::record(write, &job, &new)?;
                let place = format!("/shops/{}/calls?did=called:{}", write.shop.code, body.id);
                Ok(Made { status: 200, location: Some(place), version: None, body })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(made) => {
            let place = made.headers().get("location").and_then(|value| value.to_str().ok());
            Ok(see_other(place.unwrap_or(&list)))
        }
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: "call", fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, None, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Takes a call back.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn remove(
    mut ctx: Ctx,
    address: Parts<(String, JobId, FollowUpId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, job, id)) = address;
    ctx.take(&form.value)?;
    ctx.once(&form.hash, move |write| {
        model::remove(write, &job, &id)?;
        Ok(Made { status: 200, location: None, version: None, body: () })
    })
    .await?;
    Ok(see_other(&format!("/shops/{}/calls?did=taken-back", ctx.shop()?.code)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::followups::model::{FIXED, NO_CONTACT};

    #[test]
    fn a_number_is_dialed() {
        assert_eq!(dial("555 0142").as_deref(), Some("5550142"));
        assert_eq!(dial("+1 (555) 01-42, after five").as_deref(), Some("+15550142"));
        assert_eq!(dial("anna@example.com"), None);
        assert_eq!(dial("bay 7"), None);
    }

    #[test]
    fn every_answer_has_its_words() {
        let all: std::collections::BTreeSet<&str> =
            model::ANSWERS.iter().map(|answer| answer_words(answer)).collect();
        assert_eq!(all.len(), model::ANSWERS.len());
        assert_eq!((answer_words(FIXED), answer_words(NO_CONTACT)), ("it holds", "not reached"));
    }
}
