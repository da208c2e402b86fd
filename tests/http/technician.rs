//! The job's page as a technician uses it: a tap a finding, a part, a proof;
//! what was done is told, and taken back by one more.

use serde_json::json;

use crate::support::html::{form, form_with, plain};
use crate::support::visit::{finish, open, person, text};
use crate::support::{Answer, Shops, on_each_database};

on_each_database!(
    a_typical_complaint_by_taps,
    what_is_taken_back_is_put_back,
    parts_are_offered_with_advice_and_without_money,
    a_comeback_shows_what_was_not_checked_then,
    a_day_by_promised_time,
    readings_are_asked_for_where_they_belong,
);

/// What the page tells of the last write.
#[track_caller]
fn told(page: &Answer) -> String {
    let (_, after) = page.body.split_once("class=\"said\"").expect("a notice");
    let (_, text) = after.split_once("<p>").unwrap();
    plain(text.split_once("</p>").unwrap().0)
}

fn a_typical_complaint_by_taps(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (_, job) = open(&adviser, "TE 1", "engine.stalls");
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get(&format!("jobs/{job}")).expect(200);
    // Cautions stand before the first step.
    let (before, after) = page.body.split_once("id=\"cautions-heading\"").unwrap();
    assert!(!before.contains("data-step=\"clock\"") && after.contains("data-step=\"clock\""));
    assert!(page.body.contains("Nobody has recorded a check for this complaint yet."));
    let page = form(&page, "/labor").fill("activity", "diagnosis").follow(&technician);
    assert_eq!(told(&page), "The clock runs: diagnosis.");
    let look = form_with(&page, "/checks", "value=\"visual-under-hood\"");
    let page = look.fill("finding", "abnormal").follow(&technician);
    assert!(told(&page).starts_with("Recorded: Look under the hood, levels: abnormal"));
    // One tap changes over: what ran has ended.
    let page = form(&page, "/labor").fill("activity", "repair").follow(&technician);
    let kept = "SELECT activity AS line FROM labor_entry WHERE ended_at IS NULL";
    assert_eq!(shops.place.lines(kept), ["repair"]);
    assert_eq!(shops.place.count("FROM labor_entry"), 2);
    let cause = form_with(&page, "/cause", "<select").fill("cause", "throttle-dirty");
    let page = cause.follow(&technician);
    assert!(told(&page).ends_with(", suspected."), "{}", told(&page));
    // The check that showed something is offered as how it was confirmed.
    let how = "Look under the hood, levels: abnormal";
    assert!(page.body.contains(&format!("value=\"{how}\"")), "{}", page.body);
    let confirm = form_with(&page, "/cause", "data-step=\"cause-how\"");
    let page = confirm.fill("cause_how", how).follow(&technician);
    assert!(told(&page).ends_with(", confirmed."), "{}", told(&page));
    let page = form(&page, "/proofs").fill("passed", "yes").follow(&technician);
    assert_eq!(told(&page), "Recorded: road test, it holds.");
    let close = form(&page, "/closure").fill("outcome", "repaired").fill("correction", "cleaned");
    let page = close.follow(&technician);
    assert_eq!(told(&page), "Closed: repaired.");
    // The own clock ended with the job.
    assert_eq!(shops.place.count("FROM labor_entry WHERE ended_at IS NULL"), 0);
    assert_eq!(shops.place.lines("SELECT cause_state AS line FROM job"), ["confirmed"]);
    let page = form(&page, "/reopening").follow(&technician);
    assert_eq!(told(&page), "The job is open again.");
}

