//! The order of checks that the record advises for a symptom.

use serde::Serialize;

use crate::figure::{Head, Query};
use crate::follow::head;
use crate::history::History;

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CheckOrderReport {
    pub head: Head,
}

/// The advised orders of the query's closing days.
#[must_use]
pub fn check_orders(history: &History, query: &Query) -> CheckOrderReport {
    CheckOrderReport { head: head("checks", history.facts(), history.change_no(), query, &[]) }
}
