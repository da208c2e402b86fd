//! The lists a shop keeps: added to, renamed, retired, merged, never deleted.

use serde_json::json;

use crate::support::html::form;
use crate::support::visit::{finish, open, repaired, text, write_up};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    entries_say_where_they_come_from,
    an_entry_is_added_and_changed,
    two_entries_have_two_labels,
    what_is_retired_is_not_taken_for_new_work,
    what_is_merged_names_its_target,
    a_system_takes_its_symptoms_along,
    a_return_is_known_under_the_merged_symptom,
    lists_are_kept_on_their_page,
    a_long_list_folds_and_is_looked_through,
);

fn merge(client: &Client, entry: &str, into: &str) -> crate::support::Answer {
    client.post(&format!("codes/{entry}/merge"), &json!({ "into": into }))
}

fn codes(client: &Client, query: &str) -> Vec<String> {
    let page = client.get(&format!("codes?{query}")).expect(200).json();
    page["items"].as_array().unwrap().iter().map(|e| text(&e["code"]).to_owned()).collect()
}

fn entries_say_where_they_come_from(shops: &Shops) {
    let technician = shops.person("technician.north");
    let all = technician.get("codes").expect(200).json();
    for entry in all["items"].as_array().unwrap() {
        assert_eq!(entry["origin"], "starting", "{entry}");
        assert!(text(&entry["source"]).len() > 20, "{entry}");
    }
    let published = technician.get("codes/check/gravity-six-cells").expect(200).json();
    assert!(text(&published["source"]).contains("TM 9-6140-200-14"), "{published}");
    let own = technician.get("codes/check/road-test").expect(200).json();
    assert!(text(&own["source"]).starts_with("Common practice"), "{own}");

    let adviser = shops.person("adviser.north");
    let (order, job) = open(&adviser, "CO 1", "engine.stalls");
    finish(&adviser, &order, &job, "air-filter");
    let when = json!({
        "vehicle": { "plate": "CO 1" },
        "jobs": [{ "complaint": "it ticks", "happens_when": ["idle", "hot"] }],
    });
    adviser.post("orders", &when).expect(201);
    let lists = technician.get("code-lists").expect(200).json();
    let items = lists["items"].as_array().unwrap();
    let of = |list: &str| items.iter().find(|item| item["list"] == list).unwrap();
    for list in items {
        for field in ["label", "purpose", "source"] {
            assert!(!text(&list[field]).is_empty(), "{list}");
        }
    }
    let counts = |list: &str| {
        ["live", "retired", "merged", "uses"].map(|field| of(list)[field].as_i64().unwrap())
    };
    assert_eq!(counts("symptom"), [60, 0, 0, 1]);
    assert_eq!(counts("system"), [18, 0, 0, 1]);
    assert_eq!((counts("cause")[3], counts("when")[3]), (1, 2));
    assert_eq!(counts("operation"), [0, 0, 0, 0]);
}

fn an_entry_is_added_and_changed(shops: &Shops) {
    let manager = shops.person("manager.north");
    let new = json!({
        "list": "symptom", "code": "engine.whistle", "label": "Whistles", "system": "fuel-air",
    });
    let added = manager.post("codes", &new).expect(201);
    assert_eq!(added.json()["system"], "fuel-air");
    // The address it was given is the entry's.
    let read = manager.get(added.header("location")).expect(200);
    assert_eq!((read.tag(), read.json()), (added.tag(), added.json()));
    manager.post("codes", &new).problem(409, "conflict");

    let thing = "codes/symptom/engine.whistle";
    let patch = json!({ "label": "Whistles under load", "system": "engine" });
    let stale = manager.get(thing).tag();
    let changed = manager.patch(thing, &patch).expect(200);
    assert_eq!(changed.json()["label"], "Whistles under load");
    assert_eq!(changed.json()["version"], 2);
    let again = manager.call("PATCH", thing).json(&patch).if_match(&stale).send();
    again.problem(412, "stale");
    manager.call("PATCH", thing).json(&patch).send().problem(428, "version-missing");

    let faults = [
        (json!({ "system": "no-such" }), "/system"),
        (json!({ "typical_minutes": 5 }), "/typical_minutes"),
        (json!({ "label": " " }), "/label"),
        (json!({ "kind": "physical" }), "/kind"),
    ];
    for (patch, pointer) in faults {
        assert_eq!(manager.patch(thing, &patch).pointers(), [pointer], "{patch}");
    }
    let check = json!({ "typical_minutes": 25 });
    let check = manager.patch("codes/check/road-test", &check).expect(200).json();
    assert_eq!(check["typical_minutes"], 25);
    manager.get("codes/symptom/nothing").problem(404, "not-found");
    // A job's conditions stand in one text, parted by blanks.
    let parted = json!({ "list": "when", "code": "after rain", "label": "After rain" });
    assert_eq!(manager.post("codes", &parted).pointers(), ["/code"]);
    // Codes of imported lists hold blanks and strokes.
    let odd = manager.post("codes", &json!({ "list": "check", "code": "a/b c", "label": "Odd" }));
    let place = odd.expect(201).header("location").to_owned();
    assert!(place.ends_with("/check/a%2Fb%20c"), "{place}");
    assert_eq!(manager.get(&place).expect(200).json()["code"], "a/b c");
}

