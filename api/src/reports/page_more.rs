//! Pages of the reports that are tables alone.

use actix_web::{HttpRequest, HttpResponse};

use super::page::{Choice, Found, ReportPage, found, laid_out};
use super::query::ReportName;
use super::table::tables;
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};

/// What is said over the tables, and what they can be grouped by.
struct Said {
    title: &'static str,
    lead: &'static str,
    by: &'static [&'static str],
}

const fn said(name: ReportName, own: bool) -> Said {
    match name {
        ReportName::Compare if own => Said {
            title: "Fair comparison",
            lead: "Your own line: the comebacks of your repairs against as many as this shop usually \
                gets on the same complaints. The whole shop's line is left out here.",
            by: &[],
        },
        ReportName::Compare => Said {
            title: "Fair comparison",
            lead: "Comebacks against as many as this shop usually gets on the same complaints. Whoever \
                gets the harder jobs will look worse. People stand by name and are never ranked; no \
                pay or discipline follows from a line.",
            by: &["technician", "supplier", "lot", "engine"],
        },
        ReportName::Repeats => Said {
            title: "Returns of a vehicle",
            lead: "How many comebacks a vehicle has had on the mean by the days since its first repair, \
                second and third ones counted.",
            by: &["model", "engine"],
        },
        ReportName::Pattern => Said {
            title: "When parts come back",
            lead: "Early returns hint at workmanship or a wrong diagnosis, late ones at wear. A hint, not \
                a finding.",
            by: &[],
        },
        _ => Said {
            title: "Bench readings",
            lead: "Parts that were tested on the bench and put back, and what came back of them by their \
                reading. The vehicle maker's limit stands before the shop's own.",
            by: &[],
        },
    }
}

async fn view(ctx: Ctx, req: HttpRequest, name: ReportName) -> Result<HttpResponse, Problem> {
    let asked = match found(&ctx, &req, name).await? {
        Found::Page(asked) => asked,
        Found::Answer(answer) => return Ok(answer),
    };
    let own = !ctx.may(Permission::ReadReports);
    let said = said(name, own && name == ReportName::Compare);
    let by = asked.query.by.as_deref().or(said.by.first().copied());
    let shop = ctx.shop()?.code.clone();
    // The own line is a person's.
    let standing = asked.standing(&shop, by.or(own.then_some("technician")));
    let mut shown = ReportPage::of(&ctx, &asked, said.title, said.lead.to_owned());
    if let Some(by) = by.filter(|_| !said.by.is_empty()) {
        shown = shown.grouped(said.by, by, &asked);
    }
    let mut seen = tables(&asked.report);
    seen.retain(|table| !table.rows.is_empty() || table.note.is_some());
    shown.tables = laid_out(&seen, &standing);
    page::html(&shown)
}

macro_rules! pages {
    ($($(#[$meta:meta])* $fn:ident $name:ident;)+) => {$(
        $(#[$meta])*
        ///
        /// # Errors
        /// Faulty parameters, or the record does not answer.
        pub async fn $fn(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
            view(ctx, req, ReportName::$name).await
        }
    )+};
}

pages! {
    /// People, suppliers, lots and engines compared fairly.
    compare Compare;
    /// How often vehicles come back.
    repeats Repeats;
    /// When parts come back.
    pattern Pattern;
    /// Bench readings and what came back.
    bench Bench;
}

/// The reports beside one, for a viewer who may see them.
pub(super) fn beside(name: ReportName, viewer: &Viewer, shop: &str) -> Vec<Choice> {
    let all: &[(ReportName, &str, &str, bool)] = &[
        (ReportName::Comebacks, "Comeback shares", "comeback-shares", viewer.sees_reports),
        (ReportName::Compare, "Fair comparison", "compare", viewer.sees_labor),
        (ReportName::Repeats, "Returns of a vehicle", "repeats", viewer.sees_reports),
        (ReportName::Reuse, "Clean or replace", "reuse", viewer.sees_advice),
        (ReportName::Bench, "Bench readings", "bench-readings", viewer.sees_advice),
        (ReportName::Pattern, "When parts come back", "time-pattern", viewer.sees_reports),
        (ReportName::Labor, "Labor", "labor", viewer.sees_labor),
        (ReportName::Paths, "Diagnosis paths", "paths", viewer.sees_advice),
        (ReportName::Checks, "Order of checks", "check-order", viewer.sees_advice),
    ];
    let family: &[ReportName] = match name {
        // Who has only their own lines finds them together.
        ReportName::Labor | ReportName::Compare if !viewer.sees_reports => {
            &[ReportName::Labor, ReportName::Compare]
        }
        ReportName::Comebacks | ReportName::Compare | ReportName::Repeats => {
            &[ReportName::Comebacks, ReportName::Compare, ReportName::Repeats]
        }
        ReportName::Reuse | ReportName::Bench | ReportName::Pattern => {
            &[ReportName::Reuse, ReportName::Bench, ReportName::Pattern]
        }
        ReportName::Paths | ReportName::Checks => &[ReportName::Paths, ReportName::Checks],
        _ => &[],
    };
    all.iter()
        .filter(|(other, _, _, may)| *may && family.contains(other))
        .map(|(other, label, place, _)| Choice {
            label: (*label).to_owned(),
            place: format!("/shops/{shop}/{place}"),
            here: *other == name,
        })
        .collect()
}
