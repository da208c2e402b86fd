//! Trying a write out: everything is checked, nothing is kept.

use serde_json::{Value, json};

use crate::support::visit::{open, repaired, text, write_up};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    a_trial_answers_like_the_write_and_keeps_nothing,
    a_trial_refuses_what_the_write_refuses,
    a_trial_uses_no_key_up,
    what_cannot_be_tried_says_so,
);

/// Everything that is in the record, counted.
fn counted(shops: &Shops) -> Vec<i64> {
    let tables = [
        "repair_order",
        "job",
        "vehicle",
        "job_check",
        "idempotency_key",
        "comeback",
        "code_entry",
        "person",
        "shop",
        "record_change",
    ];
    tables.iter().map(|table| shops.place.count(&format!("FROM {table}"))).collect()
}

fn numbers(shops: &Shops) -> Vec<String> {
    shops.place.lines(
        "SELECT CAST(change_no AS TEXT) || ' ' || CAST(order_number AS TEXT) AS line \
         FROM shop_counter ORDER BY shop_id",
    )
}

fn shape(value: &Value) -> Vec<String> {
    value.as_object().unwrap().keys().cloned().collect()
}

fn a_trial_answers_like_the_write_and_keeps_nothing(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, "DR 1", "engine.stalls");
    let made: [(&str, String, Value); 6] = [
        ("POST", "orders".to_owned(), write_up("DR 2", "engine.stalls")),
        ("POST", "vehicles".to_owned(), json!({ "plate": "DR 3" })),
        (
            "POST",
            format!("orders/{order}/jobs"),
            json!({ "complaint": "ticks", "symptom": "engine.tick" }),
        ),
        ("POST", format!("jobs/{job}/checks"), json!({ "code": "road-test" })),
        ("PATCH", format!("jobs/{job}"), json!({ "bay": "4" })),
        ("POST", format!("jobs/{job}/closure"), repaired("air-filter")),
    ];
    for (method, path, body) in made {
        let thing = path.trim_end_matches("/closure");
        let tag = if thing.starts_with("jobs/") && !thing.ends_with("checks") {
            manager.get(thing).tag()
        } else {
            String::new()
        };
        let send = |query: &str| {
            let call = manager.call(method, &format!("{path}{query}")).json(&body).new_key();
            if tag.is_empty() { call.send() } else { call.if_match(&tag).send() }
        };
        let before = (counted(shops), numbers(shops));
        let tried = send("?dry_run=true").expect(200);
        assert_eq!((counted(shops), numbers(shops)), before, "{path}");
        assert_eq!((tried.header("location"), tried.header("etag")), ("", ""), "{path}");
        let wrote = send("?dry_run=false");
        assert!([200, 201].contains(&wrote.status), "{path}: {}", wrote.body);
        assert_eq!(shape(&tried.json()), shape(&wrote.json()), "{path}");
    }
    let administrator = shops.person("administrator.riverside");
    let shop = json!({
        "code": "tried", "name": "Tried", "time_zone": "America/Chicago", "currency": "USD",
        "labor_cost_minor": 9000, "posted_rate_minor": 14000,
    });
    let before = counted(shops);
    administrator.post("/api/v1/shops?dry_run=true", &shop).expect(200);
    assert_eq!(counted(shops), before);
}

fn refused(client: &Client, path: &str, body: &Value) -> (u16, Value) {
    let real = client.post(path, body);
    let tried = client.post(&format!("{path}?dry_run=true"), body);
    assert_eq!((tried.status, tried.json()), (real.status, real.json()), "{path}");
    (tried.status, tried.json())
}

fn a_trial_refuses_what_the_write_refuses(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (_, job) = open(&adviser, "DR 4", "engine.stalls");
    assert_eq!(refused(&adviser, "orders", &write_up("DR 5", "engine.sulks")).0, 422);
    assert_eq!(refused(&adviser, "people", &json!({})).0, 403);
    assert_eq!(refused(&adviser, &format!("jobs/{job}/closure"), &json!({})).0, 422);
    let keyless =
        adviser.call("POST", "orders?dry_run=true").json(&write_up("DR 6", "engine.stalls"));
    keyless.send().problem(400, "idempotency-key-missing");
}

fn a_trial_uses_no_key_up(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let send = |query: &str, plate: &str| {
        let body = write_up(plate, "engine.stalls");
        adviser.call("POST", &format!("orders{query}")).json(&body).key("tried first").send()
    };
    send("?dry_run=true", "DR 7").expect(200);
    send("?dry_run=true", "DR 8").expect(200);
    let wrote = send("", "DR 8").expect(201);
    // The key is spent now: a trial of the same request tells what was done.
    let again = send("?dry_run=true", "DR 8").expect(200);
    assert_eq!(text(&again.json()["id"]), text(&wrote.json()["id"]));
    send("?dry_run=true", "DR 7").problem(422, "idempotency-key-reused");
}

fn what_cannot_be_tried_says_so(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let body = json!({ "sign_in_name": "adviser.north", "password": "x" });
    let sessions = shops.place.count("FROM session");
    assert_eq!(adviser.post("/api/v1/sessions?dry_run=true", &body).pointers(), ["dry_run"]);
    let out = adviser.call("DELETE", "/api/v1/sessions/current?dry_run=true").send();
    assert_eq!(out.pointers(), ["dry_run"]);
    assert_eq!(shops.place.count("FROM session"), sessions);
    let orders = shops.place.count("FROM repair_order");
    for (query, pointer) in [
        ("dry_run=yes", "dry_run"),
        ("dry_run", "dry_run"),
        ("dry_run=false&dry_run=true", "dry_run"),
        ("Dry_run=true", "Dry_run"),
        ("dryrun=true", "dryrun"),
    ] {
        let odd = adviser.post(&format!("orders?{query}"), &write_up("DR 9", "engine.stalls"));
        assert_eq!(odd.pointers(), [pointer], "{query}");
    }
    assert_eq!(shops.place.count("FROM repair_order"), orders);
}
