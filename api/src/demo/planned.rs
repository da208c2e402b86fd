//! A job that has its week, and what it comes back for.

use super::catalog::Makes;
use super::sheet::Sheet;

/// Names a planned job until it has an order number.
pub(super) type Key = u64;

/// Whether the apprentice works on a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Apprentice {
    Must,
    MayHelp,
    No,
}

/// What a job came back for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Back {
    /// The job it came back for: always the first of its order.
    pub of: Key,
    pub reason: &'static str,
}

/// A visit with its week, its jobs and who leads them, not yet its hours.
#[derive(Debug, Clone)]
pub(super) struct Planned {
    pub key: Key,
    /// Place of its week in the calendar. A visit is opened, worked and closed
    /// within one week.
    pub week: usize,
    pub sheets: Vec<Sheet>,
    pub makes: Makes,
    pub vehicle: Option<usize>,
    /// Place of the technician who leads in the crew.
    pub lead: Option<usize>,
    pub apprentice: Apprentice,
    /// The day on which it is opened, worked and closed, where that is fixed.
    pub day: Option<usize>,
    /// Brought in on Friday after 15:00.
    pub late: bool,
    /// A later visit comes back for its first job.
    pub comes_back: bool,
    pub back: Option<Back>,
}

impl Planned {
    pub fn new(key: Key, week: usize, makes: Makes, sheet: Sheet) -> Self {
        Self {
            key,
            week,
            sheets: vec![sheet],
            makes,
            vehicle: None,
            lead: None,
            apprentice: Apprentice::MayHelp,
            day: None,
            late: false,
            comes_back: false,
            back: None,
        }
    }

    pub fn minutes(&self) -> i32 {
        self.sheets.iter().map(|sheet| sheet.minutes.total()).sum()
    }

    /// Jobs that count in a comeback share.
    pub fn lines(&self) -> usize {
        self.sheets.iter().filter(|sheet| sheet.is_line()).count()
    }

    /// The symptom of its first job.
    pub fn symptom(&self) -> Option<&'static str> {
        self.sheets.first().and_then(|sheet| sheet.symptom)
    }

    pub fn symptoms(&self) -> Vec<&'static str> {
        self.sheets.iter().filter_map(|sheet| sheet.symptom).collect()
    }
}

/// Hands out keys.
pub(super) struct Keys(Key);

impl Keys {
    /// Keys of a crew of that number.
    pub const fn new(crew: u64) -> Self {
        Self(crew << 40)
    }

    pub fn next(&mut self) -> Key {
        self.0 += 1;
        self.0
    }
}
