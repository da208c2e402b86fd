//! Fields of the record as people name them, and the words of fixed lists in
//! them.

use analytics::words::{Disposition, Finding, Outcome, PartRole, Payer, Serviceable, WorkedAs};

use crate::web::words::Shown;

/// A field's name as people say it; its unit goes with the value.
#[must_use]
pub fn label(name: &str) -> String {
    let whole = match name {
        "told" => Some("what was told"),
        "closed_at" => Some("handed over"),
        "order_no" => Some("order number"),
        "part_no" => Some("part number"),
        _ => None,
    };
    if let Some(whole) = whole {
        return whole.to_owned();
    }
    let bare = ["_minor", "_hundredths", "_permille", "_id", "_at", "_on"]
        .iter()
        .find_map(|end| name.strip_suffix(end))
        .unwrap_or(name);
    match bare {
        "vin" => "VIN".to_owned(),
        "cause_how" => "how the cause was confirmed".to_owned(),
        "happens_when" => "when it happens".to_owned(),
        "again_reason" => "why it was cleaned again".to_owned(),
        "pin" => "PIN".to_owned(),
        other => other.replace('_', " "),
    }
}

/// A word of a fixed list, as every page has it; `None` where the field holds
/// none.
#[must_use]
pub fn fixed(field: &str, word: &str) -> Option<String> {
    let known = match field {
        "disposition" => Disposition::parse(word).map(Shown::shown),
        "outcome" => Outcome::parse(word).map(Shown::shown),
        "payer" => Payer::parse(word).map(Shown::shown),
        "worked_as" => WorkedAs::parse(word).map(Shown::shown),
        "role" => PartRole::parse(word).map(Shown::shown),
        "finding" => Finding::parse(word).map(Shown::shown),
        "serviceable" => Serviceable::parse(word).map(Shown::shown),
        _ => None,
    };
    let bare = || FIXED.contains(&field).then(|| word.replace('_', " "));
    known.map(str::to_owned).or_else(bare)
}

/// Fields that hold words of a fixed list.
const FIXED: &[&str] = &[
    "status",
    "kind",
    "outcome",
    "cause_state",
    "waiting_for",
    "finding",
    "disposition",
    "role",
    "serviceable",
    "activity",
    "worked_as",
    "payer",
    "state",
    "told",
    "how",
    "origin",
    "curable",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fixed_words_are_those_of_the_other_pages() {
        for (field, word, said) in [
            ("disposition", "cleaned_reused", "cleaned and reused"),
            ("role", "damaged", "damaged by the fault"),
            ("role", "service_manager", "service manager"),
            ("cause_state", "confirmed", "confirmed"),
            ("how", "road_test", "road test"),
        ] {
            assert_eq!(fixed(field, word).as_deref(), Some(said));
        }
        assert_eq!(fixed("note", "part_of it"), None);
    }
}
