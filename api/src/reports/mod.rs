//! Reports: what the record says, as JSON, CSV, text and pages.

pub mod agree;
pub mod csv;
pub mod http;
pub mod live;
pub mod model;
pub mod page;
pub mod page_jobs;
mod page_reuse;
mod page_table;
mod page_week;
pub mod query;
pub mod table;
pub mod text;

use crate::db::{Answer, Fault};
use crate::domain::refusal::Refusal;
use query::Report;

/// The form an answer takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    Json,
    Csv,
    Text,
}

impl Format {
    /// Every word.
    pub const WORDS: [&'static str; 3] = ["json", "csv", "text"];

    /// The form of a word; `None` where there is no such form.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        match text {
            "json" => Some(Self::Json),
            "csv" => Some(Self::Csv),
            "text" => Some(Self::Text),
            _ => None,
        }
    }

    /// Media type, with its character set.
    #[must_use]
    pub const fn media_type(self) -> &'static str {
        match self {
            Self::Json => "application/json",
            Self::Csv => "text/csv; charset=utf-8; header=present",
            Self::Text => "text/plain; charset=utf-8",
        }
    }
}

/// The report in a form. `table` names the table of the CSV form; the main one
/// where absent.
///
/// # Errors
/// A fault at `table` where the report has no such table.
pub fn render(report: &Report, format: Format, table: Option<&str>) -> Answer<String> {
    let tables = table::tables(report);
    let chosen = match table {
        None => tables.first(),
        Some(key) => tables.iter().find(|table| table.key == key),
    };
    let Some(chosen) = chosen else {
        let keys: Vec<&str> = tables.iter().map(|table| table.key).collect();
        let detail = format!("choose one of {}", keys.join(", "));
        return Err(Refusal::field("table", "value", detail).into());
    };
    match format {
        Format::Json => serde_json::to_string_pretty(report)
            .map(|text| format!("{text}\n"))
            .map_err(|error| Fault::Unavailable(error.to_string())),
        Format::Csv => Ok(csv::render(report.head(), chosen)),
        Format::Text => Ok(text::render(report)),
    }
}
