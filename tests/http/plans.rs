//! Check plans: made, followed on a job, changed, proposed, decided, withdrawn.

use serde_json::{Value, json};

use crate::support::html::{Form, form, form_with};
use crate::support::visit::{open, repaired, text};
use crate::support::{Answer, Client, Shops, on_each_database};

on_each_database!(
    a_plan_lives_version_by_version,
    what_cannot_be_followed_is_refused,
    the_narrowest_plan_counts,
    a_skipped_step_is_asked_for_and_never_blocks,
    few_cases_claim_no_saving,
    a_proposal_keeps_what_is_mandatory,
    a_plan_goes_on_where_its_codes_were_merged,
    a_plan_for_a_model_finds_its_jobs,
    a_check_of_the_shop_says_what_must_be_open,
    a_plan_answers_a_corrective_action,
    plans_on_their_pages,
    the_week_tells_what_was_passed_over,
);

fn steps(checks: &[&str]) -> Value {
    checks.iter().map(|check| json!({ "check": check })).collect()
}

fn make(client: &Client, body: &Value) -> Value {
    client.post("plans", body).expect(201).json()
}

fn place(plan: &Value) -> String {
    format!("plans/{}", text(&plan["id"]))
}

/// The checks of a plan's version in that state, the latest.
fn checks_of(plan: &Value, state: &str) -> Vec<String> {
    let versions = plan["versions"].as_array().unwrap();
    let version = versions.iter().find(|version| version["state"] == state);
    let version = version.unwrap_or_else(|| panic!("none is {state}: {plan}"));
    let steps = version["steps"].as_array().unwrap();
    steps.iter().map(|step| text(&step["check"]).to_owned()).collect()
}

fn a_plan_lives_version_by_version(shops: &Shops) {
    let manager = shops.person("manager.north");
    let technician = shops.person("technician.north");
    assert_eq!(technician.get("plans").expect(200).json()["items"], json!([]));
    let offered = technician.get("starting-plans").expect(200).json();
    let offered = offered["items"].as_array().unwrap();
    let tick = offered.iter().find(|plan| plan["symptom"] == "engine.tick").unwrap();
    technician.post("plans", &json!({ "symptom": "engine.tick" })).problem(403, "forbidden");
    let made = make(&manager, &json!({ "symptom": "engine.tick" }));
    let first = &made["versions"][0];
    assert_eq!((&first["number"], &first["origin"]), (&json!(1), &json!("starting")));
    assert_eq!((&first["state"], &first["steps"]), (&json!("in_force"), &tick["steps"]));
    manager.post("plans", &json!({ "symptom": "engine.tick" })).problem(409, "conflict");
    // Another version takes its place, and the first stays what it was.
    let shorter = json!({ "steps": steps(&["oil-pressure", "stethoscope"]), "reason": "shorter" });
    let changed = manager.settle(&place(&made), "versions", &shorter).expect(200).json();
    assert_eq!(checks_of(&changed, "in_force"), ["oil-pressure", "stethoscope"]);
    let before = &changed["versions"][1];
    assert_eq!((&before["state"], &before["steps"]), (&json!("replaced"), &tick["steps"]));
    assert_eq!(changed["versions"][0]["from_at"], before["to_at"]);
    let call = manager.call("POST", &format!("{}/versions", place(&made))).json(&shorter);
    call.new_key().if_match("\"1\"").send().problem(412, "stale");
    let why = json!({ "reason": "nobody uses it" });
    manager.settle(&place(&made), "withdrawal", &why).expect(200);
    manager.settle(&place(&made), "versions", &shorter).problem(409, "conflict");
    assert_eq!(technician.get("plans").expect(200).json()["items"], json!([]));
    let kept = technician.get("plans?withdrawn=true&symptom=engine.tick").expect(200).json();
    assert_eq!(kept["items"][0]["withdrawn_reason"], "nobody uses it");
    make(&manager, &json!({ "symptom": "engine.tick" }));
}

