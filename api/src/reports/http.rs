//! Reports over HTTP: one struct each, as JSON, CSV, NDJSON or text.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, web};

use super::query::{self, Known, Report, ReportName, ReportQuery};
use super::{Format, render};
use crate::domain::role::Permission;
use crate::problem::{Kind, Problem};
use crate::web::asked;
use crate::web::body::Params;
use crate::web::csv;
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Makes a report off the async threads. Who may not see the whole labor report
/// sees the own line; who may not see costs sees none.
///
/// # Errors
/// Faulty parameters, or the record does not answer.
pub async fn make(ctx: &Ctx, name: ReportName, query: ReportQuery) -> Result<Report, Problem> {
    let own = (name == ReportName::Labor && !ctx.may(Permission::ReadReports))
        .then(|| ctx.asker.person.name.clone());
    if own.is_some() && query.by.as_deref().is_some_and(|by| by != "technician") {
        return Err(Problem::new(Kind::FORBIDDEN, "you see your own line, by technician"));
    }
    let costs = ctx.may(Permission::ReadCosts);
    let _turn = ctx
        .app
        .counting
        .acquire()
        .await
        .map_err(|_| Problem::new(Kind::UNAVAILABLE, "the server is stopping"))?;
    let (db, live, shop, now) =
        (ctx.app.db.clone(), ctx.app.live.clone(), ctx.shop()?.clone(), ctx.now);
    let report = web::block(move || {
        let history = live.history(&db, &shop)?;
        let known = db.read(|conn| Known::load(conn, &shop, &query))?;
        let mut report = query::answer(&history, &known, &shop, now, name, &query)?;
        match (&mut report, own) {
            (Report::Labor(labor), Some(own)) => query::only_own(labor, &own),
            (Report::Reuse(reuse), _) if !costs => query::without_costs(reuse),
            _ => {}
        }
        Ok::<_, crate::db::Fault>(report)
    })
    .await??;
    Ok(report)
}

async fn answer(
    ctx: Ctx,
    req: HttpRequest,
    name: ReportName,
    query: ReportQuery,
) -> Result<HttpResponse, Problem> {
    let asked = asked::form(&req, &asked::REPORT_FORMS)?;
    let form = asked.form;
    let table = query.table.clone();
    let report = make(&ctx, name, query).await?;
    let mut body = render(&report, form, table.as_deref())?;
    if form == Format::Csv && asked.spreadsheet {
        body =
            csv::guard(&body).map_err(|error| Problem::new(Kind::INTERNAL, error.to_string()))?;
    }
    Ok(HttpResponse::Ok()
        .content_type(form.media_type())
        .insert_header((header::VARY, "Accept"))
        .body(body))
}

macro_rules! reports {
    ($($(#[$meta:meta])* $fn:ident $name:ident $id:literal $path:literal $body:ty, $text:literal;)+) => {$(
        $(#[$meta])*
        #[utoipa::path(
            get, path = $path, operation_id = $id, tag = "report",
            description = $text,
            params(("shop" = String, Path, description = "The shop's id"), ReportQuery),
            responses(
                (status = 200, description = "The report", content(
                    ($body = "application/json"), (String = "text/csv"),
                    (String = "application/x-ndjson"), (String = "text/plain"))),
                Problems)
        )]
        pub async fn $fn(
            ctx: Ctx,
            req: HttpRequest,
            query: Params<ReportQuery>,
        ) -> Result<HttpResponse, Problem> {
            answer(ctx, req, ReportName::$name, query.0).await
        }
    )+};
}

reports! {
    /// The weekly review.
    weekly Weekly "reportWeekly" "/api/v1/shops/{shop}/reports/weekly" analytics::weekly::WeeklyReview,
        "The week's comebacks against those expected, what is undecided, and the cohorts of the weeks before.";
    /// Comeback shares by a column.
    comebacks Comebacks "reportComebacks" "/api/v1/shops/{shop}/reports/comebacks" analytics::comeback::ComebackReport,
        "Comeback shares by symptom, system, cause, technician, vehicle, part, supplier, lot, week, model or engine.";
    /// Clean or replace.
    reuse Reuse "reportReuse" "/api/v1/shops/{shop}/reports/reuse" analytics::reuse::ReuseReport,
        "How parts came back by role and by what was done with them, and whether to clean or to replace. With part: advice on that part, seen before or not.";
    /// Diagnosis paths.
    paths Paths "reportPaths" "/api/v1/shops/{shop}/reports/paths" analytics::path::PathReport,
        "The ordered checks of the jobs of each symptom: minutes, how often the cause was found, what came back, and what skipping the first check went with.";
    /// Labor against flat-rate.
    labor Labor "reportLabor" "/api/v1/shops/{shop}/reports/labor" analytics::labor::LaborReport,
        "Flat-rate against clock hours as ratios of sums, with and without comebacks. A technician sees their own line.";
}

/// The jobs behind a figure. The selector's keys are the query itself.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/reports/jobs", operation_id = "reportJobs", tag = "report",
    description = "The jobs that a figure's `jobs` selects: give it as the query.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("symptom" = Option<String>, Query, description = "One key of many: every figure's `jobs` is a whole query")),
    responses(
        (status = 200, description = "The jobs", content(
            (super::query::JobsReport = "application/json"), (String = "text/csv"),
            (String = "application/x-ndjson"), (String = "text/plain"))),
        Problems)
)]
pub async fn jobs(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let query = ReportQuery::of_jobs(&asked::for_handlers(req.query_string()));
    answer(ctx, req, ReportName::Jobs, query).await
}
