//! The weekly review as its reader works it off: decide, name the cause, take
//! back, and find what was done.

use serde_json::json;

use crate::support::html::{Form, form, plain};
use crate::support::visit::{finish, open, text};
use crate::support::{Answer, Client, Shops, on_each_database};

on_each_database!(
    proposals_are_decided_in_the_review,
    a_decision_owes_its_reason,
    what_was_decided_is_taken_back,
    the_cause_of_a_comeback_is_named_later,
    the_first_repair_stands_beside_it,
    follow_ups_are_what_the_record_has,
    the_list_is_narrowed,
    who_may_not_decide_only_looks,
);

/// A vehicle that was here twice for one complaint: the two jobs, and the day of
/// the second.
fn back(shops: &Shops, plate: &str) -> (String, String, String) {
    let program = shops.person("adviser.north");
    let (order, first) = open(&program, plate, "engine.stalls");
    finish(&program, &order, &first, "air-filter");
    let (order, later) = open(&program, plate, "engine.stalls");
    let day = program.get(&format!("orders/{order}")).expect(200).json()["opened_on"].clone();
    (first, later, text(&day).to_owned())
}

fn manager(shops: &Shops) -> Client {
    shops.visitor("manager.north", "north")
}

/// The review of the week that holds the day, up to the end of it.
fn week(client: &Client, day: &str) -> Answer {
    let date: chrono::NaiveDate = day.parse().unwrap();
    client.get(&format!("week?week={}&as_of={day}", date.format("%G-W%V"))).expect(200)
}

/// The first form that decides.
fn deciding(page: &Answer) -> Form {
    let day = page.body.split("as_of=").nth(1).unwrap();
    form(page, &format!("as_of={}", &day[..10]))
}

fn states(shops: &Shops) -> Vec<String> {
    shops
        .place
        .lines("SELECT state || ' ' || COALESCE(reason, '-') AS line FROM comeback ORDER BY line")
}

fn proposals_are_decided_in_the_review(shops: &Shops) {
    back(shops, "WK 1");
    let (_, _, day) = back(shops, "WK 2");
    let manager = manager(shops);
    let page = week(&manager, &day);
    assert_eq!(page.body.matches("class=\"proposal\"").count(), 2);
    let page = deciding(&page).fill("confirm", "yes").fill("reason", "workmanship");
    let page = page.fill("note", "torque was not checked").follow(&manager);
    // The same week, what was done, and the next one to decide.
    assert!(page.body.contains("confirmed: The work was not done well."), "{}", page.body);
    assert!(page.body.contains("Take back"));
    assert_eq!(page.body.matches("class=\"proposal\"").count(), 1);
    assert_eq!(states(shops), ["confirmed workmanship", "proposed -"]);
    let page = week(&manager, &day);
    let page = deciding(&page).fill("confirm", "no").fill("reason", "new-fault").follow(&manager);
    assert!(page.body.contains("Every proposed comeback is decided."));
    assert_eq!(states(shops), ["confirmed workmanship", "rejected new-fault"]);
    let (_, decisions) = page.body.split_once("id=\"decisions\"").unwrap();
    for said in
        ["confirmed", "rejected", "by <bdi>manager of north</bdi>", "torque was not checked"]
    {
        assert!(decisions.contains(said), "{said}: {decisions}");
    }
}

fn a_decision_owes_its_reason(shops: &Shops) {
    let (_, _, day) = back(shops, "WK 3");
    let manager = manager(shops);
    let sheet =
        deciding(&week(&manager, &day)).fill("confirm", "yes").fill("note", "see the photo");
    let told = sheet.send(&manager).expect(422);
    let seen = plain(&told.body);
    for said in ["The week of", "Reason: choose one.", "see the photo", "Nothing was written."] {
        assert!(seen.contains(said), "{said}: {seen}");
    }
    // What was typed can be sent with the reason it lacked.
    deciding(&told).fill("confirm", "yes").fill("reason", "workmanship").follow(&manager);
    assert_eq!(states(shops), ["confirmed workmanship"]);
    // Sent from a page that is older than the decision, it is held back.
    sheet.fill("reason", "new-fault").send(&manager).expect(412);
    assert_eq!(states(shops), ["confirmed workmanship"]);
}