fn what_cannot_be_followed_is_refused(shops: &Shops) {
    let manager = shops.person("manager.north");
    let pointers = |steps: Value| {
        manager.post("plans", &json!({ "symptom": "engine.stalls", "steps": steps })).pointers()
    };
    assert_eq!(pointers(json!([])), ["/steps"]);
    assert_eq!(pointers(steps(&["road-test", "road-test"])), ["/steps/1/check"]);
    assert_eq!(pointers(steps(&["no-such-check"])), ["/steps/0/check"]);
    let late = json!([{ "check": "read-codes", "after": ["road-test"] }, { "check": "road-test" }]);
    assert_eq!(pointers(late), ["/steps/0/after"]);
    let mandatory = json!([{ "check": "read-codes" }, { "check": "road-test", "mandatory": true }]);
    assert_eq!(pointers(mandatory), ["/steps/1/mandatory"]);
    let unsaid = json!([{ "check": "charging-voltage", "limits": { "unit": "V", "low": 13.0, "source": "" } }]);
    assert_eq!(pointers(unsaid), ["/steps/0/limits"]);
    let coached = json!([{ "check": "hv-isolation-test", "points_to": [{ "finding": "low" }] }]);
    assert_eq!(pointers(coached), ["/steps/0/check"]);
    assert_eq!(shops.place.count("FROM check_plan"), 0);
}

fn written_up(client: &Client, plate: &str, model: &str, engine: &str) -> String {
    let body = json!({
        "vehicle": { "plate": plate, "make": "Ashlar", "model": model, "engine": engine },
        "jobs": [{ "symptom": "engine.stalls", "complaint": "it dies at the lights" }],
    });
    let order = client.post("orders", &body).expect(201).json();
    text(&order["jobs"][0]["id"]).to_owned()
}

fn the_narrowest_plan_counts(shops: &Shops) {
    let manager = shops.person("manager.north");
    let plan = |model: Option<&str>, engine: Option<&str>, check: &str| {
        make(
            &manager,
            &json!({
                "symptom": "engine.stalls", "model": model, "engine": engine, "steps": steps(&[check]),
            }),
        );
    };
    plan(None, None, "read-codes");
    plan(None, Some("2.0"), "intake-smoke");
    plan(Some("Corvane"), None, "fuel-pressure");
    plan(Some("Corvane"), Some("2.0"), "compression");
    let followed = |plate: &str, model: &str, engine: &str| {
        let job = written_up(&manager, plate, model, engine);
        let plan = manager.get(&format!("jobs/{job}/plan")).expect(200).json();
        text(&plan["steps"][0]["check"]).to_owned()
    };
    assert_eq!(followed("NP 1", "Haddenby", "1.6"), "read-codes");
    assert_eq!(followed("NP 2", "Haddenby", "2.0"), "intake-smoke");
    assert_eq!(followed("NP 3", "corvane", "1.6"), "fuel-pressure");
    assert_eq!(followed("NP 4", "Corvane", "2.0"), "compression");
    // A symptom without a plan has none.
    let (_, job) = open(&manager, "NP 5", "engine.tick");
    let none = manager.get(&format!("jobs/{job}/plan")).expect(200).json();
    assert_eq!((&none["plan_id"], &none["steps"]), (&Value::Null, &json!([])));
}

fn standings(client: &Client, job: &str) -> Vec<String> {
    let plan = client.get(&format!("jobs/{job}/plan")).expect(200).json();
    let steps = plan["steps"].as_array().unwrap();
    steps.iter().map(|step| text(&step["standing"]).to_owned()).collect()
}

