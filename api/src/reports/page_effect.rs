//! The effect of a shop rule, for the rule's page.

use actix_web::{HttpRequest, HttpResponse};
use analytics::effect::{EffectReport, Verdict};

use super::page::{Asked, laid_out, page_address, read};
use super::page_file::file;
use super::page_foot::Foot;
use super::page_table::{ShownTable, Standing};
use super::query::{Report, ReportName, ReportQuery};
use super::table::{effect_ahead, effect_verdict};
use super::{HTML, http, page};
use crate::codes::lists::Lists;
use crate::domain::ids::RuleId;
use crate::problem::Problem;
use crate::web::ctx::Ctx;

/// What came of a rule so far.
pub struct EffectShown {
    /// The one verdict, or that there is none yet.
    pub verdict: String,
    /// What the review day will have to go by; absent from it on.
    pub ahead: Option<String>,
    pub tables: Vec<ShownTable>,
    pub foot: Foot,
}

/// A part of a page, or a file that is asked for.
pub enum Effect {
    Shown(Box<EffectShown>),
    File(HttpResponse),
}

/// The effect of a rule, as the address asks for it.
///
/// # Errors
/// Faulty parameters, or the record does not answer.
pub async fn effect(ctx: &Ctx, req: &HttpRequest, rule: &RuleId) -> Result<Effect, Problem> {
    let text = page::given(req);
    let asked = read(&text)?;
    page::format_fits(&asked, &["csv", HTML])?;
    let query = ReportQuery {
        rule: Some(rule.to_string()),
        as_of: asked.as_of,
        window: asked.window,
        format: asked.format,
        table: asked.table,
        ..ReportQuery::default()
    };
    let report = http::make(ctx, ReportName::Effect, query.clone()).await?;
    let lists = ctx.read(|conn, shop| Lists::load(conn, shop.id)).await?;
    let style = ctx.shop()?.style();
    let csv = page_address(req, &text);
    let asked = Asked { query, report, lists, csv, today: style.zone.day(ctx.now), style };
    if let Some(file) = file(ctx, &asked)? {
        return Ok(Effect::File(file));
    }
    let shop = ctx.shop()?.code.clone();
    let standing = asked.standing(&shop, None);
    let Report::Effect(report) = &asked.report else {
        return Ok(Effect::Shown(Box::new(shown(&asked, &standing))));
    };
    // Figures stand as they did on the review day: so do the jobs behind them.
    let mut head = report.head.clone();
    head.as_of = head.as_of.min(report.review);
    Ok(Effect::Shown(Box::new(shown(&asked, &Standing { head: &head, ..standing }))))
}

fn shown(asked: &Asked, standing: &Standing<'_>) -> EffectShown {
    let mut told = asked.tables();
    // Before its day, and without one, there is nothing to compare: only counts.
    let counts_only = |report: &EffectReport| report.ahead.is_some() || report.withdrawn.is_some();
    if matches!(&asked.report, Report::Effect(report) if counts_only(report)) {
        told.retain(|table| table.key != "changes");
    }
    let mut tables = laid_out(&told, standing);
    for table in &mut tables {
        table.folded = true;
        // The page says the rest in its own places.
        if table.key == "effect" {
            table.notes.retain(|note| note.starts_with("Rules are made"));
        }
    }
    let (verdict, ahead) = match &asked.report {
        Report::Effect(report) => (
            verdict(report, asked),
            report.ahead.as_ref().map(|ahead| format!("{}.", effect_ahead(ahead, &asked.style))),
        ),
        _ => (String::new(), None),
    };
    EffectShown { verdict, ahead, tables, foot: Foot::of(asked) }
}

fn verdict(report: &EffectReport, asked: &Asked) -> String {
    if let Some(day) = report.withdrawn {
        return format!("Withdrawn on {}: no verdict.", asked.style.day(day));
    }
    let day = asked.style.day(report.review);
    match report.verdict {
        Verdict::TooEarly if report.ahead.is_some() => format!("The verdict falls on {day}."),
        Verdict::TooFew => {
            let (before, after) = (&report.touched.before, &report.touched.after);
            let fewest = before.closed_window.count.min(after.closed_window.count);
            format!("{day}: too few cases, {fewest} of {}.", analytics::figure::TOO_FEW)
        }
        other => format!("{day}: {}.", effect_verdict(other)),
    }
}
