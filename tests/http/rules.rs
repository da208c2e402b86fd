//! Shop rules: taken on what the record says, kept or not by the jobs they are
//! about, and judged on one day.

use std::collections::BTreeSet;

use chrono::{DateTime, Duration, Utc};
use serde_json::{Value, json};

use crate::support::folder::Folder;
use crate::support::html::{form, form_with};
use crate::support::shops::{PASSWORD, visitor};
use crate::support::visit::{finish, open, text};
use crate::support::{Client, Place, Server, Shops, on_each_database};

on_each_database!(
    a_check_that_comes_first_is_counted,
    each_kind_is_kept_or_not,
    the_job_says_what_the_reports_say,
    what_is_no_rule_is_refused,
    a_rule_in_words_is_about_what_the_lists_have,
    limits_are_in_units_that_are_read,
    what_was_typed_stays,
    a_rule_ends_and_stays_on_record,
    the_job_s_page_asks_and_takes_back,
    a_rule_is_taken_on_its_page,
);

fn rule(client: &Client, body: &Value) -> String {
    let made = client.post("rules", body).expect(201).json();
    text(&made["id"]).to_owned()
}

/// Title and words, and what the kind needs.
fn of_kind(kind: &str, more: &Value) -> Value {
    let mut body = json!({
        "kind": kind, "title": format!("rule {kind}"), "words": "as agreed on Monday",
        "evidence": "three came back in a month",
    });
    for (name, value) in more.as_object().unwrap() {
        body[name] = value.clone();
    }
    body
}

/// A handed-over job of a symptom, with what was done on it.
fn job(client: &Client, plate: &str, symptom: &str, lines: &[(&str, Value)]) -> String {
    let (order, job) = open(client, plate, symptom);
    for (kind, body) in lines {
        client.post(&format!("jobs/{job}/{kind}"), body).expect(201);
    }
    finish(client, &order, &job, "air-filter");
    job
}

fn check(code: &str) -> (&'static str, Value) {
    ("checks", json!({ "code": code, "finding": "normal", "minutes": 5 }))
}

/// Kept, not kept with and without a reason, not known.
fn counts(client: &Client, rule: &str) -> [i64; 4] {
    let told = client.get(&format!("rules/{rule}")).expect(200).json();
    let names = ["kept", "with_reason", "without_reason", "not_known"];
    names.map(|name| told["compliance"][name]["count"].as_i64().unwrap())
}

const FIRST: &str = "fuel-pressure";

fn check_first(client: &Client) -> String {
    let needs = json!({ "symptom": "engine.stalls", "check": FIRST });
    rule(client, &of_kind("check_first", &needs))
}

/// Three jobs begin with the check, one of them after a free look; one does not;
/// of two nobody knows the order: 3 of 4.
fn a_check_that_comes_first_is_counted(shops: &Shops) {
    let manager = shops.person("manager.north");
    let rule = check_first(&manager);
    let technician = shops.person("technician.north");
    job(&technician, "RU 1", "engine.stalls", &[check(FIRST)]);
    job(&technician, "RU 2", "engine.stalls", &[check("read-codes"), check(FIRST)]);
    job(&technician, "RU 3", "engine.stalls", &[check(FIRST), check("compression")]);
    let other = job(&technician, "RU 4", "engine.stalls", &[check("compression"), check(FIRST)]);
    job(&technician, "RU 5", "engine.stalls", &[]);
    let at_close = json!({ "code": FIRST, "finding": "normal", "typed_at_close": true });
    job(&technician, "RU 6", "engine.stalls", &[("checks", at_close)]);
    // Another complaint is none of its jobs.
    job(&technician, "RU 7", "engine.idle-rough", &[check("compression")]);
    assert_eq!(counts(&manager, &rule), [3, 0, 1, 2]);
    let told = manager.get(&format!("rules/{rule}")).expect(200).json();
    assert_eq!((&told["compliance"]["share"], &told["state"]), (&json!(0.75), &json!("in_force")));
    assert_eq!(told["compliance"]["about"]["count"], 6);
    // Every count opens to its jobs.
    let today = text(&told["compliance"]["as_of"]).to_owned();
    for name in ["about", "kept", "without_reason", "not_known"] {
        let jobs = &told["compliance"][name];
        let place = format!("reports/jobs?{}&as_of={today}", text(&jobs["jobs"]));
        assert_eq!(manager.get(&place).expect(200).json()["count"], jobs["count"], "{name}");
    }
    let reason = json!({ "reason": "customer's wish" });
    let answer = format!("jobs/{other}/rules/{rule}");
    technician.call("PUT", &answer).json(&reason).send().expect(200);
    assert_eq!(counts(&manager, &rule), [3, 1, 0, 2]);
    technician.call("DELETE", &answer).send().expect(204);
    technician.call("DELETE", &answer).send().problem(404, "not-found");
    assert_eq!(counts(&manager, &rule), [3, 0, 1, 2]);
    let noted = "SELECT action AS line FROM record_change WHERE record = 'rule_answer' \
                 ORDER BY change_no";
    assert_eq!(shops.place.lines(noted), ["added", "removed"]);
}

