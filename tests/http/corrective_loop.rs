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

/// One comeback, and where its elements are read.
struct Loop {
    manager: Client,
    earlier: String,
    later: String,
    comeback: String,
}

impl Loop {
    fn at(&self) -> String {
        format!("comebacks/{}/enquiry", self.comeback)
    }

    fn read(&self) -> Value {
        self.manager.get(&self.at()).expect(200).json()
    }

    fn job(&self, id: &str) -> Value {
        self.manager.get(&format!("jobs/{id}")).expect(200).json()
    }

    /// The failure report: symptoms and conditions, stored codes, failed item, time;
    /// and the repairs with their times.
    fn reported(&self) {
        let report = self.job(&self.later);
        assert_eq!(report["symptom"], "engine.stalls");
        assert_eq!(report["happens_when"], "cold-start");
        assert_eq!(report["checks"][0]["code"], "read-codes");
        assert_eq!(report["parts"][0]["name"], "idle valve");
        let enquiry = self.read();
        assert_eq!(enquiry["failed_item"], "idle valve");
        assert_eq!(enquiry["conditions"], "cold, first minute");
        let in_use = &enquiry["in_use"];
        assert_eq!((&in_use["days"], &in_use["distance"]), (&json!(20), &json!(650)), "{enquiry}");
        assert_eq!(in_use["first_repair_minutes"], 30);
        assert_eq!(in_use["repair_minutes"], 30);
    }

    /// The failure verified, and analyzed to the cause: the first job's is doubted, the
    /// comeback decided.
    fn analyzed(&self) {
        let enquiry = self.read();
        assert_eq!(enquiry["verified"], true);
        assert_eq!(enquiry["verified_how"], findings()["verified_how"]);
        assert_eq!(enquiry["analysis"], findings()["analysis"]);
        assert_eq!(enquiry["attribution"], "shop_work");
        assert_eq!(self.job(&self.earlier)["cause_state"], "suspected");
        let link = self.manager.get(&format!("comebacks/{}", self.comeback)).json();
        assert_eq!((&link["state"], &link["reason"]), (&json!("confirmed"), &enquiry["reason"]));
    }

    /// Corrected, closed out, and later shown to prevent it.
    fn corrected(&self) {
        let new = json!({
            "enquiry_id": self.read()["id"], "kind": "check_plan", "due_on": "2199-01-01",
            "words": "measure the idle flow before anything is replaced",
        });
        let action = self.manager.post("actions", &new).expect(201).json();
        let place = format!("actions/{}", text(&action["id"]));
        let settle = |thing: &str, verb: &str, body: &Value| {
            self.manager.settle(thing, verb, body).expect(200).json()
        };
        self.manager.settle(&self.at(), "closure", &json!({})).problem(409, "conflict");
        settle(&place, "ending", &json!({ "state": "done" }));
        let closed = settle(&self.at(), "closure", &json!({ "note": "in the plan" }));
        assert!(closed["closed_on"].is_string() && closed["closed_by"].is_string(), "{closed}");
        let held = json!({ "held": true, "how": "twelve stalls since, none came back" });
        settle(&place, "verification", &held);
        let seen = self.read()["actions"][0].clone();
        assert_eq!((&seen["held"], &seen["verified_how"]), (&json!(true), &held["how"]));
        assert!(seen["verified_on"].is_string() && seen["verified_by"].is_string());
    }

    /// The trend has it, by each of its sides.
    fn in_the_trend(&self) {
        let trend = self.manager.get("enquiries/trend").expect(200).json();
        assert_eq!(trend["quarters"].as_array().unwrap().len(), 4);
        for (by, value) in [
            ("by_reason", "misdiagnosis"),
            ("by_attribution", "shop_work"),
            ("by_failed_item", "idle valve"),
        ] {
            let line = &trend[by][0];
            assert_eq!(line["value"], value, "{trend}");
            assert_eq!(line["counts"], json!([0, 0, 0, 1]));
            assert_eq!(line["comebacks"], json!([self.comeback]));
        }
    }
}

fn every_element_of_the_loop_has_its_place(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (earlier, later, comeback) = record(shops, &manager);
    let one = Loop { manager, earlier, later, comeback };
    one.manager.post(&one.at(), &findings()).expect(201);
    one.reported();
    one.analyzed();
    one.corrected();
    one.in_the_trend();
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
