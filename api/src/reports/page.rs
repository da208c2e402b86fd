//! Reports as pages, from the same structs as their JSON and CSV.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, web};
use analytics::comeback::ComebackLine;
use analytics::figure::Head;
use askama::Template;

use super::http::make;
use super::page_reuse::ReusePage;
use super::page_table::{ShownTable, Standing};
use super::page_week;
use super::query::{Report, ReportName, ReportQuery};
use super::table::{Table, tables};
use super::{Format, render};
use crate::codes::lists::Lists;
use crate::domain::refusal::FieldFault;
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};
use crate::web::plain;

/// What stands under every report.
pub struct Foot {
    pub as_of: String,
    pub change_no: i64,
    pub window_days: i32,
    pub currency: String,
    /// What each figure means.
    pub definitions: Vec<(String, &'static str)>,
}

impl Foot {
    /// From a report's head.
    #[must_use]
    pub fn of(head: &Head) -> Self {
        Self {
            as_of: head.as_of.to_string(),
            change_no: head.change_no,
            window_days: head.window_days,
            currency: head.currency.clone(),
            definitions: head
                .definitions
                .iter()
                .map(|(key, meaning)| (key.replace('_', " "), *meaning))
                .collect(),
        }
    }
}

/// A choice of what a report shows.
pub struct Choice {
    pub label: String,
    pub place: String,
    pub here: bool,
}

/// A report that was asked for on a page.
pub struct Asked {
    pub query: ReportQuery,
    pub report: Report,
    pub lists: Lists,
    /// Address of the page, ready for more parameters.
    pub csv: String,
}

impl Asked {
    /// Where the page stands.
    #[must_use]
    pub fn standing<'a>(&'a self, shop: &'a str, by: Option<&'a str>) -> Standing<'a> {
        Standing {
            shop,
            head: self.report.head(),
            lists: &self.lists,
            by,
            without: &[],
            csv: self.csv.clone(),
        }
    }
}

/// The query's pairs that say something here: forms send empty fields, too, and
/// old bookmarks what a page no longer asks for.
fn given(req: &HttpRequest) -> String {
    let pairs: Vec<&str> = req
        .query_string()
        .split('&')
        .filter(|pair| pair.split_once('=').is_some_and(|(_, value)| !value.is_empty()))
        .filter(|pair| {
            plain::parameter::<ReportQuery>(pair).is_none_or(|fault| fault.code != "unknown")
        })
        .collect();
    pairs.join("&")
}

fn page_address(req: &HttpRequest, query: &str) -> String {
    let kept: Vec<&str> = query
        .split('&')
        .filter(|pair| {
            !pair.is_empty() && !pair.starts_with("format=") && !pair.starts_with("table=")
        })
        .collect();
    let join = if kept.is_empty() { "" } else { "&" };
    format!("{}?{}{join}", req.path(), kept.join("&"))
}

/// Makes the report that the address asks for.
pub(super) async fn ask(ctx: &Ctx, req: &HttpRequest, name: ReportName) -> Result<Asked, Problem> {
    let text = given(req);
    let query = if name == ReportName::Jobs {
        ReportQuery::of_jobs(req.query_string())
    } else {
        let read = web::Query::<ReportQuery>::from_query(&text);
        read.map_err(|error| {
            let fault = FieldFault::new("", "query", plain::words(&error.to_string()));
            Problem::invalid(vec![fault])
        })?
        .into_inner()
    };
    let report = make(ctx, name, query.clone()).await?;
    let lists = ctx.read(|conn, shop| Lists::load(conn, shop.id)).await?;
    let csv = page_address(req, if name == ReportName::Jobs { req.query_string() } else { &text });
    Ok(Asked { query, report, lists, csv })
}

