//! Enquiries into comebacks, and the corrective actions that come of them.

use serde_json::{Value, json};

use crate::support::html::{form, form_with};
use crate::support::visit::{finish, open, person, text, write_up};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    one_reason_here_and_there,
    what_is_put_down_to_whom_follows_the_list,
    both_jobs_say_how_long_it_held,
    it_closes_when_everything_is_done,
    the_technician_writes_the_own_part,
    actions_end_and_are_looked_back_on,
);

/// A repair led by the technician, and the vehicle here again for the same: the
/// first job and the comeback, as proposed.
pub struct Back {
    earlier: String,
    comeback: String,
}

pub fn back(shops: &Shops, plate: &str) -> Back {
    let manager = shops.person("manager.north");
    let (order, earlier) = open(&manager, plate, "engine.stalls");
    let lead = person(&manager, "technician of north");
    manager.patch(&format!("jobs/{earlier}"), &json!({ "lead_id": lead })).expect(200);
    for (code, finding) in [("read-codes", "normal"), ("road-test", "abnormal")] {
        let check = json!({ "code": code, "finding": finding, "minutes": 10 });
        manager.post(&format!("jobs/{earlier}/checks"), &check).expect(201);
    }
    let skipped =
        json!({ "code": "visual-under-hood", "finding": "not_done", "not_done_reason": "no time" });
    manager.post(&format!("jobs/{earlier}/checks"), &skipped).expect(201);
    finish(&manager, &order, &earlier, "air-filter");
    let (order, _) = open(&manager, plate, "engine.stalls");
    let whole = manager.get(&format!("orders/{order}")).expect(200).json();
    Back { earlier, comeback: text(&whole["comebacks"][0]["id"]).to_owned() }
}

impl Back {
    pub fn at(&self) -> String {
        format!("comebacks/{}", self.comeback)
    }

    pub fn enquiry(&self) -> String {
        format!("comebacks/{}/enquiry", self.comeback)
    }

    pub fn read(&self, client: &Client) -> Value {
        client.get(&self.enquiry()).expect(200).json()
    }
}

pub fn decide(client: &Client, back: &Back, confirm: bool, reason: &str) -> Value {
    let decision = json!({ "confirm": confirm, "reason": reason });
    client.settle(&back.at(), "decision", &decision).expect(200).json()
}

fn one_reason_here_and_there(shops: &Shops) {
    let manager = shops.person("manager.north");
    let it = back(shops, "EN 1");
    manager.get(&it.enquiry()).problem(404, "not-found");
    // Named in the enquiry it decides the comeback, with what a decision does.
    let found = json!({ "failed_item": "idle valve", "reason": "misdiagnosis" });
    let row = manager.post(&it.enquiry(), &found).expect(201).json();
    assert_eq!(
        (&row["reason"], &row["attribution"]),
        (&json!("misdiagnosis"), &json!("shop_work"))
    );
    let comeback = manager.get(&it.at()).json();
    assert_eq!(comeback["state"], "confirmed");
    assert_eq!(
        (&comeback["reason"], &comeback["our_work"]),
        (&json!("misdiagnosis"), &json!(true))
    );
    let doubted = manager.get(&format!("jobs/{}", it.earlier)).json();
    assert_eq!(doubted["cause_state"], "suspected");
    manager.post(&it.enquiry(), &found).problem(409, "conflict");
    // Changed there it changes here, and the other way round.
    manager.patch(&it.enquiry(), &json!({ "reason": "part-defective" })).expect(200);
    assert_eq!(manager.get(&it.at()).json()["reason"], "part-defective");
    decide(&manager, &it, true, "workmanship");
    let row = it.read(&manager);
    assert_eq!((&row["reason"], &row["attribution"]), (&json!("workmanship"), &json!("shop_work")));
    // A reason that is decided on is not emptied from here.
    manager.patch(&it.enquiry(), &json!({ "reason": null })).expect(200);
    assert_eq!(it.read(&manager)["reason"], "workmanship");
    assert_eq!(
        manager.patch(&it.enquiry(), &json!({ "reason": "because" })).pointers(),
        ["/reason"]
    );
    let same = json!({ "contributing": "workmanship" });
    assert_eq!(manager.patch(&it.enquiry(), &same).pointers(), ["/contributing"]);
    let more = json!({ "contributing": "write-up-unclear", "verified": true });
    assert_eq!(manager.patch(&it.enquiry(), &more).pointers(), ["/verified_how"]);
    // Rejected, nothing is looked into any more.
    decide(&manager, &it, false, "new-fault");
    assert_eq!(it.read(&manager)["reason"], "new-fault");
    manager.patch(&it.enquiry(), &json!({ "analysis": "x" })).problem(409, "conflict");
    // In every state the two agree.
    let apart = "FROM enquiry e JOIN comeback c ON c.shop_id = e.shop_id AND c.id = e.comeback_id \
                 WHERE COALESCE(e.reason, '') <> COALESCE(c.reason, '')";
    assert_eq!(shops.place.count(apart), 0);
    let desk = shops.visitor("manager.north", "north");
    let page = desk.get(&it.at()).expect(200);
    form_with(&page, "/decision", "take_back").follow(&desk);
    assert_eq!(it.read(&manager)["reason"], Value::Null);
    assert_eq!(shops.place.count(apart), 0);
}

