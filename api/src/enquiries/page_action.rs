//! Corrective actions as a page: what is open, what is past its day, what came of
//! it, and what comes back quarter by quarter.

use std::collections::HashMap;

use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use chrono::NaiveDate;

use super::action::{self, CorrectiveAction};
use super::action_write::{self, Ending, NewAction, Verification};
use super::closure::State;
use super::trend::{self, Trend, TrendLine};
use super::view::{self, ToldAction, attribution_words};
use crate::codes::lists::Lists;
use crate::comebacks::model as comebacks;
use crate::comebacks::page_decide::yes_or_no;
use crate::db::{Answer, Conn};
use crate::domain::ids::{ActionId, PersonId, RuleId};
use crate::domain::role::Permission;
use crate::jobs::brief;
use crate::jobs::view::Words;
use crate::problem::{Kind, Problem};
use crate::reports::table::effect_verdict;
use crate::rules::page::verdict;
use crate::rules::{ask, model as rules};
use crate::shops::write::ShopWrite;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::notice::{self, Did, Notice};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::{Pick, counted};

type Done = Result<HttpResponse, Problem>;

/// Open actions on the page: a shop that has more does none of them.
const OPEN: i64 = 200;
/// Those that ended, of either kind.
const ENDED: i64 = 30;

/// A line of the trend, with the jobs that came back.
struct ToldLine {
    label: String,
    /// Somebody said so; else it is the line of those of whom nobody did.
    said: bool,
    counts: Vec<i64>,
    /// Comeback and number of the later job.
    jobs: Vec<(String, String)>,
}

struct ToldTrend {
    title: &'static str,
    head: &'static str,
    lines: Vec<ToldLine>,
}

#[derive(Template)]
#[template(path = "actions.html")]
struct ActionsPage {
    viewer: Viewer,
    shop: String,
    notice: Option<Notice>,
    lead: String,
    open: Vec<ToldAction>,
    done: Vec<ToldAction>,
    dropped: Vec<ToldAction>,
    agrees: bool,
    action_kinds: Vec<Pick>,
    people: Vec<Pick>,
    quarters: Vec<String>,
    trend: Vec<ToldTrend>,
    asker: String,
    tried: Option<Tried>,
}

impl ActionsPage {
    /// The forms of one action.
    fn line(&self, id: &str) -> FormView {
        FormView::of_line("action", id, self.tried.as_ref(), Fields::default())
    }

    fn action_form(&self) -> FormView {
        let blank = Fields::of(&[("owner_id", self.asker.clone())]);
        FormView::of("new", self.tried.as_ref(), blank)
    }

    fn refused(&self) -> Option<FormView> {
        let tried = self.tried.as_ref()?;
        Some(match tried.form {
            "new" => self.action_form(),
            _ => self.line(tried.fields.typed("line")),
        })
    }

    fn refused_form(&self) -> String {
        match &self.tried {
            Some(tried) if tried.form == "action" => format!("a-{}", tried.fields.typed("line")),
            Some(tried) => tried.form.to_owned(),
            None => String::new(),
        }
    }
}

fn told(conn: &mut Conn, words: &Words, rows: &[CorrectiveAction]) -> Answer<Vec<ToldAction>> {
    rows.iter().map(|row| ToldAction::read(conn, words, row)).collect()
}

/// Past its day first, then by day; what has none comes last.
pub(super) fn by_day(rows: &mut [CorrectiveAction]) {
    rows.sort_by_key(|row| (row.due_on.unwrap_or(NaiveDate::MAX), row.made_at));
}

fn told_lines(
    conn: &mut Conn,
    words: &Words,
    lines: &[TrendLine],
    label: impl Fn(&str) -> String,
) -> Answer<Vec<ToldLine>> {
    let mut told = Vec::with_capacity(lines.len());
    for line in lines {
        let mut jobs = Vec::with_capacity(line.comebacks.len());
        for id in &line.comebacks {
            let later = comebacks::by_id(conn, words.shop.id, id)?.later_job_id;
            jobs.push((id.to_string(), brief::of(conn, words.shop.id, &later)?.number()));
        }
        let label = line.value.as_deref().map_or_else(|| "not said".to_owned(), &label);
        let said = line.value.is_some();
        told.push(ToldLine { label, said, counts: line.counts.clone(), jobs });
    }
    Ok(told)
}