fn part(role: &str, disposition: &str, reading: Option<f64>) -> (&'static str, Value) {
    let mut body = json!({
        "part_no": "IAV-100", "name": "idle air valve", "role": role, "disposition": disposition,
    });
    if let Some(reading) = reading {
        body["bench_reading"] = json!(reading);
        body["bench_unit"] = json!("Ohm");
    }
    ("parts", body)
}

fn read(value: f64, unit: &str) -> (&'static str, Value) {
    let body = json!({
        "code": "charging-voltage", "finding": "normal", "minutes": 3, "reading": value,
        "unit": unit,
    });
    ("checks", body)
}

fn each_kind_is_kept_or_not(shops: &Shops) {
    let manager = shops.person("manager.north");
    let technician = shops.person("technician.north");
    let replace = rule(&manager, &of_kind("replace_suspect", &json!({ "part": "IAV-100" })));
    let test = rule(&manager, &of_kind("clean_and_test", &json!({ "part": "IAV-100" })));
    let limit = json!({
        "check": "charging-voltage", "unit": "V", "low_limit": 13.5, "high_limit": 14.8,
        "limit_source": "the shop",
    });
    let limit = rule(&manager, &of_kind("reading_limit", &limit));
    let words = json!({ "about": "symptom=engine.idle-rough" });
    let words = rule(&manager, &of_kind("free_text", &words));
    let made =
        |plate: &str, lines: &[(&str, Value)]| job(&technician, plate, "engine.stalls", lines);
    made("RK 1", &[part("suspect", "replaced_new", None)]);
    made("RK 2", &[part("suspect", "cleaned_reused", None)]);
    made("RK 3", &[part("bystander", "cleaned_reused", Some(11.5))]);
    // Of two suspects one was replaced; of two put back one was read.
    assert_eq!(counts(&manager, &replace), [1, 0, 1, 0]);
    assert_eq!(counts(&manager, &test), [1, 0, 1, 0]);
    // Inside; outside; outside, then inside; inside in another unit.
    made("RK 4", &[read(14.1, "V")]);
    made("RK 5", &[read(15.1, "V")]);
    made("RK 6", &[read(15.1, "V"), read(13.5, "V")]);
    made("RK 7", &[read(14.1, "A")]);
    assert_eq!(counts(&manager, &limit), [2, 0, 2, 0]);
    // Somebody says so, or nobody knows.
    let idle =
        ["RK 8", "RK 9", "RK 10"].map(|plate| job(&technician, plate, "engine.idle-rough", &[]));
    let say = |job: &str, body: Value| {
        technician.call("PUT", &format!("jobs/{job}/rules/{words}")).json(&body).send()
    };
    say(&idle[0], json!({ "kept": true })).expect(200);
    say(&idle[1], json!({ "kept": false, "reason": "no bay free" })).expect(200);
    assert_eq!(counts(&manager, &words), [1, 1, 0, 1]);
    assert_eq!(say(&idle[2], json!({})).pointers(), ["/kept"]);
    // Of the others the record tells.
    let place = format!("jobs/{}/rules/{replace}", idle[2]);
    let refused = technician.call("PUT", &place).json(&json!({ "kept": true })).send();
    assert_eq!(refused.pointers(), ["/kept"]);
    assert_eq!(technician.call("PUT", &place).json(&json!({})).send().pointers(), ["/reason"]);
}

