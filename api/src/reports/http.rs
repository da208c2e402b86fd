//! Reports over HTTP: one struct each, as JSON, CSV, NDJSON or text.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, web};
use analytics::select::Selector;

use super::live::{Question, Told};
use super::query::{self, Report, ReportName, ReportQuery};
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
    Ok(told(ctx, name, &query).await?.report())
}

/// What the asker may ask, and see of the answer.
fn allowed(ctx: &Ctx, name: ReportName, query: &ReportQuery) -> Result<Question, Problem> {
    let has_own = matches!(name, ReportName::Labor | ReportName::Compare);
    let own =
        (has_own && !ctx.may(Permission::ReadReports)).then(|| ctx.asker().person.name.clone());
    if own.is_some() && query.by.as_deref().is_some_and(|by| by != "technician") {
        return Err(Problem::new(Kind::FORBIDDEN, "you see your own line, by technician"));
    }
    if name == ReportName::Jobs && !ctx.may(Permission::ReadReports) {
        refuse_returns_of_others(query, &ctx.asker().person.name)?;
    }
    let costs = ctx.may(Permission::ReadCosts);
    let times = [&query.access_minutes, &query.clean_minutes, &query.fit_minutes];
    let amounts =
        [&query.part_cost, &query.assembly_cost, &query.rebuilt_cost, &query.return_extra];
    let any_hours = query.access_hours.is_some();
    // A few times to hold a vehicle back tell next to nothing of a cost.
    let hold = query.hold_minutes.as_deref();
    let any_hold = hold.is_some_and(|minutes| !query::HOLD_MINUTES.contains(&minutes));
    if !costs && (any_hours || any_hold || amounts.into_iter().chain(times).any(Option::is_some)) {
        let why = "costs are for the service manager and the owner: from verdicts at a cost or at \
                   times of your choice the part's own cost could be worked out";
        return Err(Problem::new(Kind::FORBIDDEN, why));
    }
    Ok(Question::new(name, query, (own, costs)))
}

/// The kept answer where it still holds; else one made now.
async fn told(ctx: &Ctx, name: ReportName, query: &ReportQuery) -> Result<Told, Problem> {
    let question = allowed(ctx, name, query)?;
    let (db, live, shop, now) = (ctx.db(), ctx.app.live.clone(), ctx.shop()?.clone(), ctx.now);
    let look = {
        let (db, live, shop, question) = (db.clone(), live.clone(), shop.clone(), question.clone());
        move || live.kept(&db, &shop, now, &question)
    };
    let kept = web::block(look).await??;
    if let Some(told) = kept {
        return Ok(told);
    }
    let _turn = ctx
        .app
        .counting
        .acquire()
        .await
        .map_err(|_| Problem::new(Kind::UNAVAILABLE, "the server is stopping"))?;
    Ok(web::block(move || live.answer(&db, &shop, now, &question)).await??)
}

/// What came back of somebody's work is for them, and for who reads the shop's
/// reports: nobody else counts it from a list.
fn refuse_returns_of_others(query: &ReportQuery, own: &str) -> Result<(), Problem> {
    let selector = query.select.as_deref().map(Selector::parse).and_then(Result::ok);
    let of_others = selector.is_some_and(|jobs| {
        jobs.tells_of_returns() && jobs.people().into_iter().any(|person| person != own)
    });
    if of_others {
        let why = "what came back of somebody else's work is for them and for who leads the shop";
        return Err(Problem::new(Kind::FORBIDDEN, why));
    }
    Ok(())
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
    let told = told(&ctx, name, &query).await?;
    let style = ctx.shop()?.style();
    let mut body = match form {
        Format::Json if table.is_none() => told.json(&style)?,
        _ => render(&told.report(), form, table.as_deref(), &style)?,
    };
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
        "Whether the week asks for a look, and why: comebacks against those expected, the chart of closed weeks, groups that moved against their own past; what the comebacks cost, what is undecided, and how the weeks before stand.";
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
    /// People, suppliers, lots and engines compared fairly.
    compare Compare "reportCompare" "/api/v1/shops/{shop}/reports/compare" analytics::compare::CompareReport,
        "Comebacks observed against those expected from the mix of symptoms, by technician, supplier, lot or engine. Never a ranking. A technician sees their own line.";
    /// The order of checks.
    checks Checks "reportChecks" "/api/v1/shops/{shop}/reports/checks" analytics::path::CheckOrderReport,
        "For each symptom the order of checks that finds the cause in the fewest minutes, beside the order in use.";
    /// Returns of a vehicle.
    repeats Repeats "reportRepeats" "/api/v1/shops/{shop}/reports/repeats" analytics::repeats::RepeatReport,
        "How many comebacks a vehicle has had by the days since its first repair: mean cumulative function.";
    /// When parts come back.
    pattern Pattern "reportPattern" "/api/v1/shops/{shop}/reports/pattern" analytics::pattern::PatternReport,
        "Whether parts come back early, by chance or by age, and at what age to replace them.";
    /// Bench readings.
    bench Bench "reportBench" "/api/v1/shops/{shop}/reports/bench" analytics::bench::BenchReport,
        "Returns of refitted parts by their bench reading, and the reading below which a part is better not put back.";
    /// Readings before the hand-over.
    hand_over HandOver "reportHandOver" "/api/v1/shops/{shop}/reports/hand-over" analytics::preparation::hand_over::HandOverReport,
        "Returns by what was read before the vehicle left, and the reading below which it is better held back.";
    /// The effect of a rule.
    effect Effect "reportEffect" "/api/v1/shops/{shop}/reports/effect" analytics::effect::EffectReport,
        "Comebacks before and after a rule began, beside the jobs it does not touch, and how often it was kept.";
    /// Early warnings.
    warnings Warnings "reportWarnings" "/api/v1/shops/{shop}/reports/warnings" analytics::warning::WarningsReport,
        "Groups of the last half year's jobs (a supplier's lot, a part of one supplier, a model, a year of it, an engine, an operation, a usual check not made, somebody new) that came back more often so far than jobs like theirs, with the evidence and the jobs. Silenced ones say why.";
    /// A part in hand.
    estimate Estimate "reportEstimate" "/api/v1/shops/{shop}/reports/estimate" analytics::reuse::EstimateReport,
        "What to do with a part on the bench: clean, replace, leave closed; why, how sure, and at which access time, price, cost of a return or share of returns the answer would be another. Who may not see costs asks with one of a few access times: 0.25, 0.5, 1, 2, 4 hours.";
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