fn told_trend(conn: &mut Conn, words: &Words, trend: &Trend) -> Answer<Vec<ToldTrend>> {
    let reason = |code: &str| words.lists.label("comeback_reason", code);
    let groups = [
        ToldTrend {
            title: "By reason",
            head: "Reason",
            lines: told_lines(conn, words, &trend.by_reason, reason)?,
        },
        ToldTrend {
            title: "By what it is put down to",
            head: "Put down to",
            lines: told_lines(conn, words, &trend.by_attribution, |word| {
                attribution_words(word).to_owned()
            })?,
        },
        ToldTrend {
            title: "By what failed",
            head: "What failed",
            lines: told_lines(conn, words, &trend.by_failed_item, str::to_owned)?,
        },
    ];
    // Where nobody has said anything yet there is nothing to compare.
    let says = |group: &ToldTrend| group.lines.iter().any(|line| line.said);
    Ok(groups.into_iter().filter(says).collect())
}

fn lead(open: &[ToldAction]) -> String {
    let past = open.iter().filter(|action| action.overdue).count();
    let count = i64::try_from(open.len()).unwrap_or(i64::MAX);
    match past {
        _ if open.is_empty() => "Nothing is open.".to_owned(),
        0 => format!("{} open.", counted(count, "action is", "actions are")),
        past => {
            format!("{} open, {past} past the day.", counted(count, "action is", "actions are"))
        }
    }
}

/// What the record says of the rules that actions became, for who reads reports: one
/// verdict, from the review day on.
async fn weigh(ctx: &Ctx, actions: &mut [ToldAction]) -> Result<(), Problem> {
    let of_rule = |action: &ToldAction| action.rule.as_deref().and_then(RuleId::parse);
    let ids: Vec<RuleId> = actions.iter().filter_map(of_rule).collect();
    if ids.is_empty() || !ctx.may(Permission::ReadReports) {
        return Ok(());
    }
    let style = ctx.shop()?.style();
    let as_of = style.zone.last_complete_day(ctx.now);
    let said = ask::history(ctx, move |history, conn, shop| {
        let lists = Lists::load(conn, shop.id)?;
        let mut said = HashMap::new();
        for id in &ids {
            let rule = rules::by_id(conn, shop.id, id)?;
            let words = match (verdict(history, &rule, &lists, as_of)?, rule.ended_early()) {
                (Some(verdict), _) => effect_verdict(verdict).to_owned(),
                (None, Some(day)) => format!("withdrawn on {}: no verdict", style.day(day)),
                (None, None) => format!("not before its review day, {}", style.day(rule.review_on)),
            };
            said.insert(id.to_string(), words);
        }
        Ok(said)
    })
    .await;
    let said: HashMap<String, String> = match said {
        // The actions stand there all the same.
        Err(problem) if problem.kind == Kind::NOT_READY => HashMap::new(),
        said => said?,
    };
    for action in actions {
        action.evidence = action.rule.as_ref().and_then(|id| said.get(id).cloned());
    }
    Ok(())
}

async fn view(ctx: &Ctx, did: Option<Did>, tried: Option<Tried>) -> Result<ActionsPage, Problem> {
    let now = ctx.now;
    let (words, [open, mut done, dropped], people, trend, quarters) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let mut open = action::list(conn, shop.id, Some(State::Open), None, OPEN)?;
            by_day(&mut open);
            let done = action::list(conn, shop.id, Some(State::Done), None, ENDED)?;
            let dropped = action::list(conn, shop.id, Some(State::Dropped), None, ENDED)?;
            let trend = trend::read(conn, shop, shop.zone().day(now))?;
            let lists = [
                told(conn, &words, &open)?,
                told(conn, &words, &done)?,
                told(conn, &words, &dropped)?,
            ];
            let people = view::people(conn, shop)?;
            let told = told_trend(conn, &words, &trend)?;
            Ok((words, lists, people, told, trend.quarters))
        })
        .await?;
    weigh(ctx, &mut done).await?;
    Ok(ActionsPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        notice: did.as_ref().and_then(notice::plain),
        lead: lead(&open),
        open,
        done,
        dropped,
        agrees: ctx.may(Permission::WriteRules),
        action_kinds: view::kinds(),
        people,
        quarters,
        trend,
        asker: ctx.asker().person.id.to_string(),
        tried,
    })
}

