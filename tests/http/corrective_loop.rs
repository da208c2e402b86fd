//! The loop of failure reporting, analysis and corrective action (MIL-HDBK-2155, 11
//! December 1995, section 5.1): one comeback goes through every element of it, and
//! each is read back from where it stands. The failure report identifies the failed
//! item, the symptoms, the conditions, what the vehicle itself had stored and the
//! operating time at the failure; failures are verified; repairs and their times are
//! recorded; the analysis goes to the cause; the correction is followed up until it is
//! shown to prevent the failure, and closed out.

use chrono::{Duration, NaiveDate};
use serde_json::{Value, json};

use crate::support::visit::{person, repaired, text, write_up};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(every_element_of_the_loop_has_its_place);

/// A write-up with an odometer: order and job.
fn visit(client: &Client, odometer: i64) -> (String, String) {
    let mut visit = write_up("FR 1", "engine.stalls");
    visit["odometer_in"] = json!(odometer);
    visit["odometer_unit"] = json!("km");
    visit["jobs"][0]["happens_when"] = json!(["cold-start"]);
    let order = client.post("orders", &visit).expect(201).json();
    (text(&order["id"]).to_owned(), text(&order["jobs"][0]["id"]).to_owned())
}

/// Half an hour on the clock, up to some minutes before the visit was written up.
fn half_an_hour(client: &Client, order: &str, job: &str, before: i64) {
    let opened = client.get(&format!("orders/{order}")).json()["opened_at"].clone();
    let opened = chrono::DateTime::parse_from_rfc3339(text(&opened)).unwrap();
    let stretch = json!({
        "activity": "repair",
        "started_at": (opened - Duration::minutes(before + 30)).to_rfc3339(),
        "ended_at": (opened - Duration::minutes(before)).to_rfc3339(),
    });
    client.post(&format!("jobs/{job}/labor"), &stretch).expect(201);
}

/// The first repair, twenty days ago, and the comeback with its repair: the earlier
/// job, the later, the comeback.
fn record(shops: &Shops, manager: &Client) -> (String, String, String) {
    let (order, earlier) = visit(manager, 40_000);
    let lead = person(manager, "technician of north");
    manager.patch(&format!("jobs/{earlier}"), &json!({ "lead_id": lead })).expect(200);
    half_an_hour(manager, &order, &earlier, 60);
    let looked = json!({ "code": "road-test", "finding": "abnormal" });
    manager.post(&format!("jobs/{earlier}/checks"), &looked).expect(201);
    manager.settle(&format!("jobs/{earlier}"), "closure", &repaired("air-filter")).expect(200);
    let closed = manager.settle(&format!("orders/{order}"), "closure", &json!({})).expect(200);
    let day: NaiveDate = text(&closed.json()["closed_on"]).parse().unwrap();
    let ago = day - Duration::days(20);
    shops.place.run(&format!(
        "UPDATE repair_order SET opened_on = '{ago}', closed_on = '{ago}' WHERE id = '{order}'"
    ));
    let (order, later) = visit(manager, 40_650);
    let whole = manager.get(&format!("orders/{order}")).expect(200).json();
    // What the vehicle had stored itself.
    let stored = json!({ "code": "read-codes", "finding": "abnormal" });
    manager.post(&format!("jobs/{later}/checks"), &stored).expect(201);
    let part = json!({ "name": "idle valve", "disposition": "replaced_new", "role": "suspect" });
    manager.post(&format!("jobs/{later}/parts"), &part).expect(201);
    let proof = json!({ "how": "road_test", "passed": true });
    manager.post(&format!("jobs/{later}/proofs"), &proof).expect(201);
    half_an_hour(manager, &order, &later, 0);
    (earlier, later, text(&whole["comebacks"][0]["id"]).to_owned())
}

/// What the enquiry finds.
fn findings() -> Value {
    json!({
        "failed_item": "idle valve", "conditions": "cold, first minute",
        "verified": true, "verified_how": "stalled cold on the lot, as the first time",
        "checked": "road test", "not_checked": "idle flow",
        "analysis": "the filter was dirty and was not why it stalled",
        "reason": "misdiagnosis", "contributing": "diagnosis-incomplete",
    })
}

