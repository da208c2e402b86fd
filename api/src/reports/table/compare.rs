//! People, suppliers, lots and engines compared, as tables.

use analytics::compare::CompareReport;

use super::{Table, text};

pub(super) fn tables(_report: &CompareReport) -> Vec<Table> {
    vec![Table {
        key: "compare",
        title: "Observed against expected".to_owned(),
        note: None,
        columns: vec![text("group", "Group")],
        rows: Vec::new(),
    }]
}
