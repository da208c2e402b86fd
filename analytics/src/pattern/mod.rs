//! When parts and complaints come back: early, by chance, or by age.

mod estimate;
mod report;

pub use estimate::{AgeReplacement, Estimated, Hint, NoFit, Timing};
pub use report::{PartTiming, PatternQuery, PatternReport, SymptomTiming, pattern, pattern_from};
