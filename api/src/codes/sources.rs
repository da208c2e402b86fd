//! What each list is for, and where its starting entries come from. The codes
//! are our own throughout: no published coding key is used.

/// What is told of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct About {
    pub list: &'static str,
    /// What people call it.
    pub label: &'static str,
    pub purpose: &'static str,
    /// Where its starting entries come from.
    pub source: &'static str,
}

/// Every list, in the order in which a job meets it.
pub const ABOUT: &[About] = &[
    About {
        list: "symptom",
        label: "Symptoms",
        purpose: "What the customer complains of: a system of the vehicle and how it shows. \
                  Comebacks are looked for, and shares are counted, by symptom.",
        source: "Our own list in plain trade words. Those that a public US Army troubleshooting \
                 chart covers name it.",
    },
    About {
        list: "system",
        label: "Systems",
        purpose: "The part of the vehicle that a symptom belongs to.",
        source: "Our own arrangement in plain trade words; no published coding key is used.",
    },
    About {
        list: "when",
        label: "When it happens",
        purpose: "The conditions under which a complaint shows; several may hold at once.",
        source: "Our own list in plain trade words.",
    },
    About {
        list: "check",
        label: "Checks",
        purpose: "The steps of a diagnosis. Their typical minutes serve until the shop has \
                  medians of its own.",
        source: "Common practice in the trade, under our own codes; the minutes are our \
                 estimates. Checks that a public US Army manual describes name it.",
    },
    About {
        list: "cause",
        label: "Causes",
        purpose: "Why the complaint was there, and whether cleaning cures it.",
        source: "Our own list in plain trade words. Whether cleaning cures a cause is our \
                 estimate: dirt may be cured by cleaning, wear is not.",
    },
    About {
        list: "comeback_reason",
        label: "Comeback reasons",
        purpose: "Why a vehicle came back, as the manager decides it, and whose doing it is \
                  taken to be.",
        source: "Common practice in the trade, under our own codes. Whose doing each is taken to \
                 be is a starting value.",
    },
    About {
        list: "operation",
        label: "Operations",
        purpose: "What is charged on a job, with flat-rate hours.",
        source: "Empty at first: operations come with imported files or are added here.",
    },
];

/// What is told of that list.
#[must_use]
pub fn about(list: &str) -> Option<&'static About> {
    ABOUT.iter().find(|about| about.list == list)
}

/// Starting entries that a public document stands behind. Codes, wording and
/// minutes are our own all the same.
const PUBLISHED: &[(&str, &str, &str)] = &[
    ("symptom", "charge.battery-flat", "TM 5-3805-254-20-1, malfunction 26"),
    ("symptom", "start.no-crank", "TM 5-3805-254-20-1, malfunction 3"),
    ("symptom", "engine.tick", "TM 5-4210-230-14&P-1, hydraulic valve lifters"),
    ("symptom", "engine.uses-oil", "TM 5-4210-230-14&P-1, chart 16"),
    ("symptom", "engine.oil-pressure", "TM 9-2320-272-24-2, table 4-1, malfunction 7"),
    ("symptom", "cooling.overheats", "TM 5-4320-234-12, malfunction 5"),
    ("symptom", "brakes.pull", "TM 9-2320-272-24-1, table 2-4, malfunction 4"),
    ("symptom", "steering.wanders", "TM 9-2320-272-24-1, table 2-2, malfunction 49"),
    ("symptom", "steering.vibration", "TM 9-2320-260-20, table 2-2, malfunction 42"),
    ("symptom", "tires.wear", "TM 9-2320-260-20, table 2-2, malfunction 41"),
    ("check", "interview-reproduce", "Army subcourse OD1662, lesson 1"),
    ("check", "terminals-resting-voltage", "TM 5-3805-262-20, page 5-142"),
    ("check", "battery-load", "TM 10-3930-671-24"),
    ("check", "gravity-six-cells", "TM 9-6140-200-14"),
    ("check", "charging-voltage", "TM 5-3805-254-20-1, malfunction 26"),
    ("check", "key-off-drain", "TM 5-3805-254-20-1, malfunction 26"),
    ("check", "voltage-drop-cranking", "TM 10-3930-671-24"),
    ("check", "starter-control", "TM 5-3805-254-20-1, malfunction 3"),
    ("check", "compression", "TM 5-4210-230-14&P-1, addendum 2"),
    ("check", "vacuum-gauge", "Army subcourse OD1001, lesson 3"),
    ("check", "oil-pressure", "TM 9-2320-272-24-2, table 4-1, malfunction 7"),
    ("check", "cooling-pressure", "TM 5-3805-291-23-1 and TM 9-2320-312-24-2"),
    ("check", "cranking-look", "TM 10-3930-671-24"),
    ("check", "belt-look", "TM 10-3930-671-24"),
    ("check", "oil-condition", "TM 5-4210-230-14&P-1, hydraulic valve lifters"),
    ("check", "oil-consumption", "TM 5-4210-230-14&P-1, chart 16"),
    ("check", "breather-look", "TM 5-4210-230-14&P-1, chart 16"),
    ("check", "radiator-airflow", "TM 5-4320-234-12, malfunction 5"),
    ("check", "tire-pressures", "TM 9-2320-272-24-1, table 2-2, malfunction 49"),
    ("check", "wheel-drag", "TM 9-2320-272-24-1, table 2-2, malfunction 49"),
    ("check", "wheel-look", "TM 9-2320-260-20, table 2-2, malfunction 42"),
    ("check", "brake-strip", "TM 9-2320-272-24-1, table 2-4, malfunction 4"),
];

/// Where a starting entry comes from.
#[must_use]
pub fn of_entry(list: &str, code: &str) -> String {
    let published = PUBLISHED.iter().find(|(of, entry, _)| *of == list && *entry == code);
    match (list, published) {
        ("check", Some((_, _, document))) => format!(
            "Described in a public US Army document ({document}); code, wording and minutes are \
             our own."
        ),
        (_, Some((_, _, document))) => format!(
            "Covered by a public US Army document ({document}); code and wording are our own."
        ),
        ("check", None) => {
            "Common practice in the trade; code, wording and minutes are our own.".to_owned()
        }
        ("comeback_reason", None) => {
            "Common practice in the trade; code and wording are our own.".to_owned()
        }
        ("cause", None) => {
            "Our own entry in plain trade words; whether cleaning cures it is our estimate."
                .to_owned()
        }
        (_, None) => "Our own entry in plain trade words.".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::starting::{CHECKS, SYMPTOMS};
    use super::*;
    use crate::domain::codes::LISTS;

    #[test]
    fn every_list_is_told_of_once() {
        for list in LISTS {
            assert_eq!(ABOUT.iter().filter(|about| about.list == *list).count(), 1, "{list}");
        }
        assert_eq!(ABOUT.len(), LISTS.len());
    }

    #[test]
    fn published_sources_name_starting_entries_and_fit_their_column() {
        for (list, code, _) in PUBLISHED {
            let known = match *list {
                "symptom" => SYMPTOMS.iter().any(|entry| entry.code == *code),
                "check" => CHECKS.iter().any(|entry| entry.code == *code),
                _ => false,
            };
            assert!(known, "{list} {code}");
            let told = of_entry(list, code);
            assert!(told.contains("public US Army document") && told.len() <= 400, "{told}");
        }
        assert!(!of_entry("check", "road-test").contains("Army"));
    }
}
