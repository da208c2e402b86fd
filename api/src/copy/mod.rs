//! A whole copy of the record in files: every table that holds it, each row as
//! one line of JSON. The copy of a copy is the same to the last byte, whichever
//! database it went through.

mod back;
mod cell;
mod manifest;
mod mark;
mod out;
mod tables;

pub use back::{check, restore};
pub use mark::{Mark, last_mark, mark};
pub use out::{read_through, write};

/// Why a copy did not come about.
#[derive(Debug)]
pub enum CopyError {
    /// The folder or its files cannot be used: a sentence.
    Files(String),
    Record(crate::db::Fault),
}

impl From<crate::db::Fault> for CopyError {
    fn from(fault: crate::db::Fault) -> Self {
        Self::Record(fault)
    }
}

impl CopyError {
    fn at(path: &std::path::Path, error: impl std::fmt::Display) -> Self {
        Self::Files(format!("{}: {error}", path.display()))
    }
}

impl std::fmt::Display for CopyError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Files(why) => f.write_str(why),
            Self::Record(fault) => f.write_str(&crate::import::told(fault)),
        }
    }
}
