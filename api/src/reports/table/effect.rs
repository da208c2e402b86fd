//! Before and after a rule, as tables.

use analytics::effect::EffectReport;

use super::{Table, text};

pub(super) fn tables(_report: &EffectReport) -> Vec<Table> {
    vec![Table {
        key: "effect",
        title: "Before and after".to_owned(),
        note: None,
        columns: vec![text("group", "Group")],
        rows: Vec::new(),
    }]
}
