//! Lists of readings to start from, until the shop has its own: each limit with
//! whose word it is. They are data; a shop's copy may say otherwise.

use std::sync::OnceLock;

use analytics::preparation::Line;

/// What a list is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Of a new vehicle, or one that waited.
    Preparation,
    /// After work, before the vehicle is handed over.
    HandOver,
}

impl Purpose {
    pub const ALL: [Self; 2] = [Self::Preparation, Self::HandOver];

    /// The word, as in the record.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Preparation => "preparation",
            Self::HandOver => "hand_over",
        }
    }

    /// The purpose of a word; `None` for another one.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|purpose| purpose.as_str() == word)
    }

    /// The starting list's name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Preparation => "Before a new vehicle is handed over",
            Self::HandOver => "After starting and charging work",
        }
    }

    /// The symptom, or the system of symptoms, that the starting list is for.
    #[must_use]
    pub const fn symptom(self) -> Option<&'static str> {
        match self {
            Self::Preparation => None,
            Self::HandOver => Some("start-charge"),
        }
    }

    /// The starting list's lines.
    #[must_use]
    pub fn lines(self) -> &'static [Line] {
        static PREPARATION: OnceLock<Vec<Line>> = OnceLock::new();
        static HAND_OVER: OnceLock<Vec<Line>> = OnceLock::new();
        let read = |text: &str| serde_json::from_str(text).unwrap_or_default();
        match self {
            Self::Preparation => {
                PREPARATION.get_or_init(|| read(include_str!("starting/preparation.json")))
            }
            Self::HandOver => {
                HAND_OVER.get_or_init(|| read(include_str!("starting/hand_over.json")))
            }
        }
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::super::sound;
    use super::*;

    #[test]
    fn starting_lists_are_sound_and_every_limit_has_a_source() {
        for purpose in Purpose::ALL {
            assert_eq!(Purpose::parse(purpose.as_str()), Some(purpose));
            assert!(purpose.lines().len() >= 6, "{purpose:?}");
            assert_eq!(sound::faults(purpose.lines()), Vec::new());
            for line in purpose.lines() {
                let said = line.source.is_some() || !line.limits.is_empty();
                assert!(said, "{}: nobody says so", line.key);
                // What can hurt has its cautions beside it.
                let hurts = ["battery.", "charge.", "terminals."];
                if hurts.iter().any(|start| line.key.starts_with(start)) {
                    assert!(!line.cautions.is_empty(), "{}", line.key);
                }
            }
        }
    }

    #[test]
    fn the_battery_is_owed_in_one_of_three_ways() {
        for purpose in Purpose::ALL {
            let battery =
                purpose.lines().iter().filter(|line| line.one_of.as_deref() == Some("battery"));
            assert_eq!(battery.count(), 3);
        }
        let lines = Purpose::Preparation.lines();
        let charge = lines.iter().find(|line| line.key == "battery.charge").unwrap();
        assert_eq!(charge.repeat_days, Some(30));
    }
}