/// The jobs that a rule's figure counts, by id.
fn jobs_of(client: &Client, figure: &Value, today: &str) -> BTreeSet<String> {
    if figure["count"] == 0 {
        return BTreeSet::new();
    }
    let place = format!("reports/jobs?{}&as_of={today}", text(&figure["jobs"]));
    let jobs = client.get(&place).expect(200).json()["jobs"].clone();
    jobs.as_array().unwrap().iter().map(|job| text(&job["job_id"]).to_owned()).collect()
}

/// The rules that a job is about, with whether it keeps them.
fn about(client: &Client, job: &str) -> Vec<(String, String, Value)> {
    let rules = client.get(&format!("jobs/{job}/rules")).expect(200).json()["items"].clone();
    let about = rules.as_array().unwrap().iter().filter(|rule| rule["about"] == true);
    about
        .map(|rule| (text(&rule["rule_id"]).to_owned(), job.to_owned(), rule["kept"].clone()))
        .collect()
}

/// Page and report go by one definition: what the job in hand was told at its end is
/// what the report counts it as.
fn the_job_says_what_the_reports_say(shops: &Shops) {
    let manager = shops.person("manager.north");
    let technician = shops.person("technician.north");
    check_first(&manager);
    rule(&manager, &of_kind("replace_suspect", &json!({ "part": "IAV-100" })));
    rule(&manager, &of_kind("clean_and_test", &json!({ "part": "IAV-100" })));
    let limit = json!({
        "check": "charging-voltage", "symptom": "engine.stalls", "unit": "V", "low_limit": 13.5,
        "limit_source": "the shop",
    });
    rule(&manager, &of_kind("reading_limit", &limit));
    rule(&manager, &of_kind("free_text", &json!({})));
    let lines = [
        vec![check(FIRST), read(14.1, "V"), part("suspect", "replaced_new", None)],
        vec![check("compression"), read(12.1, "V"), part("suspect", "cleaned_reused", Some(11.0))],
        vec![check("read-codes"), check(FIRST), part("bystander", "adjusted_reused", None)],
        vec![],
    ];
    let mut said: Vec<(String, String, Value)> = Vec::new();
    for (number, lines) in lines.iter().enumerate() {
        let (order, job) = open(&technician, &format!("RP {number}"), "engine.stalls");
        for (kind, body) in lines {
            technician.post(&format!("jobs/{job}/{kind}"), body).expect(201);
        }
        let in_hand = about(&technician, &job);
        finish(&technician, &order, &job, "air-filter");
        // At its end it says the same as before.
        assert_eq!(about(&technician, &job), in_hand);
        said.extend(in_hand);
    }
    let rules = manager.get("rules").expect(200).json();
    let mut counted = Vec::new();
    for rule in rules["items"].as_array().unwrap() {
        let figures = &rule["compliance"];
        let today = text(&figures["as_of"]);
        let kinds =
            [("kept", json!(true)), ("without_reason", json!(false)), ("not_known", json!(null))];
        for (name, kept) in kinds {
            for job in jobs_of(&manager, &figures[name], today) {
                counted.push((text(&rule["id"]).to_owned(), job, kept.clone()));
            }
        }
    }
    let order = |rows: &mut Vec<(String, String, Value)>| {
        rows.sort_by(|a, b| (&a.0, &a.1).cmp(&(&b.0, &b.1)));
    };
    order(&mut said);
    order(&mut counted);
    assert_eq!(said, counted);
    // 4 by complaint, 2 suspects, 2 put back, 4 that owe the reading, 4 of all.
    assert_eq!(said.len(), 16);
}

