//! At which bench reading a part is better not put back: returns by reading,
//! and the cut-off that costs least.

pub(crate) mod by_reading;
mod estimate;
mod report;
mod tally;
pub(crate) mod text;

use serde::Serialize;

use crate::stats::cutoff;

pub use estimate::{Band, BenchPart, CutOff, CutOffLine, Kind, NoCutOff, NoSlope, Slope};
pub use report::{BenchQuery, BenchReport, bench, bench_from};
pub use tally::BenchTally;

/// Which reading is the better one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = BetterReading))]
#[serde(rename_all = "snake_case")]
pub enum Better {
    Higher,
    Lower,
}

impl Better {
    /// The direction of a word; `None` for another one.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        match word {
            "higher" => Some(Self::Higher),
            "lower" => Some(Self::Lower),
            _ => None,
        }
    }

    /// The word, as in answers and parameters.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Higher => "higher",
            Self::Lower => "lower",
        }
    }

    pub(crate) const fn of_cut_off(self) -> cutoff::Better {
        match self {
            Self::Higher => cutoff::Better::Higher,
            Self::Lower => cutoff::Better::Lower,
        }
    }

    /// A reading turned about where lower is better: rises as it gets better.
    fn merit(self, reading: f64) -> f64 {
        match self {
            Self::Higher => reading,
            Self::Lower => -reading,
        }
    }
}
