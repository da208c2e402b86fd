//! The jobs behind a figure, as a page.

use actix_web::{HttpRequest, HttpResponse};
use analytics::select::{Selector, Term};
use askama::Template;

use super::page::{Found, found};
use super::page_foot::Foot;
use super::page_table::Standing;
use super::query::{JobsReport, Report, ReportName};
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};
use crate::web::words::counted;

/// Jobs shown of a list; the CSV form has them all.
const MOST_JOBS: usize = 300;

/// A job behind a figure.
struct JobRow {
    place: String,
    number: String,
    closed_on: String,
    vehicle: String,
    symptom: String,
    complaint: Option<String>,
    cause: String,
    technician: Option<String>,
    outcome: String,
    back: Option<String>,
}

#[derive(Template)]
#[template(path = "closed_jobs.html")]
struct JobsPage {
    viewer: Viewer,
    heading: String,
    /// What they were selected by, in words.
    terms: Vec<String>,
    jobs: Vec<JobRow>,
    left: usize,
    csv: String,
    foot: Foot,
}

/// The jobs behind a figure.
///
/// # Errors
/// As there.
pub async fn jobs(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = match found(&ctx, &req, ReportName::Jobs).await? {
        Found::Page(asked) => asked,
        Found::Answer(answer) => return Ok(answer),
    };
    let Report::Jobs(report) = &asked.report else { return Err(Problem::not_found()) };
    let shop = ctx.shop()?.code.clone();
    let standing = asked.standing(&shop, None);
    page::html(&JobsPage {
        viewer: Viewer::of(&ctx),
        heading: counted(report.count, "job", "jobs"),
        terms: terms(report, &standing),
        jobs: report
            .jobs
            .iter()
            .rev()
            .take(MOST_JOBS)
            .map(|line| job_row(line, &standing))
            .collect(),
        left: report.jobs.len().saturating_sub(MOST_JOBS),
        csv: format!("{}format=csv", asked.csv),
        foot: Foot::of(&asked),
    })
}

fn job_row(line: &analytics::select::JobLine, standing: &Standing<'_>) -> JobRow {
    let label = |list: &str, code: &Option<String>| {
        code.as_deref().map_or_else(String::new, |code| standing.lists.label(list, code))
    };
    JobRow {
        place: format!("/shops/{}/jobs/{}", standing.shop, line.job_id),
        number: format!("{}/{}", line.order_no, line.job_no),
        closed_on: standing.style.day(line.closed_on),
        vehicle: line.vehicle.clone(),
        symptom: label("symptom", &line.symptom),
        complaint: line.complaint.clone(),
        cause: label("cause", &line.cause),
        technician: line.technician.clone(),
        outcome: standing.label("", "outcome", line.outcome.as_str()),
        back: line.returned_on.map(|day| {
            format!(
                "{}, after {}",
                standing.style.day(day),
                counted(line.days_to_return.unwrap_or(0).into(), "day", "days")
            )
        }),
    }
}

/// The selector's terms as people read them.
fn terms(report: &JobsReport, standing: &Standing<'_>) -> Vec<String> {
    let Ok(selector) = Selector::parse(&report.select) else {
        return Vec::new();
    };
    let window = report.head.window_days;
    selector.terms().iter().map(|term| words(term, window, standing)).collect()
}

fn words(term: &Term, window: i32, standing: &Standing<'_>) -> String {
    let inside = |other: &Selector| {
        let terms = other.terms().iter().map(|term| words(term, window, standing));
        terms.collect::<Vec<_>>().join(", ")
    };
    match term {
        Term::Also(other) => return format!("and also: {}", inside(other)),
        Term::Except(other) => return format!("but not: {}", inside(other)),
        _ => {}
    }
    let (key, value) = term.pair();
    let day =
        |text: &str| text.parse().map_or_else(|_| text.to_owned(), |day| standing.style.day(day));
    match (key, value.as_str()) {
        ("returned", "true") => format!("came back within {window} days"),
        ("returned", _) => format!("did not come back within {window} days"),
        ("part_returned", "true") => format!("the part came back within {window} days"),
        ("part_returned", _) => format!("the part did not come back within {window} days"),
        ("first_repair", "true") => "first repairs".to_owned(),
        ("first_repair", _) => "repairs of comebacks".to_owned(),
        ("clocked", "true") => "with punched time".to_owned(),
        ("clocked", _) => "without punched time".to_owned(),
        ("returned_from", on) => format!("came back first on {} or later", day(on)),
        ("returned_to", on) => format!("came back first by {}", day(on)),
        ("opened_from", on) => format!("written up from {}", day(on)),
        ("opened_to", on) => format!("written up to {}", day(on)),
        ("closed_from", on) => format!("handed over from {}", day(on)),
        ("closed_to", on) => format!("handed over up to {}", day(on)),
        ("answers", "") => "nobody answers for the first repair".to_owned(),
        ("answers", name) => format!("{name} answers for the first repair"),
        ("found_by", "") => "cause found by no recorded check".to_owned(),
        ("found_by", check) => format!("cause found by: {}", standing.label("", "check", check)),
        (key, "") => format!("no {}", key.replace('_', " ")),
        (key, value) => {
            let column =
                if key.starts_with("path") || key.ends_with("_check") { "path" } else { key };
            let label = standing.label("", column, &value.replace('>', " > "));
            format!("{}: {}", key.replace('_', " "), label.replace('_', " "))
        }
    }
}
