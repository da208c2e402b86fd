//! The columns that vehicles are grouped by.

use serde::Serialize;

use crate::history::Jobs;

/// A column of vehicles, as their first repair in the period has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", schema(as = RepeatColumn))]
pub enum By {
    Model,
    Engine,
}

impl By {
    /// Every word, the usual one first.
    pub const WORDS: &'static [&'static str] = &["model", "engine"];

    /// The column of a word; `None` where there is no such column.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        match word {
            "model" => Some(Self::Model),
            "engine" => Some(Self::Engine),
            _ => None,
        }
    }

    /// The word, as in queries and selectors.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Model => "model",
            Self::Engine => "engine",
        }
    }

    pub(super) const fn column<'a>(self, jobs: &Jobs<'a>) -> &'a [u32] {
        match self {
            Self::Model => jobs.model,
            Self::Engine => jobs.engine,
        }
    }
}
