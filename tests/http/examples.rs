//! Every operation of the document has an example, and every example runs.
//!
//! A step of `openapi/examples.json` names an operation and who asks; `path`,
//! `query` and `body` say what is sent, `on` the address whose version the
//! request is made on, `capture` what later steps take from the answer as
//! `{{name}}`. A part of the address that `path` leaves out is the captured
//! value of its name. `answer` is what the reference shows: where it has not
//! the shape of the program's answer, the test writes the file anew and says
//! where.

use serde_json::{Value, json};

use crate::support::examples::Examples;
use crate::support::{Shops, on_each_database};

on_each_database!(every_example_runs);

fn every_example_runs(shops: &Shops) {
    let mut examples = Examples::of(shops);
    let mut steps = examples.steps().to_vec();
    let mut differing = Vec::new();
    let mut missing: Vec<String> = examples.operations.keys().cloned().collect();
    for (place, step) in steps.iter_mut().enumerate() {
        let request = examples.request(shops, step);
        let (name, answer) = (request.name.to_owned(), request.send());
        missing.retain(|other| *other != name);
        assert_eq!(
            answer.status,
            step["status"].as_u64().unwrap() as u16,
            "step {place}, {name}: {}",
            answer.body
        );
        if answer.body.is_empty() {
            continue;
        }
        examples.keep(step, &answer);
        let short = shortened(&answer.json());
        if !step.get("answer").is_some_and(|kept| alike(kept, &short)) {
            differing.push(name);
            step["answer"] = short;
        }
    }
    assert!(missing.is_empty(), "no example of {missing:?}");
    if !differing.is_empty() {
        let place = format!("{}/examples.json", env!("CARGO_TARGET_TMPDIR"));
        let mut file = examples.file.clone();
        file["steps"] = steps.into();
        let text = format!("{}\n", serde_json::to_string_pretty(&file).unwrap());
        std::fs::write(&place, text).unwrap();
        panic!("other answers to {differing:?}: take over {place} as openapi/examples.json");
    }
}

/// Enough of an answer to see what it is: of a list its first item.
fn shortened(answer: &Value) -> Value {
    match answer {
        Value::Array(items) => items.iter().take(1).map(shortened).collect(),
        Value::Object(fields) => {
            let told = |name: &str, field| match name {
                // Even a test's secrets are not printed.
                "token" => json!("onetrip_..."),
                _ => shortened(field),
            };
            fields.iter().map(|(name, field)| (name.clone(), told(name, field))).collect()
        }
        other => other.clone(),
    }
}

/// Whether two answers have the same fields, and values of the same kinds.
fn alike(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Null, _) | (_, Value::Null) => true,
        (Value::Array(one), Value::Array(other)) => match (one.first(), other.first()) {
            (Some(one), Some(other)) => alike(one, other),
            _ => true,
        },
        (Value::Object(one), Value::Object(other)) => {
            one.len() == other.len()
                && one
                    .iter()
                    .all(|(name, field)| other.get(name).is_some_and(|same| alike(field, same)))
        }
        _ => std::mem::discriminant(one) == std::mem::discriminant(other),
    }
}

#[test]
fn answers_are_compared_by_their_shape() {
    let kept = json!({ "id": "a", "lines": [{ "n": 1 }], "note": null });
    assert!(alike(&kept, &json!({ "id": "b", "lines": [], "note": "x" })));
    assert!(!alike(&kept, &json!({ "id": "b", "lines": [{ "m": 1 }], "note": "x" })));
    assert!(!alike(&kept, &json!({ "id": 3, "lines": [], "note": "x" })));
}
