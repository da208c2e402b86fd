//! From the write-up to the comeback in the weekly review. The counts that the
//! reports must show are those of the visits made here, counted by hand.

use serde_json::{Value, json};

use crate::support::visit::{repaired, text, write_up};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    a_job_from_write_up_to_hand_over,
    a_vehicle_returns,
    a_misdiagnosis_is_told_apart
);

const PLATE: &str = "JR 4471";

/// The technician's work on a job: checks in order, labor, part, proof.
fn work(technician: &Client, job: &str, part: &Value) {
    let at = format!("jobs/{job}");
    let check = json!({ "code": "read-codes", "finding": "normal", "minutes": 8 });
    let first = technician.post(&format!("{at}/checks"), &check).expect(201).json();
    assert_eq!(first["seq"], 1);
    let check = json!({
        "code": "charging-voltage", "finding": "abnormal", "minutes": 12, "position": "battery",
        "reading": 15.1, "unit": "V", "low_limit": 13.5, "high_limit": 14.8, "limit_source": "shop",
    });
    let second = technician.post(&format!("{at}/checks"), &check).expect(201);
    assert_eq!(second.json()["seq"], 2);
    let start = json!({ "activity": "access" });
    let entry = technician.post(&format!("{at}/labor"), &start).expect(201).json();
    assert!(entry["ended_at"].is_null());
    let stop = format!("{at}/labor/{}/stop", text(&entry["id"]));
    let stopped = technician.post(&stop, &json!({})).expect(200).json();
    assert!(text(&stopped["ended_at"]) > text(&stopped["started_at"]));
    technician.post(&format!("{at}/parts"), part).expect(201);
    let proof = json!({ "how": "road_test", "passed": true });
    technician.post(&format!("{at}/proofs"), &proof).expect(201);
}

fn valve() -> Value {
    json!({
        "part_no": "IAV-7", "name": "idle air valve", "position": "left",
        "disposition": "cleaned_reused", "role": "suspect", "bench_reading": 11.5, "bench_unit": "Ohm",
    })
}

fn a_job_from_write_up_to_hand_over(shops: &Shops) {
    let (adviser, technician) = (shops.person("adviser.north"), shops.person("technician.north"));
    let mut visit = write_up(PLATE, "engine.idle-rough");
    visit["customer_name"] = json!("Zoë Østergård-Nyqvist");
    visit["odometer_in"] = json!(81_200);
    let made = adviser.post("orders", &visit).expect(201);
    let order = made.json();
    let place = made.header("location").to_owned();
    assert!(place.ends_with(text(&order["id"])));
    assert_eq!(adviser.get(&place).expect(200).json(), order);
    assert_eq!((&order["order_no"], &order["status"]), (&json!("1"), &json!("open")));
    assert_eq!(order["comebacks"], json!([]));

    let job = text(&order["jobs"][0]["id"]).to_owned();
    work(&technician, &job, &valve());
    let bare = json!({ "outcome": "repaired" });
    let refused = technician.settle(&format!("jobs/{job}"), "closure", &bare);
    assert_eq!(refused.pointers(), ["/cause", "/correction"]);
    let early = adviser.settle(&format!("orders/{}", text(&order["id"])), "closure", &json!({}));
    early.problem(409, "conflict");

    let closed = technician.settle(&format!("jobs/{job}"), "closure", &repaired("throttle-dirty"));
    let closed = closed.expect(200).json();
    assert_eq!(closed["outcome"], "repaired");
    assert_eq!(closed["cause_state"], "confirmed");
    assert_eq!(closed["complaint"], "it shakes at the lights");
    let late = technician.post(&format!("jobs/{job}/checks"), &json!({ "code": "road-test" }));
    late.problem(409, "conflict");

    let thing = format!("orders/{}", text(&order["id"]));
    let backward = adviser.settle(&thing, "closure", &json!({ "odometer_out": 81_199 }));
    assert_eq!(backward.pointers(), ["/odometer_out"]);
    let done =
        adviser.settle(&thing, "closure", &json!({ "odometer_out": 81_206 })).expect(200).json();
    assert_eq!((&done["status"], &done["odometer_out"]), (&json!("closed"), &json!(81_206)));
    assert!(text(&done["closed_at"]) >= text(&done["opened_at"]));
    adviser.patch(&thing, &json!({ "customer_name": null })).problem(409, "conflict");
}

/// A visit of the vehicle with the valve as the suspect: its order, its job.
fn visit(shops: &Shops, cause: &str) -> (Value, String) {
    let (adviser, technician) = (shops.person("adviser.north"), shops.person("technician.north"));
    let order = adviser.post("orders", &write_up(PLATE, "engine.idle-rough")).expect(201).json();
    let job = text(&order["jobs"][0]["id"]).to_owned();
    let lead = technician.get("/api/v1/me").json()["id"].clone();
    technician.patch(&format!("jobs/{job}"), &json!({ "lead_id": lead })).expect(200);
    // Owed on the second visit, and taken on the first.
    let mut valve = valve();
    valve["again_reason"] = json!("the new one is on back order");
    work(&technician, &job, &valve);
    technician.settle(&format!("jobs/{job}"), "closure", &repaired(cause)).expect(200);
    let thing = format!("orders/{}", text(&order["id"]));
    let done = adviser.settle(&thing, "closure", &json!({})).expect(200).json();
    assert_eq!(order["id"], done["id"]);
    let mut order = order;
    order["closed_on"] = done["closed_on"].clone();
    (order, job)
}

