//! Reports as JSON, written here: this crate is compiled for speed, and a long
//! report is a megabyte of text.

use crate::bench::BenchReport;
use crate::comeback::ComebackReport;
use crate::compare::CompareReport;
use crate::effect::EffectReport;
use crate::labor::LaborReport;
use crate::path::{CheckOrderReport, PathReport};
use crate::pattern::PatternReport;
use crate::preparation::hand_over::HandOverReport;
use crate::repeats::RepeatReport;
use crate::reuse::{EstimateReport, ReuseReport};
use crate::warning::WarningsReport;
use crate::weekly::WeeklyReview;

/// A report that can be written.
pub trait Written {
    /// JSON without white space, for programs.
    ///
    /// # Errors
    /// A map without texts for keys, which no report has.
    fn json(&self) -> serde_json::Result<String>;

    /// Pretty JSON, two spaces a level, for people.
    ///
    /// # Errors
    /// As [`Self::json`].
    fn pretty_json(&self) -> serde_json::Result<String>;
}

macro_rules! written {
    ($($report:ty),+ $(,)?) => {$(
        impl Written for $report {
            fn json(&self) -> serde_json::Result<String> {
                serde_json::to_string(self)
            }

            fn pretty_json(&self) -> serde_json::Result<String> {
                serde_json::to_string_pretty(self)
            }
        }
    )+};
}

written!(
    WeeklyReview,
    ComebackReport,
    ReuseReport,
    PathReport,
    LaborReport,
    CompareReport,
    CheckOrderReport,
    RepeatReport,
    PatternReport,
    BenchReport,
    HandOverReport,
    EffectReport,
    WarningsReport,
    EstimateReport,
);
