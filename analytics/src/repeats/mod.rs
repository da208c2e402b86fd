//! How often vehicles come back, again and again.

use serde::Serialize;

use crate::figure::{Head, Query};
use crate::follow::head;
use crate::history::History;

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RepeatReport {
    pub head: Head,
}

/// The report of the query's closing days.
#[must_use]
pub fn repeats(history: &History, query: &Query) -> RepeatReport {
    RepeatReport { head: head("repeats", history.facts(), history.change_no(), query, &[]) }
}