fn what_is_no_rule_is_refused(shops: &Shops) {
    let manager = shops.person("manager.north");
    let refused = |body: &Value| manager.post("rules", body).pointers();
    assert_eq!(refused(&of_kind("replace_suspect", &json!({}))), ["/part"]);
    let both = json!({ "symptom": "engine.stalls", "part": "IAV-100", "check": FIRST });
    assert_eq!(refused(&of_kind("check_first", &both)), ["/part"]);
    let unknown = json!({ "symptom": "engine.stalls", "check": "crystal-ball" });
    assert_eq!(refused(&of_kind("check_first", &unknown)), ["/check"]);
    let after = json!({ "about": "returned=true" });
    assert_eq!(refused(&of_kind("free_text", &after)), ["/about"]);
    let today = crate::support::now().date_naive();
    let past = json!({ "part": "IAV-100", "starts_on": today - Duration::days(3) });
    assert_eq!(refused(&of_kind("clean_and_test", &past)), ["/starts_on"]);
    let soon = json!({ "part": "IAV-100", "review_on": today + Duration::days(70) });
    assert_eq!(refused(&of_kind("clean_and_test", &soon)), ["/review_on"]);
    let nobody = json!({ "part": "IAV-100", "owner_id": uuid::Uuid::new_v4() });
    assert_eq!(refused(&of_kind("clean_and_test", &nobody)), ["/owner_id"]);
    // The record has nothing on it, so somebody has to say why.
    let mut body = of_kind("clean_and_test", &json!({ "part": "IAV-100" }));
    body.as_object_mut().unwrap().remove("evidence");
    assert_eq!(refused(&body), ["/evidence"]);
    let twice = "reports/effect?start=2026-01-01&rule=00000000-0000-7000-8000-000000000000";
    assert_eq!(manager.get(twice).pointers(), ["/rule"]);
    assert_eq!(shops.place.count("FROM shop_rule"), 0);
}

fn a_rule_in_words_is_about_what_the_lists_have(shops: &Shops) {
    let manager = shops.person("manager.north");
    let about = |text: &str| of_kind("free_text", &json!({ "about": text }));
    for wrong in [
        "symptom=engine.tikc",
        "check=crystal-ball",
        "cause=gremlins",
        "system=enigne",
        "also=symptom%3Dengine.tikc",
        "except=check%3Dcrystal-ball",
    ] {
        assert_eq!(manager.post("rules", &about(wrong)).pointers(), ["/about"], "{wrong}");
        // Without words on why, it is still that which is wrong.
        let mut body = about(wrong);
        body.as_object_mut().unwrap().remove("evidence");
        assert_eq!(manager.post("rules", &body).pointers(), ["/about"], "{wrong}");
    }
    assert_eq!(shops.place.count("FROM shop_rule"), 0);
    let id = rule(&manager, &about("symptom=engine.stalls&system=engine&check=compression"));
    let effect = manager.get(&format!("reports/effect?rule={id}")).expect(200).json();
    assert_eq!(effect["verdict"], "too early");
    // One that came in before: its page, the list and the week open, and say why not.
    shops.place.run("UPDATE shop_rule SET about = 'symptom=engine.tikc'");
    let leads = shops.visitor("manager.north", "north");
    let page = leads.get(&format!("rules/{id}")).expect(200);
    assert!(page.body.contains("What came of it cannot be told"), "{}", page.body);
    leads.get("rules").expect(200);
    leads.get("week").expect(200);
    manager.get(&format!("rules/{id}")).expect(200);
}

fn limits_are_in_units_that_are_read(shops: &Shops) {
    let manager = shops.person("manager.north");
    let limit = |unit: &str, low: f64, high: f64| {
        let needs = json!({
            "check": "charging-voltage", "unit": unit, "low_limit": low, "high_limit": high,
            "limit_source": "the shop",
        });
        manager.post("rules", &of_kind("reading_limit", &needs))
    };
    assert_eq!(limit("Volts", 13.5, 14.8).pointers(), ["/unit"]);
    assert_eq!(limit("V", 13.5, 1e9).pointers(), ["/high_limit"]);
    assert_eq!(limit("V", -1e300, 1e300).pointers(), ["/low_limit", "/high_limit"]);
    assert_eq!(shops.place.count("FROM shop_rule"), 0);
    limit("V", 13.5, 14.8).expect(201);
}

/// Whatever is refused, nothing has to be typed twice.
fn what_was_typed_stays(shops: &Shops) {
    let leads = shops.visitor("manager.north", "north");
    let page = leads.get("rules/new?kind=free_text").expect(200);
    let typed = || {
        form(&page, "/rules")
            .fill("title", "Torque in two steps")
            .fill("words", "first half, then whole")
            .fill("evidence", "two leaked in June")
    };
    for (name, wrong, said) in [
        ("review_on", "soon", "write a day"),
        ("about", "color=red", "color"),
        ("about", "symptom=engine.tikc", "there is no symptom engine.tikc"),
    ] {
        let refused = typed().fill(name, wrong).send(&leads).expect(422);
        assert!(refused.body.contains("Nothing was written."), "{}", refused.body);
        for kept in ["Torque in two steps", "first half, then whole", "two leaked in June", said] {
            assert!(refused.body.contains(kept), "{kept}: {}", refused.body);
        }
    }
    let page = typed().follow(&leads);
    assert!(page.body.contains("Torque in two steps"), "{}", page.body);
}

