//! People, suppliers, lots and engines compared fairly: observed against expected
//! by the mix of symptoms.

use serde::Serialize;

use crate::figure::{Head, Query};
use crate::follow::head;
use crate::history::History;

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CompareReport {
    pub head: Head,
}

/// The report of the query's closing days.
#[must_use]
pub fn compare(history: &History, query: &Query) -> CompareReport {
    CompareReport { head: head("compare", history.facts(), history.change_no(), query, &[]) }
}
