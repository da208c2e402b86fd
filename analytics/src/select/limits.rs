//! Limits of a reading, as a selector writes them.

use std::fmt;

use crate::history::Reading;

/// Between which values a check's reading is to lie. One of the two limits
/// stands at least.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// Code of a check, or the name of a reading taken before a vehicle leaves.
    pub check: String,
    pub unit: String,
    pub low: Option<Reading>,
    pub high: Option<Reading>,
}

impl Limits {
    /// Reads `check>unit>low>high`, where a limit may be empty, but not both.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let limit = |text: &str| match text {
            "" => Some(None),
            text => Reading::parse(text).map(Some),
        };
        let parts: Vec<&str> = text.split('>').collect();
        let [check, unit, low, high] = parts.as_slice() else { return None };
        let (low, high) = (limit(low)?, limit(high)?);
        let named = !check.is_empty() && !unit.is_empty();
        let limits = Self { check: (*check).to_owned(), unit: (*unit).to_owned(), low, high };
        (named && (low.is_some() || high.is_some())).then_some(limits)
    }

    /// Whether a reading in the unit lies inside, the limits included.
    #[must_use]
    pub fn hold(&self, reading: Reading) -> bool {
        self.low.is_none_or(|low| reading >= low) && self.high.is_none_or(|high| reading <= high)
    }
}

impl fmt::Display for Limits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let limit = |limit: Option<Reading>| limit.map(|limit| limit.to_string());
        write!(
            f,
            "{}>{}>{}>{}",
            self.check,
            self.unit,
            limit(self.low).unwrap_or_default(),
            limit(self.high).unwrap_or_default()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_read_back_as_they_are_written() {
        for text in ["charging-voltage>V>13.5>14.8", "gravity>1>1.25>", "drain>mA>>50"] {
            assert_eq!(Limits::parse(text).map(|limits| limits.to_string()).as_deref(), Some(text));
        }
        for text in ["", "a>V>>", "a>>1>2", ">V>1>2", "a>V>low>", "a>V>1", "a>V>1>2>3"] {
            assert_eq!(Limits::parse(text), None, "{text}");
        }
    }

    #[test]
    fn the_limits_themselves_are_inside() {
        let limits = Limits::parse("charging-voltage>V>13.5>14.8").unwrap();
        let holds = |value: f64| limits.hold(Reading::new(value).unwrap());
        assert!(holds(13.5) && holds(14.8) && !holds(13.49) && !holds(14.81));
    }
}
