//! How fixed words, spans of time and units of the record are shown to people.

use analytics::words::{
    Access, Activity, CauseState, Disposition, Finding, JobKind, LinkState, Outcome, PartRole,
    Payer, Serviceable, WorkedAs,
};

use crate::domain::decimal::thousands;

/// One choice of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pick {
    pub value: String,
    pub label: String,
}

impl Pick {
    #[must_use]
    pub fn new(value: impl Into<String>, label: impl Into<String>) -> Self {
        Self { value: value.into(), label: label.into() }
    }
}

/// Choices under one heading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PickGroup {
    pub label: String,
    pub picks: Vec<Pick>,
}

/// A word of a fixed list, as people read it.
pub trait Shown: Copy + 'static {
    /// The label.
    fn shown(self) -> &'static str;
    /// All words as choices, in the order of the list.
    fn picks() -> Vec<Pick>;
}

macro_rules! shown {
    ($($name:ident { $($variant:ident = $label:literal),+ $(,)? })+) => {$(
        impl Shown for $name {
            fn shown(self) -> &'static str {
                match self { $(Self::$variant => $label),+ }
            }

            fn picks() -> Vec<Pick> {
                Self::ALL.iter().map(|word| Pick::new(word.as_str(), word.shown())).collect()
            }
        }
    )+};
}

shown! {
    JobKind {
        Complaint = "complaint",
        Maintenance = "maintenance",
        Preparation = "preparation",
        Recall = "recall",
    }
    Outcome {
        Repaired = "repaired",
        TemporaryRepair = "temporary repair",
        NotReproduced = "not reproduced",
        NoFaultFound = "no fault found",
        Declined = "declined",
        PlannedSecondVisit = "waiting for a planned second visit",
        Sublet = "sublet",
    }
    Finding {
        Normal = "normal",
        Abnormal = "abnormal",
        Inconclusive = "inconclusive",
        NotDone = "not done",
    }
    Disposition {
        ReplacedNew = "replaced, new",
        ReplacedRebuilt = "replaced, rebuilt",
        ReplacedUsed = "replaced, used",
        CleanedReused = "cleaned and reused",
        AdjustedReused = "adjusted and reused",
        RepairedReused = "repaired and reused",
        RemovedRefitted = "off and on, untouched",
        TestedLeft = "tested good and left",
    }
    PartRole {
        Suspect = "suspect",
        Bystander = "in the way",
        Damaged = "damaged by the fault",
        Wish = "customer's wish",
    }
    Serviceable {
        Alone = "alone",
        AssemblyOnly = "only as an assembly",
        NotServiceable = "not serviceable",
    }
    Activity {
        Diagnosis = "diagnosis",
        Access = "access",
        Repair = "repair",
        Reassembly = "reassembly",
        Proof = "proof",
    }
    Access {
        None = "nothing",
        Light = "a cap or a plug connector",
        Lift = "on the lift",
        Wheels = "wheels off",
        Rack = "on the rack",
        PlugsOut = "plugs out",
        Cover = "a cover off",
        Deep = "below a cover",
        Varies = "it varies",
        Trained = "trained people only",
    }
    WorkedAs {
        Lead = "lead",
        Helper = "helper",
        Trainee = "trainee",
    }
    Payer {
        Customer = "customer",
        Maker = "manufacturer",
        Supplier = "supplier",
        OwnGuarantee = "shop warranty",
        Goodwill = "goodwill",
        Internal = "internal",
    }
    CauseState {
        Suspected = "suspected",
        Confirmed = "confirmed",
    }
    LinkState {
        Proposed = "proposed",
        Confirmed = "confirmed",
        Rejected = "rejected",
    }
}

/// What a job waits for, as choices.
#[must_use]
pub fn waits() -> Vec<Pick> {
    let label = |word: &str| match word {
        "customer" => "the customer".to_owned(),
        "sublet" => "sublet work".to_owned(),
        other => format!("a {other}"),
    };
    crate::jobs::model::WAITS.iter().map(|word| Pick::new(*word, label(word))).collect()
}

/// The label of a value among choices; the value itself where it is none of
/// them.
#[must_use]
pub fn label_of(picks: &[Pick], value: &str) -> String {
    picks
        .iter()
        .find(|pick| pick.value == value)
        .map_or_else(|| value.to_owned(), |p| p.label.clone())
}

/// Ways to prove a repair, as choices.
#[must_use]
pub fn ways() -> Vec<Pick> {
    crate::jobs::proofs::WAYS.iter().map(|way| Pick::new(*way, way.replace('_', " "))).collect()
}

/// Units for readings: UCUM code and what people call it. The codes are those
/// of the Unified Code for Units of Measure, version 2.1.
const UNITS: &[(&str, &str)] = &[
    ("V", "V"),
    ("A", "A"),
    ("mA", "mA"),
    ("Ohm", "ohm"),
    ("kPa", "kPa"),
    ("bar", "bar"),
    ("[psi]", "psi"),
    ("[in_i'Hg]", "inHg"),
    ("Cel", "°C"),
    ("[degF]", "°F"),
    ("mm", "mm"),
    ("[in_i]", "in"),
    ("s", "s"),
    ("ms", "ms"),
    ("/min", "per minute"),
    ("%", "%"),
    ("N.m", "N·m"),
    ("[ft_i].[lbf_av]", "lb·ft"),
    ("L/min", "L/min"),
    ("1", "no unit"),
];

/// The units as choices.
#[must_use]
pub fn units() -> Vec<Pick> {
    UNITS.iter().map(|(code, name)| Pick::new(*code, *name)).collect()
}

/// A reading with its unit, as people write it.
#[must_use]
pub fn reading(value: f64, unit: Option<&str>) -> String {
    match unit.unwrap_or("1") {
        "1" => value.to_string(),
        "[mi_i]" => format!("{value} mi"),
        unit => {
            let name = UNITS.iter().find(|(code, _)| *code == unit).map_or(unit, |(_, name)| name);
            format!("{value} {name}")
        }
    }
}

/// An odometer with thousands apart.
#[must_use]
pub fn odometer(value: i64, unit: &str) -> String {
    let value = thousands(&value.to_string());
    format!("{value} {}", if unit == "[mi_i]" { "mi" } else { unit })
}

/// Minutes as hours and minutes.
#[must_use]
pub fn duration(minutes: i64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// A number with its noun: `1 job`, `3 jobs`.
#[must_use]
pub fn counted(count: i64, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_people_write_them() {
        assert_eq!(odometer(128_450, "[mi_i]"), "128,450 mi");
        assert_eq!(odometer(950, "km"), "950 km");
        assert_eq!(reading(12.4, Some("V")), "12.4 V");
        assert_eq!(reading(1.254, Some("1")), "1.254");
        assert_eq!(duration(95), "1 h 35 min");
        assert_eq!(counted(1, "job", "jobs"), "1 job");
    }

    #[test]
    fn every_wait_reads_as_people_say_it() {
        let said: Vec<String> = waits().into_iter().map(|pick| pick.label).collect();
        assert_eq!(said, ["a part", "the customer", "sublet work", "a bay"]);
    }
}
