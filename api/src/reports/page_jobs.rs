//! The jobs behind a figure, as a page.

use std::collections::HashMap;

use actix_web::{HttpRequest, HttpResponse};
use analytics::select::JobLine;
use askama::Template;

use super::model::{self, VehicleName};
use super::page::{Asked, Found, found};
use super::page_foot::Foot;
use super::page_table::Standing;
use super::page_terms::terms;
use super::query::{Report, ReportName};
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};
use crate::web::words::counted;

/// Jobs on one page; the CSV form has them all.
const PER_PAGE: usize = 50;

/// A job behind a figure.
struct JobRow {
    place: String,
    number: String,
    closed_on: String,
    /// Make, model and year, where they are known.
    vehicle: String,
    /// Plate, or the end of the VIN.
    known_by: String,
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
    /// `51 to 100 of 340`; absent where they stand on one page.
    stretch: Option<String>,
    newer: Option<String>,
    older: Option<String>,
    csv: String,
    foot: Foot,
}

/// The jobs behind a figure, the latest first.
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
    let pages = Pages::of(req.query_string(), report.jobs.len());
    let lines: Vec<&JobLine> =
        report.jobs.iter().rev().skip(pages.skipped()).take(PER_PAGE).collect();
    let ids: Vec<String> = lines.iter().map(|line| line.job_id.clone()).collect();
    let vehicles = ctx.read(move |conn, shop| model::vehicles_of(conn, shop.id, &ids)).await?;
    page::html(&JobsPage {
        viewer: Viewer::of(&ctx),
        heading: counted(report.count, "job", "jobs"),
        terms: terms(report, &standing),
        jobs: lines.iter().map(|line| job_row(line, &vehicles, &standing)).collect(),
        stretch: pages.stretch(),
        newer: pages.newer(&asked),
        older: pages.older(&asked),
        csv: format!("{}format=csv", asked.csv),
        foot: Foot::of(&asked),
    })
}

/// Which page of how many jobs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Pages {
    page: usize,
    jobs: usize,
}

impl Pages {
    /// A page that is none is the first, one past the end the last.
    fn of(query: &str, jobs: usize) -> Self {
        let asked = query.split('&').find_map(|pair| pair.strip_prefix("page="));
        let page = asked.and_then(|page| page.parse().ok()).unwrap_or(1);
        Self { page: page.clamp(1, jobs.div_ceil(PER_PAGE).max(1)), jobs }
    }

    const fn skipped(self) -> usize {
        (self.page - 1) * PER_PAGE
    }

    fn stretch(self) -> Option<String> {
        let last = (self.skipped() + PER_PAGE).min(self.jobs);
        (self.jobs > PER_PAGE)
            .then(|| format!("{} to {last} of {}, the latest first", self.skipped() + 1, self.jobs))
    }

    fn newer(self, asked: &Asked) -> Option<String> {
        (self.page > 1).then(|| format!("{}page={}", asked.csv, self.page - 1))
    }

    fn older(self, asked: &Asked) -> Option<String> {
        (self.page * PER_PAGE < self.jobs).then(|| format!("{}page={}", asked.csv, self.page + 1))
    }
}

fn job_row(
    line: &JobLine,
    vehicles: &HashMap<String, VehicleName>,
    standing: &Standing<'_>,
) -> JobRow {
    let label = |list: &str, code: &Option<String>| {
        code.as_deref().map_or_else(String::new, |code| standing.lists.label(list, code))
    };
    let vehicle = vehicles.get(&line.job_id);
    JobRow {
        place: format!("/shops/{}/jobs/{}", standing.shop, line.job_id),
        number: format!("{}/{}", line.order_no, line.job_no),
        closed_on: standing.style.day(line.closed_on),
        vehicle: vehicle.map(VehicleName::name).unwrap_or_default(),
        known_by: vehicle.map(VehicleName::known_by).unwrap_or_default(),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pages_have_fifty_jobs_and_ends() {
        let at = |query, jobs| Pages::of(query, jobs).stretch();
        assert_eq!(at("", 50), None);
        assert_eq!(at("a=b", 51).as_deref(), Some("1 to 50 of 51, the latest first"));
        assert_eq!(at("a=b&page=2", 51).as_deref(), Some("51 to 51 of 51, the latest first"));
        for odd in ["page=0", "page=-1", "page=x", "page="] {
            assert_eq!(Pages::of(odd, 120).page, 1, "{odd}");
        }
        assert_eq!(Pages::of("page=9", 120).page, 3);
        assert_eq!(Pages::of("page=9", 0), Pages { page: 1, jobs: 0 });
    }
}
