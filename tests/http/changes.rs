//! Who changed what: a line for every write, and none is ever touched again.

use std::collections::HashMap;

use serde_json::{Value, json};

use crate::access::routes;
use crate::support::visit::{finish, open, text};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    every_write_leaves_a_line,
    the_feed_ends_with_whole_writes,
    the_audit_tells_before_and_after,
    the_audit_is_narrowed_and_walked,
    the_history_is_read_on_its_page,
);

/// One write of a shop: who sends what, on the version of what, and the record
/// and action that its line names. Words in braces stand for what was made
/// before, by its kind of record.
struct Write {
    who: &'static str,
    method: &'static str,
    path: &'static str,
    body: &'static str,
    /// Whose ETag goes with it.
    on: &'static str,
    record: &'static str,
    action: &'static str,
}

const ADMINISTRATOR: &str = "administrator.riverside";
const MANAGER: &str = "manager.north";
const ADVISER: &str = "adviser.north";
const TECHNICIAN: &str = "technician.north";

/// A write whose path and body need no version.
const fn make(
    who: &'static str,
    path: &'static str,
    body: &'static str,
    record: &'static str,
    action: &'static str,
) -> Write {
    Write { who, method: "POST", path, body, on: "", record, action }
}

/// As [`make`], on the version of something.
const fn settle(
    who: &'static str,
    (path, on): (&'static str, &'static str),
    body: &'static str,
    record: &'static str,
    action: &'static str,
) -> Write {
    Write { who, method: "POST", path, body, on, record, action }
}

const fn change(
    who: &'static str,
    (path, on): (&'static str, &'static str),
    body: &'static str,
    record: &'static str,
    action: &'static str,
) -> Write {
    Write { who, method: "PATCH", path, body, on, record, action }
}

const fn remove(
    who: &'static str,
    path: &'static str,
    record: &'static str,
    action: &'static str,
) -> Write {
    Write { who, method: "DELETE", path, body: "", on: "", record, action }
}

