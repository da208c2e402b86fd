//! A report as one HTML file that needs no server: its own style, the pictures of
//! the page, every line of every table, and no links.

use askama::Template;

use super::page_refused::title;
use super::page_table::{ShownTable, Standing};
use super::query::{Report, ReportName};
use super::table::for_people;
use crate::codes::lists::Lists;
use crate::db::{Answer, Fault};
use crate::domain::style::Style;

/// The pages' sheet: the file looks as they do, and prints as they do.
const SHEET: &str = include_str!("../../assets/app.css");

#[derive(Template)]
#[template(path = "report_file.html")]
struct File<'a> {
    sheet: &'static str,
    title: &'static str,
    shop: &'a str,
    as_of: String,
    /// The closing days looked at, where the report was asked for some.
    days: Option<String>,
    change_no: i64,
    window_days: i32,
    currency: &'a str,
    tables: Vec<ShownTable>,
    definitions: Vec<(String, &'static str)>,
}

/// The file.
///
/// # Errors
/// Where the template fails.
pub fn render(report: &Report, lists: &Lists, shop: &str, style: &Style) -> Answer<String> {
    let head = report.head();
    let standing = Standing {
        shop: &head.shop,
        head,
        lists,
        report: Some(report),
        by: column(report),
        without: &[],
        csv: String::new(),
        style,
    };
    let mut tables = for_people(report, style);
    tables.retain(|table| !table.rows.is_empty() || table.note.is_some());
    let days = match (head.from, head.to) {
        (None, None) => None,
        (from, to) => Some(format!(
            "{} to {}",
            from.map_or_else(|| "the beginning".to_owned(), |day| style.day(day)),
            style.day(to.unwrap_or(head.as_of))
        )),
    };
    let file = File {
        sheet: SHEET,
        title: ReportName::parse(head.report).map_or("Report", title),
        shop,
        as_of: style.day(head.as_of),
        days,
        change_no: head.change_no,
        window_days: head.window_days,
        currency: &head.currency,
        tables: tables.iter().map(|table| standing.whole(table)).collect(),
        definitions: head
            .definitions
            .iter()
            .map(|(key, meaning)| (key.replace('_', " "), *meaning))
            .collect(),
    };
    file.render().map_err(|error| Fault::Unavailable(error.to_string()))
}

/// The column that the report is grouped by.
fn column(report: &Report) -> Option<&'static str> {
    match report {
        Report::Comebacks(report) => report.by.map(|by| by.as_str()),
        Report::Labor(report) => Some(report.by.as_str()),
        Report::Compare(report) => Some(report.by.as_str()),
        Report::Repeats(report) => report.by.map(|by| by.as_str()),
        _ => None,
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use crate::reports::query::{ReportQuery, tests as cases};

    #[test]
    fn every_report_is_one_file_that_leads_nowhere() {
        for name in ReportName::ALL {
            let report = cases::report(name, &ReportQuery::default());
            let file =
                render(&report, &Lists::default(), "North & <South>", &Style::plain()).unwrap();
            for word in ["http:", "https:", "href=", "src=", "url(", "<script", "<link", "@import"]
            {
                assert!(!file.contains(word), "{}: {word}", name.as_str());
            }
            assert!(file.contains("North &#38; &#60;South&#62;") || file.contains("North &amp;"));
            assert!(file.contains("counter(page)"));
            for meaning in report.head().definitions.values() {
                let start: String = meaning.chars().take_while(|c| c.is_alphanumeric()).collect();
                assert!(file.contains(&start), "{start}");
            }
        }
    }

    #[test]
    fn the_file_has_the_page_s_picture_and_every_number() {
        let report = cases::report(ReportName::Labor, &ReportQuery::default());
        let (lists, style) = (Lists::default(), Style::plain());
        let file = render(&report, &lists, "North", &style).unwrap();
        let standing = Standing {
            shop: "north",
            head: report.head(),
            lists: &lists,
            report: Some(&report),
            by: column(&report),
            without: &[],
            csv: "/shops/north/labor?".into(),
            style: &style,
        };
        for table in &for_people(&report, &style) {
            let shown = standing.shown(table);
            assert!(shown.picture.iter().all(|picture| file.contains(picture)));
            for cell in shown.rows.iter().flatten() {
                assert!(file.contains(&format!("<bdi>{}</bdi>", cell.text)), "{}", cell.text);
            }
        }
        assert!(file.contains("<svg class=\"chart wide\""));
    }
}