fn a_skipped_step_is_asked_for_and_never_blocks(shops: &Shops) {
    let manager = shops.person("manager.north");
    make(
        &manager,
        &json!({ "symptom": "engine.stalls", "steps": [
        { "check": "read-codes", "mandatory": true },
        { "check": "intake-smoke", "limits": {
            "unit": "kPa", "low": 5.0, "high": 7.0, "source": "common practice",
        } },
        { "check": "fuel-pressure" },
    ] }),
    );
    let technician = shops.person("technician.north");
    let (order, job) = open(&manager, "SK 1", "engine.stalls");
    assert_eq!(standings(&technician, &job), ["next", "ahead", "ahead"]);
    let check = |code: &str| json!({ "code": code, "finding": "normal" });
    technician.post(&format!("jobs/{job}/checks"), &check("intake-smoke")).expect(201);
    assert_eq!(standings(&technician, &job), ["passed_over", "made", "next"]);
    // The page asks for a reason by one tap, and offers the next step first.
    let visitor = shops.visitor("technician.north", "north");
    let page = visitor.get(&format!("jobs/{job}")).expect(200);
    assert!(page.body.contains("Why was it skipped?"), "{}", page.body);
    let next = page.body.split("<div class=\"next\">").nth(1).unwrap();
    let next = next.split("</form>").next().unwrap();
    assert!(next.contains("value=\"fuel-pressure\""), "{next}");
    assert!(page.body.contains("Version 1, for every vehicle"));
    // The reading that the plan has limits for begins with them.
    assert!(page.body.contains("value=\"common practice\"") && page.body.contains("value=\"7\""));
    let tap = form_with(&page, "/checks", "Not authorized");
    let after = tap.fill("not_done_reason", "no tool").follow(&visitor);
    assert!(!after.body.contains("Why was it skipped?"));
    assert_eq!(standings(&technician, &job), ["skipped", "made", "next"]);
    let plan = technician.get(&format!("jobs/{job}/plan")).expect(200).json();
    assert_eq!(plan["steps"][0]["not_done_reason"], "no tool");
    // A job with a mandatory step not made ends all the same, and still asks.
    let (other, unsaid) = open(&manager, "SK 2", "engine.stalls");
    let close = |job: &str| {
        technician.settle(&format!("jobs/{job}"), "closure", &repaired("air-filter")).expect(200);
    };
    close(&unsaid);
    assert_eq!(standings(&technician, &unsaid), ["passed_over", "ahead", "ahead"]);
    close(&job);
    for order in [order, other] {
        manager.settle(&format!("orders/{order}"), "closure", &json!({})).expect(200);
    }
}

fn few_cases_claim_no_saving(shops: &Shops) {
    let manager = shops.person("manager.north");
    // Nobody made any of them yet: none is judged, and each keeps its place.
    let made = make(
        &manager,
        &json!({
            "symptom": "engine.stalls", "steps": steps(&["compression", "road-test", "read-codes"]),
        }),
    );
    let proposed = manager.settle(&place(&made), "proposals", &json!({})).expect(200).json();
    let stays = ["compression", "road-test", "read-codes"];
    assert_eq!(checks_of(&proposed, "proposed"), stays);
    assert_eq!(checks_of(&proposed, "in_force"), stays);
    let evidence = &proposed["versions"][0]["evidence"];
    assert_eq!((&evidence["confirmed"], &evidence["too_few"]), (&json!(0), &json!(true)));
    for field in ["saved", "minutes_before", "minutes_after"] {
        assert_eq!(evidence[field], Value::Null, "{field}");
    }
    for check in evidence["checks"].as_array().unwrap() {
        assert_eq!((&check["done"], &check["chance"]), (&json!(0), &Value::Null), "{check}");
    }
    let page = shops.visitor("manager.north", "north").get(&place(&made)).expect(200).body;
    assert!(page.contains("made 0 times: not judged"), "{page}");
    assert!(page.contains("too seldom to be judged") && !page.contains("To the cause:"), "{page}");
    manager.settle(&place(&made), "proposals", &json!({})).problem(409, "conflict");
    let version = text(&proposed["versions"][0]["id"]);
    let decide = |body: Value| {
        let tag = manager.get(&place(&made)).tag();
        let address = format!("{}/versions/{version}/decision", place(&made));
        manager.call("POST", &address).json(&body).new_key().if_match(&tag).send()
    };
    assert_eq!(decide(json!({ "accept": false })).pointers(), ["/reason"]);
    let taken = decide(json!({ "accept": true })).expect(200).json();
    assert_eq!(checks_of(&taken, "in_force"), stays);
    assert_eq!(taken["versions"][0]["evidence"], *evidence);
    decide(json!({ "accept": true })).problem(409, "conflict");
}

