//! The file of rows that were not taken, and its faults by kind.

use std::collections::HashMap;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use super::store::Reject;
use crate::domain::formula::guarded;

/// Where rejected rows are written; the file is made with its first row.
pub struct Rejects {
    path: PathBuf,
    writer: Option<csv::Writer<File>>,
    /// In the order they were met.
    kinds: Vec<Kind>,
    /// Places among the kinds by file, column and what is the same in all their
    /// reasons.
    known: HashMap<(String, String, String), usize>,
}

/// Faults that differ only in their values.
struct Kind {
    file: String,
    column: String,
    /// Of the first row.
    reason: String,
    rows: u64,
    first_line: u64,
}

/// Kinds that are shown at once.
const SHOWN: usize = 20;

/// A row as it goes into the file.
pub struct Shown<'a> {
    pub file: &'a str,
    /// What its file calls a column.
    pub header_of: &'a dyn Fn(&str) -> String,
    /// A reason in the words of its file.
    pub reworded: &'a dyn Fn(&str) -> String,
    pub delimiter: u8,
}

impl Rejects {
    /// Rejects of a new import. The file of an earlier one is removed, so that
    /// nobody corrects rows that are good by now.
    ///
    /// # Errors
    /// Where the earlier file cannot be removed.
    pub fn new(path: &Path) -> io::Result<Self> {
        if path.is_file() {
            fs::remove_file(path)?;
        }
        Ok(Self { path: path.to_owned(), writer: None, kinds: Vec::new(), known: HashMap::new() })
    }

    /// Where they are.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes one row's faults, a line each, under the names that its file has.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn write(&mut self, reject: &Reject, shown: &Shown<'_>) -> io::Result<()> {
        let writer = match &mut self.writer {
            Some(writer) => writer,
            none => none.insert(started(&self.path)?),
        };
        let text = reject.raw.text(shown.delimiter);
        let text = guarded(&text);
        let line = reject.raw.line.to_string();
        for fault in &reject.faults {
            let column = (shown.header_of)(fault.column);
            let reason = (shown.reworded)(&fault.reason);
            let cells = [&*guarded(shown.file), &line, &*guarded(&column), &*reason, &*text];
            writer.write_record(cells)?;
            let key = (shown.file.to_owned(), column.clone(), skeleton(&reason));
            let place = *self.known.entry(key).or_insert(self.kinds.len());
            match self.kinds.get_mut(place) {
                Some(kind) => kind.rows += 1,
                None => self.kinds.push(Kind {
                    file: shown.file.to_owned(),
                    column,
                    reason,
                    rows: 1,
                    first_line: reject.raw.line,
                }),
            }
        }
        Ok(())
    }

    /// Makes sure that all is written; answers the first kinds of faults, for
    /// people.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn finish(self) -> io::Result<Vec<String>> {
        if let Some(mut writer) = self.writer {
            writer.flush()?;
        }
        let mut told: Vec<String> = self.kinds.iter().take(SHOWN).map(Kind::told).collect();
        let more = self.kinds.len().saturating_sub(SHOWN);
        if more > 0 {
            told.push(format!("and faults of {more} more kinds: see {}", self.path.display()));
        }
        Ok(told)
    }
}

impl Kind {
    fn told(&self) -> String {
        let Self { file, column, reason, rows, first_line } = self;
        let at = if column.is_empty() { String::new() } else { format!(", {column}") };
        if *rows == 1 {
            return format!("{file} line {first_line}{at}: {reason}");
        }
        format!("{file}{at}: {reason} ({rows} rows, first line {first_line})")
    }
}

/// A reason without what is quoted in it and without its words with digits.
fn skeleton(reason: &str) -> String {
    let unquoted: Vec<&str> = reason.split('\'').step_by(2).collect();
    let bare = unquoted.join("'");
    let words = bare.split(' ').filter(|word| !word.contains(|c: char| c.is_ascii_digit()));
    words.collect::<Vec<_>>().join(" ")
}

fn started(path: &Path) -> io::Result<csv::Writer<File>> {
    let file = File::create(path)?;
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(file);
    writer.write_record(["file", "line", "column", "reason", "row"])?;
    Ok(writer)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_that_differ_in_values_are_of_one_kind() {
        for (one, other) in [
            ("'Y' is not one of: suspect, wish", "'N' is not one of: suspect, wish"),
            (
                "orders.csv has no good row for order A-7",
                "orders.csv has no good row for order 812",
            ),
        ] {
            assert_eq!(skeleton(one), skeleton(other));
        }
        assert_ne!(skeleton("'Y' is not one of: suspect"), skeleton("'Y' is not a time"));
    }
}