fn proposal(client: &Client) -> Value {
    let waiting = client.get("comebacks?state=proposed").expect(200).json();
    let items = waiting["items"].as_array().unwrap();
    assert_eq!(items.len(), 1, "{waiting}");
    items[0].clone()
}

fn a_vehicle_returns(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (first, first_job) = visit(shops, "throttle-dirty");
    let (later, later_job) = visit(shops, "throttle-dirty");
    let at_write_up = &later["comebacks"][0];
    assert_eq!(at_write_up["proposed_by"], "write_up");
    assert_eq!(
        (&at_write_up["earlier_job_id"], &at_write_up["later_job_id"]),
        (&json!(first_job), &json!(later_job))
    );
    let labels = |row: &Value| {
        ["same_complaint", "same_system", "same_cause", "same_part", "our_work"]
            .map(|l| row[l] == true)
    };
    // What came with the complaint at once; cause and part only at close.
    assert_eq!(labels(at_write_up), [true, true, false, false, false]);
    let refined = proposal(&manager);
    assert_eq!(refined["id"], at_write_up["id"]);
    assert_eq!(labels(&refined), [true, true, true, true, false]);

    let thing = format!("comebacks/{}", text(&refined["id"]));
    let nameless = json!({ "confirm": true, "reason": "because" });
    assert_eq!(manager.settle(&thing, "decision", &nameless).pointers(), ["/reason"]);
    let decision =
        json!({ "confirm": true, "reason": "part-reused-failed", "note": "cleaned, not tested" });
    let decided = manager.settle(&thing, "decision", &decision).expect(200).json();
    assert_eq!(decided["state"], "confirmed");
    // By the starting lists, a part that was put back is put down to our work.
    assert_eq!(labels(&decided), [true, true, true, true, true]);
    assert_eq!(decided["decided_by"], manager.get("/api/v1/me").json()["id"]);
    comeback_reports(&manager, &first, &later);
}

fn comeback_reports(manager: &Client, first: &Value, later: &Value) {
    let day = text(&later["closed_on"]);
    let report = manager.get(&format!("reports/comebacks?as_of={day}")).expect(200).json();
    // Two repaired complaints, of which the first came back.
    assert_eq!(report["total"]["share"]["count"], 2, "{}", report["total"]);
    assert_eq!(report["total"]["share"]["returns"], 1);
    assert_eq!(report["head"]["as_of"], day);
    let lines = report["returns"].as_array().unwrap();
    assert_eq!(lines.len(), 1);
    assert_eq!(lines[0]["earlier"]["order_no"], first["order_no"]);
    assert_eq!(lines[0]["later"]["order_no"], later["order_no"]);
    assert_eq!(lines[0]["reason"], "part-reused-failed");
    assert_eq!(lines[0]["technician"], "technician of north");

    let back = chrono::NaiveDate::parse_from_str(text(&later["opened_on"]), "%Y-%m-%d").unwrap();
    let week = back.format("%G-W%V");
    let review = manager.get(&format!("reports/weekly?week={week}&as_of={day}")).expect(200).json();
    assert_eq!(review["comebacks"].as_array().unwrap().len(), 1, "{review}");
    assert_eq!(review["undecided"]["all"], 0);
    assert_eq!(review["arrivals"]["answer"], "not yet");

    let reuse = manager
        .get(&format!("reports/reuse?as_of={day}&part=IAV-7&role=suspect"))
        .expect(200)
        .json();
    let cleaned = &reuse["parts"][0]["choices"][0];
    assert_eq!((&cleaned["uses"], &cleaned["returns"]), (&json!(2), &json!(1)), "{reuse}");
    let jobs = text(&report["total"]["share"]["jobs"]);
    let behind = manager.get(&format!("reports/jobs?as_of={day}&{jobs}")).expect(200).json();
    assert_eq!(behind["count"], 2);
}

fn a_misdiagnosis_is_told_apart(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (_, first_job) = visit(shops, "throttle-dirty");
    let (_, later_job) = visit(shops, "air-filter");
    let id = text(&proposal(&manager)["id"]).to_owned();
    let decision = json!({ "confirm": true, "reason": "misdiagnosis", "part_returned": false });
    let thing = format!("comebacks/{id}");
    manager.settle(&thing, "decision", &decision).expect(200);
    let earlier = manager.get(&format!("jobs/{first_job}")).expect(200).json();
    assert_eq!(earlier["cause_state"], "suspected");
    let state = "SELECT state AS line FROM part_return";
    assert_eq!(shops.place.lines(state), ["rejected"]);

    // Nothing is decided for ever: the manager may look again.
    let again = json!({ "confirm": false, "reason": "new-fault" });
    let row = manager.settle(&thing, "decision", &again).expect(200).json();
    assert_eq!(row["state"], "rejected");
    let later = manager.get(&format!("jobs/{later_job}")).expect(200).json();
    assert_eq!(later["comebacks"][0]["reason"], "new-fault");
}