fn what_is_put_down_to_whom_follows_the_list(shops: &Shops) {
    let manager = shops.person("manager.north");
    let it = back(shops, "EN 2");
    decide(&manager, &it, true, "part-defective");
    // Begun without a reason it takes the one decided on.
    let row = manager.post(&it.enquiry(), &json!({})).expect(201).json();
    assert_eq!(
        (&row["reason"], &row["attribution"]),
        (&json!("part-defective"), &json!("supplier"))
    );
    assert_eq!(row["technician_id"], json!(person(&manager, "technician of north")));
    let edited = json!({ "attribution": "shop_process" });
    manager.patch(&it.enquiry(), &edited).expect(200);
    manager.patch(&it.enquiry(), &json!({ "analysis": "ordered by guess" })).expect(200);
    assert_eq!(it.read(&manager)["attribution"], "shop_process");
    assert_eq!(
        manager.patch(&it.enquiry(), &json!({ "attribution": "fate" })).pointers(),
        ["/attribution"]
    );
    // Another reason brings its own; null goes back to the list's.
    manager.patch(&it.enquiry(), &json!({ "reason": "caused-by-outside" })).expect(200);
    assert_eq!(it.read(&manager)["attribution"], "none");
    manager.patch(&it.enquiry(), &edited).expect(200);
    manager.patch(&it.enquiry(), &json!({ "attribution": null })).expect(200);
    assert_eq!(it.read(&manager)["attribution"], "none");
    // The shop's list is the table: what it says is taken.
    let list = json!({ "kind": "customer_choice" });
    manager.patch("codes/comeback_reason/part-wrong", &list).expect(200);
    manager.patch(&it.enquiry(), &json!({ "reason": "part-wrong" })).expect(200);
    assert_eq!(it.read(&manager)["attribution"], "customer_choice");
}

fn both_jobs_say_how_long_it_held(shops: &Shops) {
    let manager = shops.person("manager.north");
    let visit = |odometer: i64| {
        let mut visit = write_up("EN 3", "engine.stalls");
        visit["odometer_in"] = json!(odometer);
        visit["odometer_unit"] = json!("km");
        let order = manager.post("orders", &visit).expect(201).json();
        (text(&order["id"]).to_owned(), text(&order["jobs"][0]["id"]).to_owned(), order)
    };
    let (order, job, _) = visit(81_206);
    manager
        .settle(&format!("jobs/{job}"), "closure", &crate::support::visit::repaired("air-filter"))
        .expect(200);
    let out = json!({ "odometer_out": 81_220 });
    let closed = manager.settle(&format!("orders/{order}"), "closure", &out).expect(200).json();
    let day: chrono::NaiveDate = text(&closed["closed_on"]).parse().unwrap();
    let ago = day - chrono::Duration::days(23);
    shops.place.run(&format!(
        "UPDATE repair_order SET opened_on = '{ago}', closed_on = '{ago}' WHERE id = '{order}'"
    ));
    let (_, _, again) = visit(82_020);
    let at = format!("comebacks/{}/enquiry", text(&again["comebacks"][0]["id"]));
    manager.post(&at, &json!({})).expect(201);
    let in_use = manager.get(&at).json()["in_use"].clone();
    // 82 020 less 81 220.
    assert_eq!((&in_use["days"], &in_use["distance"]), (&json!(23), &json!(800)), "{in_use}");
    assert_eq!(in_use["distance_unit"], "km");
    // A replaced odometer: nobody knows.
    let reset = json!({ "reset_on": day, "reading_before": 82_000, "reading_after": 0 });
    let vehicle = text(&again["vehicle_id"]);
    manager.post(&format!("vehicles/{vehicle}/odometer-resets"), &reset).expect(201);
    assert_eq!(manager.get(&at).json()["in_use"]["distance"], Value::Null);
}

