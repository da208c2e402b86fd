//! Every operation of the document has an example, and every example runs.
//!
//! A step of `openapi/examples.json` names an operation and who asks; `path`,
//! `query` and `body` say what is sent, `on` the address whose version the
//! request is made on, `capture` what later steps take from the answer as
//! `{{name}}`. A part of the address that `path` leaves out is the captured
//! value of its name. `answer` is what the reference shows: where it has not
//! the shape of the program's answer, the test writes the file anew and says
//! where.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use crate::support::{Answer, Shops, on_each_database};

on_each_database!(every_example_runs);

const FILE: &str = include_str!("../../openapi/examples.json");

/// An operation of the document.
struct Operation {
    method: String,
    path: String,
    keyed: bool,
    patched: bool,
}

fn operations(document: &Value) -> BTreeMap<String, Operation> {
    let mut found = BTreeMap::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let keyed = operation["parameters"]
                .as_array()
                .is_some_and(|all| all.iter().any(|p| p["name"] == "Idempotency-Key"));
            let id = operation["operationId"].as_str().unwrap().to_owned();
            let (method, path) = (method.to_uppercase(), path.clone());
            let patched = method == "PATCH";
            found.insert(id, Operation { method, path, keyed, patched });
        }
    }
    found
}

/// What earlier steps told.
type Told = BTreeMap<String, String>;

fn filled(value: &Value, told: &Told) -> Value {
    match value {
        Value::String(text) => Value::String(filled_text(text, told)),
        Value::Array(items) => items.iter().map(|item| filled(item, told)).collect(),
        Value::Object(fields) => {
            fields.iter().map(|(name, field)| (name.clone(), filled(field, told))).collect()
        }
        other => other.clone(),
    }
}

fn filled_text(text: &str, told: &Told) -> String {
    let mut text = text.to_owned();
    for (name, value) in told {
        text = text.replace(&format!("{{{{{name}}}}}"), value);
    }
    assert!(!text.contains("{{"), "no earlier step tells {text}");
    text
}

fn address(step: &Value, operation: &Operation, told: &Told) -> String {
    let part = |part: &str| {
        let Some(name) = part.strip_prefix('{').and_then(|p| p.strip_suffix('}')) else {
            return part.to_owned();
        };
        match step["path"].get(name) {
            Some(value) => filled_text(value.as_str().unwrap(), told),
            None => told.get(name).unwrap_or_else(|| panic!("no value for {name}: {step}")).clone(),
        }
    };
    let path: Vec<String> = operation.path.split('/').map(part).collect();
    let query: Vec<String> = step["query"]
        .as_object()
        .into_iter()
        .flatten()
        .map(|(name, value)| {
            let value = filled_text(value.as_str().unwrap(), told);
            format!("{name}={}", crate::support::client::encoded(&value))
        })
        .collect();
    if query.is_empty() {
        path.join("/")
    } else {
        format!("{}?{}", path.join("/"), query.join("&"))
    }
}

fn send(shops: &Shops, step: &Value, operation: &Operation, told: &Told) -> Answer {
    let role = step["as"].as_str().unwrap();
    let client = match role {
        "nobody" => shops.stranger(),
        "owner" | "administrator" => shops.person(&format!("{role}.riverside")),
        role => shops.person(&format!("{role}.north")),
    };
    let mut call = client.call(&operation.method, &address(step, operation, told));
    if let Some(body) = step.get("body") {
        let body = filled(body, told);
        call = if operation.patched {
            call.body(body.to_string(), "application/merge-patch+json")
        } else {
            call.json(&body)
        };
    }
    if let Some(thing) = step["on"].as_str() {
        let below = filled_text(thing, told);
        let path = format!("/api/v1/shops/{}/{below}", told["shop"]);
        call = call.if_match(&client.get(path.trim_end_matches('/')).expect(200).tag());
    }
    if operation.keyed {
        call = call.new_key();
    }
    call.send()
}

fn every_example_runs(shops: &Shops) {
    let document = shops.stranger().get("/openapi.json").expect(200).json();
    let operations = operations(&document);
    let mut file: Value = serde_json::from_str(FILE).unwrap();
    let steps = file["steps"].as_array_mut().unwrap();
    let mut told = Told::from([("shop".to_owned(), shops.id("north").to_owned())]);
    let mut differing = Vec::new();
    let mut missing: Vec<&str> = operations.keys().map(String::as_str).collect();
    for (place, step) in steps.iter_mut().enumerate() {
        let name = step["operation"].as_str().unwrap().to_owned();
        let operation =
            operations.get(&name).unwrap_or_else(|| panic!("step {place}: no operation {name}"));
        missing.retain(|other| *other != name);
        let answer = send(shops, step, operation, &told);
        assert_eq!(
            answer.status,
            step["status"].as_u64().unwrap() as u16,
            "step {place}, {name}: {}",
            answer.body
        );
        if answer.body.is_empty() {
            continue;
        }
        let answer = answer.json();
        for (name, pointer) in step["capture"].as_object().into_iter().flatten() {
            let value = answer.pointer(pointer.as_str().unwrap());
            let value = value.and_then(Value::as_str);
            let value = value.unwrap_or_else(|| panic!("step {place}: no {pointer}: {answer}"));
            told.insert(name.clone(), value.to_owned());
        }
        let short = shortened(&answer);
        if !step.get("answer").is_some_and(|kept| alike(kept, &short)) {
            differing.push(name);
            step["answer"] = short;
        }
    }
    assert!(missing.is_empty(), "no example of {missing:?}");
    if !differing.is_empty() {
        let place = format!("{}/examples.json", env!("CARGO_TARGET_TMPDIR"));
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
