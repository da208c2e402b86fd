//! The standing figures as JSON, CSV and text: of several shops, so that their
//! head is not that of one shop's report.

use analytics::standing::{StandingHead, StandingReport};

use super::csv::{column_names, fields};
use super::table::{Table, standing};
use super::{Format, chosen, json, ndjson, text};
use crate::db::Answer;
use crate::domain::style::Style;
use crate::web::csv::line;

/// The figures in a form; `table` names the table of the CSV form, the first where
/// absent.
///
/// # Errors
/// A fault at `table` where there is no such table.
pub fn render(
    report: &StandingReport<'_>,
    format: Format,
    table: Option<&str>,
    style: &Style,
) -> Answer<String> {
    let tables = standing::tables(report);
    let chosen = chosen(&tables, table)?;
    match format {
        Format::Json => json(serde_json::to_string_pretty(report)),
        Format::Csv => Ok(csv(&report.head, chosen)),
        Format::Ndjson => Ok(objects(&report.head, chosen)),
        Format::Text => Ok(words(report, &tables, style)),
    }
}

/// What stands on every line: names and fields.
fn after(head: &StandingHead) -> [(&'static str, String); 3] {
    let shops: Vec<&str> = head.shops.iter().map(|shop| shop.shop.as_str()).collect();
    [
        ("report", head.report.to_owned()),
        ("shops", shops.join(" ")),
        ("as_of", days(head, &Style::plain())),
    ]
}

fn csv(head: &StandingHead, table: &Table) -> String {
    let after = after(head);
    let header = table.columns.iter().flat_map(|column| column_names(*column));
    let mut text = line(header.chain(after.iter().map(|(name, _)| (*name).to_owned())));
    for row in &table.rows {
        let cells = table.columns.iter().zip(&row.cells);
        let fields = cells.flat_map(|(column, cell)| fields(column.kind, cell));
        text.push_str(&line(fields.chain(after.iter().map(|(_, field)| field.clone()))));
    }
    text
}

/// A row a line, each one JSON object.
fn objects(head: &StandingHead, table: &Table) -> String {
    let after = after(head);
    let object = |row| {
        let mut object = ndjson::of_row(table, row);
        let after = after.iter().map(|(name, field)| ((*name).to_owned(), field.clone().into()));
        object.extend(after);
        format!("{}\n", serde_json::Value::Object(object))
    };
    table.rows.iter().map(object).collect()
}

/// The as-of of all shops, each once.
fn days(head: &StandingHead, style: &Style) -> String {
    let mut days: Vec<_> = head.shops.iter().map(|shop| shop.as_of).collect();
    days.sort_unstable();
    days.dedup();
    days.into_iter().map(|day| style.day(day)).collect::<Vec<_>>().join(" ")
}

fn words(report: &StandingReport<'_>, tables: &[Table], style: &Style) -> String {
    let head = &report.head;
    let shops: Vec<&str> = head.shops.iter().map(|shop| shop.shop.as_str()).collect();
    let jobs: i64 = head.shops.iter().map(|shop| shop.jobs).sum();
    let mut lines = format!(
        "{} of {}: through {}, {jobs} closed jobs\n",
        head.report,
        shops.join(", "),
        days(head, style),
    );
    for table in tables {
        lines.push('\n');
        lines.push_str(&text::table_lines(table, style));
    }
    lines.push_str("\nWhat the figures mean\n");
    for (key, meaning) in &head.definitions {
        lines.push_str(&format!("  {key}: {meaning}\n"));
    }
    lines
}
