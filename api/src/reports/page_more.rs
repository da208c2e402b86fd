//! Pages of the reports that are tables alone.

use actix_web::{HttpRequest, HttpResponse};
use analytics::bench::{Better, Kind};
use analytics::preparation::hand_over::HandOverReport;

use super::page::{Choice, Found, ReportPage, found, laid_out};
use super::page_table::ShownTable;
use super::query::{HOLD_MINUTES, Report, ReportName};
use super::table::for_people;
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
            lead: "How many comebacks a vehicle has had on average by the days since its first repair, \
                second and third ones counted.",
            by: &["model", "engine"],
        },
        ReportName::Pattern => Said {
            title: "When parts come back",
            lead: "Early returns hint at the work or the diagnosis, late ones at wear. A hint, not a \
                finding.",
            by: &[],
        },
        ReportName::HandOver => Said {
            title: "Readings at the hand-over",
            lead: "What came back by what was read before the vehicle left. A reading that says \
                nothing of returns need not be taken; one that does may become a shop rule. The \
                vehicle maker's limit stands before the shop's own.",
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
    if name == ReportName::Bench {
        let part = asked.query.part.as_deref().map(|part| ("part", part));
        let pairs: Vec<_> = std::iter::once(("kind", "clean_and_test")).chain(part).collect();
        shown = shown.leading_to_rule(&pairs);
    }
    if name == ReportName::Bench {
        shown =
            shown.choosing("Better reading", directions(&asked.csv, asked.query.better.as_deref()));
    }
    if name == ReportName::HandOver {
        let mut choices = directions(&asked.csv, asked.query.better.as_deref());
        for choice in &mut choices {
            choice.label = format!("{} is better", choice.label);
        }
        choices.extend(holds(&asked.csv, asked.query.hold_minutes.as_deref()));
        shown = shown.choosing("Take it that", choices);
    }
    let mut seen = for_people(&asked.report, &asked.style);
    seen.retain(|table| !table.rows.is_empty() || table.note.is_some());
    shown.tables = laid_out(&seen, &standing);
    if let (Report::HandOver(report), true) = (&asked.report, ctx.may(Permission::WriteRules)) {
        link_rules(&mut shown.tables, report, &shop);
    }
    page::html(&shown)
}

/// A limit that the record gives leads to the shop rule that it may become.
fn link_rules(tables: &mut [ShownTable], report: &HandOverReport, shop: &str) {
    let rows = tables.iter_mut().filter(|table| table.key == "hand_over").flat_map(|t| &mut t.rows);
    for (row, line) in rows.zip(&report.lines) {
        let Some(cut_off) = line.cut_off.as_ref().filter(|cut_off| cut_off.kind == Kind::Between)
        else {
            continue;
        };
        let side = match report.better {
            Better::Higher => "low",
            Better::Lower => "high",
        };
        let pairs = [
            ("kind", "reading_limit".to_owned()),
            ("check", line.line.clone()),
            ("unit", line.unit.clone().unwrap_or_default()),
            (side, cut_off.reading.to_string()),
        ];
        let asked = serde_urlencoded::to_string(pairs).unwrap_or_default();
        if let Some(cell) = row.get_mut(1) {
            cell.place = Some(format!("/shops/{shop}/rules/new?{asked}"));
        }
    }
}

/// How long holding a vehicle back may take, as links, all else kept.
fn holds(address: &str, chosen: Option<&str>) -> Vec<Choice> {
    let (path, query) = address.split_once('?').unwrap_or((address, ""));
    let kept: String = query
        .split('&')
        .filter(|pair| !pair.is_empty() && !pair.starts_with("hold_minutes="))
        .map(|pair| format!("{pair}&"))
        .collect();
    HOLD_MINUTES
        .map(|minutes| Choice {
            label: format!("holding back takes {minutes} min"),
            place: format!("{path}?{kept}hold_minutes={minutes}"),
            here: chosen == Some(minutes),
        })
        .into()
}

/// The better reading as links, all else that was asked kept.
fn directions(address: &str, chosen: Option<&str>) -> Vec<Choice> {
    let (path, query) = address.split_once('?').unwrap_or((address, ""));
    let kept: String = query
        .split('&')
        .filter(|pair| !pair.is_empty() && !pair.starts_with("better="))
        .map(|pair| format!("{pair}&"))
        .collect();
    ["higher", "lower"]
        .map(|word| Choice {
            label: word.to_owned(),
            place: format!("{path}?{kept}better={word}"),
            here: chosen == Some(word),
        })
        .into()
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
    /// Readings before the hand-over and what came back.
    hand_over HandOver;
}

/// The reports beside one, for a viewer who may see them.
pub(super) fn beside(name: ReportName, viewer: &Viewer, shop: &str) -> Vec<Choice> {
    let all: &[(ReportName, &str, &str, bool)] = &[
        (ReportName::Comebacks, "Comeback shares", "comeback-shares", viewer.sees_reports),
        (ReportName::Compare, "Fair comparison", "compare", viewer.sees_labor),
        (ReportName::Repeats, "Returns of a vehicle", "repeats", viewer.sees_reports),
        (ReportName::Reuse, "Clean or replace", "reuse", viewer.sees_advice),
        (ReportName::Bench, "Bench readings", "bench-readings", viewer.sees_advice),
        (ReportName::HandOver, "At the hand-over", "hand-over-readings", viewer.sees_advice),
        (ReportName::Pattern, "When parts come back", "time-pattern", viewer.sees_reports),
        (ReportName::Labor, "My hours", "labor", viewer.sees_labor),
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
        ReportName::Reuse | ReportName::Bench | ReportName::HandOver | ReportName::Pattern => {
            &[ReportName::Reuse, ReportName::Bench, ReportName::HandOver, ReportName::Pattern]
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_direction_keeps_all_else_that_was_asked() {
        let address = "/shops/four/bench-readings?part=IAV-100&better=higher&window=60&";
        let seen: Vec<(String, bool)> = directions(address, Some("higher"))
            .into_iter()
            .map(|choice| (choice.place, choice.here))
            .collect();
        let place =
            |word: &str| format!("/shops/four/bench-readings?part=IAV-100&window=60&better={word}");
        assert_eq!(seen, [(place("higher"), true), (place("lower"), false)]);
        let bare: Vec<String> =
            directions("/b?", None).into_iter().map(|choice| choice.place).collect();
        assert_eq!(bare, ["/b?better=higher", "/b?better=lower"]);
    }
}
