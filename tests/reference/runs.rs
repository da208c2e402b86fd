//! Nelson (1984), Western Electric (1956) on a constructed sequence.

use analytics::stats::runs::{NELSON, Rule, WESTERN_ELECTRIC};
use serde_json::Value;

use crate::files::{case, tell};

/// The rule's list in a case, by the set it belongs to and its number there.
fn listed(expected: &Value, set: &str, number: usize) -> Vec<usize> {
    let start = format!("{set}_{number}_");
    let (_, list) =
        expected.as_object().unwrap().iter().find(|(key, _)| key.starts_with(&start)).unwrap();
    let place = |value: &Value| usize::try_from(value.as_u64().unwrap()).unwrap();
    list.as_array().unwrap().iter().map(place).collect()
}

fn check(case: &Value, set: &str, rules: &[Rule]) {
    let z: Vec<f64> =
        case["input"]["z"].as_array().unwrap().iter().map(|z| z.as_f64().unwrap()).collect();
    assert_eq!(z.len(), 64);
    for (number, rule) in (1..).zip(rules) {
        let ours: Vec<usize> = rule.met_at(&z).into_iter().map(|at| at + 1).collect();
        let theirs = listed(&case["expected"], set, number);
        assert!(!theirs.is_empty());
        assert_eq!(ours, theirs, "{set} {number}, {}", rule.name());
    }
}

#[test]
fn rules_on_a_constructed_sequence() {
    let case = case("o25-run-rules");
    check(&case, "nelson", &NELSON);
    check(&case, "western_electric", &WESTERN_ELECTRIC);
    tell("o25-run-rules");
}
