//! Opening a history file: what is refused before a row is read, and how the
//! rows come out of it. A file is looked through whole before anything is
//! written, so that a refused import has changed nothing.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;

use csv::StringRecord;

use super::fields::Fault;
use super::files::{Column, HistoryFile};
use super::guard::Guard;
use super::map::{Bound, Lens};

/// Why a folder cannot be taken at all. Nothing of it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    pub file: String,
    /// A sentence that says what to do.
    pub why: String,
}

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.file, self.why)
    }
}

/// Which columns a file has, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Header {
    /// Place of each of the file's known columns.
    places: Vec<(&'static str, usize)>,
    /// Columns that mean nothing here.
    pub extra: Vec<String>,
    /// Fields in every row.
    pub width: usize,
}

impl Header {
    /// Finds the known columns.
    ///
    /// # Errors
    /// A sentence: columns missing or there twice.
    pub fn read(names: &StringRecord, known: &'static [Column]) -> Result<Self, String> {
        let mut places: Vec<(&'static str, usize)> = Vec::new();
        let mut extra = Vec::new();
        for (place, name) in names.iter().enumerate() {
            let name = name.trim();
            match known.iter().find(|c| c.name.eq_ignore_ascii_case(name)) {
                Some(column) if places.iter().any(|(found, _)| *found == column.name) => {
                    return Err(format!("the column {} is there twice; keep one", column.name));
                }
                Some(column) => places.push((column.name, place)),
                None => extra.push(name.to_owned()),
            }
        }
        let missing: Vec<&str> = known
            .iter()
            .filter(|c| c.required && !places.iter().any(|(found, _)| *found == c.name))
            .map(|c| c.name)
            .collect();
        if missing.is_empty() {
            Ok(Self { places, extra, width: names.len() })
        } else {
            Err(format!(
                "the first line must name the columns, and these are missing: {}",
                missing.join(", ")
            ))
        }
    }

    /// A header of columns that another program's were made into.
    #[must_use]
    pub fn made(columns: Vec<&'static str>, extra: Vec<String>) -> Self {
        let width = columns.len();
        let places = columns.into_iter().enumerate().map(|(place, name)| (name, place)).collect();
        Self { places, extra, width }
    }

    /// Where a column is.
    #[must_use]
    pub fn place(&self, name: &str) -> Option<usize> {
        self.places.iter().find(|(found, _)| *found == name).map(|(_, place)| *place)
    }

    /// The known columns that the file has.
    #[must_use]
    pub fn present(&self) -> Vec<&'static str> {
        self.places.iter().map(|(name, _)| *name).collect()
    }
}

/// Looks a whole file through: encoding, length of its lines, header.
///
/// # Errors
/// See [`Refused`].
pub fn inspect(
    path: &Path,
    shown: &str,
    kind: HistoryFile,
    lens: Option<&Lens>,
) -> Result<(), Refused> {
    let refuse = |why: String| Refused { file: shown.to_owned(), why };
    readable(path, delimiter(lens)).map_err(refuse)?;
    Rows::open(path, shown, kind, lens).map(drop)
}

/// A comma, unless a mapping says otherwise.
fn delimiter(lens: Option<&Lens>) -> u8 {
    lens.map_or(b',', Lens::delimiter)
}

/// Looks a file's encoding and the length of its lines through.
///
/// # Errors
/// A sentence.
pub fn readable(path: &Path, delimiter: u8) -> Result<(), String> {
    let mut guard = Guard::new(open(path)?).split_by(delimiter);
    io::copy(&mut guard, &mut io::sink()).map_err(|e| e.to_string())?;
    guard.finish()
}

