//! People, suppliers, lots, engines and models compared fairly: observed against
//! expected by the mix of symptoms.

mod estimate;
mod report;
mod tally;

pub use report::{
    Answer, COLUMNS, CompareGroup, CompareReport, FunnelPoint, Limits, compare, compare_from,
};
pub use tally::CompareTally;
