//! Reports as pages, from the same structs as their JSON and CSV.

use actix_web::{HttpRequest, HttpResponse, web};
use analytics::comeback::ComebackLine;
use askama::Template;
use chrono::NaiveDate;

use super::HTML;
use super::headline::Told;
use super::http::make;
use super::page_checks::FirstForm;
use super::page_file::file;
use super::page_foot::Foot;
use super::page_more;
use super::page_refused::{self, KEPT, Period};
use super::page_reuse::ReusePage;
use super::page_table::{LONG, ShownTable, Standing};
use super::query::{Report, ReportName, ReportQuery};
use super::table::{Table, styled};
use crate::codes::lists::Lists;
use crate::domain::refusal::FieldFault;
use crate::domain::style::Style;
use crate::problem::{Kind, Problem};
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};
use crate::web::plain;

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
    /// The shop's day.
    pub today: NaiveDate,
    /// How the shop writes.
    pub style: Style,
}

impl Asked {
    /// The as-of and window that were asked for, for links beside others.
    pub fn kept(&self) -> String {
        [("as_of", &self.query.as_of), ("window", &self.query.window)]
            .into_iter()
            .filter_map(|(name, value)| Some(format!("&{name}={}", value.as_ref()?)))
            .collect()
    }

    /// Where the page stands.
    #[must_use]
    pub fn standing<'a>(&'a self, shop: &'a str, by: Option<&'a str>) -> Standing<'a> {
        Standing {
            shop,
            head: self.report.head(),
            lists: &self.lists,
            report: Some(&self.report),
            by,
            without: &[],
            csv: self.csv.clone(),
            style: &self.style,
        }
    }

    /// The report's tables, with notes as the shop writes.
    pub(super) fn tables(&self) -> Vec<Table> {
        styled(&self.report, &self.style)
    }
}

/// The query's pairs that say something here: forms send empty fields, too, and
/// old bookmarks what a page no longer asks for. `first=` asks for no check first.
pub fn given(req: &HttpRequest) -> String {
    let pairs: Vec<&str> = req
        .query_string()
        .split('&')
        .filter(|pair| {
            pair.split_once('=').is_some_and(|(name, value)| !value.is_empty() || name == "first")
        })
        .filter(|pair| {
            plain::parameter::<ReportQuery>(pair).is_none_or(|fault| fault.code != "unknown")
        })
        .collect();
    pairs.join("&")
}

/// A list's page is the page's own matter, not its selector's.
fn without_page(query: &str) -> String {
    let kept = query.split('&').filter(|pair| !pair.starts_with("page="));
    kept.collect::<Vec<_>>().join("&")
}

pub(super) fn page_address(req: &HttpRequest, query: &str) -> String {
    let kept: Vec<&str> = query
        .split('&')
        .filter(|pair| {
            let own = ["format=", "table=", "page="];
            !pair.is_empty() && !own.iter().any(|key| pair.starts_with(key))
        })
        .collect();
    let join = if kept.is_empty() { "" } else { "&" };
    format!("{}?{}{join}", req.path(), kept.join("&"))
}

/// What an address leads to.
pub enum Found {
    /// A report, for its page.
    Page(Box<Asked>),
    /// The report as a file, or what is wrong with what was asked.
    Answer(HttpResponse),
}

/// The report that the address asks for.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn found(ctx: &Ctx, req: &HttpRequest, name: ReportName) -> Result<Found, Problem> {
    match ask(ctx, req, name).await {
        Ok(asked) => {
            Ok(file(ctx, &asked)?.map_or_else(|| Found::Page(Box::new(asked)), Found::Answer))
        }
        Err(problem) if problem.kind == Kind::INVALID => {
            page_refused::page(ctx, name, req.path(), &given(req), &problem).map(Found::Answer)
        }
        Err(problem) => Err(problem),
    }
}

/// Reads a query's text.
///
/// # Errors
/// The first parameter that is none of a report's.
pub fn read(text: &str) -> Result<ReportQuery, Problem> {
    let read = web::Query::<ReportQuery>::from_query(text);
    Ok(read
        .map_err(|error| {
            let said = error.to_string();
            let said = said.strip_prefix("Query deserialize error: ").unwrap_or(&said);
            let name = said.split('`').nth(1).unwrap_or("");
            let fault = FieldFault::new(name, "query", plain::words(said));
            Problem::invalid(vec![fault])
        })?
        .into_inner())
}

