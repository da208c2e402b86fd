//! A part in hand as a page: what is known of it above, the answer at once.

use actix_web::{HttpRequest, HttpResponse};
use analytics::reuse::EstimateReport;
use analytics::words::{Curable, PartRole, Serviceable};
use askama::Template;

use super::told::{ToldTurning, told};
use crate::codes::lists::Lists;
use crate::domain::role::Permission;
use crate::problem::{Kind, Problem};
use crate::reports::http::make;
use crate::reports::page::{given, read};
use crate::reports::page_reuse_part::{AdviceView, told_advice};
use crate::reports::page_table::Standing;
use crate::reports::query::{Report, ReportName, ReportQuery};
use crate::reports::table::sentence;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried, refused};
use crate::web::page::{self, Viewer};
use crate::web::words::{Pick, Shown, reading, units};

/// The answer, and what it rests on.
struct Answer {
    part: String,
    held_as: &'static str,
    headline: String,
    because: Vec<&'static str>,
    advice: AdviceView,
    clean_jobs: Option<String>,
    replace_jobs: Option<String>,
    /// What was read, and what the shop's own readings say of it.
    reading: Option<(String, String, Option<String>)>,
    rebuilt: Option<String>,
    turnings: Vec<ToldTurning>,
    note: &'static str,
    all: String,
    times: String,
}

#[derive(Template)]
#[template(path = "bench.html")]
struct BenchPage {
    viewer: Viewer,
    shop: String,
    costs: bool,
    answer: Option<Answer>,
    caution: &'static str,
    known: Vec<String>,
    roles: Vec<Pick>,
    serviceable: Vec<Pick>,
    curable: Vec<Pick>,
    yes_no: Vec<Pick>,
    units: Vec<Pick>,
    fields: Fields,
    tried: Option<Tried>,
}

impl BenchPage {
    fn form(&self) -> FormView {
        FormView::of("ask", self.tried.as_ref(), self.fields.clone())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|_| self.form())
    }

    fn refused_form(&self) -> &'static str {
        "ask"
    }
}

/// What was asked, as the form shows it again.
fn fields(query: &ReportQuery) -> Fields {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    Fields::of(&[
        ("part", text(&query.part)),
        ("role", text(&query.role)),
        ("serviceable", text(&query.serviceable)),
        ("curable", text(&query.curable)),
        ("tested", text(&query.tested)),
        ("access_hours", text(&query.access_hours)),
        ("part_cost", text(&query.part_cost)),
        ("assembly_cost", text(&query.assembly_cost)),
        ("rebuilt_cost", text(&query.rebuilt_cost)),
        ("return_extra", text(&query.return_extra)),
        ("reading", text(&query.reading)),
        ("unit", text(&query.unit)),
    ])
}

/// The parts that the shop has cleaned or replaced, for the field that asks.
async fn known(ctx: &Ctx) -> Result<Vec<String>, Problem> {
    let report = match make(ctx, ReportName::Reuse, ReportQuery::default()).await {
        Ok(Report::Reuse(report)) => report,
        Ok(_) => return Err(Problem::not_found()),
        Err(problem) if problem.kind == Kind::NOT_READY => return Ok(Vec::new()),
        Err(problem) => return Err(problem),
    };
    let mut parts: Vec<String> = report.parts.into_iter().map(|line| line.part).collect();
    parts.sort();
    parts.dedup();
    Ok(parts)
}

async fn laid_out(
    ctx: &Ctx,
    query: &ReportQuery,
    report: Option<Report>,
    tried: Option<Tried>,
) -> Result<BenchPage, Problem> {
    let answer = match &report {
        Some(made @ Report::Estimate(estimate)) => Some(answer(ctx, made, estimate, query).await?),
        _ => None,
    };
    Ok(BenchPage {
        viewer: Viewer::of(ctx),
        shop: ctx.shop()?.code.clone(),
        costs: ctx.may(Permission::ReadCosts),
        answer,
        caution: analytics::reuse::CAUTION,
        known: known(ctx).await?,
        roles: [PartRole::Suspect, PartRole::Bystander]
            .map(|role| Pick::new(role.as_str(), role.shown()))
            .to_vec(),
        serviceable: Serviceable::picks(),
        curable: Curable::WORDS.iter().map(|word| Pick::new(*word, *word)).collect(),
        yes_no: vec![Pick::new("true", "yes"), Pick::new("false", "no")],
        units: units(),
        fields: fields(query),
        tried,
    })
}

async fn answer(
    ctx: &Ctx,
    made: &Report,
    estimate: &EstimateReport,
    query: &ReportQuery,
) -> Result<Answer, Problem> {
    let lists = ctx.read(|conn, shop| Lists::load(conn, shop.id)).await?;
    let shop = ctx.shop()?.clone();
    let style = shop.style();
    let costs = ctx.may(Permission::ReadCosts);
    let standing = Standing {
        shop: &shop.code,
        head: &estimate.head,
        lists: &lists,
        report: Some(made),
        by: None,
        without: &[],
        csv: String::new(),
        style: &style,
    };
    let advice = &estimate.advice;
    let window = estimate.head.window_days;
    let part = serde_urlencoded::to_string([("part", &estimate.part)]).unwrap_or_default();
    let told_reading = estimate.reading.as_ref().map(|said| {
        let near = said.near.as_ref().map(|share| sentence(share, window));
        (reading(said.reading, query.unit.as_deref()), said.text.clone(), near)
    });
    let rebuilt = estimate.rebuilt.and_then(|rebuilt| {
        let cost = style.amount(rebuilt.replace_minor?.round() as i64);
        Some(format!("A rebuilt one costs {cost} on average, returns included, if it comes back no more often than new ones."))
    });
    Ok(Answer {
        part: estimate.part.clone(),
        held_as: estimate.role.part_role().shown(),
        headline: estimate.headline.clone(),
        because: estimate.because.clone(),
        clean_jobs: (advice.clean.cases > 0).then(|| standing.jobs(&advice.clean.jobs)),
        replace_jobs: (advice.replace.cases > 0).then(|| standing.jobs(&advice.replace.jobs)),
        advice: told_advice(advice, window, costs.then_some(&style)),
        reading: told_reading,
        rebuilt,
        turnings: estimate.turnings.iter().map(|one| told(one, &style)).collect(),
        note: advice.note,
        all: format!("/shops/{}/reuse?{part}&role={}", shop.code, estimate.role.as_str()),
        times: format!("/shops/{}/parts-times?{part}#times", shop.code),
    })
}

/// The page: blank, with an answer, or with what is wrong.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn in_hand(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let text = given(&req);
    let query = read(&text)?;
    // A part alone, as it comes from a list: how it was held is asked first.
    if query.part.is_none() || query.role.is_none() {
        return page::html(&laid_out(&ctx, &query, None, None).await?);
    }
    match make(&ctx, ReportName::Estimate, query.clone()).await {
        Ok(report) => page::html(&laid_out(&ctx, &query, Some(report), None).await?),
        Err(problem) if problem.kind == Kind::INVALID => {
            let fields = fields(&query);
            let tried = Tried { form: "ask", fields, problem: problem.clone() };
            refused(&problem, &laid_out(&ctx, &query, None, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}