fn a_rule_ends_and_stays_on_record(shops: &Shops) {
    let manager = shops.person("manager.north");
    let technician = shops.person("technician.north");
    let id = check_first(&manager);
    let at = format!("rules/{id}");
    job(&technician, "RE 1", "engine.stalls", &[check(FIRST)]);
    // While its jobs are counted its day is not brought forward.
    let stands = manager.get(&at).expect(200).json();
    let review: chrono::NaiveDate = text(&stands["review_on"]).parse().unwrap();
    let moved = |days: i64| json!({ "review_on": review + Duration::days(days) });
    assert_eq!(manager.patch(&at, &moved(-1)).pointers(), ["/review_on"]);
    manager.patch(&at, &moved(3)).expect(200);
    assert_eq!(manager.patch(&at, &moved(1)).pointers(), ["/review_on"]);
    let changed = manager.patch(&at, &json!({ "words": "the gauge before the ladder" }));
    assert_eq!(changed.expect(200).json()["words"], "the gauge before the ladder");
    let early = json!({ "word": "kept", "note": "fine" });
    manager.settle(&at, "review", &early).problem(409, "conflict");
    let effect = manager.get(&format!("reports/effect?rule={id}")).expect(200).json();
    assert_eq!(
        (&effect["verdict"], &effect["select"]),
        (&json!("too early"), &json!("kind=complaint&symptom=engine.stalls"))
    );
    let (_, open_job) = open(&technician, "RE 2", "engine.stalls");
    let touching =
        |client: &Client| client.get(&format!("jobs/{open_job}/rules")).expect(200).json();
    assert_eq!(touching(&technician)["items"][0]["rule_id"], id);
    manager.settle(&at, "withdrawal", &json!({ "reason": " " })).problem(422, "invalid");
    let reason = json!({ "reason": "the gauge is broken" });
    let ended = manager.settle(&at, "withdrawal", &reason).expect(200).json();
    assert_eq!(ended["withdrawn_reason"], "the gauge is broken");
    // It asks nobody any more, and is changed no more, but it stays.
    assert_eq!(touching(&technician)["items"], json!([]));
    manager.patch(&at, &json!({ "words": "again" })).problem(409, "conflict");
    let answer = format!("jobs/{open_job}/{at}");
    let late = technician.call("PUT", &answer).json(&json!({ "reason": "late" })).send();
    late.problem(409, "conflict");
    let kept = manager.get("rules").expect(200).json()["items"][0].clone();
    // It was handed over on the day of the withdrawal: that day asks no more.
    assert_eq!(
        (&kept["state"], &kept["compliance"]["kept"]["count"]),
        (&json!("withdrawn"), &json!(0))
    );
    let actions = "SELECT action AS line FROM record_change WHERE record = 'shop_rule' \
                   ORDER BY change_no";
    assert_eq!(shops.place.lines(actions), ["added", "changed", "changed", "withdrawn"]);
}

fn the_job_s_page_asks_and_takes_back(shops: &Shops) {
    let manager = shops.person("manager.north");
    let id = check_first(&manager);
    let technician = shops.person("technician.north");
    let (order, job) = open(&technician, "RG 1", "engine.stalls");
    let at = format!("jobs/{job}");
    let visitor = shops.visitor("technician.north", "north");
    // Before anything is done it is a reminder, and asks for nothing.
    let page = visitor.get(&at).expect(200);
    assert!(page.body.contains("rule check_first") && page.body.contains("not known yet"));
    assert!(!page.body.contains("Why not, on this job?"));
    technician.post(&format!("{at}/checks"), &check("compression").1).expect(201);
    let page = visitor.get(&at).expect(200);
    assert!(page.body.contains("not followed"), "{}", page.body);
    let tap = form_with(&page, &format!("/rules/{id}"), "tool not available");
    let page = tap.fill("tap", "tool not available").follow(&visitor);
    assert!(page.body.contains("why not: <bdi>tool not available</bdi>"), "{}", page.body);
    let page = form(&page, &format!("/rules/{id}/removal")).follow(&visitor);
    assert!(page.body.contains("Why not, on this job?"));
    // It holds nothing up, and the week asks for the reason.
    let closed = finish(&technician, &order, &job, "air-filter");
    let day = text(&closed["closed_on"]);
    let week: chrono::NaiveDate = day.parse().unwrap();
    let week = format!("week?week={}&as_of={day}", week.format("%G-W%V"));
    let leads = shops.visitor("manager.north", "north");
    let page = leads.get(&week).expect(200);
    assert!(page.body.contains("a rule not followed") && page.body.contains(&job), "{}", page.body);
    let reason = json!({ "reason": "the gauge is lent out" });
    technician.call("PUT", &format!("{at}/rules/{id}")).json(&reason).send().expect(200);
    assert!(!leads.get(&week).expect(200).body.contains("a rule not followed"));
}