fn a_proposal_keeps_what_is_mandatory(shops: &Shops) {
    let manager = shops.person("manager.north");
    let made = make(
        &manager,
        &json!({ "symptom": "engine.stalls", "steps": [
        { "check": "compression", "mandatory": true },
        { "check": "fuel-pressure", "after": ["compression"] },
        { "check": "read-codes" },
    ] }),
    );
    let proposed = manager.settle(&place(&made), "proposals", &json!({})).expect(200).json();
    assert_eq!(checks_of(&proposed, "proposed"), ["compression", "fuel-pressure", "read-codes"]);
    let version = text(&proposed["versions"][0]["id"]);
    let verb = format!("versions/{version}/decision");
    let without = json!({ "accept": true, "steps": steps(&["read-codes"]) });
    let refused = manager.settle(&place(&made), &verb, &without);
    assert_eq!(refused.pointers(), ["/steps"]);
    let edited = json!({ "accept": true, "steps": [
        { "check": "compression", "mandatory": true }, { "check": "read-codes" },
    ] });
    let taken = manager.settle(&place(&made), &verb, &edited).expect(200).json();
    assert_eq!(checks_of(&taken, "in_force"), ["compression", "read-codes"]);
    assert_eq!(taken["versions"].as_array().unwrap().len(), 3);
    assert_eq!(taken["versions"][1]["state"], "declined");
}

fn merged(client: &Client, entry: &str, into: &str) {
    let (list, _) = entry.split_once('/').unwrap();
    let own = json!({ "list": list, "code": into, "label": format!("Our {into}") });
    client.post("codes", &own).expect(201);
    client.post(&format!("codes/{entry}/merge"), &json!({ "into": into })).expect(200);
}

fn a_plan_goes_on_where_its_codes_were_merged(shops: &Shops) {
    let manager = shops.person("manager.north");
    let body = json!({ "symptom": "engine.stalls", "steps": [
        { "check": "compression", "mandatory": true }, { "check": "read-codes" },
    ] });
    let made = make(&manager, &body);
    merged(&manager, "check/compression", "compression-own");
    // The mandatory check is there under the code that it counts as now.
    let proposed = manager.settle(&place(&made), "proposals", &json!({})).expect(200).json();
    let now = ["compression-own", "read-codes"];
    assert_eq!(checks_of(&proposed, "proposed"), now);
    let verb = format!("versions/{}/decision", text(&proposed["versions"][0]["id"]));
    let without = json!({ "accept": true, "steps": steps(&["read-codes"]) });
    assert_eq!(manager.settle(&place(&made), &verb, &without).pointers(), ["/steps"]);
    let taken = manager.settle(&place(&made), &verb, &json!({ "accept": true })).expect(200);
    assert_eq!(checks_of(&taken.json(), "in_force"), now);
    // So with the symptom: no second plan for the same vehicles, found by either.
    merged(&manager, "symptom/engine.stalls", "engine.dies");
    let twin = json!({ "symptom": "engine.dies", "steps": steps(&["read-codes"]) });
    manager.post("plans", &twin).problem(409, "conflict");
    for symptom in ["engine.stalls", "engine.dies"] {
        let found = manager.get(&format!("plans?symptom={symptom}")).expect(200).json();
        assert_eq!(found["items"].as_array().unwrap().len(), 1, "{found}");
    }
    let other = manager.get("plans?symptom=engine.tick").expect(200).json();
    assert_eq!(other["items"], json!([]));
}

