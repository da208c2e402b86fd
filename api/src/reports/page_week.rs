//! The weekly review as a page that is read from top to bottom in ten minutes:
//! the verdict, what waits for a decision, what came back beside its first
//! repair, then the figures and what was done about them.

use actix_web::{HttpRequest, HttpResponse};
use analytics::weekly::{AlarmSource, WeeklyReview};
use askama::Template;
use chrono::{Duration, NaiveDate};
use futures_util::future::try_join4;

use super::page::{Asked, Found, found};
use super::page_foot::Foot;
use super::page_table::{ShownTable, Standing};
use super::page_week_record::{self as record, WeekComeback};
use super::query::{Report, ReportName};
use super::table::week_verdict;
use crate::comebacks::page_decide::{Reasons, settle};
use crate::comebacks::pair::LinkedPair;
use crate::comebacks::view::{ListedComeback, ToldBrief, ToldOutside};
use crate::domain::ids::ComebackId;
use crate::domain::role::Permission;
use crate::domain::style::Style;
use crate::domain::week;
use crate::enquiries::week::Waiting;
use crate::plans::page_week::{self, WeekSkips};
use crate::problem::Problem;
use crate::rules::{self, week::WeekRules};
use crate::warnings::page::{ToldWarning, of_week};
use crate::web::body::Form;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::notice::{Did, Notice};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::counted;

/// Something the week raises.
struct ToldAlarm {
    what: String,
    evidence: String,
    jobs: String,
    place: String,
}

/// The page.
#[derive(Template)]
#[template(path = "week.html")]
struct WeekPage {
    viewer: Viewer,
    shop: String,
    shop_name: String,
    /// `Nov 16-22, 2026`.
    days: String,
    name: String,
    partial: bool,
    before: String,
    /// Absent where the next week has not begun.
    after: Option<String>,
    verdict: String,
    remark: Option<String>,
    alarms: Vec<ToldAlarm>,
    /// Shop rules due for review, and jobs of the week that did not follow one.
    rules: WeekRules,
    warnings: Vec<ToldWarning>,
    /// Where the decisions are sent.
    action: String,
    /// What was just decided.
    notice: Option<Notice>,
    undecided: Vec<LinkedPair>,
    /// Those that are only named.
    further: Vec<ListedComeback>,
    waiting: String,
    reasons: Reasons,
    comebacks: Vec<WeekComeback>,
    chains: String,
    left: usize,
    waits: Waiting,
    /// What is read in turn.
    tables: Vec<ShownTable>,
    skipped: WeekSkips,
    told: Vec<ToldOutside>,
    told_since: String,
    planned: Vec<ToldBrief>,
    decisions: Vec<ListedComeback>,
    /// For who wants more numbers.
    more: Vec<ShownTable>,
    foot: Foot,
    tried: Option<Tried>,
}

impl WeekPage {
    /// The form of one comeback.
    fn line(&self, id: &str) -> FormView {
        FormView::of_line("decision", id, self.tried.as_ref(), Fields::default())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.line(tried.fields.typed("line")))
    }

    /// The entry to go back to.
    fn refused_form(&self) -> String {
        let line = self.tried.as_ref().map_or("", |tried| tried.fields.typed("line"));
        format!("p-{line}")
    }

    /// Of the later job nothing is asked that was not checked.
    fn none_missed(&self) -> Vec<String> {
        Vec::new()
    }

    /// Whether this one's entry was refused: its place stands open.
    fn is_refused(&self, id: &str) -> bool {
        self.tried.as_ref().is_some_and(|tried| tried.fields.typed("line") == id)
    }
}

/// The weekly review.
///
/// # Errors
/// Faulty parameters, or the record does not answer.
pub async fn week(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = match found(&ctx, &req, ReportName::Weekly).await? {
        Found::Page(asked) => asked,
        Found::Answer(answer) => return Ok(answer),
    };
    let did = Did::of(&req);
    let did = did.as_ref().and_then(|did| did.id_of("decided")).and_then(ComebackId::parse);
    page::html(&view(&ctx, &asked, did, None).await?)
}

