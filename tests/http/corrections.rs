//! What has ended is reopened before the hand-over, corrected by the manager
//! afterwards, and marked.

use serde_json::{Value, json};

use crate::support::html::{form, form_with};
use crate::support::visit::{finish, open, person, repaired, text};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    lines_are_changed_on_the_jobs_version,
    the_manager_corrects_what_was_handed_over,
    a_correction_owes_what_a_close_owes,
    comebacks_follow_a_correction,
    a_job_is_reopened_before_the_hand_over,
    the_page_corrects_and_reopens,
    the_later_job_hears_of_it,
    somebody_led_what_was_repaired,
    a_line_is_changed_by_its_form,
    a_close_takes_no_proposal_back,
    a_line_changed_meanwhile_is_not_undone,
);

fn line(client: &Client, job: &str, kind: &str, body: &Value) -> String {
    let made = client.post(&format!("jobs/{job}/{kind}"), body).expect(201).json();
    format!("jobs/{job}/{kind}/{}", text(&made["id"]))
}

fn check() -> Value {
    json!({ "code": "read-codes", "finding": "abnormal", "minutes": 10, "reading": 4.5, "unit": "kPa" })
}

fn part() -> Value {
    json!({ "name": "coil", "position": "cyl 2", "disposition": "replaced_new", "role": "suspect" })
}

fn lines_are_changed_on_the_jobs_version(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (_, job) = open(&adviser, "CO 1", "engine.stalls");
    let at = format!("jobs/{job}");
    let check = line(&adviser, &job, "checks", &check());
    let part = line(&adviser, &job, "parts", &part());
    let charged = json!({ "code": "coil", "flat_rate_hundredths": 120, "labor_amount_minor": 900 });
    let operation = line(&adviser, &job, "operations", &charged);

    let tag = adviser.get(&at).tag();
    let patch = |thing: &str, tag: &str, body: Value| {
        adviser.call("PATCH", thing).json(&body).if_match(tag).send()
    };
    let changed = patch(&check, &tag, json!({ "minutes": 25, "reading": null, "unit": null }));
    let row = changed.clone().expect(200).json();
    assert_eq!((&row["minutes"], &row["reading"]), (&json!(25), &Value::Null));
    assert_eq!((&row["finding"], &row["seq"]), (&json!("abnormal"), &json!(1)));
    // The answer carries the job's new version; the old one is stale.
    assert_eq!(changed.version(), adviser.get(&at).version());
    patch(&part, &tag, json!({ "position": "cyl 3" })).problem(412, "stale");
    let moved = patch(&part, &changed.tag(), json!({ "position": "cyl 3" }));
    assert_eq!(moved.clone().expect(200).json()["position"], "cyl 3");
    let billed = patch(&operation, &moved.tag(), json!({ "billed_hundredths": 100 }));
    let row = billed.clone().expect(200).json();
    assert_eq!((&row["billed_hundredths"], &row["labor_amount_minor"]), (&json!(100), &json!(900)));

    let tag = billed.tag();
    for (thing, body, pointer) in [
        (&check, json!({ "code": "no-such-check" }), "/code"),
        (&check, json!({ "code": null }), "/code"),
        (&check, json!({ "finding": "not_done" }), "/not_done_reason"),
        (&part, json!({ "name": null }), "/name"),
        (&part, json!({ "disposition": null }), "/disposition"),
        (&part, json!({ "unit_cost_minor": 5 }), "/unit_cost_minor"),
        (&operation, json!({ "billed_hundredths": -1 }), "/billed_hundredths"),
    ] {
        assert_eq!(patch(thing, &tag, body).pointers(), [pointer], "{thing}");
    }
    adviser.call("PATCH", &check).json(&json!({})).send().problem(428, "version-missing");
    // A technician changes lines, and no amount.
    let technician = shops.person("technician.north");
    let tried = technician.call("PATCH", &operation).json(&json!({ "labor_amount_minor": 1 }));
    assert_eq!(tried.if_match(&tag).send().pointers(), ["/labor_amount_minor"]);
    let other =
        line(&adviser, &open(&adviser, "CO 2", "engine.stalls").1, "checks", &self::check());
    let strange = other.rsplit('/').next().unwrap();
    patch(&format!("{at}/checks/{strange}"), &tag, json!({})).problem(404, "not-found");
}