/// The report as a file, where the address asks for that.
pub(super) fn file(asked: &Asked) -> Result<Option<HttpResponse>, Problem> {
    if asked.query.format.as_deref() != Some("csv") {
        return Ok(None);
    }
    let body = render(&asked.report, Format::Csv, asked.query.table.as_deref())?;
    let head = asked.report.head();
    let name = format!("attachment; filename=\"{}-{}-{}.csv\"", head.shop, head.report, head.as_of);
    Ok(Some(
        HttpResponse::Ok()
            .content_type(Format::Csv.media_type())
            .insert_header((header::CONTENT_DISPOSITION, name))
            .body(body),
    ))
}

#[derive(Template)]
#[template(path = "report.html")]
struct ReportPage {
    viewer: Viewer,
    title: &'static str,
    lead: String,
    choices: Vec<Choice>,
    /// The period's form: its address, days, and what else it must keep.
    action: String,
    from: String,
    to: String,
    kept: Vec<(&'static str, String)>,
    tables: Vec<ShownTable>,
    foot: Foot,
}

impl ReportPage {
    fn of(ctx: &Ctx, asked: &Asked, title: &'static str, lead: String) -> Self {
        let query = &asked.query;
        let head = asked.report.head();
        let day = |day: Option<chrono::NaiveDate>| day.map(|d| d.to_string()).unwrap_or_default();
        Self {
            viewer: Viewer::of(ctx),
            title,
            lead,
            choices: Vec::new(),
            action: asked.csv.split('?').next().unwrap_or_default().to_owned(),
            from: day(head.from),
            to: query
                .to
                .clone()
                .unwrap_or_else(|| query.week.as_ref().map_or(String::new(), |_| day(head.to))),
            kept: [("by", &query.by), ("symptom", &query.symptom)]
                .into_iter()
                .filter_map(|(name, value)| value.clone().map(|value| (name, value)))
                .collect(),
            tables: Vec::new(),
            foot: Foot::of(head),
        }
    }