/// Decides one comeback, or takes its decision back, and shows the same week
/// again with the next one.
///
/// # Errors
/// Forbidden, no such comeback, or the record does not answer.
pub async fn decide(
    mut ctx: Ctx,
    req: HttpRequest,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let mut read = Reader::new(&form.value);
    let id = read.owed("line", ComebackId::parse);
    let id = read.finish(id)?;
    let problem = match settle(&ctx, &id, &form).await {
        Ok(()) => return Ok(see_other(&next_place(&req, &id))),
        Err(problem) if mendable(&problem) => problem,
        Err(problem) => return Err(problem),
    };
    let asked = match found(&ctx, &req, ReportName::Weekly).await? {
        Found::Page(asked) => asked,
        Found::Answer(answer) => return Ok(answer),
    };
    let tried = Tried { form: "decision", fields: form.value, problem: problem.clone() };
    refused(&problem, &view(&ctx, &asked, None, Some(tried)).await?)
}

/// The same week, and what was just decided in it.
fn next_place(req: &HttpRequest, id: &ComebackId) -> String {
    let asked = req
        .query_string()
        .split('&')
        .filter(|pair| ["week=", "as_of=", "window="].iter().any(|name| pair.starts_with(name)));
    let did = format!("did=decided:{id}");
    let pairs: Vec<&str> = asked.chain([did.as_str()]).collect();
    format!("{}?{}#decide", req.path(), pairs.join("&"))
}

async fn view(
    ctx: &Ctx,
    asked: &Asked,
    did: Option<ComebackId>,
    tried: Option<Tried>,
) -> Result<WeekPage, Problem> {
    let Report::Weekly(review) = &asked.report else { return Err(Problem::not_found()) };
    let days = (review.week_from, last_day(review));
    let (beside, rules, warnings, skipped) = try_join4(
        record::read(ctx, review, did),
        rules::week::read(ctx, days),
        of_week(ctx, asked, review.week_from),
        page_week::read(ctx, review.head.as_of, days),
    )
    .await?;
    let (shop, shop_name) = (ctx.shop()?.code.clone(), ctx.shop()?.name.clone());
    let standing = asked.standing(&shop, None);
    let said = week_verdict(review);
    let decides = ctx.may(Permission::DecideComeback);
    let address =
        |first: NaiveDate| format!("/shops/{shop}/week?week={}{}", week::name(first), asked.kept());
    let place = |days: i64| {
        let first = review.week_from.checked_add_signed(Duration::days(days))?;
        (first <= review.head.as_of).then(|| address(first))
    };
    let (tables, more) = shown(review, asked, &standing, ctx.may(Permission::ReadCosts));
    Ok(WeekPage {
        viewer: Viewer::of(ctx),
        days: asked.style.week(review.week_from),
        name: week::name(review.week_from),
        partial: review.partial,
        before: place(-7).unwrap_or_default(),
        after: place(7),
        action: address(review.week_from),
        verdict: said.verdict,
        remark: said.remark,
        alarms: alarms(review, &standing),
        rules,
        warnings,
        notice: beside.did.map(|back| notice(&back, address(review.week_from), decides)),
        undecided: beside.undecided,
        further: beside.further,
        waiting: waiting_note(review, &beside.waiting, &asked.style),
        reasons: beside.reasons,
        left: review.comebacks.len().saturating_sub(beside.comebacks.len()),
        comebacks: beside.comebacks,
        waits: beside.waits,
        chains: chains(review),
        tables,
        skipped,
        told: beside.told,
        told_since: beside.told_since,
        planned: beside.planned,
        decisions: beside.decisions,
        more,
        foot: Foot::of(asked),
        shop,
        shop_name,
        tried,
    })
}

/// What was just decided, with the way back.
fn notice(back: &ListedComeback, action: String, decides: bool) -> Notice {
    let link = &back.link;
    let state = if link.undecided { "waits for a decision again" } else { link.state };
    let reason = link.reason.as_ref().map_or_else(String::new, |reason| format!(": {reason}"));
    let jobs = format!("{}, then {}", back.earlier.number, back.later.number);
    let said = Notice::plain(format!("Job {jobs}, {state}{reason}."));
    if !(link.can_undo && decides) {
        return said;
    }
    said.undo("Take back", action)
        .with("line", link.id.clone())
        .with("version", link.version.to_string())
        .with("take_back", "yes")
}

/// The week's own last day, whether or not it is over.
pub(super) fn last_day(review: &WeeklyReview) -> NaiveDate {
    review.week_from.checked_add_signed(Duration::days(6)).unwrap_or(review.week_to)
}

