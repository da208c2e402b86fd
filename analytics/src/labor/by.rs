//! The columns that labor is grouped by.

/// What labor is grouped by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", schema(as = LaborColumn))]
pub enum By {
    Technician,
    Operation,
    Symptom,
    Payer,
    Week,
}

impl By {
    /// Every word, for messages.
    pub const WORDS: &'static [&'static str] =
        &["technician", "operation", "symptom", "payer", "week"];

    /// The column of a word; `None` where labor has no such column.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        match word {
            "technician" => Some(Self::Technician),
            "operation" => Some(Self::Operation),
            "symptom" => Some(Self::Symptom),
            "payer" => Some(Self::Payer),
            "week" => Some(Self::Week),
            _ => None,
        }
    }

    /// The word.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Technician => "technician",
            Self::Operation => "operation",
            Self::Symptom => "symptom",
            Self::Payer => "payer",
            Self::Week => "week",
        }
    }
}
