//! How often vehicles come back, as tables.

use analytics::repeats::RepeatReport;

use super::{Table, text};

pub(super) fn tables(_report: &RepeatReport) -> Vec<Table> {
    vec![Table {
        key: "repeats",
        title: "Returns of a vehicle".to_owned(),
        note: None,
        columns: vec![text("group", "Group")],
        rows: Vec::new(),
    }]
}
