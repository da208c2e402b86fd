//! The order of checks as a page: all complaints in a line each, or one with its
//! checks; and what comes first.

use actix_web::{HttpRequest, HttpResponse};
use analytics::path::{LeadingCheck, WhyFirst};

use super::page::{Asked, Choice, Found, ReportPage, found, laid_out};
use super::page_table::Standing;
use super::query::{Report, ReportName, ReportQuery};
use crate::codes::lists::Lists;
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::page;

const LEAD: &str = "Put your safety checks and the maker's procedure first; this list does not do that \
                    for you. It is the order that finds the cause in the fewest minutes, from your \
                    own causes and times, beside your usual order.";

/// The form for the checks that come first, and the ways to the usual ones and
/// to none.
pub(super) struct FirstForm {
    pub action: String,
    /// What it must keep.
    pub kept: Vec<(&'static str, String)>,
    pub asked: String,
    pub choices: Vec<Choice>,
    /// The list that has the checks' codes.
    pub codes: String,
}

impl FirstForm {
    fn of(shop: &str, query: &ReportQuery) -> Self {
        let action = format!("/shops/{shop}/check-order");
        let kept = kept(query);
        let asked = query.first.clone();
        let nothing = asked.as_ref().is_some_and(|asked| asked.trim().is_empty());
        let with_none: Vec<(&str, String)> =
            kept.iter().cloned().chain([("first", String::new())]).collect();
        Self {
            choices: vec![
                Choice {
                    label: "Free looks first".to_owned(),
                    place: address(&action, &kept),
                    here: asked.is_none(),
                },
                Choice {
                    label: "Nothing first".to_owned(),
                    place: address(&action, &with_none),
                    here: nothing,
                },
            ],
            asked: asked.unwrap_or_default(),
            codes: format!("/shops/{shop}/codes?list=check"),
            action,
            kept,
        }
    }
}

/// What was asked besides what comes first.
fn kept(query: &ReportQuery) -> Vec<(&'static str, String)> {
    [
        ("week", &query.week),
        ("from", &query.from),
        ("to", &query.to),
        ("as_of", &query.as_of),
        ("window", &query.window),
        ("symptom", &query.symptom),
    ]
    .into_iter()
    .filter_map(|(name, value)| Some((name, value.clone()?)))
    .collect()
}

fn address(action: &str, pairs: &[(&str, String)]) -> String {
    match serde_urlencoded::to_string(pairs) {
        Ok(query) if !query.is_empty() => format!("{action}?{query}"),
        _ => action.to_owned(),
    }
}

/// The page of one symptom, under the same question; of all where it is `None`.
fn of_symptom(shop: &str, query: &ReportQuery, symptom: Option<&str>) -> String {
    let mut pairs = kept(query);
    pairs.retain(|(name, _)| *name != "symptom");
    pairs.extend(symptom.map(|symptom| ("symptom", symptom.to_owned())));
    pairs.extend(query.first.clone().map(|first| ("first", first)));
    address(&format!("/shops/{shop}/check-order"), &pairs)
}

/// What comes first for the one complaint, and why.
fn first_said(asked: &Asked) -> String {
    let Report::Checks(report) = &asked.report else { return String::new() };
    let [line] = report.symptoms.as_slice() else { return String::new() };
    let each: Vec<String> = line.first.iter().map(|first| why_first(first, &asked.lists)).collect();
    if each.is_empty() {
        "Nothing has to come first here.".to_owned()
    } else {
        format!("First: {}.", each.join("; then "))
    }
}

/// `Read codes, a free look that you do on 41 of 60 jobs`.
fn why_first(first: &LeadingCheck, lists: &Lists) -> String {
    let name = lists.label("check", &first.check);
    let (done, jobs) = (first.done.returns, first.done.count);
    match (first.why, jobs) {
        (WhyFirst::Asked, 0) => format!("{name}, as you asked"),
        (WhyFirst::Asked, _) => {
            format!("{name}, as you asked (you do it on {done} of {jobs} jobs)")
        }
        (WhyFirst::FreeLook, _) => {
            format!("{name}, a free look that you do on {done} of {jobs} jobs")
        }
    }
}

/// The first check of the advised order after what comes first anyhow.
fn leading(asked: &Asked) -> Option<&str> {
    let Report::Checks(report) = &asked.report else { return None };
    let [line] = report.symptoms.as_slice() else { return None };
    let placed = line.checks.iter().filter(|check| !check.first && check.place.is_some());
    placed.min_by_key(|check| check.place).map(|check| check.check.as_str())
}

/// The advised order of checks.
///
/// # Errors
/// Faulty parameters, or the record does not answer.
pub async fn checks(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    let asked = match found(&ctx, &req, ReportName::Checks).await? {
        Found::Page(asked) => asked,
        Found::Answer(answer) => return Ok(answer),
    };
    let shop = ctx.shop()?.code.clone();
    let one = asked.query.symptom.as_deref();
    // How an order was found is for programs; one symptom says itself in the lead.
    let without: &[&str] = match one {
        Some(_) => &["method", "bound_minutes", "symptom"],
        None => &["method", "bound_minutes"],
    };
    let standing = Standing { without, ..asked.standing(&shop, None) };
    let lead = match one {
        Some(symptom) => {
            let name = asked.lists.label("symptom", symptom);
            format!("{name}: {LEAD} {}", first_said(&asked))
        }
        None => format!("{LEAD} Choose a complaint for its checks."),
    };
    let mut shown = ReportPage::of(&ctx, &asked, "Order of checks", lead);
    let mut wanted = asked.tables();
    wanted.retain(|table| one.is_some() || table.key == "orders");
    shown.tables = laid_out(&wanted, &standing);
    for table in shown.tables.iter_mut().filter(|_| one.is_some()) {
        table.folded = table.picture.is_some();
    }
    shown.first = Some(FirstForm::of(&shop, &asked.query));
    if let (Some(symptom), Some(check)) = (one, leading(&asked)) {
        let pairs = [("kind", "check_first"), ("symptom", symptom), ("check", check)];
        shown = shown.leading_to_rule(&pairs);
    }
    if one.is_some() {
        shown.choices = vec![Choice {
            label: "All complaints".to_owned(),
            place: of_symptom(&shop, &asked.query, None),
            here: false,
        }];
    } else if let (Report::Checks(report), Some(table)) = (&asked.report, shown.tables.first_mut())
    {
        for (row, line) in table.rows.iter_mut().zip(&report.symptoms) {
            if let Some(cell) = row.first_mut() {
                cell.place = Some(of_symptom(&shop, &asked.query, Some(&line.symptom)));
            }
        }
    }
    page::html(&shown)
}

#[cfg(test)]
#[expect(clippy::indexing_slicing, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn the_form_and_its_links_keep_the_rest() {
        let query = ReportQuery {
            symptom: Some("engine.tick & tap".into()),
            from: Some("2026-01-01".into()),
            first: Some("listen".into()),
            ..ReportQuery::default()
        };
        let form = FirstForm::of("north", &query);
        let rest = "from=2026-01-01&symptom=engine.tick+%26+tap";
        assert_eq!(form.choices[0].place, format!("/shops/north/check-order?{rest}"));
        assert_eq!(form.choices[1].place, format!("/shops/north/check-order?{rest}&first="));
        assert!(!form.choices[0].here && !form.choices[1].here);
        assert_eq!((form.asked.as_str(), form.kept.len()), ("listen", 2));
        assert_eq!(
            of_symptom("north", &query, None),
            "/shops/north/check-order?from=2026-01-01&first=listen"
        );
        let none = ReportQuery { first: Some(String::new()), ..ReportQuery::default() };
        assert!(FirstForm::of("north", &none).choices[1].here);
        assert_eq!(
            of_symptom("north", &none, Some("a.b")),
            "/shops/north/check-order?symptom=a.b&first="
        );
        let usual = FirstForm::of("north", &ReportQuery::default());
        assert!(usual.choices[0].here && !usual.choices[1].here);
        assert_eq!(usual.choices[0].place, "/shops/north/check-order");
    }
}