fn a_rule_is_taken_on_its_page(shops: &Shops) {
    let leads = shops.visitor("manager.north", "north");
    let page = leads.get("rules/new?kind=replace_suspect&part=IAV-100").expect(200);
    assert!(page.body.contains("Replace IAV-100 where it is the suspect"), "{}", page.body);
    // Nothing is on record yet: somebody says why.
    let wrong = form(&page, "/rules").send(&leads).expect(422);
    assert!(wrong.body.contains("Nothing was written."), "{}", wrong.body);
    let page = form(&wrong, "/rules").fill("evidence", "two came back in May").follow(&leads);
    assert!(page.body.contains("two came back in May"), "{}", page.body);
    assert!(page.body.contains("No job that it is about was handed over since it stands."));
    let page = form(&page, "/change").fill("title", "New valve, always").follow(&leads);
    assert!(page.body.contains("<bdi>New valve, always</bdi>"));
    let list = leads.get("rules").expect(200);
    assert!(list.body.contains("New valve, always") && list.body.contains("review on"));
    let page = form(&page, "/withdrawal").fill("reason", "no valve to be had").follow(&leads);
    assert!(page.body.contains("withdrawn") && page.body.contains("no valve to be had"));
    // A technician reads it, without the effect on the shop's shares.
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get("rules").expect(200);
    assert!(page.body.contains("New valve, always") && !page.body.contains("Take a rule"));
    technician.get("rules/new").expect(403);
}

/// A server whose time the test sets.
struct Bench {
    server: Server,
    folder: Folder,
    start: DateTime<Utc>,
}

impl Bench {
    fn new(place: &Place) -> Self {
        let folder = Folder::new();
        let file = folder.path().join("clock");
        let start = crate::support::now() + Duration::days(1);
        std::fs::write(&file, start.to_rfc3339()).unwrap();
        let server = Server::with(place, &["--clock-file", file.to_str().unwrap()]);
        Self { server, folder, start }
    }

    fn set(&self, days: i64) {
        let at = (self.start + Duration::days(days)).to_rfc3339();
        std::fs::write(self.folder.path().join("clock"), at).unwrap();
    }

    /// Signed in at the time it is there.
    fn program(&self, place: &Place, name: &str) -> Client {
        let body = json!({ "sign_in_name": name, "password": PASSWORD });
        let client = Client::new(&self.server.base);
        let answer = client.call("POST", "/api/v1/sessions").json(&body).send().expect(200).json();
        let shop = place.lines("SELECT public_id AS line FROM shop WHERE code = 'north'").remove(0);
        client
            .with("authorization", format!("Bearer {}", text(&answer["token"])))
            .within(format!("/api/v1/shops/{shop}"))
    }
}

