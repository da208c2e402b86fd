//! Early warnings as tables.

use analytics::warning::{Warning, WarningState, WarningsReport};

use super::{Cell, Column, Row, Table, number, text};
use crate::domain::style::Style;
use crate::web::words::counted;

const COLUMNS: &[Column] = &[
    text("state", "State"),
    text("kind", "About"),
    text("group", "Group"),
    number("returns", "Came back"),
    number("count", "Jobs"),
    number("expected", "Expected by now"),
    number("p", "Luck alone"),
    number("looked_at", "Groups looked at"),
    number("q", "Luck, all groups looked at"),
    text("silenced", "Silenced because"),
    text("evidence", "Evidence"),
    text("group_key", "Key"),
];

pub(super) fn tables(report: &WarningsReport, style: &Style) -> Vec<Table> {
    let (answer, looked_at) = said(report);
    let title = format!("Early warnings, week of {}", style.week(report.week_from));
    vec![
        table("warnings", title, Some(format!("{answer}\n{looked_at}")), &report.warnings),
        table("next", "The next ones, within what luck does".to_owned(), None, &report.next),
    ]
}

/// What the scan comes to: the answer, and what it was looked for in.
pub(crate) fn said(report: &WarningsReport) -> (String, String) {
    if report.not_yet {
        return (
            "Not yet: 13 weeks of record are needed before the week".to_owned(),
            String::new(),
        );
    }
    let new = report.warnings.iter().filter(|one| one.state == WarningState::New).count();
    let new = if new == 0 { "none of them".to_owned() } else { new.to_string() };
    let answer = match report.warnings.len() {
        0 => "No group came back more often than luck explains".to_owned(),
        count => {
            let groups = counted(count as i64, "group", "groups");
            format!("{groups} came back more often than luck explains, {new} new")
        }
    };
    let looked_at = counted(report.looked_at, "group was", "groups were");
    (answer, format!("{looked_at} looked at; {} more have too few jobs", report.too_few))
}

fn table(key: &'static str, title: String, note: Option<String>, lines: &[Warning]) -> Table {
    Table { key, title, note, columns: COLUMNS.to_vec(), rows: lines.iter().map(row).collect() }
}

fn row(line: &Warning) -> Row {
    Row {
        cells: vec![
            Cell::text(line.state.as_str()),
            Cell::text(line.kind.as_str().replace('_', " ")),
            Cell::text(line.group.join(", ")),
            Cell::CountOf(line.returns, line.returned_jobs.clone()),
            Cell::Count(line.count),
            Cell::Number(line.expected, 1),
            Cell::Number(line.p, 5),
            Cell::Count(line.looked_at),
            Cell::Number(line.q, 3),
            Cell::maybe(line.silenced.as_ref().map(|silence| silence.reason.as_str())),
            Cell::text(&line.evidence),
            Cell::text(&line.group_key),
        ],
        jobs: Some(line.jobs.clone()),
    }
}