fn every_element_of_the_loop_has_its_place(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (earlier, later, comeback) = record(shops, &manager);
    let at = format!("comebacks/{comeback}/enquiry");
    manager.post(&at, &findings()).expect(201);
    let read = || manager.get(&at).expect(200).json();
    let job = |id: &str| manager.get(&format!("jobs/{id}")).expect(200).json();

    // The failure report: symptoms and conditions, stored codes, failed item, time.
    let report = job(&later);
    assert_eq!(
        (&report["symptom"], &report["happens_when"]),
        (&json!("engine.stalls"), &json!("cold-start"))
    );
    assert_eq!(report["checks"][0]["code"], "read-codes");
    assert_eq!(report["parts"][0]["name"], "idle valve");
    let enquiry = read();
    assert_eq!(enquiry["failed_item"], "idle valve");
    assert_eq!(enquiry["conditions"], "cold, first minute");
    let in_use = &enquiry["in_use"];
    assert_eq!((&in_use["days"], &in_use["distance"]), (&json!(20), &json!(650)), "{enquiry}");
    // Repair times.
    assert_eq!(in_use["first_repair_minutes"], 30);
    assert_eq!(in_use["repair_minutes"], 30);
    // Verification of the failure.
    assert_eq!(enquiry["verified"], true);
    assert_eq!(enquiry["verified_how"], findings()["verified_how"]);
    // Analysis to the cause: the first job's is doubted, the comeback decided.
    assert_eq!(enquiry["analysis"], findings()["analysis"]);
    assert_eq!(enquiry["attribution"], "shop_work");
    assert_eq!(job(&earlier)["cause_state"], "suspected");
    let link = manager.get(&format!("comebacks/{comeback}")).json();
    assert_eq!((&link["state"], &link["reason"]), (&json!("confirmed"), &enquiry["reason"]));

    // Corrective action, done.
    let new = json!({
        "enquiry_id": enquiry["id"], "kind": "check_plan", "due_on": "2199-01-01",
        "words": "measure the idle flow before anything is replaced",
    });
    let action = text(&manager.post("actions", &new).expect(201).json()["id"]).to_owned();
    let place = format!("actions/{action}");
    manager.settle(&at, "closure", &json!({})).problem(409, "conflict");
    manager.settle(&place, "ending", &json!({ "state": "done" })).expect(200);
    // Close-out, and who and when.
    manager.settle(&at, "closure", &json!({ "note": "in the plan" })).expect(200);
    let closed = read();
    assert!(closed["closed_on"].is_string() && closed["closed_by"].is_string(), "{closed}");
    // Verification that it prevents recurrence, which comes later.
    let held = json!({ "held": true, "how": "twelve stalls since, none came back" });
    manager.settle(&place, "verification", &held).expect(200);
    let seen = read()["actions"][0].clone();
    assert_eq!((&seen["held"], &seen["verified_how"]), (&json!(true), &held["how"]));
    assert!(seen["verified_on"].is_string() && seen["verified_by"].is_string());

    // The trend has it, by each of its sides.
    let trend = manager.get("enquiries/trend").expect(200).json();
    assert_eq!(trend["quarters"].as_array().unwrap().len(), 4);
    for (by, value) in [
        ("by_reason", "misdiagnosis"),
        ("by_attribution", "shop_work"),
        ("by_failed_item", "idle valve"),
    ] {
        let line = &trend[by][0];
        assert_eq!(line["value"], value, "{trend}");
        assert_eq!(line["counts"], json!([0, 0, 0, 1]));
        assert_eq!(line["comebacks"], json!([comeback]));
    }
    // And who wrote each of them is kept.
    for (record, action) in [
        ("enquiry", "added"),
        ("comeback", "decided"),
        ("corrective_action", "done"),
        ("enquiry", "closed"),
        ("corrective_action", "verified"),
    ] {
        let noted = format!("FROM record_change WHERE record = '{record}' AND action = '{action}'");
        assert_eq!(shops.place.count(&noted), 1, "{record} {action}");
    }
}
