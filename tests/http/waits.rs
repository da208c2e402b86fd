//! Waiting is no clock time.

use serde_json::{Value, json};

use crate::support::html::form;
use crate::support::visit::{open, repaired, text};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    a_wait_stops_labor_and_labor_ends_the_wait,
    one_wait_at_a_time,
    the_short_way_is_the_same_wait,
    closing_ends_the_wait,
    a_wait_on_the_page,
);

fn waits(client: &Client, job: &str) -> Vec<Value> {
    let whole = client.get(&format!("jobs/{job}")).expect(200).json();
    let running = whole["waits"].as_array().unwrap().iter().filter(|wait| wait["to_at"].is_null());
    // The job says what it waits for as long as a wait runs.
    assert_eq!(running.count(), usize::from(whole["waiting_for"].is_string()), "{whole}");
    whole["waits"].as_array().unwrap().clone()
}

fn a_wait_stops_labor_and_labor_ends_the_wait(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (_, job) = open(&technician, "WA 1", "engine.stalls");
    let at = format!("jobs/{job}");
    technician.post(&format!("{at}/labor"), &json!({})).expect(201);
    let far =
        json!({ "waiting_for": "part", "note": "coil on order", "expected_on": "2199-01-01" });
    let wait = technician.post(&format!("{at}/waits"), &far).expect(201).json();
    assert_eq!((&wait["note"], &wait["to_at"]), (&json!("coil on order"), &Value::Null));
    let whole = technician.get(&at).json();
    assert_eq!(whole["waiting_for"], "part");
    assert_eq!(whole["labor"][0]["ended_at"], wait["from_at"]);
    let again = technician.post(&format!("{at}/labor"), &json!({})).expect(201).json();
    let row = waits(&technician, &job);
    assert_eq!((row.len(), &row[0]["to_at"]), (1, &again["started_at"]));
    let past = json!({ "waiting_for": "part", "expected_on": "2020-01-01" });
    assert_eq!(technician.post(&format!("{at}/waits"), &past).pointers(), ["/expected_on"]);
    let odd = json!({ "waiting_for": "godot" });
    assert_eq!(technician.post(&format!("{at}/waits"), &odd).pointers(), ["/waiting_for"]);
    // What was refused stopped nobody's time.
    assert_eq!(shops.place.count("FROM labor_entry WHERE ended_at IS NULL"), 1);
}

fn one_wait_at_a_time(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (_, job) = open(&technician, "WA 2", "engine.stalls");
    let at = format!("jobs/{job}/waits");
    let first = technician.post(&at, &json!({ "waiting_for": "bay" })).expect(201).json();
    technician.post(&at, &json!({ "waiting_for": "customer" })).problem(409, "conflict");
    let end = format!("{at}/{}/end", text(&first["id"]));
    let ended = technician.post(&end, &json!({})).expect(200).json();
    assert!(ended["to_at"].is_string());
    technician.post(&end, &json!({})).problem(409, "conflict");
    technician.post(&at, &json!({ "waiting_for": "customer" })).expect(201);
    let rows = waits(&technician, &job);
    assert_eq!(rows.len(), 2);
    assert!(text(&rows[0]["to_at"]) <= text(&rows[1]["from_at"]));
}

fn the_short_way_is_the_same_wait(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (_, job) = open(&adviser, "WA 3", "engine.stalls");
    let at = format!("jobs/{job}");
    for (word, rows, running) in [
        (json!("part"), 1, 1),
        (json!("part"), 1, 1),
        (json!("customer"), 2, 1),
        (Value::Null, 2, 0),
    ] {
        let now = adviser.patch(&at, &json!({ "waiting_for": word })).expect(200).json();
        assert_eq!(now["waiting_for"], word);
        let waits = waits(&adviser, &job);
        let open = waits.iter().filter(|wait| wait["to_at"].is_null()).count();
        assert_eq!((waits.len(), open), (rows, running), "{word}");
    }
    assert_eq!(shops.place.count("FROM record_change WHERE record = 'wait'"), 4);
}

fn closing_ends_the_wait(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (_, job) = open(&technician, "WA 4", "engine.stalls");
    let at = format!("jobs/{job}");
    technician.post(&format!("{at}/waits"), &json!({ "waiting_for": "sublet" })).expect(201);
    technician.settle(&at, "closure", &repaired("air-filter")).expect(200);
    let rows = waits(&technician, &job);
    assert!(rows[0]["to_at"].is_string());
    let late = technician.post(&format!("{at}/waits"), &json!({ "waiting_for": "part" }));
    late.problem(409, "conflict");
}

fn a_wait_on_the_page(shops: &Shops) {
    let (_, job) = open(&shops.person("technician.north"), "WA 5", "engine.stalls");
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get(&format!("jobs/{job}")).expect(200);
    let asked = form(&page, "/waits").fill("waiting_for", "part").fill("expected_on", "2199-01-01");
    let waiting = asked.follow(&technician);
    assert!(waiting.body.contains("waits for a part") && waiting.body.contains("2199"));
    let over = form(&waiting, "/end").follow(&technician);
    assert!(over.body.contains("waited for a part"));
}
