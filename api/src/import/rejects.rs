//! The file of rows that were not taken.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

use super::fields::guarded;
use super::store::Reject;

/// Where rejected rows are written; the file is made with its first row.
pub struct Rejects {
    path: PathBuf,
    writer: Option<csv::Writer<File>>,
    /// The first faults, for people.
    first: Vec<String>,
}

/// Faults that are shown at once.
const SHOWN: usize = 20;

impl Rejects {
    /// Rejects of a new import. A file of an earlier one is emptied, so that
    /// nobody mends rows that are good by now.
    ///
    /// # Errors
    /// Where the earlier file cannot be written.
    pub fn new(path: &Path) -> io::Result<Self> {
        let mut rejects = Self { path: path.to_owned(), writer: None, first: Vec::new() };
        if path.exists() {
            rejects.writer = Some(started(path)?);
        }
        Ok(rejects)
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
    pub fn write(
        &mut self,
        file: &str,
        reject: &Reject,
        header_of: impl Fn(&str) -> String,
    ) -> io::Result<()> {
        let writer = match &mut self.writer {
            Some(writer) => writer,
            none => none.insert(started(&self.path)?),
        };
        let text = reject.raw.text();
        let text = guarded(&text);
        for fault in &reject.faults {
            let line = reject.raw.line.to_string();
            let column = header_of(fault.column);
            let cells = [&*guarded(file), &line, &*guarded(&column), &fault.reason, &*text];
            writer.write_record(cells)?;
            if self.first.len() < SHOWN {
                self.first.push(format!("{file} line {line}, {column}: {}", fault.reason));
            }
        }
        Ok(())
    }

    /// Makes sure that all is written; answers the first faults.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn finish(self) -> io::Result<Vec<String>> {
        if let Some(mut writer) = self.writer {
            writer.flush()?;
        }
        Ok(self.first)
    }
}

fn started(path: &Path) -> io::Result<csv::Writer<File>> {
    let file = File::create(path)?;
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(file);
    writer.write_record(["file", "line", "column", "reason", "row"])?;
    Ok(writer)
}