fn the_manager_corrects_what_was_handed_over(shops: &Shops) {
    let manager = shops.person("manager.north");
    let technician = shops.person("technician.north");
    let (order, job) = open(&technician, "CO 3", "engine.stalls");
    let at = format!("jobs/{job}");
    let made = line(&technician, &job, "parts", &part());
    finish(&technician, &order, &job, "air-filter");

    let late = technician.post(&format!("{at}/checks"), &check()).problem(409, "conflict");
    assert!(text(&late["detail"]).contains("service manager"), "{late}");
    technician.call("DELETE", &made).send().problem(409, "conflict");
    technician.patch(&at, &json!({ "symptom": "engine.misfire" })).problem(409, "conflict");

    manager.post(&format!("{at}/checks"), &check()).expect(201);
    let whole = manager.get(&at).expect(200).json();
    assert!(whole["corrected_at"].is_string());
    assert!(manager.get(&format!("orders/{order}")).json()["corrected_at"].is_string());
    manager.call("DELETE", &made).send().expect(204);
    let stretch = json!({ "started_at": "2026-03-02T14:00:00Z", "activity": "repair" });
    let running = manager.post(&format!("{at}/labor"), &stretch);
    assert_eq!(running.pointers(), ["/ended_at"]);
    let proof = json!({ "how": "road_test", "passed": true });
    manager.post(&format!("{at}/proofs"), &proof).problem(409, "conflict");

    let after = manager.patch(&at, &json!({ "outcome": "no_fault_found", "cause": null }));
    let after = after.expect(200).json();
    assert_eq!(
        (&after["outcome"], &after["cause_state"]),
        (&json!("no_fault_found"), &Value::Null)
    );
    assert!(after["parts"].as_array().unwrap().is_empty());
    // Closing again is no correction.
    manager.settle(&at, "closure", &repaired("air-filter")).problem(409, "conflict");
    let lines = |of: &str| shops.place.count(&format!("FROM record_change WHERE {of}"));
    assert_eq!(lines("correction AND record IN ('check', 'part_use', 'job')"), 3);
    assert_eq!(lines("correction"), 3);
}

fn a_correction_owes_what_a_close_owes(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, "CO 4", "engine.stalls");
    let at = format!("jobs/{job}");
    assert_eq!(manager.patch(&at, &json!({ "outcome": "repaired" })).pointers(), ["/outcome"]);
    finish(&manager, &order, &job, "air-filter");
    let pointers = |body: Value| manager.patch(&at, &body).pointers();
    assert_eq!(pointers(json!({ "cause": null })), ["/cause"]);
    assert_eq!(pointers(json!({ "symptom": null })), ["/symptom"]);
    assert_eq!(pointers(json!({ "correction": null })), ["/correction"]);
    assert_eq!(pointers(json!({ "outcome": null })), ["/outcome"]);
    assert_eq!(pointers(json!({ "outcome": "sublet" })), ["/sublets"]);
    assert_eq!(pointers(json!({ "waiting_for": "part" })), ["/waiting_for"]);
    assert_eq!(pointers(json!({ "cause": "no-such-cause" })), ["/cause"]);
    let kept =
        manager.patch(&at, &json!({ "correction": "replaced and tested" })).expect(200).json();
    assert_eq!(
        (&kept["correction"], &kept["outcome"]),
        (&json!("replaced and tested"), &json!("repaired"))
    );
}

fn comebacks_follow_a_correction(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, "CO 5", "engine.stalls");
    finish(&manager, &order, &job, "air-filter");
    let (order, later) = open(&manager, "CO 5", "brakes.pull");
    finish(&manager, &order, &later, "air-filter");
    let at = format!("jobs/{later}");
    // The cause is the same, and so it was proposed at close; what it is told by
    // follows the correction.
    let label = |label: &str| {
        let rows = manager.get(&at).json()["comebacks"].clone();
        let mut rows = rows.as_array().unwrap().iter();
        rows.any(|row| row["earlier_job_id"] == job.as_str() && row[label] == true)
    };
    assert!(!label("same_complaint"));
    manager.patch(&at, &json!({ "symptom": "engine.stalls" })).expect(200);
    assert!(label("same_complaint"));
}