    /// The columns to group by, as links that keep the period.
    fn grouped(mut self, words: &[&str], chosen: &str) -> Self {
        let period: String = [("from", &self.from), ("to", &self.to)]
            .iter()
            .filter(|(_, day)| !day.is_empty())
            .map(|(name, day)| format!("&{name}={day}"))
            .collect();
        self.choices = words
            .iter()
            .map(|word| Choice {
                label: (*word).to_owned(),
                place: format!("{}?by={word}{period}", self.action),
                here: *word == chosen,
            })
            .collect();
        self
    }
}

/// The weekly review.
///
/// # Errors
/// Faulty parameters, or the record does not answer.
pub async fn week(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = ask(&ctx, &req, ReportName::Weekly).await?;
    if let Some(file) = file(&asked)? {
        return Ok(file);
    }
    page::html(&page_week::view(&ctx, &asked).await?)
}

/// Comeback shares by a column.
///
/// # Errors
/// As there.
pub async fn comebacks(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = ask(&ctx, &req, ReportName::Comebacks).await?;
    if let Some(file) = file(&asked)? {
        return Ok(file);
    }
    let by = asked.query.by.as_deref().unwrap_or("symptom");
    let shop = ctx.shop()?.code.clone();
    let standing = asked.standing(&shop, Some(by));
    let words: Vec<&str> = analytics::comeback::By::ALL.iter().map(|by| by.as_str()).collect();
    let lead = "Of the repaired complaints, how many came back, by days since the hand-over. A \
        comeback belongs to who led the first job (to the supervisor, where that was a trainee), \
        never to who repaired it. A repair told not to have held counts on the day it was told.";
    let mut shown =
        ReportPage::of(&ctx, &asked, "Comeback shares", lead.to_owned()).grouped(&words, by);
    shown.tables = laid_out(&tables(&asked.report), &standing);
    if let Report::Comebacks(report) = &asked.report {
        link_returns(&mut shown.tables, &report.returns, &shop);
    }
    page::html(&shown)
}

/// Tables for the page; the first one, what the report is about, is never
/// folded.
fn laid_out(tables: &[Table], standing: &Standing<'_>) -> Vec<ShownTable> {
    let mut shown: Vec<ShownTable> = tables.iter().map(|table| standing.shown(table)).collect();
    if let Some(main) = shown.first_mut() {
        main.folded = false;
    }
    shown
}

/// The two jobs of each comeback lead to their pages.
fn link_returns(tables: &mut [ShownTable], returns: &[ComebackLine], shop: &str) {
    let rows = tables.iter_mut().filter(|table| table.key == "returns").flat_map(|t| &mut t.rows);
    for (row, line) in rows.zip(returns) {
        for (cell, job) in row.iter_mut().zip([Some(&line.earlier), line.later.as_ref()]) {
            cell.place = job.map(|job| format!("/shops/{shop}/jobs/{}", job.job_id));
        }
    }
}

/// Clean or replace.
///
/// # Errors
/// As there.
pub async fn reuse(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = ask(&ctx, &req, ReportName::Reuse).await?;
    if let Some(file) = file(&asked)? {
        return Ok(file);
    }
    page::html(&ReusePage::of(&ctx, &asked)?)
}

/// Diagnosis paths: all symptoms in a line each, or one with everything.
///
/// # Errors
/// As there.
pub async fn paths(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = ask(&ctx, &req, ReportName::Paths).await?;
    if let Some(file) = file(&asked)? {
        return Ok(file);
    }
    let shop = ctx.shop()?.code.clone();
    let one = asked.query.symptom.as_deref();
    let without: &[&str] = if one.is_some() { &["symptom"] } else { &[] };
    let standing = Standing { without, ..asked.standing(&shop, None) };
    let lead = match one {
        Some(symptom) => {
            format!(
                "{}: which checks were made in which order.",
                asked.lists.label("symptom", symptom)
            )
        }
        None => "Which checks were made for each complaint, how long they took and whether they \
            found the cause. Choose a symptom for its paths."
            .to_owned(),
    };
    let mut shown = ReportPage::of(&ctx, &asked, "Diagnosis paths", lead);
    let mut wanted = tables(&asked.report);
    wanted.retain(|table| one.is_some() || ["symptoms", "outcomes"].contains(&table.key));
    shown.tables = laid_out(&wanted, &standing);
    if let (None, Report::Paths(report), Some(table)) =
        (one, &asked.report, shown.tables.first_mut())
    {
        for (row, line) in table.rows.iter_mut().zip(&report.symptoms) {
            if let Some(cell) = row.first_mut() {
                cell.place = Some(format!("/shops/{shop}/paths?symptom={}", line.symptom));
            }
        }
    }
    page::html(&shown)
}

/// Labor against flat-rate.
///
/// # Errors
/// As there.
pub async fn labor(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = ask(&ctx, &req, ReportName::Labor).await?;
    if let Some(file) = file(&asked)? {
        return Ok(file);
    }
    let by = asked.query.by.as_deref().unwrap_or("technician");
    let shop = ctx.shop()?.code.clone();
    let (prices, costs) = (ctx.may(Permission::ReadPrices), ctx.may(Permission::ReadCosts));
    let without: &[&str] = if prices { &[] } else { &["labor_amount", "effective_labor_rate"] };
    let standing = Standing { without, ..asked.standing(&shop, Some(by)) };
    let viewer = Viewer::of(&ctx);
    let lead = if viewer.sees_reports {
        "Flat-rate hours against clock hours, sum over sum. People stand by name and are never \
         ranked; an hour over the guide may be the guide's."
    } else {
        "Your own line: flat-rate hours against clock hours, sum over sum."
    };
    let mut shown = ReportPage::of(&ctx, &asked, "Labor", lead.to_owned());
    if viewer.sees_reports {
        shown = shown.grouped(analytics::labor::By::WORDS, by);
    }
    let mut seen = tables(&asked.report);
    seen.retain(|table| costs || table.key != "comeback_cost");
    seen.retain(|table| !table.rows.is_empty());
    shown.tables = laid_out(&seen, &standing);
    page::html(&shown)
}