/// Refuses a form that the page does not come in, rather than answer another.
///
/// # Errors
/// The parameter.
pub(super) fn format_fits(query: &ReportQuery, taken: &[&str]) -> Result<(), Problem> {
    match query.format.as_deref() {
        Some(asked) if !taken.contains(&asked) => {
            let detail = format!("write {}, or leave it out for the page", taken.join(" or "));
            Err(Problem::invalid(vec![FieldFault::new("format", "word", detail)]))
        }
        _ => Ok(()),
    }
}

async fn ask(ctx: &Ctx, req: &HttpRequest, name: ReportName) -> Result<Asked, Problem> {
    let text = given(req);
    let mut query = if name == ReportName::Jobs {
        ReportQuery::of_jobs(&without_page(req.query_string()))
    } else {
        read(&text)?
    };
    format_fits(&query, &["csv", HTML])?;
    let report = make(ctx, name, query.clone()).await?;
    let lists = ctx.read(|conn, shop| Lists::load(conn, shop.id)).await?;
    let csv = page_address(req, if name == ReportName::Jobs { req.query_string() } else { &text });
    // Labels are those of the entries that figures count under.
    query.symptom = query.symptom.map(|symptom| lists.now("symptom", &symptom));
    let style = ctx.shop()?.style();
    Ok(Asked { query, report, lists, csv, today: style.zone.day(ctx.now), style })
}

#[derive(Template)]
#[template(path = "report.html")]
pub(super) struct ReportPage {
    viewer: Viewer,
    title: &'static str,
    lead: String,
    /// What the report comes to, before its tables.
    pub headline: Vec<Told>,
    /// Spans of days to choose from.
    pub spans: Vec<Choice>,
    /// The reports that belong to this one.
    beside: Vec<Choice>,
    /// What is chosen by the links.
    choosing: &'static str,
    pub choices: Vec<Choice>,
    period: Period,
    /// What comes first, for the order of checks.
    pub first: Option<FirstForm>,
    /// Where a shop rule is taken on what the report says.
    pub rule: Option<String>,
    pub tables: Vec<ShownTable>,
    foot: Foot,
}

impl ReportPage {
    pub fn of(ctx: &Ctx, asked: &Asked, title: &'static str, lead: String) -> Self {
        let query = &asked.query;
        let head = asked.report.head();
        let viewer = Viewer::of(ctx);
        let shop = viewer.shop.as_ref().map_or(String::new(), |shop| shop.code.clone());
        let name = ReportName::parse(head.report).unwrap_or(ReportName::Jobs);
        let day = |day: Option<chrono::NaiveDate>| day.map(|d| d.to_string()).unwrap_or_default();
        Self {
            beside: page_more::beside(name, &viewer, &shop),
            viewer,
            title,
            lead,
            headline: Vec::new(),
            spans: Vec::new(),
            choosing: "By",
            choices: Vec::new(),
            period: Period {
                action: asked.csv.split('?').next().unwrap_or_default().to_owned(),
                from: day(head.from),
                to: query
                    .to
                    .clone()
                    .unwrap_or_else(|| query.week.as_ref().map_or(String::new(), |_| day(head.to))),
                kept: KEPT
                    .into_iter()
                    .zip([
                        &query.by,
                        &query.symptom,
                        &query.as_of,
                        &query.window,
                        &query.part,
                        &query.role,
                        &query.better,
                        &query.line,
                        &query.hold_minutes,
                        &query.first,
                    ])
                    .filter_map(|(name, value)| Some((name, value.clone()?)))
                    .collect(),
                ..Period::default()
            },
            first: None,
            rule: None,
            tables: Vec::new(),
            foot: Foot::of(asked),
        }
    }

    /// With the way to a shop rule, for who may take one.
    pub fn leading_to_rule(mut self, pairs: &[(&str, &str)]) -> Self {
        let shop = self.viewer.shop.as_ref().filter(|_| self.viewer.writes_rules);
        let query = serde_urlencoded::to_string(pairs).unwrap_or_default();
        self.rule = shop.map(|shop| format!("/shops/{}/rules/new?{query}", shop.code));
        self
    }

