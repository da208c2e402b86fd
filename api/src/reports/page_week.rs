//! The weekly review as a page: what waits for a decision, what came back and
//! whether that is more than usual, how the closing weeks stand.

use analytics::comeback::ComebackLine;
use analytics::weekly::WeeklyReview;
use analytics::words::{LinkState, Told};
use askama::Template;
use chrono::{Duration, NaiveDate};

use super::model;
use super::page::Asked;
use super::page_foot::Foot;
use super::page_table::{ShownTable, Standing};
use super::query::Report;
use super::table::{styled, tables};
use crate::comebacks::model as comebacks;
use crate::comebacks::view::{ListedComeback, ToldBrief, listed};
use crate::domain::ids::JobId;
use crate::domain::style::Style;
use crate::domain::week;
use crate::jobs::brief;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::page::Viewer;
use crate::web::words::counted;

/// Undecided ones listed at once.
const UNDECIDED: i64 = 50;
/// Comebacks of the week that are told with their earlier job.
const TOLD: usize = 100;

/// A comeback of the week beside its earlier job.
pub struct WeekComeback {
    line: ComebackLine,
    returned: String,
    reason: Option<String>,
    /// The cause of the later job, where that is handed over.
    found: Option<String>,
    /// What was told, where the vehicle did not come.
    told: Option<&'static str>,
    earlier: ToldBrief,
}

/// The page.
#[derive(Template)]
#[template(path = "week.html")]
pub struct WeekPage {
    viewer: Viewer,
    shop: String,
    name: String,
    from: String,
    to: String,
    partial: bool,
    before: String,
    /// Absent where the next week has not begun.
    after: Option<String>,
    verdict: String,
    /// One table, or none where nothing was raised.
    alarms: Vec<ShownTable>,
    /// What came back beside what was expected: one table.
    arrivals: Vec<ShownTable>,
    undecided: Vec<ListedComeback>,
    undecided_note: String,
    comebacks: Vec<WeekComeback>,
    chains: String,
    left: usize,
    tables: Vec<ShownTable>,
    foot: Foot,
}

/// The page of a review.
///
/// # Errors
/// Where the record does not answer.
pub async fn view(ctx: &Ctx, asked: &Asked) -> Result<WeekPage, Problem> {
    let Report::Weekly(review) = &asked.report else { return Err(Problem::not_found()) };
    let now = ctx.now;
    let lines: Vec<ComebackLine> = review.comebacks.iter().take(TOLD).cloned().collect();
    let (undecided, waiting, told) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let rows = comebacks::list(conn, shop.id, Some(LinkState::Proposed), None, UNDECIDED)?;
            let mut told = Vec::new();
            for line in lines {
                let Some(id) = JobId::parse(&line.earlier.job_id) else { continue };
                told.push(WeekComeback {
                    earlier: ToldBrief::of(&brief::of(conn, shop.id, &id)?, &words),
                    told: line.told.map(|told| match told {
                        Told::FixedElsewhere => "fixed elsewhere",
                        Told::NotFixed => "not fixed",
                    }),
                    reason: words.label("comeback_reason", line.reason.as_deref()),
                    found: words.label("cause", line.later_cause.as_deref()),
                    returned: words.day(line.returned_on),
                    line,
                });
            }
            let waiting = model::undecided(conn, shop.id)?;
            Ok((listed(conn, &words, &rows)?, waiting, told))
        })
        .await?;
    let shop = ctx.shop()?.code.clone();
    let standing = asked.standing(&shop, None);
    let (first, shown) = shown(review, &asked.report, &standing);
    let (alarms, arrivals): (Vec<_>, Vec<_>) =
        first.into_iter().partition(|table| table.key == "alarms");
    let place = |days: i64| {
        let first = review.week_from.checked_add_signed(Duration::days(days))?;
        (first <= review.head.as_of)
            .then(|| format!("/shops/{shop}/week?week={}{}", week::name(first), asked.kept()))
    };
    Ok(WeekPage {
        viewer: Viewer::of(ctx),
        name: week::name(review.week_from),
        from: asked.style.day_of_year(review.week_from),
        to: asked
            .style
            .day(review.week_from.checked_add_signed(Duration::days(6)).unwrap_or(review.week_to)),
        partial: review.partial,
        before: place(-7).unwrap_or_default(),
        after: place(7),
        verdict: verdict(&asked.report),
        alarms,
        arrivals,
        undecided,
        undecided_note: undecided_note(review, &waiting, &asked.style),
        left: review.comebacks.len().saturating_sub(TOLD),
        comebacks: told,
        chains: chains(review),
        tables: shown,
        foot: Foot::of(asked),
        shop,
    })
}

/// What the week asks for: the first line of the first table's note.
fn verdict(report: &Report) -> String {
    let note = tables(report).into_iter().find_map(|table| table.note).unwrap_or_default();
    note.lines().next().unwrap_or_default().to_owned()
}

/// What stands at the top, and the other tables that the page does not tell in its own way.
fn shown(
    review: &WeeklyReview,
    report: &Report,
    standing: &Standing<'_>,
) -> (Vec<ShownTable>, Vec<ShownTable>) {
    let told = ["comebacks", "undecided", "chains"];
    let mut shown: Vec<ShownTable> = styled(report, standing.style)
        .iter()
        .filter(|table| !told.contains(&table.key) && !table.rows.is_empty())
        .map(|table| standing.shown(table))
        .collect();
    for table in shown.iter_mut().filter(|table| table.key == "alarms") {
        "To look into".clone_into(&mut table.title);
        table.notes.clear();
    }
    // A group is called by the label that its own column has.
    for table in shown.iter_mut().filter(|table| table.key == "movers") {
        for (row, mover) in table.rows.iter_mut().zip(&review.movers.groups) {
            if let Some(cell) = row.get_mut(1) {
                cell.text = standing.label("movers", mover.column.as_str(), &mover.group);
            }
        }
    }
    // The chart says the same of the weeks that can be judged.
    for table in &mut shown {
        table.folded = table.key == "cohorts" || (table.folded && table.key != "arrivals");
    }
    shown.into_iter().partition(|table| ["alarms", "arrivals"].contains(&table.key))
}

/// What waits now, and how much of it is younger than the review's figures.
fn undecided_note(review: &WeeklyReview, waiting: &[(NaiveDate, bool)], style: &Style) -> String {
    let sunday = review.week_from.checked_add_signed(Duration::days(6)).unwrap_or(review.week_to);
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
        count(&|opened, _| (review.week_from..=sunday).contains(&opened)),
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
