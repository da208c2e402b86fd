//! When parts come back: early, by chance, or by age.

use serde::Serialize;

use crate::figure::{Head, Query};
use crate::follow::head;
use crate::history::History;
use crate::words::PartRole;

/// What the report is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct PatternQuery {
    pub figures: Query,
    /// Part number, else name; every part where absent.
    pub part: Option<String>,
    pub role: Option<PartRole>,
}

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PatternReport {
    pub head: Head,
}

/// The report of the query's closing days.
#[must_use]
pub fn pattern(history: &History, query: &PatternQuery) -> PatternReport {
    PatternReport {
        head: head("pattern", history.facts(), history.change_no(), &query.figures, &[]),
    }
}