/// What the shop means to change.
///
/// # Errors
/// Where the record does not answer.
pub async fn actions(ctx: Ctx, req: HttpRequest) -> Done {
    page::html(&view(&ctx, Did::of(&req), None).await?)
}

/// A new action out of a form.
pub(super) fn new_action(fields: &Fields) -> Result<NewAction, Problem> {
    let mut read = Reader::new(fields);
    let kind = read.owed("kind", |text| Some(text.to_owned()));
    let owner_id = read.word("owner_id", PersonId::parse);
    let due_on = read.word("due_on", |text| text.parse().ok());
    let words = read.text("words").unwrap_or_default();
    read.require("words", "say what is changed");
    let new = kind.map(|kind| NewAction { enquiry_id: None, kind, words, owner_id, due_on });
    read.finish(new)
}

/// Reads a form, does what it asks once, and goes back to the page.
async fn act<N: Send + 'static>(
    mut ctx: Ctx,
    form: Form<Fields>,
    (name, did): (&'static str, &str),
    parse: impl FnOnce(&Fields) -> Result<N, Problem>,
    work: impl Fn(&mut ShopWrite<'_>, &N) -> Answer<CorrectiveAction> + Send + 'static,
) -> Done {
    ctx.take(&form.value)?;
    let done = match parse(&form.value) {
        Ok(new) => {
            ctx.once(&form.hash, move |write| {
                let body = work(write, &new)?;
                Ok(Made { status: 200, body, location: None, version: None })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => Ok(see_other(&format!("/shops/{}/actions?did={did}", ctx.shop()?.code))),
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: name, fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, None, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Agrees on an action without an enquiry.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn add(ctx: Ctx, form: Form<Fields>) -> Done {
    let work = |write: &mut ShopWrite<'_>, new: &NewAction| action_write::add(write, new);
    act(ctx, form, ("new", "added"), new_action, work).await
}

/// Ends an action, or opens it again.
///
/// # Errors
/// As there.
pub async fn end(ctx: Ctx, parts: Parts<(String, ActionId)>, form: Form<Fields>) -> Done {
    let id = parts.0.1;
    let parse = |fields: &Fields| {
        let mut read = Reader::new(fields);
        let seen: Option<i32> = read.owed("version", |text| text.parse().ok());
        let state = read.owed("state", |text| Some(text.to_owned()));
        let note = read.text("note");
        read.finish(seen.zip(state).map(|(seen, state)| (seen, Ending { state, note })))
    };
    let work = move |write: &mut ShopWrite<'_>, (seen, ending): &(i32, Ending)| {
        if ending.state == State::Open.as_str() {
            action_write::reopen(write, &id, *seen)
        } else {
            action_write::end(write, &id, *seen, ending)
        }
    };
    act(ctx, form, ("action", "saved"), parse, work).await
}

/// Says whether an action holds.
///
/// # Errors
/// As there.
pub async fn verify(ctx: Ctx, parts: Parts<(String, ActionId)>, form: Form<Fields>) -> Done {
    let id = parts.0.1;
    let parse = |fields: &Fields| {
        let mut read = Reader::new(fields);
        let seen: Option<i32> = read.owed("version", |text| text.parse().ok());
        let held = read.owed("held", yes_or_no);
        let how = read.text("how").unwrap_or_default();
        read.finish(seen.zip(held).map(|(seen, held)| (seen, Verification { held, how })))
    };
    let work = move |write: &mut ShopWrite<'_>, (seen, said): &(i32, Verification)| {
        action_write::verify(write, &id, *seen, said)
    };
    act(ctx, form, ("action", "saved"), parse, work).await
}
