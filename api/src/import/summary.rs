//! What an import did, for people to read.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use super::files::HistoryFile;

/// How many rows of a file went which way.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tally {
    pub added: u64,
    pub unchanged: u64,
    pub changed: u64,
    pub rejected: u64,
}

impl Tally {
    fn of(self, name: &str) -> String {
        let rows = self.added + self.unchanged + self.changed + self.rejected;
        format!(
            "{name:<15} {rows:>9} rows: {:>9} added {:>9} unchanged {:>9} changed {:>9} rejected",
            self.added, self.unchanged, self.changed, self.rejected
        )
    }
}

/// What an import did, or in a dry run would do.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Summary {
    pub files: BTreeMap<HistoryFile, Tally>,
    /// Comebacks that the jobs name.
    pub links: Tally,
    pub part_returns: u64,
    /// Codes that the shop's lists did not have, by list.
    pub codes: BTreeMap<&'static str, BTreeSet<String>>,
    /// New codes that are the label of an entry of the list: list and code, and
    /// the entry's code.
    pub labels: BTreeMap<(&'static str, String), String>,
    pub people: BTreeSet<String>,
    pub shops: Vec<String>,
    /// Columns that mean nothing here, by file.
    pub extra_columns: BTreeMap<String, Vec<String>>,
    /// Orders whose make, model, year or engine differ from their vehicle's.
    pub vehicle_differences: u64,
}

impl Summary {
    /// The tally of a file.
    pub fn file(&mut self, file: HistoryFile) -> &mut Tally {
        self.files.entry(file).or_default()
    }

    /// Rows and links that were not taken.
    #[must_use]
    pub fn rejected(&self) -> u64 {
        self.files.values().map(|tally| tally.rejected).sum::<u64>() + self.links.rejected
    }
}

impl fmt::Display for Summary {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (file, tally) in &self.files {
            writeln!(f, "{}", tally.of(file.file_name()))?;
        }
        writeln!(f, "{}", self.links.of("comebacks"))?;
        writeln!(f, "{:<15} {:>9} added", "part returns", self.part_returns)?;
        for (list, codes) in &self.codes {
            let codes: Vec<&str> = codes.iter().map(String::as_str).collect();
            writeln!(f, "new in the list of {list} codes: {}", codes.join(", "))?;
        }
        for ((list, code), meant) in &self.labels {
            writeln!(
                f,
                "in the list of {list} codes '{code}' is the label of {meant}: translate it in a map, or merge the two in the shop's lists"
            )?;
        }
        if !self.people.is_empty() {
            let names: Vec<&str> = self.people.iter().map(String::as_str).collect();
            writeln!(f, "new technicians, without sign-in: {}", names.join(", "))?;
        }
        for (file, columns) in &self.extra_columns {
            writeln!(f, "{file}: columns left aside: {}", columns.join(", "))?;
        }
        if self.vehicle_differences > 0 {
            writeln!(
                f,
                "{} orders describe their vehicle otherwise than the record; the record's description stands",
                self.vehicle_differences
            )?;
        }
        Ok(())
    }
}