fn what_was_decided_is_taken_back(shops: &Shops) {
    let (first, _, day) = back(shops, "WK 4");
    let manager = manager(shops);
    let cause = format!("SELECT cause_state AS line FROM job WHERE id = '{first}'");
    let page = deciding(&week(&manager, &day)).fill("confirm", "yes");
    let page = page.fill("reason", "misdiagnosis").follow(&manager);
    assert_eq!(shops.place.lines(&cause), ["suspected"]);
    // The line that says it comes first, with the way back.
    let page = deciding(&page).follow(&manager);
    assert_eq!(states(shops), ["proposed -"]);
    assert_eq!(shops.place.lines(&cause), ["confirmed"]);
    assert!(page.body.contains("waits for a decision again"), "{}", page.body);
    let actions =
        "SELECT action AS line FROM record_change WHERE record = 'comeback' ORDER BY change_no";
    assert_eq!(shops.place.lines(actions), ["added", "decided", "taken_back"]);
    // On its own page, too; a decision that is not there cannot be taken back.
    let id = shops.place.lines("SELECT id AS line FROM comeback").remove(0);
    let own = manager.get(&format!("comebacks/{id}")).expect(200);
    assert!(!own.body.contains("Take back"));
    let decide = form(&own, "/decision").fill("confirm", "no").fill("reason", "new-fault");
    let own = decide.follow(&manager);
    let undo = form(&own, "/decision");
    undo.follow(&manager);
    assert_eq!(states(shops), ["proposed -"]);
    undo.send(&manager).expect(303);
    let again = manager.get(&format!("comebacks/{id}")).expect(200);
    let odd = form(&again, "/decision").fill("confirm", "no").fill("reason", "new-fault");
    let own = odd.follow(&manager);
    assert!(own.body.contains("Decide again"));
}

fn the_cause_of_a_comeback_is_named_later(shops: &Shops) {
    let (_, _, day) = back(shops, "WK 5");
    let manager = manager(shops);
    let page = deciding(&week(&manager, &day)).fill("confirm", "yes");
    page.fill("reason", "not-yet-known").follow(&manager);
    let page = week(&manager, &day);
    assert!(page.body.contains("Name the cause of this comeback"), "{}", page.body);
    let page = deciding(&page).fill("reason", "part-defective").follow(&manager);
    assert_eq!(states(shops), ["confirmed part-defective"]);
    assert!(!page.body.contains("Name the cause of this comeback"));
    assert!(page.body.contains("A part supplied was defective"));
}

fn the_first_repair_stands_beside_it(shops: &Shops) {
    let technician = shops.person("technician.north");
    // Two earlier jobs say what is usual for the complaint.
    for plate in ["WK 6", "WK 7"] {
        let (order, job) = open(&technician, plate, "engine.stalls");
        let check = json!({ "code": "read-codes", "finding": "abnormal", "minutes": 5 });
        technician.post(&format!("jobs/{job}/checks"), &check).expect(201);
        finish(&technician, &order, &job, "throttle-dirty");
    }
    let (order, job) = open(&technician, "WK 8", "engine.stalls");
    let check = json!({ "code": "road-test", "finding": "normal", "minutes": 9 });
    technician.post(&format!("jobs/{job}/checks"), &check).expect(201);
    let part = json!({ "name": "throttle body", "disposition": "cleaned_reused", "role": "suspect", "unit_cost_minor": 4321 });
    shops.person("manager.north").post(&format!("jobs/{job}/parts"), &part).expect(201);
    finish(&technician, &order, &job, "throttle-dirty");
    let (order, _) = open(&technician, "WK 8", "engine.stalls");
    let day = technician.get(&format!("orders/{order}")).expect(200).json()["opened_on"].clone();
    let page = week(&manager(shops), text(&day));
    let (_, pair) = page.body.split_once("class=\"pair\"").unwrap();
    let (then, now) = pair.split_once("class=\"now\"").unwrap();
    for said in ["Road test", "cleaned and reused", "(suspect)", "it shakes at the lights"] {
        assert!(then.contains(said), "{said}: {then}");
    }
    let (_, missed) = then.split_once("Not checked").unwrap();
    let (missed, _) = missed.split_once("</div>").unwrap();
    assert!(!missed.contains("Road test") && missed.contains("usual"), "{missed}");
    assert!(now.contains("not found yet"));
    assert!(!page.body.contains("43.21"));
}

