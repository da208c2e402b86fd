//! What came back by what was read before the vehicle left.

mod estimate;
mod report;
mod tally;
mod text;

pub use estimate::HandOverLine;
pub use report::{HandOverQuery, HandOverReport, hand_over, hand_over_from};
pub use tally::HandOverTally;
