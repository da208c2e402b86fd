//! When parts come back, as tables.

use analytics::pattern::PatternReport;

use super::{Table, text};

pub(super) fn tables(_report: &PatternReport) -> Vec<Table> {
    vec![Table {
        key: "pattern",
        title: "When parts come back".to_owned(),
        note: None,
        columns: vec![text("group", "Group")],
        rows: Vec::new(),
    }]
}