fn a_plan_for_a_model_finds_its_jobs(shops: &Shops) {
    let manager = shops.person("manager.north");
    make(
        &manager,
        &json!({
            "symptom": "engine.stalls", "model": "CORVANE", "engine": "2.4 gdi",
            "steps": steps(&["read-codes", "intake-smoke"]),
        }),
    );
    let mut day = String::new();
    for (plate, model, engine) in
        [("FJ 1", "Corvane", "2.4 GDI"), ("FJ 2", "corvane", "2.4 gdi"), ("FJ 3", "Lirren", "1.6")]
    {
        let body = json!({
            "vehicle": { "plate": plate, "make": "Ashlar", "model": model, "engine": engine },
            "jobs": [{ "symptom": "engine.stalls", "complaint": "it dies at the lights" }],
        });
        let order = manager.post("orders", &body).expect(201).json();
        let job = text(&order["jobs"][0]["id"]).to_owned();
        let check = json!({ "code": "read-codes", "finding": "abnormal" });
        manager.post(&format!("jobs/{job}/checks"), &check).expect(201);
        manager.settle(&format!("jobs/{job}"), "closure", &repaired("air-filter")).expect(200);
        let order = format!("orders/{}", text(&order["id"]));
        let closed = manager.settle(&order, "closure", &json!({})).expect(200).json();
        text(&closed["closed_on"]).clone_into(&mut day);
    }
    let paths = manager.get(&format!("reports/paths?as_of={day}")).expect(200).json();
    let step = &paths["plans"][0]["steps"][0];
    assert_eq!(step["made"]["count"], 2, "{paths}");
    let select = format!("{}&as_of={day}", text(&step["made"]["jobs"]));
    let jobs = manager.get(&format!("reports/jobs?{select}")).expect(200).json();
    assert_eq!(jobs["count"], 2, "{jobs}");
    let page = shops.visitor("manager.north", "north").get(&format!("closed-jobs?{select}"));
    let page = page.expect(200).body;
    assert!(page.contains("model CORVANE, of whichever make"), "{page}");
}

fn a_check_of_the_shop_says_what_must_be_open(shops: &Shops) {
    let manager = shops.person("manager.north");
    let code = |list: &str, code: &str| {
        manager.post(
            "codes",
            &json!({ "list": list, "code": code, "label": code, "access": "trained" }),
        )
    };
    assert_eq!(code("cause", "own-cause").pointers(), ["/access"]);
    assert_eq!(code("check", "pack-look").expect(201).json()["access"], "trained");
    let listed = manager.get("codes/check/valve-cover-off").expect(200).json();
    assert_eq!(listed["access"], "cover");
    let coached = json!({ "symptom": "hybrid.ready-fault", "steps": [
        { "check": "pack-look", "points_to": [{ "finding": "swollen" }] },
    ] });
    assert_eq!(manager.post("plans", &coached).pointers(), ["/steps/0/check"]);
    let changed = manager.patch("codes/check/pack-look", &json!({ "access": "lift" })).expect(200);
    assert_eq!(changed.json()["access"], "lift");
    manager.post("plans", &coached).expect(201);
}

fn a_plan_answers_a_corrective_action(shops: &Shops) {
    let manager = shops.person("manager.north");
    let nobody = "00000000-0000-7000-8000-000000000000";
    let body = json!({ "symptom": "engine.tick", "action_id": nobody });
    manager.post("plans", &body).problem(404, "not-found");
    assert_eq!(shops.place.count("FROM check_plan"), 0);
}

/// The form that changes the steps, with the boxes that are ticked and the
/// choices that are chosen, as a browser sends it.
fn steps_form(page: &Answer) -> Form {
    let asks = "What changes and why";
    let mut sent = form_with(page, "/versions", asks);
    let forms = page.body.split("<form").skip(1).map(|rest| rest.split("</form>").next().unwrap());
    let body = forms.into_iter().find(|body| body.contains(asks)).unwrap();
    let name = |tag: &str| {
        let (_, rest) = tag.split_once(" name=\"").unwrap();
        rest.split('"').next().unwrap().to_owned()
    };
    for tag in body.split("<input").skip(1).filter_map(|rest| rest.split('>').next()) {
        if tag.contains("type=\"checkbox\"") && tag.ends_with(" checked") {
            sent = sent.add(&name(tag), "yes");
        }
    }
    for select in body.split("<select").skip(1).filter_map(|rest| rest.split("</select>").next()) {
        let chosen = select
            .split("<option value=\"")
            .find(|rest| rest.split('>').next().is_some_and(|tag| tag.ends_with(" selected")));
        if let Some(value) = chosen.and_then(|rest| rest.split('"').next()) {
            sent = sent.add(&name(select), value);
        }
    }
    sent
}