// Two entries that read the same split what they count.
fn two_entries_have_two_labels(shops: &Shops) {
    let manager = shops.person("manager.north");
    let twin = json!({ "list": "check", "code": "drive", "label": "road Test" });
    let told = manager.post("codes", &twin).problem(409, "conflict");
    assert!(text(&told["detail"]).contains("the label of road-test already"), "{told}");
    let renamed = json!({ "label": "Road test" });
    manager.patch("codes/check/read-codes", &renamed).problem(409, "conflict");
    merge(&manager, "check/road-test", "read-codes").expect(200);
    manager.patch("codes/check/read-codes", &renamed).expect(200);
}

fn what_is_retired_is_not_taken_for_new_work(shops: &Shops) {
    let (manager, adviser) = (shops.person("manager.north"), shops.person("adviser.north"));
    let (_, job) = open(&adviser, "CO 2", "engine.stalls");
    for thing in ["symptom/engine.stalls", "check/road-test", "comeback_reason/new-fault"] {
        let thing = format!("codes/{thing}");
        let now = manager.patch(&thing, &json!({ "retired": true })).expect(200).json();
        assert!(now["retired_at"].is_string(), "{now}");
    }
    let refused = adviser.post("orders", &write_up("CO 3", "engine.stalls"));
    let told = refused.problem(422, "invalid");
    assert_eq!(told["errors"][0]["pointer"], "/jobs/0/symptom");
    assert_eq!(told["errors"][0]["code"], "retired_code");
    let check = json!({ "code": "road-test" });
    assert_eq!(adviser.post(&format!("jobs/{job}/checks"), &check).pointers(), ["/code"]);
    assert_eq!(codes(&manager, "retired=true&list=symptom"), ["engine.stalls"]);
    assert_eq!(codes(&manager, "retired=false&list=symptom").len(), 59);

    // A job that holds it already goes on to its end.
    adviser.patch(&format!("jobs/{job}"), &json!({ "bay": "2" })).expect(200);
    let page = shops.visitor("adviser.north", "north").get(&format!("jobs/{job}")).expect(200);
    assert!(page.body.contains("Stalls") || page.body.contains("stalls"), "{}", page.body);
    adviser.settle(&format!("jobs/{job}"), "closure", &repaired("air-filter")).expect(200);

    manager.patch("codes/symptom/engine.stalls", &json!({ "retired": false })).expect(200);
    adviser.post("orders", &write_up("CO 3", "engine.stalls")).expect(201);
}

fn what_is_merged_names_its_target(shops: &Shops) {
    let (manager, adviser) = (shops.person("manager.north"), shops.person("adviser.north"));
    let (order, job) = open(&adviser, "CO 4", "engine.idle-rough");
    finish(&adviser, &order, &job, "air-filter");
    for code in ["engine.one", "engine.two"] {
        let new = json!({ "list": "symptom", "code": code, "label": code, "system": "fuel-air" });
        manager.post("codes", &new).expect(201);
    }
    let merged = merge(&manager, "symptom/engine.idle-rough", "engine.one").expect(200).json();
    assert_eq!(merged["merged_into"], "engine.one");
    assert_eq!(merged["remarks"], json!([]));
    merge(&manager, "symptom/engine.one", "engine.two").expect(200);

    let refused = adviser.post("orders", &write_up("CO 5", "engine.idle-rough"));
    let told = refused.problem(422, "invalid")["errors"][0].clone();
    assert_eq!(told["code"], "merged_code");
    assert!(text(&told["detail"]).contains("'engine.two'; choose that"), "{told}");
    // The old job means what it meant.
    let old = adviser.get(&format!("jobs/{job}")).expect(200).json();
    assert_eq!(old["symptom"], "engine.idle-rough");

    // No way round: not itself, not what ends there, not twice, not another list's.
    for into in ["engine.two", "engine.idle-rough", "air-filter"] {
        let answer = merge(&manager, "symptom/engine.two", into);
        assert_eq!(answer.pointers(), ["/into"], "{into}");
    }
    merge(&manager, "symptom/engine.one", "engine.tick").problem(409, "conflict");
    merge(&manager, "symptom/no-such", "engine.two").problem(404, "not-found");
    let restore = json!({ "retired": false });
    manager.patch("codes/symptom/engine.one", &restore).problem(409, "conflict");
    // Across systems it is allowed, and told.
    let across = merge(&manager, "symptom/engine.two", "brakes.drag").expect(200).json();
    assert!(text(&across["remarks"][0]).contains("'brakes'"), "{across}");
    assert_eq!(shops.place.count("FROM code_entry WHERE merged_into IS NOT NULL"), 3);
}