/// Four jobs after the start, their windows ended, none before: too few; and one
/// verdict, on the review day, however long one waits.
fn four_jobs_are_too_few(place: &Place) {
    let bench = Bench::new(place);
    let manager = bench.program(place, "manager.north");
    let id = check_first(&manager);
    for number in 0..4 {
        job(&manager, &format!("RW {number}"), "engine.stalls", &[check(FIRST)]);
    }
    let told = manager.get(&format!("rules/{id}")).expect(200).json();
    let day = |name: &str| text(&told[name]).parse::<chrono::NaiveDate>().unwrap();
    let review = (day("review_on") - day("starts_on")).num_days();
    assert!(review >= 90, "{told}");
    let effect = format!("reports/effect?rule={id}");
    bench.set(70);
    let manager = bench.program(place, "manager.north");
    let report = manager.get(&effect).expect(200).json();
    assert_eq!(report["verdict"], "too early");
    assert_eq!(report["ahead"]["ended_after"], 4);
    bench.set(review + 1);
    let manager = bench.program(place, "manager.north");
    let report = manager.get(&effect).expect(200).json();
    assert_eq!((&report["verdict"], &report["ahead"]), (&json!("too few"), &json!(null)));
    assert_eq!(report["compliance"]["kept"], 4);
    let visitor =
        visitor(&bench.server.base, "manager.north", PASSWORD).within("/shops/north".into());
    let page = visitor.get(&format!("rules/{id}")).expect(200);
    assert!(page.body.contains("too few cases, 0 of 10"), "{}", page.body);
    // The review day is reached: it stays.
    let later = json!({ "review_on": "2099-01-01" });
    manager.patch(&format!("rules/{id}"), &later).problem(409, "conflict");
    let page = form(&page, "/review").fill("word", "kept").fill("note", "go on").follow(&visitor);
    assert!(page.body.contains("reviewed: it stays"), "{}", page.body);
    let again = json!({ "word": "kept", "note": "twice" });
    manager.settle(&format!("rules/{id}"), "review", &again).problem(409, "conflict");
}

/// Two jobs while it stood, two from the day of its withdrawal on: nothing counts them,
/// and no day brings a verdict.
fn a_withdrawn_rule_counts_no_more(place: &Place) {
    let bench = Bench::new(place);
    let manager = bench.program(place, "manager.north");
    let id = check_first(&manager);
    let at = format!("rules/{id}");
    for number in 0..2 {
        job(&manager, &format!("RX {number}"), "engine.stalls", &[check(FIRST)]);
    }
    let review = manager.get(&at).expect(200).json()["review_on"].clone();
    let start: chrono::NaiveDate =
        text(&manager.get(&at).expect(200).json()["starts_on"]).parse().unwrap();
    bench.set(5);
    let manager = bench.program(place, "manager.north");
    let reason = json!({ "reason": "the gauge is broken" });
    let ended = manager.settle(&at, "withdrawal", &reason).expect(200).json();
    let withdrawn: chrono::NaiveDate = text(&ended["withdrawn_on"]).parse().unwrap();
    job(&manager, "RX 2", "engine.stalls", &[check("compression")]);
    bench.set(8);
    let manager = bench.program(place, "manager.north");
    job(&manager, "RX 3", "engine.stalls", &[check("compression")]);
    let page =
        || visitor(&bench.server.base, "manager.north", PASSWORD).within("/shops/north".into());
    for days in [9, (text(&review).parse::<chrono::NaiveDate>().unwrap() - start).num_days() + 2] {
        bench.set(days);
        let manager = bench.program(place, "manager.north");
        let told = manager.get(&at).expect(200).json();
        let figures = &told["compliance"];
        assert_eq!((&figures["about"]["count"], &figures["share"]), (&json!(2), &json!(1.0)));
        let report = manager.get(&format!("reports/effect?rule={id}")).expect(200).json();
        assert_eq!(
            (&report["verdict"], &report["withdrawn"], &report["ahead"]),
            (&json!("withdrawn"), &ended["withdrawn_on"], &Value::Null)
        );
        assert_eq!(report["touched"]["after"]["count"], 2, "{report}");
        assert_eq!(report["after_to"], json!(withdrawn - Duration::days(1)));
        let shown = page().get(&at).expect(200);
        assert!(shown.body.contains("no verdict") && shown.body.contains("while it stood"));
        assert!(page().get("rules").expect(200).body.contains("withdrawn on "));
    }
}

#[test]
fn a_withdrawn_rule_counts_no_more_on_sqlite() {
    a_withdrawn_rule_counts_no_more(&Place::sqlite());
}

#[test]
fn a_withdrawn_rule_counts_no_more_on_postgres() {
    if let Some(place) = Place::postgres() {
        a_withdrawn_rule_counts_no_more(&place);
    }
}

#[test]
fn four_jobs_are_too_few_on_sqlite() {
    four_jobs_are_too_few(&Place::sqlite());
}

#[test]
fn four_jobs_are_too_few_on_postgres() {
    if let Some(place) = Place::postgres() {
        four_jobs_are_too_few(&place);
    }
}
