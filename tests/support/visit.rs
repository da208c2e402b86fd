//! The usual steps of a visit.

use serde_json::{Value, json};

use super::client::Client;

pub fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_else(|| panic!("no text: {value}"))
}

/// A write-up of one complaint on a vehicle known by its plate.
pub fn write_up(plate: &str, symptom: &str) -> Value {
    json!({
        "vehicle": { "plate": plate },
        "jobs": [{ "symptom": symptom, "complaint": "it shakes at the lights" }],
    })
}

/// Opens an order with one job: the order's id and the job's.
pub fn open(client: &Client, plate: &str, symptom: &str) -> (String, String) {
    let order = client.post("orders", &write_up(plate, symptom)).expect(201).json();
    (text(&order["id"]).to_owned(), text(&order["jobs"][0]["id"]).to_owned())
}

/// A close that owes nothing.
pub fn repaired(cause: &str) -> Value {
    json!({
        "outcome": "repaired", "cause": cause, "cause_how": "reading before and after",
        "correction": "cleaned and refitted",
    })
}

/// Closes the job and hands the vehicle over.
pub fn finish(client: &Client, order: &str, job: &str, cause: &str) -> Value {
    client.settle(&format!("jobs/{job}"), "closure", &repaired(cause)).expect(200);
    client.settle(&format!("orders/{order}"), "closure", &json!({})).expect(200).json()
}

/// The id of somebody of the shop, by name.
pub fn person(client: &Client, name: &str) -> String {
    let people = client.get("people").expect(200).json();
    let items = people["items"].as_array().unwrap();
    let found = items.iter().find(|item| item["name"] == name);
    text(&found.unwrap_or_else(|| panic!("no {name}: {people}"))["id"]).to_owned()
}