fn what_is_taken_back_is_put_back(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (_, job) = open(&manager, "TE 2", "engine.stalls");
    let at = format!("jobs/{job}");
    let check = json!({ "code": "fuel-pressure", "finding": "abnormal", "minutes": 9,
        "reading": 210.5, "unit": "kPa", "position": "rail", "limit_source": "maker" });
    let check = manager.post(&format!("{at}/checks"), &check).expect(201).json();
    let part = json!({ "name": "fuel pump", "part_no": "FP-9", "disposition": "replaced_new",
        "role": "suspect", "supplier": "Tarn Parts", "lot": "7", "quantity_hundredths": 200 });
    let part = manager.post(&format!("{at}/parts"), &part).expect(201).json();
    let operation = json!({ "code": "fuel-pump", "flat_rate_hundredths": 120 });
    manager.post(&format!("{at}/operations"), &operation).expect(201);
    let whole = || manager.get(&at).expect(200).json();
    let before = whole();
    let technician = shops.visitor("technician.north", "north");
    let mut page = technician.get(&at).expect(200);
    for list in ["checks", "parts", "operations"] {
        let id = text(&before[list][0]["id"]).to_owned();
        let place = format!("{list}/{id}");
        let taken = form(&page, &format!("{place}/removal")).follow(&technician);
        assert!(told(&taken).starts_with("Taken back: "), "{}", told(&taken));
        assert_eq!(whole()[list], json!([]));
        page = form(&taken, &format!("{place}/return")).follow(&technician);
        assert!(told(&page).starts_with("Recorded: "), "{}", told(&page));
        assert_eq!(whole()[list], before[list], "{list}");
        // There is nothing to put back twice.
        form(&taken, &format!("{place}/return")).without("once").send(&technician).expect(400);
        assert_eq!(whole()[list].as_array().unwrap().len(), 1);
    }
    assert_eq!(whole()["checks"][0]["id"], check["id"]);
    assert_eq!(whole()["parts"][0]["id"], part["id"]);
    // A proof, and a cause, are taken back as well.
    let page = form(&page, "/proofs").fill("passed", "no").follow(&technician);
    assert_eq!(told(&page), "Recorded: road test, not yet: more work.");
    let page = form(&page, "/removal").follow(&technician);
    assert_eq!(whole()["proofs"], json!([]));
    let cause = form_with(&page, "/cause", "<select").fill("cause", "throttle-dirty");
    let page = cause.follow(&technician);
    form(&page, "/cause").follow(&technician);
    assert_eq!(whole()["cause"], json!(null));
}

fn parts_are_offered_with_advice_and_without_money(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, "TE 3", "engine.stalls");
    let used = json!({ "name": "throttle body", "part_no": "TB-40", "disposition": "cleaned_reused",
        "role": "suspect", "unit_cost_minor": 7319, "unit_price_minor": 12977 });
    manager.post(&format!("jobs/{job}/parts"), &used).expect(201);
    finish(&manager, &order, &job, "throttle-dirty");
    let (_, job) = open(&manager, "TE 4", "engine.stalls");
    let at = format!("jobs/{job}");
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get(&at).expect(200);
    assert!(page.body.contains("data-part=\"TB-40\""), "{}", page.body);
    // Figures go up to yesterday: of today's case there is none to show.
    assert!(page.body.contains("once on this complaint"), "{}", page.body);
    // The cause of the earlier job is one tap away.
    let cause = form_with(&page, "/cause", "data-step=\"cause\"");
    let page = cause.fill("cause", "throttle-dirty").follow(&technician);
    let tap = form_with(&page, "/parts", "value=\"TB-40\"");
    let page = tap.fill("pick", "suspect replaced_new").follow(&technician);
    assert!(told(&page).starts_with("Recorded: throttle body: replaced, new"), "{}", told(&page));
    // What was done is proposed for the correction.
    let correction = "throttle body replaced, new</textarea>";
    assert!(page.body.contains(correction), "{}", page.body);
    // A part that somebody else put down says what it was held as by a tap.
    let bare = json!({ "name": "gasket", "disposition": "replaced_new", "unit_cost_minor": 7319 });
    let bare = manager.post(&format!("{at}/parts"), &bare).expect(201).json();
    let page = technician.get(&at).expect(200);
    let tap = form(&page, &format!("{}/change", text(&bare["id"]))).fill("role", "bystander");
    let page = tap.follow(&technician);
    let kept = manager.get(&at).json();
    let gasket = kept["parts"].as_array().unwrap().iter().find(|part| part["name"] == "gasket");
    let gasket = gasket.unwrap();
    assert_eq!((&gasket["role"], &gasket["unit_cost_minor"]), (&json!("bystander"), &json!(7319)));
    for money in ["73.19", "129.77"] {
        assert!(!page.body.contains(money), "{money}");
    }
}

