//! Advised orders of checks, as tables.

use analytics::path::CheckOrderReport;

use super::{Table, text};

pub(super) fn tables(_report: &CheckOrderReport) -> Vec<Table> {
    vec![Table {
        key: "checks",
        title: "The order of checks".to_owned(),
        note: None,
        columns: vec![text("group", "Group")],
        rows: Vec::new(),
    }]
}