    /// A choice of what the figures are made under.
    pub fn choosing(mut self, what: &'static str, choices: Vec<Choice>) -> Self {
        (self.choosing, self.choices) = (what, choices);
        self
    }

    /// The columns to group by, as links that keep the period.
    pub fn grouped(mut self, words: &[&str], chosen: &str, asked: &Asked) -> Self {
        let days = [("from", &self.period.from), ("to", &self.period.to)];
        let mut period: String = days
            .iter()
            .filter(|(_, day)| !day.is_empty())
            .map(|(name, day)| format!("&{name}={day}"))
            .collect();
        period.push_str(&asked.kept());
        self.choices = words
            .iter()
            .map(|word| Choice {
                label: (*word).to_owned(),
                place: format!("{}?by={word}{period}", self.period.action),
                here: *word == chosen,
            })
            .collect();
        self
    }
}

/// Comeback shares by a column.
///
/// # Errors
/// As there.
pub async fn comebacks(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = match found(&ctx, &req, ReportName::Comebacks).await? {
        Found::Page(asked) => asked,
        Found::Answer(answer) => return Ok(answer),
    };
    let by = asked.query.by.as_deref().unwrap_or("symptom");
    let shop = ctx.shop()?.code.clone();
    let standing = asked.standing(&shop, Some(by));
    let words: Vec<&str> = analytics::comeback::By::ALL.iter().map(|by| by.as_str()).collect();
    let lead = "Of the repaired complaints, how many came back, by days since the hand-over. A \
        comeback belongs to who led the first job (to the supervisor, where that was a trainee), \
        never to who repaired it. A repair told not to have held counts on the day it was told.";
    let mut shown = ReportPage::of(&ctx, &asked, "Comeback shares", lead.to_owned())
        .grouped(&words, by, &asked);
    shown.tables = laid_out(&asked.tables(), &standing);
    for table in &mut shown.tables {
        table.folded = table.folded || ["sensitivity", "curve"].contains(&table.key);
    }
    if let Report::Comebacks(report) = &asked.report {
        link_returns(&mut shown.tables, &report.returns, &shop);
    }
    page::html(&shown)
}

/// Tables for the page; the first one, what the report is about, is folded only
/// where a picture says the same and the table is long.
pub(super) fn laid_out(tables: &[Table], standing: &Standing<'_>) -> Vec<ShownTable> {
    let mut shown: Vec<ShownTable> = tables.iter().map(|table| standing.shown(table)).collect();
    if let Some(main) = shown.first_mut() {
        main.folded = main.folded && main.picture.is_some() && main.rows.len() > LONG;
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
    let asked = match found(&ctx, &req, ReportName::Reuse).await? {
        Found::Page(asked) => asked,
        Found::Answer(answer) => return Ok(answer),
    };
    page::html(&ReusePage::of(&ctx, &asked)?)
}

/// Diagnosis paths: all symptoms in a line each, or one with everything.
///
/// # Errors
/// As there.
pub async fn paths(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = match found(&ctx, &req, ReportName::Paths).await? {
        Found::Page(asked) => asked,
        Found::Answer(answer) => return Ok(answer),
    };
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
    if let Some(symptom) = one {
        shown = shown.leading_to_rule(&[("kind", "check_first"), ("symptom", symptom)]);
    }
    let mut wanted = asked.tables();
    wanted.retain(|table| one.is_some() || ["symptoms", "outcomes"].contains(&table.key));
    wanted.retain(|table| table.key != "plan_steps" || !table.rows.is_empty());
    // The tree shows what the others count.
    wanted.sort_by_key(|table| table.key != "tree");
    shown.tables = laid_out(&wanted, &standing);
    for table in shown.tables.iter_mut().filter(|_| one.is_some()) {
        table.folded = table.rows.len() > 1;
    }
    if let (None, Report::Paths(report), Some(table)) =
        (one, &asked.report, shown.tables.first_mut())
    {
        for (row, line) in table.rows.iter_mut().zip(&report.symptoms) {
            if let Some(cell) = row.first_mut() {
                cell.place =
                    Some(format!("/shops/{shop}/paths?symptom={}{}", line.symptom, asked.kept()));
            }
        }
    }
    page::html(&shown)
}