fn plans_on_their_pages(shops: &Shops) {
    let manager = shops.visitor("manager.north", "north");
    let list = manager.get("plans").expect(200);
    assert!(list.body.contains("No plan yet."));
    let offer = manager.get("plans/starting/charge.battery-flat").expect(200);
    assert!(offer.body.contains("TM 9-6140-200-14") && offer.body.contains("at least 12.4 V"));
    let page = form(&offer, "/plans").follow(&manager);
    assert!(page.body.contains("The plan is in force."), "{}", page.body);
    // The form without script: a step taken out, a reason owed.
    let edit = || steps_form(&page);
    let owed = edit().send(&manager).expect(422);
    assert!(owed.body.contains("say what changes and why"));
    let changed =
        edit().fill("s0_out", "yes").fill("reason", "belts are looked at").follow(&manager);
    assert!(changed.body.contains("The new version is in force."), "{}", changed.body);
    let whole = shops.person("manager.north").get("plans").expect(200).json();
    let now = checks_of(&whole["items"][0], "in_force");
    assert_eq!(
        (now.first().map(String::as_str), now.len()),
        (Some("terminals-resting-voltage"), 6)
    );
    // The limits, findings and openings of the others went through it unchanged.
    let versions = whole["items"][0]["versions"].as_array().unwrap();
    let kept = versions[1]["steps"].as_array().unwrap();
    assert_eq!(versions[0]["steps"].as_array().unwrap()[..], kept[1..]);
    let back = form_with(&changed, "/versions", "Put the version before back").follow(&manager);
    assert!(back.body.contains("Version 1 again."));
    // A step that cannot stand there is told by its name.
    let wrong = steps_form(&back)
        .fill("s6_place", "0")
        .fill("reason", "trace first")
        .send(&manager)
        .expect(422);
    assert!(wrong.body.contains("Trace a drain fuse by fuse: "), "{}", wrong.body);
    let asked = form(&back, "/proposals").follow(&manager);
    assert!(asked.body.contains("The record proposes another order"));
    let declined = form(&asked, "/decision").fill("reason", "as we know it").fill("accept", "no");
    assert!(declined.follow(&manager).body.contains("The proposal is declined."));
    let fresh = manager.get("plans/new?symptom=engine.stalls&model=Corvane").expect(200);
    let typed = form(&fresh, "/plans").fill("s0_check", "read-codes").follow(&manager);
    assert!(typed.body.contains("for every Corvane"), "{}", typed.body);
    // Who may not write reads.
    let address = format!("plans/{}", text(&whole["items"][0]["id"]));
    let reader = shops.visitor("technician.north", "north").get(&address).expect(200);
    assert!(reader.body.contains("Steps") && !reader.body.contains("Withdraw the plan"));
    shops.visitor("technician.north", "north").get("plans/new").expect(403);
}

fn the_week_tells_what_was_passed_over(shops: &Shops) {
    let manager = shops.person("manager.north");
    make(
        &manager,
        &json!({ "symptom": "engine.stalls", "steps": [
        { "check": "read-codes", "mandatory": true }, { "check": "intake-smoke" },
    ] }),
    );
    let visit = |plate: &str, rows: &[Value]| {
        let (order, job) = open(&manager, plate, "engine.stalls");
        for row in rows {
            manager.post(&format!("jobs/{job}/checks"), row).expect(201);
        }
        manager.settle(&format!("jobs/{job}"), "closure", &repaired("air-filter")).expect(200);
        let order = format!("orders/{order}");
        let closed = manager.settle(&order, "closure", &json!({})).expect(200).json();
        text(&closed["closed_on"]).to_owned()
    };
    let smoke = json!({ "code": "intake-smoke", "finding": "abnormal" });
    let forgot =
        json!({ "code": "read-codes", "finding": "not_done", "not_done_reason": "forgot" });
    let today = visit("WK 1", &[smoke.clone(), forgot]);
    visit("WK 2", &[smoke]);
    let name = today.parse::<chrono::NaiveDate>().unwrap().format("%G-W%V");
    let address = format!("week?week={name}&as_of={today}");
    let week = shops.visitor("manager.north", "north").get(&address).expect(200);
    assert!(week.body.contains("Steps of the check plans passed over"), "{}", week.body);
    assert!(week.body.contains("2 of 2 jobs"), "{}", week.body);
    assert!(week.body.contains("forgot 1") && week.body.contains("nothing said 1"));
    assert!(week.body.contains("too few to compare: 0 made it, 2 did not"), "{}", week.body);
}