/// Every kind of write, in an order in which each may happen.
#[rustfmt::skip]
const WRITES: &[Write] = &[
    change(ADMINISTRATOR, ("", ""), r#"{"window_days":45}"#, "shop", "changed"),
    make(MANAGER, "people", r#"{"name":"Imre","role":"technician","sign_in_name":"imre","password":"lamp river seven chair"}"#, "person", "added"),
    change(MANAGER, ("people/{person}", "people/{person}"), r#"{"name":"Imre Sole"}"#, "person", "changed"),
    make(MANAGER, "people/{person}/roles", r#"{"role":"adviser"}"#, "role", "added"),
    remove(MANAGER, "people/{person}/roles/adviser", "role", "removed"),
    make(MANAGER, "tablets", r#"{"name":"bay 3"}"#, "tablet", "added"),
    remove(MANAGER, "tablets/{tablet}", "tablet", "ended"),
    make(MANAGER, "codes", r#"{"list":"check","code":"x","label":"X"}"#, "code", "added"),
    change(MANAGER, ("codes/check/x", "codes/check/x"), r#"{"label":"Y"}"#, "code", "changed"),
    change(MANAGER, ("codes/check/x", "codes/check/x"), r#"{"retired":true}"#, "code", "retired"),
    change(MANAGER, ("codes/check/x", "codes/check/x"), r#"{"retired":false}"#, "code", "restored"),
    make(MANAGER, "codes/check/x/merge", r#"{"into":"road-test"}"#, "code", "merged"),
    make(MANAGER, "plans", r#"{"symptom":"engine.tick"}"#, "check_plan", "added"),
    settle(MANAGER, ("plans/{check_plan}/versions", "plans/{check_plan}"), r#"{"steps":[{"check":"road-test"}],"reason":"shorter"}"#, "check_plan_version", "added"),
    settle(MANAGER, ("plans/{check_plan}/proposals", "plans/{check_plan}"), "{}", "check_plan_version", "proposed"),
    settle(MANAGER, ("plans/{check_plan}/versions/{proposed}/decision", "plans/{check_plan}"), r#"{"accept":true}"#, "check_plan_version", "accepted"),
    settle(MANAGER, ("plans/{check_plan}/withdrawal", "plans/{check_plan}"), r#"{"reason":"not used"}"#, "check_plan", "withdrawn"),
    Write { who: MANAGER, method: "PUT", path: "attendance/{helper}/2026-01-05", body: r#"{"attended_minutes":480}"#, on: "", record: "attendance", action: "added" },
    remove(MANAGER, "attendance/{helper}/2026-01-05", "attendance", "removed"),
    make(MANAGER, "rules", r#"{"kind":"free_text","title":"Torque twice","words":"a second person looks","evidence":"two came back loose"}"#, "shop_rule", "added"),
    change(MANAGER, ("rules/{shop_rule}", "rules/{shop_rule}"), r#"{"words":"the lead looks"}"#, "shop_rule", "changed"),
    Write { who: TECHNICIAN, method: "PUT", path: "jobs/{job}/rules/{shop_rule}", body: r#"{"kept":true}"#, on: "", record: "rule_answer", action: "added" },
    remove(TECHNICIAN, "jobs/{job}/rules/{shop_rule}", "rule_answer", "removed"),
    settle(MANAGER, ("rules/{due_rule}/review", "rules/{due_rule}"), r#"{"word":"kept","note":"it holds"}"#, "shop_rule", "reviewed"),
    settle(MANAGER, ("rules/{shop_rule}/withdrawal", "rules/{shop_rule}"), r#"{"reason":"the maker says so now"}"#, "shop_rule", "withdrawn"),
    make(ADVISER, "vehicles", r#"{"vin":"1G4AH59H45G118341"}"#, "vehicle", "added"),
    change(ADVISER, ("vehicles/{vehicle}", "vehicles/{vehicle}"), r#"{"engine":"V6"}"#, "vehicle", "changed"),
    make(ADVISER, "vehicles/{vehicle}/odometer-resets", r#"{"reset_on":"2020-01-02","reading_after":0}"#, "odometer_reset", "added"),
    make(MANAGER, "reading-lists", r#"{"purpose":"preparation"}"#, "reading_list", "added"),
    settle(MANAGER, ("reading-lists/{reading_list}/versions", "reading-lists/{reading_list}"), r#"{"reason":"lamps alone","lines":[{"key":"lamps","label":"Lamps work","kind":"yes_no","expects":true}]}"#, "reading_list", "changed"),
    make(TECHNICIAN, "reading-sheets", r#"{"vehicle_id":"{vehicle}","list_id":"{reading_list}"}"#, "reading_sheet", "begun"),
    make(TECHNICIAN, "reading-sheets/{reading_sheet}/readings", r#"{"line":"lamps","yes":true}"#, "reading_taken", "added"),
    make(TECHNICIAN, "reading-sheets/{reading_sheet}/pass", "", "reading_sheet", "passed"),
    settle(MANAGER, ("reading-lists/{reading_list}/withdrawal", "reading-lists/{reading_list}"), "", "reading_list", "withdrawn"),
    make(TECHNICIAN, "stock", r#"{"vehicle_id":"{vehicle}"}"#, "stock_vehicle", "added"),
    make(TECHNICIAN, "stock/{stock_vehicle}/departure", "{}", "stock_vehicle", "left"),
    make(ADVISER, "orders", r#"{"vehicle":{"plate":"CH 2"},"jobs":[{"complaint":"it ticks"}]}"#, "order", "added"),
    make(ADVISER, "orders/batch", r#"{"items":[{"vehicle":{"plate":"CH 3"},"jobs":[{"complaint":"it ticks"}]}]}"#, "order", "added"),
    make(ADVISER, "orders/{spare}/jobs", r#"{"complaint":"it drips"}"#, "job", "added"),
    settle(ADVISER, ("orders/{spare}/void", "orders/{spare}"), r#"{"reason":"written up twice"}"#, "order", "voided"),
    change(ADVISER, ("orders/{order}", "orders/{order}"), r#"{"customer_name":"Imre"}"#, "order", "changed"),
    make(ADVISER, "orders/{order}/authorizations", r#"{"amount_minor":25000,"authorized_by":"Imre","authorized_how":"telephone"}"#, "authorization", "added"),
    change(TECHNICIAN, ("jobs/{job}", "jobs/{job}"), r#"{"bay":"2"}"#, "job", "changed"),
    make(TECHNICIAN, "jobs/{job}/checks", r#"{"code":"road-test"}"#, "check", "added"),
    change(TECHNICIAN, ("jobs/{job}/checks/{check}", "jobs/{job}"), r#"{"minutes":5}"#, "check", "changed"),
    remove(TECHNICIAN, "jobs/{job}/checks/{check}", "check", "removed"),
    make(TECHNICIAN, "jobs/{job}/parts", r#"{"name":"coil","disposition":"replaced_new"}"#, "part_use", "added"),
    change(TECHNICIAN, ("jobs/{job}/parts/{part_use}", "jobs/{job}"), r#"{"lot":"Q17"}"#, "part_use", "changed"),
    remove(TECHNICIAN, "jobs/{job}/parts/{part_use}", "part_use", "removed"),
    make(TECHNICIAN, "jobs/{job}/operations", r#"{"code":"coil","flat_rate_hundredths":100}"#, "operation", "added"),
    change(TECHNICIAN, ("jobs/{job}/operations/{operation}", "jobs/{job}"), r#"{"flat_rate_hundredths":120}"#, "operation", "changed"),
    remove(TECHNICIAN, "jobs/{job}/operations/{operation}", "operation", "removed"),
    make(TECHNICIAN, "jobs/{job}/labor", r#"{"activity":"repair"}"#, "labor", "added"),
    make(TECHNICIAN, "jobs/{job}/labor/{labor}/stop", "{}", "labor", "ended"),
    change(TECHNICIAN, ("jobs/{job}/labor/{labor}", "jobs/{job}"), r#"{"activity":"diagnosis"}"#, "labor", "changed"),
    remove(TECHNICIAN, "jobs/{job}/labor/{labor}", "labor", "removed"),
    make(TECHNICIAN, "jobs/{job}/proofs", r#"{"how":"road_test","passed":true}"#, "proof", "added"),
    make(ADVISER, "jobs/{job}/people", r#"{"person_id":"{helper}","worked_as":"helper"}"#, "job_person", "added"),
    remove(ADVISER, "jobs/{job}/people/{helper}", "job_person", "removed"),
    make(TECHNICIAN, "jobs/{job}/waits", r#"{"waiting_for":"part"}"#, "wait", "added"),
    make(TECHNICIAN, "jobs/{job}/waits/{wait}/end", "{}", "wait", "ended"),
    make(ADVISER, "jobs/{job}/sublets", r#"{"business":"Pell & Daughters","work":"plane the head"}"#, "sublet", "added"),
    change(ADVISER, ("jobs/{job}/sublets/{sublet}", "jobs/{job}"), r#"{"work":"plane and test the head"}"#, "sublet", "changed"),
    remove(ADVISER, "jobs/{job}/sublets/{sublet}", "sublet", "removed"),
    make(ADVISER, "comebacks", r#"{"earlier_job_id":"{earlier}","later_job_id":"{job}","customer_says":true}"#, "comeback", "changed"),
    settle(MANAGER, ("comebacks/{comeback}/decision", "comebacks/{comeback}"), r#"{"confirm":false,"reason":"new-fault"}"#, "comeback", "decided"),
    settle(TECHNICIAN, ("jobs/{job}/closure", "jobs/{job}"), r#"{"outcome":"repaired","cause":"air-filter","cause_how":"seen","correction":"replaced"}"#, "job", "closed"),
    settle(TECHNICIAN, ("jobs/{job}/reopening", "jobs/{job}"), "{}", "job", "reopened"),
    settle(TECHNICIAN, ("jobs/{job}/closure", "jobs/{job}"), r#"{"outcome":"repaired","cause":"air-filter","cause_how":"seen","correction":"replaced"}"#, "job", "closed"),
    settle(TECHNICIAN, ("orders/{order}/closure", "orders/{order}"), "{}", "order", "handed_over"),
    make(ADVISER, "jobs/{job}/outside-return", r#"{"told":"fixed_elsewhere","told_on":"{today}"}"#, "outside_return", "added"),
    remove(MANAGER, "jobs/{job}/outside-return", "outside_return", "removed"),
    make(MANAGER, "jobs/{job}/pay-backs", r#"{"supplier":"Pell & Daughters","amount_minor":1000,"paid_on":"{today}"}"#, "pay_back", "added"),
    remove(MANAGER, "jobs/{job}/pay-backs/{pay_back}", "pay_back", "removed"),
    make(MANAGER, "warning-silences", r#"{"kind":"lot","group_key":"supplier=Pell&lot=Q17","reason":"the rest went back"}"#, "warning_silence", "added"),
    make(MANAGER, "warning-silences/{warning_silence}/end", "{}", "warning_silence", "ended"),
    Write { who: MANAGER, method: "PUT", path: "part-policies/x", body: r#"{"access_minutes":30}"#, on: "", record: "part_policy", action: "added" },
    remove(MANAGER, "part-policies/x", "part_policy", "removed"),
    make(ADVISER, "jobs/{job}/follow-ups", r#"{"answer":"not_fixed"}"#, "follow_up", "added"),
    remove(ADVISER, "jobs/{job}/follow-ups/{follow_up}", "follow_up", "removed"),
    settle(MANAGER, ("comebacks/{comeback}/decision", "comebacks/{comeback}"), r#"{"confirm":true,"reason":"workmanship"}"#, "comeback", "decided"),
    make(MANAGER, "comebacks/{comeback}/enquiry", r#"{"failed_item":"idle valve","technician_id":"{helper}"}"#, "enquiry", "added"),
    change(MANAGER, ("comebacks/{comeback}/enquiry", "comebacks/{comeback}/enquiry"), r#"{"reason":"misdiagnosis"}"#, "enquiry", "changed"),
    Write { who: "helper.north", method: "PUT", path: "comebacks/{comeback}/enquiry/statement", body: r#"{"technician_says":"the flow was never measured"}"#, on: "", record: "enquiry", action: "changed" },
    make(MANAGER, "actions", r#"{"enquiry_id":"{enquiry}","kind":"training","words":"measure the flow"}"#, "corrective_action", "added"),
    change(MANAGER, ("actions/{corrective_action}", "actions/{corrective_action}"), r#"{"kind":"check_plan"}"#, "corrective_action", "changed"),
    settle(MANAGER, ("actions/{corrective_action}/ending", "actions/{corrective_action}"), r#"{"state":"done"}"#, "corrective_action", "done"),
    settle(MANAGER, ("actions/{corrective_action}/verification", "actions/{corrective_action}"), r#"{"held":true,"how":"ten jobs, none came back"}"#, "corrective_action", "verified"),
    settle(MANAGER, ("actions/{corrective_action}/reopening", "actions/{corrective_action}"), "{}", "corrective_action", "reopened"),
    settle(MANAGER, ("actions/{corrective_action}/ending", "actions/{corrective_action}"), r#"{"state":"dropped","note":"the rule covers it"}"#, "corrective_action", "dropped"),
    settle(MANAGER, ("comebacks/{comeback}/enquiry/closure", "comebacks/{comeback}/enquiry"), "{}", "enquiry", "closed"),
    settle(MANAGER, ("comebacks/{comeback}/enquiry/reopening", "comebacks/{comeback}/enquiry"), "{}", "enquiry", "reopened"),
];

/// A rule whose review day has come: nobody can take one so, and no test waits
/// three months.
fn due_rule(shops: &Shops) -> String {
    let rule = json!({
        "kind": "free_text", "title": "Two looks", "words": "two people look", "evidence": "so",
    });
    let made = shops.person(MANAGER).post("rules", &rule).expect(201).json();
    let id = text(&made["id"]).to_owned();
    shops.place.run(&format!(
        "UPDATE shop_rule SET starts_on = '2026-01-05', review_on = '2026-04-06' WHERE id = '{id}'"
    ));
    id
}

/// What the words in braces stand for.
struct Things(HashMap<&'static str, String>);

impl Things {
    /// A vehicle that was in before and is in again for the same, and another
    /// one.
    fn make(shops: &Shops) -> Self {
        let adviser = shops.person(ADVISER);
        let (first, earlier) = open(&adviser, "CH 1", "engine.stalls");
        let handed_over = finish(&adviser, &first, &earlier, "air-filter");
        let (order, job) = open(&adviser, "CH 1", "engine.stalls");
        let (spare, _) = open(&adviser, "CH 9", "engine.stalls");
        let due_rule = due_rule(shops);
        let helper = shops.person("helper.north").get("/api/v1/me").expect(200).json();
        Self(HashMap::from([
            ("today", text(&handed_over["closed_on"]).to_owned()),
            ("vehicle", text(&handed_over["vehicle_id"]).to_owned()),
            ("helper", text(&helper["id"]).to_owned()),
            ("due_rule", due_rule),
            ("earlier", earlier),
            ("order", order),
            ("job", job),
            ("spare", spare),
        ]))
    }

    fn fill(&self, text: &str) -> String {
        self.0.iter().fold(text.to_owned(), |text, (name, value)| {
            text.replace(&format!("{{{name}}}"), value)
        })
    }

    /// The first of its kind that was made.
    fn keep(&mut self, record: &'static str, made: &str) {
        let id = serde_json::from_str(made)
            .ok()
            .and_then(|made: Value| made.get("id").and_then(Value::as_str).map(str::to_owned));
        if let Some(id) = id {
            self.0.entry(record).or_insert(id);
        }
    }
}

impl Things {
    /// The version of a plan that waits for a decision.
    fn keep_proposed(&mut self, made: &str) {
        let plan: Value = serde_json::from_str(made).unwrap_or_default();
        let versions = plan["versions"].as_array().cloned().unwrap_or_default();
        let waiting = versions.iter().find(|version| version["state"] == "proposed");
        if let Some(id) = waiting.and_then(|version| version["id"].as_str()) {
            self.0.insert("proposed", id.to_owned());
        }
    }
}

impl Write {
    /// Sends it on the version that stands, where there is one.
    fn send(&self, shops: &Shops, things: &Things) -> crate::support::Answer {
        let client = shops.person(self.who);
        let own = format!("/api/v1/shops/{}", shops.id("north"));
        let place = |path: &str| if path.is_empty() { own.clone() } else { things.fill(path) };
        let mut call = client.call(self.method, &place(self.path)).new_key();
        if !self.body.is_empty() {
            call = call.body(things.fill(self.body), "application/json");
        }
        if self.method == "PATCH" || !self.on.is_empty() {
            call = call.if_match(&client.get(&place(self.on)).tag());
        }
        call.send()
    }
}

/// A route and a request look alike: what changes in an address is left out.
fn alike(method: &str, path: &str) -> String {
    let fixed = |part: &str| {
        let changing =
            part.starts_with('{') || ["check", "x", "adviser", "2026-01-05"].contains(&part);
        if changing { "*".to_owned() } else { part.to_owned() }
    };
    let parts: Vec<String> = path.split('/').filter(|part| !part.is_empty()).map(fixed).collect();
    format!("{method} {}", parts.join("/"))
}

#[test]
fn every_writing_route_of_a_shop_is_sent() {
    let sent: Vec<String> = WRITES.iter().map(|write| alike(write.method, write.path)).collect();
    // A session is no record of the shop.
    let without = ["DELETE people/*/sessions/*"];
    let missing: Vec<String> = routes::all()
        .iter()
        .filter(|route| route.method != "GET")
        .filter_map(|route| {
            let path = route.path.strip_prefix("/api/v1/shops/{shop}")?;
            Some(alike(&route.method, path))
        })
        .filter(|route| !sent.contains(route) && !without.contains(&route.as_str()))
        .collect();
    assert!(missing.is_empty(), "add them to the table: {missing:?}");
}

/// Every line of the shop, whole, in its order.
fn lines(shops: &Shops) -> Vec<String> {
    shops.place.lines(
        "SELECT CAST(change_no AS TEXT) || ' ' || \
         CAST(line AS TEXT) || ' ' || person_id || ' ' || record || ' ' || record_id || ' ' || \
         action || ' ' || COALESCE(before_json, '-') || ' ' || COALESCE(after_json, '-') AS line \
         FROM record_change JOIN shop ON shop.id = shop_id WHERE code = 'north' \
         ORDER BY change_no, line",
    )
}

/// The shop's last lines: those of its last write.
fn last(client: &Client) -> Vec<Value> {
    let newest = client.get("audit?limit=50").expect(200).json()["items"].clone();
    let newest = newest.as_array().unwrap().clone();
    let number = newest[0]["change_no"].clone();
    newest.into_iter().filter(|line| line["change_no"] == number).collect()
}

fn every_write_leaves_a_line(shops: &Shops) {
    let manager = shops.person(MANAGER);
    let mut things = Things::make(shops);
    for write in WRITES {
        let before = lines(shops);
        let answer = write.send(shops, &things);
        let said = format!("{} {}: {}", write.method, write.path, answer.body);
        assert!((200..300).contains(&answer.status), "{said}");
        if ["added", "begun"].contains(&write.action) || write.record == "comeback" {
            things.keep(write.record, &answer.body);
        }
        things.keep_proposed(&answer.body);
        let after = lines(shops);
        // Lines are added, and nothing of the earlier ones is touched.
        assert!(after.len() > before.len(), "no line: {said}");
        assert!(after.starts_with(&before), "a line was changed: {said}");
        let newest = last(&manager);
        let fits = |line: &Value| line["record"] == write.record && line["action"] == write.action;
        assert!(newest.iter().any(fits), "{said}: {newest:?}");
        let numbers: Vec<i64> = newest.iter().map(|l| l["line"].as_i64().unwrap()).rev().collect();
        assert_eq!(numbers, (1..=numbers.len() as i64).collect::<Vec<_>>(), "{said}");
        // Nothing secret stands in a line.
        let newest = format!("{newest:?}");
        assert!(!newest.contains("hash") && !newest.contains("lamp river"), "{said}: {newest}");
    }
}

/// The whole feed, by pages of that size; each as change number and line.
fn walk(client: &Client, limit: usize) -> Vec<(i64, i64)> {
    let (mut found, mut after) = (Vec::new(), 0);
    loop {
        let page = client.get(&format!("changes?after={after}&limit={limit}")).expect(200);
        let feed = page.json();
        let items = feed["items"].as_array().unwrap();
        for item in items {
            assert!(item.get("before").is_none() && item.get("after").is_none(), "{item}");
            let number = |name: &str| item[name].as_i64().unwrap();
            found.push((number("change_no"), number("line")));
        }
        let last_no = feed["last_change_no"].as_i64().unwrap();
        let links = page.headers.get_all("link").iter().map(|link| link.to_str().unwrap());
        let Some(next) = links.into_iter().find(|link| link.ends_with("rel=\"next\"")) else {
            return found;
        };
        assert!(last_no > after && items.last().unwrap()["change_no"] == last_no, "{feed}");
        let place = next.trim_start_matches('<').split('>').next().unwrap();
        assert!(place.ends_with(&format!("after={last_no}&limit={limit}")), "{place}");
        after = last_no;
    }
}

fn the_feed_ends_with_whole_writes(shops: &Shops) {
    let manager = shops.person("manager.north");
    for number in 0..4 {
        let code =
            json!({ "list": "check", "code": format!("c{number}"), "label": format!("C{number}") });
        manager.post("codes", &code).expect(201);
    }
    // One write of several lines: the symptoms of the system go over.
    manager.post("codes/system/brakes/merge", &json!({ "into": "steering" })).expect(200);
    manager.post("codes/check/c0/merge", &json!({ "into": "c1" })).expect(200);
    let whole = walk(&manager, 200);
    assert!(whole.is_sorted() && whole.iter().any(|(_, line)| *line > 3), "{whole:?}");
    for limit in [1, 2, 3, 7] {
        assert_eq!(walk(&manager, limit), whole, "{limit} a page");
    }
    let technician = shops.person("technician.north");
    let feed = technician.get("changes?limit=200").expect(200).json();
    let last_no = feed["last_change_no"].as_i64().unwrap();
    let nothing = technician.get(&format!("changes?after={last_no}")).expect(200).json();
    assert_eq!((&nothing["items"], &nothing["last_change_no"]), (&json!([]), &json!(last_no)));
    assert_eq!(technician.get("changes?limit=0").pointers(), ["limit"]);
}

fn the_audit_tells_before_and_after(shops: &Shops) {
    let manager = shops.person("manager.north");
    let label = json!({ "label": "Road test, short" });
    manager.patch("codes/check/road-test", &label).expect(200);
    let line = &last(&manager)[0];
    assert_eq!((&line["record"], &line["record_id"]), (&json!("code"), &json!("check/road-test")));
    assert_eq!(line["before"]["label"], "Road test");
    assert_eq!(line["after"]["label"], "Road test, short");
    assert_eq!(line["changed"], json!(["label", "version"]));
    assert_eq!(line["correction"], false);
    let me = manager.get("/api/v1/me").expect(200).json();
    assert!(me.to_string().contains(text(&line["person_id"])), "{me}");

    let shop = shops.person("administrator.riverside");
    let place = format!("/api/v1/shops/{}", shops.id("north"));
    shop.patch(&place, &json!({ "labor_cost_minor": 9_500 })).expect(200);
    let line = &last(&manager)[0];
    assert_eq!((&line["record"], &line["action"]), (&json!("shop"), &json!("changed")));
    assert_eq!(line["before"]["labor_cost_minor"], 9_000);
    assert_eq!(line["after"]["labor_cost_minor"], 9_500);
    // What is refused leaves none.
    let count = lines(shops).len();
    shop.patch(&place, &json!({ "window_days": 0 })).problem(422, "invalid");
    assert_eq!(lines(shops).len(), count);
}

fn the_audit_is_narrowed_and_walked(shops: &Shops) {
    let (manager, owner) = (shops.person("manager.north"), shops.person("owner.riverside"));
    for number in 0..5 {
        let code =
            json!({ "list": "check", "code": format!("n{number}"), "label": format!("N{number}") });
        manager.post("codes", &code).expect(201);
    }
    owner.patch("codes/check/n0", &json!({ "label": "M" })).expect(200);
    let found = |query: &str| -> Vec<String> {
        let page = owner.get(&format!("audit?{query}")).expect(200).json();
        let items = page["items"].as_array().unwrap();
        items.iter().map(|item| text(&item["record_id"]).to_owned()).collect()
    };
    assert_eq!(found("record=code&record_id=check/n0"), ["check/n0", "check/n0"]);
    let by_owner = owner.get("audit?record=code&limit=1").expect(200).json();
    let person = text(&by_owner["items"][0]["person_id"]).to_owned();
    assert_eq!(found(&format!("person_id={person}")), ["check/n0"]);
    assert_eq!(found("record=code&from=2000-01-01&to=2000-12-31"), Vec::<String>::new());
    let all = found("record=code&from=2000-01-01&limit=200");
    assert_eq!(all.len(), 6);
    let (mut walked, mut cursor) = (Vec::new(), String::new());
    loop {
        let page = owner.get(&format!("audit?record=code&limit=2{cursor}")).expect(200).json();
        let items = page["items"].as_array().unwrap();
        walked.extend(items.iter().map(|item| text(&item["record_id"]).to_owned()));
        let Some(next) = page["next_cursor"].as_str() else { break };
        cursor = format!("&cursor={next}");
    }
    assert_eq!(walked, all);
    assert_eq!(owner.get("audit?from=monday&cursor=x").pointers(), ["from", "cursor"]);
}

fn the_history_is_read_on_its_page(shops: &Shops) {
    let program = shops.person("manager.north");
    program.patch("codes/check/road-test", &json!({ "label": "Road <b>test</b>" })).expect(200);
    let manager = shops.visitor("manager.north", "north");
    let entry = manager.get("codes?list=check&code=road-test").expect(200);
    assert!(
        entry.body.contains("/history?record=code&#38;record_id=check%2Froad-test")
            || entry.body.contains("/history?record=code&amp;record_id=check%2Froad-test")
    );
    let page = manager.get("history?record=code&record_id=check%2Froad-test").expect(200);
    assert!(page.body.contains("manager of north") && !page.body.contains("<b>test</b>"));
    assert!(page.body.contains("Before and after") && page.body.contains("<bdi>Road test</bdi>"));
    // An empty form asks for everything.
    let all = "history?record=&order_no=&person_id=&from=&to=";
    assert!(manager.get(all).expect(200).body.contains("code list entry"));
    let (order, _) = open(&shops.person("adviser.north"), "CH 2", "engine.stalls");
    let order = manager.get(&format!("orders/{order}")).expect(200);
    assert!(order.body.contains("/history?order_no=1\""), "{}", order.body);
    let told = manager.get("history?order_no=1").expect(200);
    assert!(told.body.contains(">job 1/1</a>"), "{}", told.body);
    let odd = manager.get("history?order_no=99&from=").expect(422);
    assert!(odd.body.contains("no order of that number") && odd.body.contains("value=\"99\""));
    manager.get("history?from=2026-02-30").expect(422);
}
