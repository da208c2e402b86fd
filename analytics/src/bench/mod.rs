//! At which bench reading a cleaned part is better not put back.

use serde::Serialize;

use crate::figure::{Head, Query};
use crate::follow::head;
use crate::history::History;
use crate::words::PartRole;

/// Which reading is the better one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Better {
    Higher,
    Lower,
}

impl Better {
    /// The reading of a word; `None` for another one.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        match word {
            "higher" => Some(Self::Higher),
            "lower" => Some(Self::Lower),
            _ => None,
        }
    }
}

/// What the report is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchQuery {
    pub figures: Query,
    /// Part number, else name; every part with readings where absent.
    pub part: Option<String>,
    pub role: Option<PartRole>,
    /// Absent: taken as higher, and said so.
    pub better: Option<Better>,
}

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BenchReport {
    pub head: Head,
}

/// The report of the query's closing days.
#[must_use]
pub fn bench(history: &History, query: &BenchQuery) -> BenchReport {
    BenchReport { head: head("bench", history.facts(), history.change_no(), &query.figures, &[]) }
}