fn a_job_is_reopened_before_the_hand_over(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (order, job) = open(&technician, "CO 6", "engine.stalls");
    let at = format!("jobs/{job}");
    technician.settle(&at, "reopening", &json!({})).problem(409, "conflict");
    technician.settle(&at, "closure", &repaired("air-filter")).expect(200);
    technician.post(&format!("{at}/checks"), &check()).problem(409, "conflict");
    let stale = technician.call("POST", &format!("{at}/reopening")).new_key().if_match("\"1\"");
    stale.send().problem(412, "stale");
    let open = technician.settle(&at, "reopening", &json!({})).expect(200).json();
    assert_eq!((&open["outcome"], &open["finished_at"]), (&Value::Null, &Value::Null));
    assert_eq!(open["cause"], "air-filter");
    assert_eq!(open["corrected_at"], Value::Null);
    technician.post(&format!("{at}/checks"), &check()).expect(201);
    technician.settle(&format!("orders/{order}"), "closure", &json!({})).problem(409, "conflict");
    finish(&technician, &order, &job, "air-filter");
    technician.settle(&at, "reopening", &json!({})).problem(409, "conflict");
    let noted = "SELECT action AS line FROM record_change WHERE record = 'job' ORDER BY change_no";
    assert_eq!(shops.place.lines(noted), ["added", "closed", "reopened", "closed"]);
}

fn somebody_led_what_was_repaired(shops: &Shops) {
    let manager = shops.person("manager.north");
    let technician = shops.person("technician.north");
    let id = |name: &str| json!(person(&manager, name));
    // Nobody was said to lead, and no clock was kept: who closes it.
    let (order, job) = open(&manager, "CO 8", "engine.stalls");
    let at = format!("jobs/{job}");
    finish(&manager, &order, &job, "air-filter");
    assert_eq!(manager.get(&at).json()["lead_id"], id("manager of north"));
    // Who worked on it as lead alone comes before who closes it.
    let (_, worked) = open(&manager, "CO 9", "engine.stalls");
    let labor = format!("jobs/{worked}/labor");
    let entry = technician.post(&labor, &json!({ "activity": "repair" })).expect(201).json();
    technician.post(&format!("{labor}/{}/stop", text(&entry["id"])), &json!({})).expect(200);
    let closed = manager.settle(&format!("jobs/{worked}"), "closure", &repaired("air-filter"));
    assert_eq!(closed.expect(200).json()["lead_id"], id("technician of north"));
    // The manager corrects it, and does not take it away.
    assert_eq!(manager.patch(&at, &json!({ "lead_id": null })).pointers(), ["/lead_id"]);
    let right = json!({ "lead_id": id("technician of north") });
    technician.patch(&at, &right).problem(409, "conflict");
    assert_eq!(manager.patch(&at, &right).expect(200).json()["lead_id"], right["lead_id"]);
    let visitor = shops.visitor("manager.north", "north");
    let page = form(&visitor.get(&at).expect(200), "/correction");
    let helper = person(&manager, "helper of north");
    let page = page.fill("lead_id", &helper).fill("outcome", "repaired");
    let page = page.fill("symptom", "engine.stalls").fill("cause", "air-filter");
    let page = page.fill("cause_state", "suspected").fill("correction", "replaced");
    let page = page.follow(&visitor);
    assert!(page.body.contains("led by <bdi>helper of north</bdi>"), "{}", page.body);
}

fn a_line_is_changed_by_its_form(shops: &Shops) {
    let program = shops.person("technician.north");
    let (order, job) = open(&program, "CO 10", "engine.stalls");
    let place = format!("jobs/{job}");
    let checked = line(&program, &job, "checks", &check());
    line(&program, &job, "parts", &part());
    line(&program, &job, "operations", &json!({ "code": "coil", "flat_rate_hundredths": 120 }));
    // The technician's form has no money, and leaves it alone.
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get(&place).expect(200);
    assert!(page.body.contains("Not proved yet") && !page.body.contains("unit_cost_minor"));
    let bare = form(&page, &format!("{checked}/change")).fill("finding", "not_done");
    let refused = bare.fill("unit", "kPa").send(&technician).expect(422);
    assert!(refused.body.contains("Not done reason:"), "{}", refused.body);
    let right = form(&refused, &format!("{checked}/change")).fill("finding", "normal");
    let page = right.fill("unit", "kPa").fill("minutes", "25").follow(&technician);
    assert!(page.body.contains("25 min"), "{}", page.body);
    finish(&program, &order, &job, "air-filter");
    let manager = shops.visitor("manager.north", "north");
    let whole = program.get(&place).json();
    let at = |kind: &str| format!("{kind}/{}/change", text(&whole[kind][0]["id"]));
    let page = manager.get(&place).expect(200);
    let cost = form(&page, &at("parts")).fill("unit_cost_minor", "41.50").fill("role", "suspect");
    let page = cost.fill("disposition", "replaced_new").follow(&manager);
    assert!(page.body.contains("cost $41.50"), "{}", page.body);
    let charge = form(&page, &at("operations")).fill("labor_amount_minor", "168");
    let page = charge.fill("payer", "customer").follow(&manager);
    assert!(page.body.contains("labor $168.00"), "{}", page.body);
    let kept = shops.person("manager.north").get(&place).json();
    assert_eq!(kept["parts"][0]["position"], "cyl 2");
    assert_eq!(kept["operations"][0]["flat_rate_hundredths"], 120);
    assert!(kept["corrected_at"].is_string());
}