fn action(client: &Client, enquiry: Option<&str>, words: &str) -> String {
    let new = json!({ "enquiry_id": enquiry, "kind": "training", "words": words });
    text(&client.post("actions", &new).expect(201).json()["id"]).to_owned()
}

fn it_closes_when_everything_is_done(shops: &Shops) {
    let manager = shops.person("manager.north");
    let it = back(shops, "EN 4");
    let row = manager.post(&it.enquiry(), &json!({})).expect(201).json();
    let id = text(&row["id"]).to_owned();
    let refused = manager.settle(&it.enquiry(), "closure", &json!({}));
    assert!(refused.problem(409, "conflict").to_string().contains("name the reason"));
    manager.patch(&it.enquiry(), &json!({ "reason": "not-yet-known" })).expect(200);
    let (one, two) = (action(&manager, Some(&id), "one"), action(&manager, Some(&id), "two"));
    let refused = manager.settle(&it.enquiry(), "closure", &json!({}));
    assert!(refused.problem(409, "conflict").to_string().contains("2 corrective actions"));
    let done = json!({ "state": "done" });
    manager.settle(&format!("actions/{one}"), "ending", &done).expect(200);
    manager.settle(&it.enquiry(), "closure", &json!({})).problem(409, "conflict");
    let dropped = json!({ "state": "dropped" });
    let odd = manager.settle(&format!("actions/{two}"), "ending", &dropped);
    assert_eq!(odd.pointers(), ["/note"]);
    let dropped = json!({ "state": "dropped", "note": "one is enough" });
    manager.settle(&format!("actions/{two}"), "ending", &dropped).expect(200);
    let note = json!({ "note": "the flow is measured now" });
    let closed = manager.settle(&it.enquiry(), "closure", &note).expect(200).json();
    assert_eq!(closed["close_note"], "the flow is measured now");
    assert_eq!(closed["closed_by"], manager.get("/api/v1/me").json()["id"]);
    assert!(closed["closed_on"].is_string());
    // Closed, nothing moves: neither the enquiry nor what came of it.
    manager.patch(&it.enquiry(), &json!({ "analysis": "x" })).problem(409, "conflict");
    let more = json!({ "enquiry_id": id, "kind": "other", "words": "more" });
    manager.post("actions", &more).problem(409, "conflict");
    manager.settle(&format!("actions/{one}"), "reopening", &json!({})).problem(409, "conflict");
    manager.settle(&it.enquiry(), "closure", &json!({})).problem(409, "conflict");
    let open = manager.settle(&it.enquiry(), "reopening", &json!({})).expect(200).json();
    assert_eq!(open["closed_on"], Value::Null);
    manager.settle(&format!("actions/{one}"), "reopening", &json!({})).expect(200);
    manager.settle(&it.enquiry(), "closure", &json!({})).problem(409, "conflict");
    // On a version that is gone nothing is written.
    let stale = manager.call("PATCH", &it.enquiry()).if_match("\"1\"").json(&json!({}));
    stale.send().problem(412, "stale");
}

