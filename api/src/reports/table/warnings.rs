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
    vec![
        table("warnings", "Early warnings".to_owned(), Some(said(report, style)), &report.warnings),
        table("next", "The next ones, within what luck does".to_owned(), None, &report.next),
    ]
}

/// What the scan comes to, in a sentence.
pub(crate) fn said(report: &WarningsReport, style: &Style) -> String {
    if report.not_yet {
        return "Not yet: 13 weeks of record are needed before the week".to_owned();
    }
    let new = report.warnings.iter().filter(|one| one.state == WarningState::New).count();
    let groups = counted(report.warnings.len() as i64, "group came", "groups came");
    format!(
        "In the week of {}: {groups} back more often than luck explains, {new} new; {} looked at, \
         {} with too few jobs",
        style.day(report.week_from),
        report.looked_at,
        report.too_few,
    )
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
