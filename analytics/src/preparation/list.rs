//! A list of readings as data: what is read, between which limits and by whose
//! word, and what to do where a limit is missed. No limit stands in the code.

use serde::{Deserialize, Serialize};

/// What one line asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = ReadingKind))]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// One number with a unit.
    Number,
    /// A number for each cell, wheel or cylinder.
    Cells,
    YesNo,
    Words,
}

impl Kind {
    pub const ALL: [Self; 4] = [Self::Number, Self::Cells, Self::YesNo, Self::Words];

    /// The word, as in a list.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Number => "number",
            Self::Cells => "cells",
            Self::YesNo => "yes_no",
            Self::Words => "words",
        }
    }

    /// The kind of a word; `None` for another one.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.as_str() == word)
    }

    /// Whether its readings are numbers with a unit.
    #[must_use]
    pub const fn is_measured(self) -> bool {
        matches!(self, Self::Number | Self::Cells)
    }
}

/// What a limit bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = ReadingBound))]
#[serde(rename_all = "snake_case")]
pub enum Bound {
    /// Every value is at least this.
    Least,
    /// Every value is at most this.
    Most,
    /// The mean of the cells is at least this.
    MeanLeast,
    /// The highest and the lowest cell differ by at most this.
    SpreadMost,
}

impl Bound {
    pub const ALL: [Self; 4] = [Self::Least, Self::Most, Self::MeanLeast, Self::SpreadMost];

    /// The word, as in a list.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Least => "least",
            Self::Most => "most",
            Self::MeanLeast => "mean_least",
            Self::SpreadMost => "spread_most",
        }
    }
}

/// A limit, and by whose word.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = ReadingLimit))]
#[serde(deny_unknown_fields)]
pub struct Limit {
    pub bound: Bound,
    pub value: f64,
    /// Who says so: a manual, a standard, "common practice".
    pub source: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edition: Option<String>,
}

/// Degrees of a temperature, by their UCUM codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Degrees {
    #[serde(rename = "Cel")]
    Celsius,
    #[serde(rename = "[degF]")]
    Fahrenheit,
}

impl Degrees {
    /// The UCUM code.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Celsius => "Cel",
            Self::Fahrenheit => "[degF]",
        }
    }

    /// The degrees of a UCUM code; `None` for another unit.
    #[must_use]
    pub fn parse(code: &str) -> Option<Self> {
        [Self::Celsius, Self::Fahrenheit].into_iter().find(|one| one.as_str() == code)
    }
}

/// How a reading is brought to one temperature.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = TemperatureCorrection))]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// Added for every step above `from`, taken off for every one below.
    pub per_step: f64,
    /// Degrees of a step.
    pub step: f64,
    pub from: f64,
    pub unit: Degrees,
    pub source: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edition: Option<String>,
}

/// What a vehicle that stands loses of a reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = StandingLoss))]
#[serde(deny_unknown_fields)]
pub struct Loss {
    pub per_day: f64,
    /// It goes by the day so long; then there is nothing left to lose. Absent: 120.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 1, maximum = 3650))]
    pub most_days: Option<i64>,
    pub source: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edition: Option<String>,
}

impl Loss {
    /// A battery that nobody charges is about flat by then.
    const USUAL_MOST_DAYS: i64 = 120;

    /// How many days the loss goes by the day.
    #[must_use]
    pub fn days(&self) -> i64 {
        self.most_days.unwrap_or(Self::USUAL_MOST_DAYS)
    }
}

/// One line of a list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = ReadingLine))]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// Stays the same through the versions of a list, such as `battery.gravity`.
    pub key: String,
    pub label: String,
    pub kind: Kind,
    /// UCUM code of the unit of numbers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// How many cells.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 2, maximum = 24))]
    pub cells: Option<u32>,
    /// How it is read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub how: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub limits: Vec<Limit>,
    /// The answer that passes; absent: either does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expects: Option<bool>,
    /// A reading needs the temperature, and is corrected by it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub correction: Option<Correction>,
    /// Who says that the line is owed, and how it is read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edition: Option<String>,
    /// What to do where it fails, before it is read again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instruction: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<String>,
    /// Of the lines with the same word one reading is enough.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub one_of: Option<String>,
    /// While the vehicle waits in stock it is done again after so many days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 1, maximum = 3650))]
    pub repeat_days: Option<i64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loss: Option<Loss>,
    /// A number below this, as it is read, is a slip of the pen and not kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plausible_least: Option<f64>,
    /// The same for one above this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plausible_most: Option<f64>,
    /// Its numbers have no decimals.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub whole: bool,
    /// Every vehicle has it: it is never "not on this vehicle".
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub always: bool,
}

impl Line {
    /// The limit of a bound.
    #[must_use]
    pub fn limit(&self, bound: Bound) -> Option<&Limit> {
        self.limits.iter().find(|limit| limit.bound == bound)
    }

    /// Whether a number may be a reading of the line.
    #[must_use]
    pub fn is_plausible(&self, value: f64) -> bool {
        self.plausible_least.is_none_or(|least| value >= least)
            && self.plausible_most.is_none_or(|most| value <= most)
            && (!self.whole || value.fract() == 0.0)
    }

    /// How many values one reading of the line has.
    #[must_use]
    pub fn places(&self) -> u32 {
        if self.kind == Kind::Cells { self.cells.unwrap_or(1) } else { 1 }
    }
}