fn open(path: &Path) -> Result<File, String> {
    let mut file = File::open(path).map_err(|e| format!("cannot be read: {e}"))?;
    let facts = file.metadata().map_err(|e| format!("cannot be read: {e}"))?;
    if !facts.is_file() {
        return Err("is not a plain file".to_owned());
    }
    let mut start = Vec::new();
    Read::by_ref(&mut file)
        .take(4)
        .read_to_end(&mut start)
        .map_err(|e| format!("cannot be read: {e}"))?;
    if start.starts_with(&[0xFF, 0xFE]) || start.starts_with(&[0xFE, 0xFF]) || start.contains(&0) {
        return Err(
            "is written in UTF-16; save it as CSV in UTF-8 and run the import again".to_owned()
        );
    }
    let skip = if start.starts_with(&[0xEF, 0xBB, 0xBF]) { 3 } else { 0 };
    file.seek(SeekFrom::Start(skip)).map_err(|e| format!("cannot be read: {e}"))?;
    Ok(file)
}

/// One row as it lies in the file.
#[derive(Debug, Clone, Default)]
pub struct Raw {
    /// Line it begins on; the header is line 1.
    pub line: u64,
    pub fields: StringRecord,
    /// The row that these fields were made from.
    pub foreign: Option<StringRecord>,
    /// What could not be made of it.
    pub faults: Vec<Fault>,
}

impl Raw {
    /// The row as one line of text again, as its file has it.
    #[must_use]
    pub fn text(&self, delimiter: u8) -> String {
        let mut writer =
            csv::WriterBuilder::new().flexible(true).delimiter(delimiter).from_writer(Vec::new());
        let bytes = match writer.write_record(self.foreign.as_ref().unwrap_or(&self.fields)) {
            Ok(()) => writer.into_inner().unwrap_or_default(),
            Err(_) => Vec::new(),
        };
        String::from_utf8_lossy(&bytes).trim_end_matches(['\r', '\n']).to_owned()
    }
}

/// A file's rows, one after another.
pub struct Rows {
    reader: csv::Reader<Guard<File>>,
    pub header: Header,
    /// How rows are made into ours; absent: they are ours.
    pub bound: Option<Bound>,
    shown: String,
}

impl Rows {
    /// Opens a file and reads its header.
    ///
    /// # Errors
    /// See [`Refused`].
    pub fn open(
        path: &Path,
        shown: &str,
        kind: HistoryFile,
        lens: Option<&Lens>,
    ) -> Result<Self, Refused> {
        let refuse = |why: String| Refused { file: shown.to_owned(), why };
        let by = delimiter(lens);
        let guard = Guard::numbering(open(path).map_err(refuse)?).split_by(by);
        // Rows of another width are told one by one, not by the reader.
        let mut reader = csv::ReaderBuilder::new().flexible(true).delimiter(by).from_reader(guard);
        let names = reader.headers().map_err(|e| refuse(reason(&e)))?.clone();
        reader.get_ref().next_row_line();
        let (bound, header) = match lens {
            None => (None, Header::read(&names, kind.columns()).map_err(refuse)?),
            Some(lens) => {
                let (bound, header) = Bound::new(lens, &names).map_err(refuse)?;
                (Some(bound), header)
            }
        };
        Ok(Self { reader, header, bound, shown: shown.to_owned() })
    }

    /// The next row; `None` at the end.
    ///
    /// # Errors
    /// Where the file cannot be read on.
    pub fn next_row(&mut self) -> Result<Option<Raw>, Refused> {
        let mut fields = StringRecord::new();
        let more = self
            .reader
            .read_record(&mut fields)
            .map_err(|e| Refused { file: self.shown.clone(), why: reason(&e) })?;
        // The reader's own count is one behind where lines end in CR LF.
        let line = || self.reader.get_ref().next_row_line();
        Ok(more.then(|| Raw { line: line(), fields, ..Raw::default() }))
    }

    /// Bytes read so far.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.reader.position().byte()
    }
}

fn reason(error: &csv::Error) -> String {
    match error.kind() {
        csv::ErrorKind::Io(inner) => inner.to_string(),
        csv::ErrorKind::Utf8 { pos, .. } => not_utf8(pos.as_ref().map_or(0, csv::Position::line)),
        _ => error.to_string(),
    }
}

/// What is said of bytes in another encoding.
pub(super) fn not_utf8(line: u64) -> String {
    format!(
        "line {line} has bytes that are not UTF-8; save the file as CSV in UTF-8 and run the import again"
    )
}
