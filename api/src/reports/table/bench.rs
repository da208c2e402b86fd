//! Bench readings and what came back, as tables.

use analytics::bench::BenchReport;

use super::{Table, text};

pub(super) fn tables(_report: &BenchReport) -> Vec<Table> {
    vec![Table {
        key: "bench",
        title: "Bench readings and returns".to_owned(),
        note: None,
        columns: vec![text("group", "Group")],
        rows: Vec::new(),
    }]
}
