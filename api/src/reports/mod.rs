//! Reports: what the record says, as JSON, CSV, text and pages.

pub mod agree;
pub mod csv;
pub mod file;
mod headline;
pub mod http;
pub mod live;
pub mod model;
mod ndjson;
pub mod page;
mod page_behind;
pub mod page_checks;
pub mod page_effect;
mod page_file;
pub(crate) mod page_foot;
pub mod page_group;
pub mod page_jobs;
pub mod page_labor;
pub mod page_more;
mod page_refused;
mod page_reuse;
pub(crate) mod page_reuse_part;
pub(crate) mod page_table;
mod page_terms;
pub mod page_week;
mod page_week_record;
mod picture;
pub mod query;
pub mod standing;
pub mod table;
pub mod text;

use crate::db::{Answer, Fault};
use crate::domain::refusal::Refusal;
use crate::domain::style::Style;
use query::Report;

/// The form an answer takes.
pub use crate::web::asked::Form as Format;

/// The word for a report as one HTML file: made from a page or in a terminal, where
/// the labels of the shop's lists are at hand; the API answers in no such form.
pub const HTML: &str = "html";

/// The report in a form. `table` names the table of the CSV and NDJSON forms;
/// the main one where absent. `style` is for the text form, which people read.
///
/// # Errors
/// A fault at `table` where the report has no such table.
pub fn render(
    report: &Report,
    format: Format,
    table: Option<&str>,
    style: &Style,
) -> Answer<String> {
    if matches!(format, Format::Json) && table.is_none() {
        return json(report.written().json());
    }
    let tables = table::tables(report);
    let chosen = chosen(&tables, table)?;
    match format {
        Format::Json => json(report.written().json()),
        Format::Csv => Ok(csv::render(report.head(), chosen)),
        Format::Ndjson => Ok(ndjson::render(report.head(), chosen)),
        Format::Text => Ok(text::render(report, style)),
    }
}

/// The same to be read on a screen: JSON with lines and indents.
///
/// # Errors
/// As [`render`].
pub fn printed(
    report: &Report,
    format: Format,
    table: Option<&str>,
    style: &Style,
) -> Answer<String> {
    let rendered = render(report, format, table, style)?;
    match format {
        Format::Json => json(report.written().pretty_json()),
        _ => Ok(rendered),
    }
}

/// The table of that key; the main one where none is named.
fn chosen<'t>(tables: &'t [table::Table], key: Option<&str>) -> Answer<&'t table::Table> {
    let found = match key {
        None => tables.first(),
        Some(key) => tables.iter().find(|table| table.key == key),
    };
    found.ok_or_else(|| {
        let keys: Vec<&str> = tables.iter().map(|table| table.key).collect();
        Refusal::field("table", "value", format!("choose one of {}", keys.join(", "))).into()
    })
}

fn json(report: serde_json::Result<String>) -> Answer<String> {
    report.map(|text| format!("{text}\n")).map_err(|error| Fault::Unavailable(error.to_string()))
}
