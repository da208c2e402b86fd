//! A report that was asked for in a way that cannot be answered: what is wrong,
//! beside the form where there is one.

use actix_web::HttpResponse;
use askama::Template;

use super::query::ReportName;
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::form::refused;
use crate::web::page::Viewer;

/// A form's parameters that a report's period keeps.
pub(super) const KEPT: [&str; 10] =
    ["by", "symptom", "as_of", "window", "part", "role", "better", "line", "hold_minutes", "first"];

/// The form for a report's period.
#[derive(Default)]
pub struct Period {
    pub action: String,
    pub from: String,
    pub to: String,
    /// What else it must keep.
    pub kept: Vec<(&'static str, String)>,
    pub from_fault: Option<String>,
    pub to_fault: Option<String>,
}

#[derive(Template)]
#[template(path = "report_refused.html")]
struct RefusedPage {
    viewer: Viewer,
    title: &'static str,
    reasons: Vec<String>,
    /// The page without what was asked.
    start: String,
    /// Absent where the page has no such form.
    period: Option<Period>,
}

/// A report's name as its page has it.
pub(super) const fn title(name: ReportName) -> &'static str {
    match name {
        ReportName::Weekly => "Week",
        ReportName::Comebacks => "Comeback shares",
        ReportName::Reuse => "Clean it or replace it?",
        ReportName::Paths => "Diagnosis paths",
        ReportName::Labor => "Labor",
        ReportName::Compare => "Fair comparison",
        ReportName::Checks => "Order of checks",
        ReportName::Repeats => "Returns of a vehicle",
        ReportName::Pattern => "When parts come back",
        ReportName::Bench => "Bench readings",
        ReportName::HandOver => "Readings at the hand-over",
        ReportName::Effect => "Effect of a rule",
        ReportName::Warnings => "Early warnings",
        ReportName::Estimate => "Part in hand",
        ReportName::Jobs => "Jobs",
    }
}

/// The page of a query that was refused.
///
/// # Errors
/// Where the template cannot be rendered.
pub(super) fn page(
    ctx: &Ctx,
    name: ReportName,
    path: &str,
    query: &str,
    problem: &Problem,
) -> Result<HttpResponse, Problem> {
    let has_period = !matches!(
        name,
        ReportName::Weekly
            | ReportName::Reuse
            | ReportName::Warnings
            | ReportName::Estimate
            | ReportName::Jobs
    );
    let page = RefusedPage {
        viewer: Viewer::of(ctx),
        title: title(name),
        reasons: reasons(problem),
        start: path.to_owned(),
        period: has_period.then(|| period(path, query, problem)),
    };
    refused(problem, &page)
}

fn fault(problem: &Problem, field: &str) -> Option<String> {
    let found = problem.errors.iter().find(|fault| fault.pointer.trim_start_matches('/') == field);
    found.map(|fault| fault.detail.clone())
}

fn reasons(problem: &Problem) -> Vec<String> {
    if problem.errors.is_empty() {
        return vec![problem.detail.clone()];
    }
    let named = problem.errors.iter().map(|fault| {
        let field = fault.pointer.trim_start_matches('/').replace('_', " ");
        match field.as_str() {
            // The sentence names what it is about.
            "symptom" | "part" | "select" => fault.detail.clone(),
            field => format!("{field}: {}", fault.detail),
        }
    });
    named.collect()
}

/// The form as it was sent; what is wrong elsewhere is left out of it.
fn period(path: &str, query: &str, problem: &Problem) -> Period {
    let pairs: Vec<(String, String)> = serde_urlencoded::from_str(query).unwrap_or_default();
    let sent = |name: &str| {
        let says = |value: &str| !value.is_empty() || name == "first";
        let found = pairs.iter().find(|(key, value)| key == name && says(value));
        found.map(|(_, value)| value.clone())
    };
    Period {
        action: path.to_owned(),
        from: sent("from").unwrap_or_default(),
        to: sent("to").unwrap_or_default(),
        kept: KEPT
            .into_iter()
            .filter(|name| fault(problem, name).is_none())
            .filter_map(|name| Some((name, sent(name)?)))
            .collect(),
        from_fault: fault(problem, "from"),
        to_fault: fault(problem, "to"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::refusal::FieldFault;

    #[test]
    fn the_form_keeps_what_was_sent_but_for_what_is_wrong() {
        let problem = Problem::invalid(vec![
            FieldFault::new("from", "range", "write a day up to 2026-01-01"),
            FieldFault::new("symptom", "unknown_code", "there is no symptom x"),
        ]);
        let form = period("/p", "from=2026-02-01&to=2026-01-01&by=week&symptom=x", &problem);
        assert_eq!((form.from.as_str(), form.to.as_str()), ("2026-02-01", "2026-01-01"));
        assert_eq!(form.kept, [("by", "week".to_owned())]);
        assert!(form.from_fault.is_some() && form.to_fault.is_none());
        let none = period("/p", "from=&by=&first=", &problem);
        assert_eq!(none.kept, [("first", String::new())]);
        assert_eq!(
            reasons(&problem),
            ["from: write a day up to 2026-01-01", "there is no symptom x"]
        );
    }
}