fn the_technician_writes_the_own_part(shops: &Shops) {
    let (manager, technician) = (shops.person("manager.north"), shops.person("technician.north"));
    let helper = shops.person("helper.north");
    let it = back(shops, "EN 5");
    manager.post(&it.enquiry(), &json!({ "reason": "workmanship" })).expect(201);
    let says = format!("{}/statement", it.enquiry());
    let put = |client: &Client, words: &str| {
        client.call("PUT", &says).json(&json!({ "technician_says": words })).send()
    };
    put(&technician, "the clip was already loose").expect(200);
    assert_eq!(it.read(&technician)["technician_says"], "the clip was already loose");
    // It is about the technician's own job; not the helper's.
    put(&helper, "I know better").problem(403, "forbidden");
    helper.get(&it.enquiry()).problem(403, "forbidden");
    technician.patch(&it.enquiry(), &json!({ "analysis": "x" })).problem(403, "forbidden");
    technician.post("actions", &json!({ "kind": "other", "words": "x" })).problem(403, "forbidden");
    let words = "The clip was loose when I came to it.";
    let floor = shops.visitor("technician.north", "north");
    let page = floor.get(&it.enquiry()).expect(200);
    form(&page, "/statement").fill("technician_says", words).follow(&floor);
    assert_eq!(it.read(&manager)["technician_says"], words);
    assert!(!page.body.contains("name=\"analysis\""), "{}", page.body);
    let page = shops.visitor("helper.north", "north").get(&it.enquiry()).expect(200);
    assert!(page.body.contains("for whose job it is about"), "{}", page.body);
    assert!(!page.body.contains(words), "{}", page.body);
    // The owner and the adviser read it.
    for name in ["owner.riverside", "adviser.north"] {
        assert_eq!(it.read(&shops.person_at(name, "north"))["technician_says"], words);
    }
    // On another technician's start page it says that it waits for words.
    let other = back(shops, "EN 6");
    manager.post(&other.enquiry(), &json!({})).expect(201);
    let today = floor.get("today").expect(200);
    assert!(today.body.contains("came back: say what you know of it"), "{}", today.body);
    assert!(today.body.contains(&format!("{}\"", other.enquiry())), "{}", today.body);
    assert!(!today.body.contains(&format!("{}\"", it.enquiry())), "{}", today.body);
}

fn actions_end_and_are_looked_back_on(shops: &Shops) {
    let manager = shops.person("manager.north");
    let odd = json!({ "kind": "prayer", "words": " ", "due_on": "0026-01-01" });
    assert_eq!(manager.post("actions", &odd).pointers(), ["/kind", "/due_on", "/words"]);
    let nobody = "00000000-0000-7000-8000-000000000000";
    let odd = json!({ "kind": "other", "words": "x", "owner_id": nobody });
    assert_eq!(manager.post("actions", &odd).pointers(), ["/owner_id"]);
    let odd = json!({ "kind": "other", "words": "x", "enquiry_id": nobody });
    manager.post("actions", &odd).problem(404, "not-found");
    // Without an enquiry: from nothing but good sense.
    let id = action(&manager, None, "torque wheels with a wrench that clicks");
    let at = format!("actions/{id}");
    let row = manager.get(&at).expect(200).json();
    assert_eq!((&row["state"], &row["enquiry_id"]), (&json!("open"), &Value::Null));
    assert_eq!(row["owner_id"], manager.get("/api/v1/me").json()["id"]);
    let verify = json!({ "held": true, "how": "forty wheels, none came back" });
    manager.settle(&at, "verification", &verify).problem(409, "conflict");
    manager.patch(&at, &json!({ "due_on": "2026-01-05" })).expect(200);
    let ending = json!({ "state": "done", "note": "bought two" });
    let row = manager.settle(&at, "ending", &ending).expect(200).json();
    assert!(row["done_on"].is_string() && row["done_note"] == "bought two", "{row}");
    manager.patch(&at, &json!({ "words": "x" })).problem(409, "conflict");
    manager.settle(&at, "ending", &ending).problem(409, "conflict");
    assert_eq!(
        manager.settle(&at, "verification", &json!({ "held": true, "how": "" })).pointers(),
        ["/how"]
    );
    let row = manager.settle(&at, "verification", &verify).expect(200).json();
    assert_eq!((&row["held"], &row["verified_how"]), (&json!(true), &verify["how"]));
    // It did not hold after all: opened again, what was said of it is gone.
    let row = manager.settle(&at, "reopening", &json!({})).expect(200).json();
    for field in ["done_on", "verified_on", "held"] {
        assert_eq!(row[field], Value::Null, "{field}");
    }
    let open = manager.get("actions?state=open").expect(200).json();
    assert_eq!(open["items"].as_array().unwrap().len(), 1);
    assert_eq!(manager.get("actions?state=done").json()["items"], json!([]));
    assert_eq!(manager.get("actions?state=late").pointers(), ["state"]);
    // The owner of the group agrees on actions, too; a sister shop has its own.
    let owner = shops.person_at("owner.riverside", "north");
    action(&owner, None, "ask the supplier");
    shops.person_at("owner.riverside", "south").get(&at).problem(404, "not-found");
}