fn the_page_corrects_and_reopens(shops: &Shops) {
    let program = shops.person("manager.north");
    let manager = shops.visitor("manager.north", "north");
    let (order, job) = open(&program, "CO 7", "engine.stalls");
    let place = format!("jobs/{job}");
    program.settle(&place, "closure", &repaired("air-filter")).expect(200);
    let reopened = form(&manager.get(&place).expect(200), "/reopening").follow(&manager);
    assert!(reopened.body.contains("Close the job"));
    finish(&program, &order, &job, "air-filter");
    let page = manager.get(&place).expect(200);
    assert!(!page.body.contains("Reopen the job"));
    let wrong =
        form(&page, "/correction").fill("outcome", "repaired").fill("symptom", "engine.stalls");
    let wrong = wrong.send(&manager).expect(422);
    assert!(wrong.body.contains("Cause:"), "{}", wrong.body);
    let right =
        form(&wrong, "/correction").fill("outcome", "declined").fill("symptom", "engine.stalls");
    let right = right.follow(&manager);
    assert!(right.body.contains("corrected today"), "{}", right.body);
    // Who may not correct is offered nothing.
    let adviser = shops.visitor("adviser.north", "north").get(&place).expect(200);
    assert!(!adviser.body.contains("/correction") && !adviser.body.contains("Correct</summary>"));
}

fn the_later_job_hears_of_it(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, "CR 12", "brakes.noise");
    finish(&manager, &order, &job, "pad-worn");
    let (back, _) = open(&manager, "CR 12", "brakes.drag");
    let proposed =
        || manager.get(&format!("orders/{back}")).expect(200).json()["comebacks"].clone();
    assert_eq!(proposed()[0]["same_complaint"], false);
    let correct = |symptom: &str| {
        manager.patch(&format!("jobs/{job}"), &json!({ "symptom": symptom })).expect(200);
    };
    correct("brakes.drag");
    assert_eq!(proposed()[0]["same_complaint"], true);
    // What has nothing in common any more is taken back.
    correct("climate.smell");
    assert_eq!(proposed(), json!([]));
    correct("brakes.noise");
    assert_eq!(proposed()[0]["same_system"], true);
}

fn a_close_takes_no_proposal_back(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (order, job) = open(&technician, "CR 13", "brakes.noise");
    finish(&technician, &order, &job, "pad-worn");
    let (back, again) = open(&technician, "CR 13", "brakes.noise");
    let mut other = repaired("air-filter");
    other["symptom"] = json!("climate.smell");
    technician.settle(&format!("jobs/{again}"), "closure", &other).expect(200);
    let whole = technician.get(&format!("orders/{back}")).expect(200).json();
    assert_eq!(whole["comebacks"][0]["earlier_job_id"], job);
    assert_eq!(whole["comebacks"][0]["state"], "proposed");
}

fn a_line_changed_meanwhile_is_not_undone(shops: &Shops) {
    let program = shops.person("technician.north");
    let (_, job) = open(&program, "CR 14", "engine.stalls");
    let place = format!("jobs/{job}");
    let checked = line(&program, &job, "checks", &check());
    let technician = shops.visitor("technician.north", "north");
    let action = format!("{checked}/change");
    let page = technician.get(&place).expect(200);
    let late = form_with(&page, &action, "name=\"finding\"");
    let tag = program.get(&place).tag();
    let change = program.call("PATCH", &checked).json(&json!({ "position": "front" }));
    change.if_match(&tag).send().expect(200);
    let late = late.fill("finding", "normal").fill("unit", "kPa").fill("minutes", "25");
    let shown = late.send(&technician).expect(412);
    let again = form(&shown, &action).fill("finding", "normal").fill("unit", "kPa");
    again.fill("minutes", "25").follow(&technician);
    let row = program.get(&place).json()["checks"][0].clone();
    assert_eq!((&row["position"], &row["minutes"]), (&json!("front"), &json!(25)));
}