fn follow_ups_are_what_the_record_has(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let manager = manager(shops);
    let (order, told) = open(&adviser, "WK 9", "engine.stalls");
    let day = adviser.get(&format!("orders/{order}")).expect(200).json()["opened_on"].clone();
    let page = week(&manager, text(&day)).body;
    for nothing in ["nobody told that a repair did not hold", "No job of the last 12 weeks waits"] {
        assert!(page.contains(nothing), "{nothing}: {page}");
    }
    finish(&adviser, &order, &told, "air-filter");
    let call = json!({ "told": "not_fixed", "told_on": day });
    adviser.post(&format!("jobs/{told}/outside-return"), &call).expect(201);
    let (order, planned) = open(&adviser, "WK 10", "engine.stalls");
    let close = json!({ "outcome": "planned_second_visit", "correction": "part ordered" });
    adviser.settle(&format!("jobs/{planned}"), "closure", &close).expect(200);
    adviser.settle(&format!("orders/{order}"), "closure", &json!({})).expect(200);
    let page = week(&manager, text(&day)).body;
    let (_, after) = page.split_once("id=\"told\"").unwrap();
    assert!(after.contains("not fixed") && after.contains("no reason named"), "{after}");
    assert!(after.contains(&planned), "{after}");
    // Once the visit is written up, it is waited for no more.
    let visit = json!({
        "vehicle": { "plate": "WK 10" },
        "jobs": [{ "symptom": "engine.stalls", "complaint": "as planned", "second_visit_of_job_id": planned }],
    });
    adviser.post("orders", &visit).expect(201);
    let page = week(&manager, text(&day)).body;
    assert!(page.contains("No job of the last 12 weeks waits"), "{page}");
}

fn the_list_is_narrowed(shops: &Shops) {
    let (_, _, day) = back(shops, "WK 11");
    back(shops, "WK 12");
    let manager = manager(shops);
    let page = deciding(&week(&manager, &day)).fill("confirm", "yes");
    page.fill("reason", "workmanship").follow(&manager);
    let technician = shops.visitor("technician.north", "north");
    let seen = |query: &str| {
        let body = technician.get(&format!("comebacks{query}")).expect(200).body;
        ["WK 11", "WK 12"].map(|plate| body.contains(plate))
    };
    let (confirmed, undecided) = (seen("?state=confirmed"), seen("?state=undecided"));
    assert_eq!(seen(""), [true, true]);
    assert_ne!(confirmed, undecided);
    assert_eq!(confirmed.iter().filter(|seen| **seen).count(), 1);
    assert_eq!(seen("?state=rejected"), [false, false]);
    let month = day.parse::<chrono::NaiveDate>().unwrap().format("Back in %B %Y").to_string();
    assert!(technician.get("comebacks").expect(200).body.contains(&month));
    assert!(!technician.get("comebacks").expect(200).body.contains("class=\"decide"));
}

fn who_may_not_decide_only_looks(shops: &Shops) {
    let (_, _, day) = back(shops, "WK 13");
    let owner = shops.visitor("owner.riverside", "north");
    let page = week(&owner, &day);
    assert!(page.body.contains("class=\"proposal\"") && !page.body.contains("class=\"decide"));
    let sheet = deciding(&week(&manager(shops), &day)).fill("confirm", "yes");
    sheet.fill("reason", "workmanship").send(&owner).expect(403);
    for other in ["adviser.north", "technician.north"] {
        shops.visitor(other, "north").get("week").expect(403);
    }
    assert_eq!(states(shops), ["proposed -"]);
}