fn alarms(review: &WeeklyReview, standing: &Standing<'_>) -> Vec<ToldAlarm> {
    let told = review.alarms.iter().map(|alarm| {
        let seen = match alarm.source {
            AlarmSource::Arrivals => "the comebacks of the week",
            AlarmSource::Chart => "the hand-over weeks",
            AlarmSource::Mover => "what changed",
        };
        ToldAlarm {
            what: format!("{} in {seen}", alarm.direction.as_str()),
            evidence: alarm.evidence.clone(),
            jobs: counted(alarm.count, "job", "jobs"),
            place: standing.jobs(&alarm.jobs),
        }
    });
    told.collect()
}

/// Tables that are read in turn, in the order they are read in.
const IN_TURN: [&str; 5] = ["chart", "arrivals", "movers", "too_recent", "cost"];
/// What the page tells in its own way.
const TOLD: [&str; 4] = ["alarms", "comebacks", "undecided", "chains"];

/// The tables that are read in turn, and those for who wants more.
fn shown(
    review: &WeeklyReview,
    asked: &Asked,
    standing: &Standing<'_>,
    costs: bool,
) -> (Vec<ShownTable>, Vec<ShownTable>) {
    let all = asked.tables();
    let kept = all.iter().filter(|table| {
        !TOLD.contains(&table.key) && !table.rows.is_empty() && (costs || table.key != "cost")
    });
    let mut kept: Vec<ShownTable> = kept.map(|table| standing.shown(table)).collect();
    // A group is called by the label that its own column has.
    for table in kept.iter_mut().filter(|table| table.key == "movers") {
        for (row, mover) in table.rows.iter_mut().zip(&review.movers.groups) {
            if let Some(cell) = row.get_mut(1) {
                cell.text = standing.label("movers", mover.column.as_str(), &mover.group);
            }
        }
    }
    let place = |table: &ShownTable| IN_TURN.iter().position(|key| *key == table.key);
    let (mut turn, mut more): (Vec<_>, Vec<_>) =
        kept.into_iter().partition(|table| place(table).is_some());
    turn.sort_by_key(|table| place(table));
    for table in &mut turn {
        table.notes.extend(summary(review, table.key, &asked.style));
        // The sentence tells it; the lines are there for who wants them.
        table.folded = true;
    }
    for table in &mut more {
        table.folded = table.key == "cohorts" || table.folded;
    }
    (turn, more)
}

/// A table in a sentence, where its notes do not say it already.
fn summary(review: &WeeklyReview, key: &str, style: &Style) -> Option<String> {
    match key {
        "too_recent" => {
            let recent = &review.too_recent;
            let more = recent.expected.map_or_else(String::new, |expected| {
                format!(", and about {expected:.0} more are expected")
            });
            Some(format!(
                "{} handed over in the last {} days can still come back: {} did so far{more}.",
                counted(recent.count, "job", "jobs"),
                review.head.window_days,
                recent.returns,
            ))
        }
        "cost" => {
            let total = review.cost.total.total_minor?;
            Some(format!("Together: {}.", style.amount(total)))
        }
        _ => None,
    }
}

/// What waits now, and how much of it is younger than the review's figures.
fn waiting_note(review: &WeeklyReview, waiting: &[(NaiveDate, bool)], style: &Style) -> String {
    let count = |fits: &dyn Fn(NaiveDate, bool) -> bool| {
        waiting.iter().filter(|(opened, same)| fits(*opened, *same)).count()
    };
    let as_of = review.head.as_of;
    let since = match count(&|opened, _| opened > as_of) {
        0 => String::new(),
        since => {
            format!(" Written up after {}, and so in no figure here: {since}.", style.day(as_of))
        }
    };
    format!(
        "{} to be decided, {} of this week; {} of the same complaint would enter the share.{since}",
        waiting.len(),
        count(&|opened, _| (review.week_from..=last_day(review)).contains(&opened)),
        count(&|_, same| same),
    )
}

fn chains(review: &WeeklyReview) -> String {
    let count = review.chains;
    let most = if count.most_visits > 1 {
        format!("; one of them has come back {} times", count.most_visits)
    } else {
        String::new()
    };
    format!(
        "{} in {}{most}.",
        counted(count.chains, "complaint", "complaints"),
        counted(count.visits, "visit", "visits"),
    )
}