fn a_system_takes_its_symptoms_along(shops: &Shops) {
    let manager = shops.person("manager.north");
    let of = |system: &str| {
        let all = manager.get("codes?list=symptom").expect(200).json();
        all["items"].as_array().unwrap().iter().filter(|e| e["system"] == system).count()
    };
    let (brakes, steering) = (of("brakes"), of("steering"));
    assert!(brakes > 3);
    let merged = merge(&manager, "system/brakes", "steering").expect(200).json();
    assert!(text(&merged["remarks"][0]).starts_with(&format!("{brakes} ")), "{merged}");
    assert_eq!((of("brakes"), of("steering")), (0, brakes + steering));
    let pull = manager.get("codes/symptom/brakes.pull").expect(200).json();
    assert_eq!((&pull["system"], &pull["version"]), (&json!("steering"), &json!(2)));
    // No symptom goes to a system that is gone.
    let back = json!({ "system": "brakes" });
    assert_eq!(manager.patch("codes/symptom/brakes.pull", &back).pointers(), ["/system"]);
}

fn lists_are_kept_on_their_page(shops: &Shops) {
    let manager = shops.visitor("manager.north", "north");
    let page = manager.get("codes?list=cause").expect(200);
    let new = form(&page, "/codes").fill("code", "filter-soaked").fill("label", "Filter soaked");
    let page = new.fill("curable", "no").fill("kind", "physical").follow(&manager);
    assert!(page.body.contains("Filter soaked"), "{}", page.body);
    let renamed = form(&page, "/change").fill("label", "Air filter soaked").fill("curable", "no");
    let page = renamed.fill("kind", "physical").follow(&manager);
    assert!(page.body.contains("Air filter soaked"));
    let page = form(&page, "/retirement").fill("retired", "true").follow(&manager);
    assert!(page.body.contains("retired since") && page.body.contains("Bring it back"));
    let page = form(&page, "/retirement").fill("retired", "false").follow(&manager);
    let bare = form(&page, "/merge").send(&manager).expect(422);
    assert!(bare.body.contains("role=\"alert\""));
    let page = form(&page, "/merge").fill("into", "air-filter").follow(&manager);
    assert!(page.body.contains("merged into Air filter blocked"), "{}", page.body);
    let kept = "SELECT label || ' ' || curable || ' ' || merged_into AS line FROM code_entry \
                WHERE code = 'filter-soaked'";
    assert_eq!(shops.place.lines(kept), ["Air filter soaked no air-filter"]);
    // What is refused is shown as typed.
    let twice = form(&page, "/codes").fill("code", "air-filter").fill("label", "Once more");
    let shown = twice.send(&manager).expect(409);
    assert!(shown.body.contains("Once more"));
    // Who may not write sees the list, and no form.
    let technician = shops.visitor("technician.north", "north");
    let seen = technician.get("codes?list=cause&code=filter-soaked").expect(200);
    assert!(seen.body.contains("Air filter soaked") && !seen.body.contains("/codes/merge"));
}

fn a_long_list_folds_and_is_looked_through(shops: &Shops) {
    let manager = shops.visitor("manager.north", "north");
    let page = manager.get("codes?list=symptom").expect(200).body;
    // Symptoms stand under their systems, folded.
    assert!(page.contains("<summary class=\"sentence\">Brakes ("), "{page}");
    assert!(!page.contains("class=\"more folded\" open"), "{page}");
    let found = manager.get("codes?list=symptom&q=BRAKES+pull").expect(200).body;
    assert!(found.contains("brakes.pull") && !found.contains("engine.stalls"), "{found}");
    assert!(found.contains("value=\"BRAKES pull\"") && found.contains("1 of "), "{found}");
    let none = manager.get("codes?list=symptom&q=zebra").expect(200).body;
    assert!(none.contains("No entry has that"), "{none}");
    // A short list stands as it is.
    let systems = manager.get("codes?list=system").expect(200).body;
    assert!(!systems.contains("class=\"more folded\""), "{systems}");
}

fn a_return_is_known_under_the_merged_symptom(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, "CO 9", "engine.stalls");
    finish(&manager, &order, &job, "air-filter");
    let own = json!({ "list": "symptom", "code": "engine.dies", "label": "Dies at a stop" });
    manager.post("codes", &own).expect(201);
    merge(&manager, "symptom/engine.stalls", "engine.dies").expect(200);
    let back = manager.post("orders", &write_up("CO 9", "engine.dies")).expect(201).json();
    let proposed = &back["comebacks"][0];
    assert_eq!(proposed["earlier_job_id"], job);
    assert_eq!(proposed["same_complaint"], true);
}
