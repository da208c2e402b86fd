//! A report as plain tables: one description of rows and columns for the
//! terminal, the CSV file and the page.

mod bench;
mod cell;
mod checks;
mod comebacks;
mod compare;
mod effect;
mod estimate;
pub mod group;
mod hand_over;
mod jobs;
mod labor;
mod paths;
mod pattern;
mod repeats;
mod reuse;
pub mod standing;
mod warnings;
mod weekly;

pub use effect::{ahead as effect_ahead, said as effect_verdict};
pub(crate) use warnings::said as warnings_said;
pub(super) use weekly::verdict as week_verdict;

use analytics::words::PartRole;

pub(super) use self::bench::decimals;
pub use self::cell::{Cell, sentence};
pub(super) use self::compare::said as compared;
pub(super) use self::reuse::choice_label;
use super::query::Report;
pub use crate::domain::decimal::thousands;
use crate::domain::money::Currency;
pub use crate::domain::percent::percent;
use crate::domain::style::Style;
use crate::web::words::Shown;

/// A table of a report.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Short fixed word, for `--table` and for anchors.
    pub key: &'static str,
    pub title: String,
    /// What must be read with it.
    pub note: Option<String>,
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
}

/// One column. Its key names it for programs, its label for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    pub key: &'static str,
    pub label: &'static str,
    pub kind: Kind,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Text,
    Number,
    /// A share with its counts and interval.
    Share,
    /// A ratio of sums with its count and interval.
    Ratio,
}

/// Columns for programs alone: what they say stands in words beside them.
const FOR_PROGRAMS: &[&str] = &["z", "chi_square", "degrees_of_freedom", "group_key"];

impl Column {
    /// Whether pages and the terminal show it.
    #[must_use]
    pub fn is_for_people(self) -> bool {
        !FOR_PROGRAMS.contains(&self.key)
    }

    /// Whether people read it as a number, lined up on the right.
    #[must_use]
    pub const fn is_numeric(self) -> bool {
        !matches!(self.kind, Kind::Text)
    }
}

/// One line of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// As many as there are columns.
    pub cells: Vec<Cell>,
    /// Selects the jobs behind the line: the query of the jobs list.
    pub jobs: Option<String>,
}

/// The currency of a report's amounts.
pub(crate) fn currency(code: &str) -> Currency {
    Currency::parse(code).unwrap_or_else(Currency::none)
}

pub(super) const fn text(key: &'static str, label: &'static str) -> Column {
    Column { key, label, kind: Kind::Text }
}

pub(super) const fn number(key: &'static str, label: &'static str) -> Column {
    Column { key, label, kind: Kind::Number }
}

pub(super) const fn share(key: &'static str, label: &'static str) -> Column {
    Column { key, label, kind: Kind::Share }
}

pub(super) const fn ratio(key: &'static str, label: &'static str) -> Column {
    Column { key, label, kind: Kind::Ratio }
}

/// The report's tables, the main one first.
#[must_use]
pub fn tables(report: &Report) -> Vec<Table> {
    styled(report, &Style::plain())
}

/// The same, with days and money in notes and titles as the shop's people write
/// them. Programs read no notes.
#[must_use]
pub fn styled(report: &Report, style: &Style) -> Vec<Table> {
    match report {
        Report::Weekly(review) => weekly::tables(review, style),
        Report::Comebacks(report) => comebacks::tables(report),
        Report::Reuse(report) => reuse::tables(report),
        Report::Paths(report) => paths::tables(report),
        Report::Labor(report) => labor::tables(report, style),
        Report::Compare(report) => compare::tables(report),
        Report::Checks(report) => checks::tables(report),
        Report::Repeats(report) => repeats::tables(report, style),
        Report::Pattern(report) => pattern::tables(report),
        Report::Bench(report) => bench::tables(report),
        Report::HandOver(report) => hand_over::tables(report),
        Report::Effect(report) => effect::tables(report, style),
        Report::Warnings(report) => warnings::tables(report, style),
        Report::Estimate(report) => estimate::tables(report),
        Report::Jobs(report) => vec![jobs::table(report)],
    }
}

/// The tables as people read them, on a page and on a terminal: lines that can
/// say nothing are counted in one, and what the notes say is not said again.
#[must_use]
pub fn for_people(report: &Report, style: &Style) -> Vec<Table> {
    let mut tables = styled(report, style);
    tables.iter_mut().for_each(Table::roles_in_words);
    match report {
        Report::Comebacks(_) => comebacks::for_people(tables),
        Report::Reuse(_) => reuse::for_people(tables),
        Report::Pattern(report) => pattern::for_people(report, tables),
        Report::Bench(_) | Report::HandOver(_) => bench::for_people(tables),
        _ => tables,
    }
}

impl Table {
    /// What a part was held as, in the words of the job's page.
    fn roles_in_words(&mut self) {
        let Some(at) = self.columns.iter().position(|column| column.key == "role") else {
            return;
        };
        for cell in self.rows.iter_mut().filter_map(|row| row.cells.get_mut(at)) {
            if let Cell::Text(code) = cell
                && let Some(role) = PartRole::parse(code)
            {
                *code = role.shown().to_owned();
            }
        }
    }

    /// Without a column.
    fn drop_column(&mut self, key: &str) {
        if let Some(at) = self.columns.iter().position(|column| column.key == key) {
            self.columns.remove(at);
            for row in &mut self.rows {
                if at < row.cells.len() {
                    row.cells.remove(at);
                }
            }
        }
    }
}

/// The bounds of an interval in percent: `13-39%`.
#[cfg(test)]
mod tests {
    use super::*;
    use crate::reports::query::{ReportName, ReportQuery, tests as cases};

    #[test]
    fn rows_are_as_wide_as_their_header() {
        for name in ReportName::ALL {
            let report = cases::report(name, &ReportQuery::default());
            let tables = tables(&report);
            assert!(!tables.is_empty());
            for table in tables.into_iter().chain(for_people(&report, &Style::plain())) {
                for row in &table.rows {
                    assert_eq!(row.cells.len(), table.columns.len(), "{}", table.key);
                }
            }
        }
    }

    #[test]
    fn every_selector_of_a_table_opens() {
        for name in ReportName::ALL {
            for table in tables(&cases::report(name, &ReportQuery::default())) {
                for jobs in table.rows.iter().filter_map(|row| row.jobs.as_deref()) {
                    assert!(analytics::select::Selector::parse(jobs).is_ok(), "{jobs}");
                }
            }
        }
    }
}
