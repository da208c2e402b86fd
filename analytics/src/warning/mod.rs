//! Early warnings: groups of late jobs that came back more often than jobs like
//! theirs, told while their windows still run.

mod group;
mod report;
mod scan;

pub use group::WarningKind;
pub use report::{
    Warning, WarningSilenced, WarningState, WarningsQuery, WarningsReport, chances, warnings,
};
pub use scan::{LIMIT, Planned, Scan};
