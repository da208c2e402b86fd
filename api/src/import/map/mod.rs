//! A mapping from another program's files to history files, saved by name in a
//! TOML file: which file and column is which, and how its values are written.
//! Nothing is guessed while importing: what the mapping does not state is a
//! fault.

mod bound;
mod form;
pub mod guess;
mod names;
mod read;

use std::collections::BTreeMap;
use std::path::Path;

use super::files::HistoryFile;
use crate::domain::zone::Zone;
pub use bound::Bound;
use form::{Form, TimeForm};

/// A mapping.
#[derive(Debug, Clone)]
pub struct Map {
    pub name: String,
    sheets: BTreeMap<HistoryFile, Lens>,
}

impl Map {
    /// Reads a mapping.
    ///
    /// # Errors
    /// Everything that is wrong with it, a sentence each.
    pub fn load(path: &Path) -> Result<Self, Vec<String>> {
        let shown = path.display();
        let text = std::fs::read_to_string(path).map_err(|e| vec![format!("{shown}: {e}")])?;
        read::map(&text)
            .map_err(|faults| faults.into_iter().map(|why| format!("{shown}: {why}")).collect())
    }

    /// The zone that it states for times without one.
    #[must_use]
    pub fn zone(&self) -> Option<Zone> {
        self.sheets.values().find_map(|lens| lens.form.zone)
    }

    /// How a history file is read; `None` where the mapping has none.
    #[must_use]
    pub fn lens(&self, file: HistoryFile) -> Option<&Lens> {
        self.sheets.get(&file)
    }
}

/// How one history file is read from another program's file.
#[derive(Debug, Clone)]
pub struct Lens {
    /// The file's name in the folder.
    pub file: String,
    form: Form,
    cells: Vec<Cell>,
}

impl Lens {
    /// What stands between the fields.
    #[must_use]
    pub const fn delimiter(&self) -> u8 {
        self.form.delimiter
    }

    /// The other program's word for a column.
    #[must_use]
    pub fn header_of(&self, column: &str) -> String {
        let cell = self.cells.iter().find(|cell| cell.column == column);
        match cell {
            Some(cell) if !cell.from.is_empty() => cell.from.join(" + "),
            _ => column.to_owned(),
        }
    }
}

/// Where one column comes from.
#[derive(Debug, Clone)]
struct Cell {
    column: &'static str,
    kind: Kind,
    /// Headers, whose values are joined with a blank; empty: the value is fixed.
    from: Vec<String>,
    fixed: String,
    /// Values by their lower-case text in the file.
    words: BTreeMap<String, String>,
    time: Option<TimeForm>,
}

/// How a column's values are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Text,
    Number,
    Time,
}

/// What a column of ours holds.
fn kind(column: &str) -> Kind {
    match column {
        "opened_at" | "closed_at" | "started_at" | "ended_at" => Kind::Time,
        "model_year" | "odometer_in" | "odometer_out" | "job_no" | "returned_from_job" | "line"
        | "seq" | "minutes" | "reading" | "quantity" | "unit_cost" | "unit_price"
        | "bench_reading" | "flat_rate_hours" | "billed_hours" | "labor_amount" => Kind::Number,
        _ => Kind::Text,
    }
}