fn a_comeback_shows_what_was_not_checked_then(shops: &Shops) {
    let program = shops.person("adviser.north");
    let earlier = |plate: &str, checks: &[&str]| {
        let (order, job) = open(&program, plate, "engine.stalls");
        for code in checks {
            let check = json!({ "code": code, "finding": "normal" });
            program.post(&format!("jobs/{job}/checks"), &check).expect(201);
        }
        finish(&program, &order, &job, "throttle-dirty");
    };
    earlier("TE 5", &["read-codes", "compression"]);
    earlier("TE 6", &["read-codes"]);
    let (_, job) = open(&program, "TE 6", "engine.stalls");
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get(&format!("jobs/{job}")).expect(200);
    assert!(page.body.contains("In before, 0 days earlier"), "{}", page.body);
    let (_, missed) = page.body.split_once("Not checked then:").expect("what was left out");
    let missed = missed.split_once("</p>").unwrap().0;
    assert!(missed.contains("Compression of all cylinders"), "{missed}");
    assert!(!missed.contains("Read codes"), "{missed}");
    // Few cases: the page says so.
    assert!(page.body.contains("Up to yesterday no closed job"));
}

fn a_day_by_promised_time(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let manager = shops.person("manager.north");
    let me = person(&manager, "technician of north");
    let other = person(&manager, "helper of north");
    let open_for = |plate: &str, promised: &str, lead: Option<&str>| {
        let (order, job) = open(&adviser, plate, "engine.stalls");
        adviser.patch(&format!("orders/{order}"), &json!({ "promised_at": promised })).expect(200);
        if let Some(lead) = lead {
            adviser.patch(&format!("jobs/{job}"), &json!({ "lead_id": lead })).expect(200);
        }
        job
    };
    open_for("TE LATE", "2199-01-05T10:00:00Z", Some(&me));
    open_for("TE SOON", "2199-01-04T10:00:00Z", Some(&me));
    open_for("TE FREE", "2199-01-03T10:00:00Z", None);
    let theirs = open_for("TE OTHER", "2199-01-02T10:00:00Z", Some(&other));
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get("today").expect(200);
    let places: Vec<usize> = [
        "id=\"mine\"",
        "TE SOON",
        "TE LATE",
        "id=\"unled\"",
        "TE FREE",
        "id=\"others\"",
        "TE OTHER",
    ]
    .iter()
    .map(|word| page.body.find(word).unwrap_or_else(|| panic!("no {word}: {}", page.body)))
    .collect();
    assert!(places.is_sorted(), "{places:?}");
    // Whoever is put on a job has it in hand.
    let on = json!({ "person_id": me, "worked_as": "helper" });
    adviser.post(&format!("jobs/{theirs}/people"), &on).expect(201);
    let page = technician.get("today").expect(200);
    assert!(!page.body.contains("id=\"others\""), "{}", page.body);
    // The clock that runs is stopped from here.
    let job = technician.get(&format!("jobs/{theirs}")).expect(200);
    form(&job, "/labor").fill("activity", "diagnosis").follow(&technician);
    let page = technician.get("today").expect(200);
    assert!(page.body.contains("You are on"), "{}", page.body);
    let page = form(&page, "/stop").follow(&technician);
    assert!(told(&page).starts_with("Stopped: job "), "{}", told(&page));
    // At the counter all orders are listed, and what waits for what.
    let wait = json!({ "waiting_for": "part", "expected_on": "2199-01-09" });
    adviser.post(&format!("jobs/{theirs}/waits"), &wait).expect(201);
    let page = shops.visitor("adviser.north", "north").get("today").expect(200);
    let (waiting, orders) = page.body.split_once("id=\"orders\"").unwrap();
    assert!(waiting.contains("waits for a part") && waiting.contains("expected"), "{waiting}");
    assert!(orders.contains("TE OTHER") && orders.contains("TE FREE"));
}

fn readings_are_asked_for_where_they_belong(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (_, job) = open(&adviser, "TE 9", "start.no-crank");
    let at = format!("jobs/{job}");
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get(&at).expect(200);
    let add = form_with(&page, "/checks", "name=\"minutes\"");
    let add = add.fill("code", "charging-voltage").fill("finding", "abnormal");
    let page = add.follow(&technician);
    let reading = form_with(&page, "/change", "name=\"limit_source\"").fill("reading", "12.1");
    let page = reading.fill("unit", "V").fill("low_limit", "13.5").follow(&technician);
    assert_eq!(told(&page), "The check is changed.");
    let check = &adviser.get(&at).json()["checks"][0];
    // What the short form does not show stays.
    assert_eq!((&check["reading"], &check["low_limit"]), (&json!(12.1), &json!(13.5)));
    assert_eq!((&check["finding"], &check["minutes"]), (&json!("abnormal"), &json!(null)));
}
