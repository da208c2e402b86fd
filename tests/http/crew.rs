//! Who is on a job, and whom a trainee works under; own time changed.

use chrono::{DateTime, Duration, FixedOffset};
use serde_json::{Value, json};

use crate::support::html::form;
use crate::support::visit::{finish, open, text};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    a_trainee_works_under_somebody,
    somebody_else_leads,
    own_time_is_changed_and_others_time_is_not,
    the_manager_corrects_times,
    people_and_times_on_the_page,
);

fn id(shops: &Shops, name: &str) -> String {
    let me = shops.person(name).get("/api/v1/me").expect(200).json();
    text(&me["id"]).to_owned()
}

fn a_trainee_works_under_somebody(shops: &Shops) {
    let manager = shops.person("manager.north");
    let helper = shops.person("helper.north");
    let [trainee, lead] = ["helper.north", "technician.north"].map(|name| id(shops, name));
    let (_, job) = open(&manager, "CR 1", "engine.stalls");
    let at = format!("jobs/{job}");
    let put = |body: Value| manager.post(&format!("{at}/people"), &body);
    let person = |worked_as: &str| json!({ "person_id": trainee, "worked_as": worked_as });
    assert_eq!(put(person("trainee")).pointers(), ["/supervisor_id"]);
    assert_eq!(put(person("lead")).pointers(), ["/worked_as"]);
    let stranger = id(shops, "technician.south");
    let lent = json!({ "person_id": stranger, "worked_as": "helper" });
    assert_eq!(put(lent).pointers(), ["/person_id"]);

    // Without being put on the job, a trainee's time names the supervisor.
    let timed = |body: Value| helper.post(&format!("{at}/labor"), &body);
    assert_eq!(timed(json!({ "worked_as": "trainee" })).pointers(), ["/supervisor_id"]);
    put(person("helper")).expect(201);
    let under = json!({ "person_id": trainee, "worked_as": "trainee", "supervisor_id": lead });
    put(under).expect(201);
    let people = manager.get(&at).json()["people"].clone();
    assert_eq!(people.as_array().unwrap().len(), 1, "{people}");
    let back = json!({ "person_id": lead, "worked_as": "trainee", "supervisor_id": trainee });
    assert_eq!(put(back).pointers(), ["/supervisor_id", "/worked_as"]);

    let entry = timed(json!({})).expect(201).json();
    assert_eq!((&entry["worked_as"], &entry["supervisor_id"]), (&json!("trainee"), &json!(lead)));
    manager.call("DELETE", &format!("{at}/people/{trainee}")).send().expect(204);
    manager.call("DELETE", &format!("{at}/people/{trainee}")).send().problem(404, "not-found");
    let noted = "SELECT action AS line FROM record_change WHERE record = 'job_person' \
                 ORDER BY change_no, line";
    assert_eq!(shops.place.lines(noted), ["added", "changed", "removed"]);
}

fn somebody_else_leads(shops: &Shops) {
    let manager = shops.person("manager.north");
    let [one, two] = ["helper.north", "technician.north"].map(|name| id(shops, name));
    let (_, job) = open(&manager, "CR 2", "engine.stalls");
    let at = format!("jobs/{job}");
    manager.patch(&at, &json!({ "lead_id": one })).expect(200);
    let put = |body: Value| manager.post(&format!("{at}/people"), &body);
    put(json!({ "person_id": one, "worked_as": "lead", "supervisor_id": two })).expect(201);
    assert_eq!(put(json!({ "person_id": one, "worked_as": "helper" })).pointers(), ["/worked_as"]);
    put(json!({ "person_id": two, "worked_as": "helper" })).expect(201);
    // Neither line holds any longer.
    let now = manager.patch(&at, &json!({ "lead_id": two })).expect(200).json();
    assert_eq!(now["people"], json!([]));
}

fn stretch(opened: DateTime<FixedOffset>, from: i64, to: i64) -> Value {
    let at = |minutes: i64| (opened - Duration::minutes(minutes)).to_rfc3339();
    json!({ "started_at": at(from), "ended_at": at(to) })
}

fn opened_at(client: &Client, order: &str) -> DateTime<FixedOffset> {
    let order = client.get(&format!("orders/{order}")).json();
    DateTime::parse_from_rfc3339(text(&order["opened_at"])).unwrap()
}

fn own_time_is_changed_and_others_time_is_not(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (order, job) = open(&technician, "CR 3", "engine.stalls");
    let at = format!("jobs/{job}");
    let opened = opened_at(&technician, &order);
    let record = |from, to| {
        let made = technician.post(&format!("{at}/labor"), &stretch(opened, from, to));
        format!("{at}/labor/{}", text(&made.expect(201).json()["id"]))
    };
    let (first, second) = (record(60, 40), record(30, 20));
    let patch = |client: &Client, thing: &str, body: &Value| {
        let tag = client.get(&at).tag();
        client.call("PATCH", thing).json(body).if_match(&tag).send()
    };
    let longer = patch(&technician, &first, &stretch(opened, 60, 30)).expect(200);
    assert_eq!(longer.version(), technician.get(&at).version());
    patch(&technician, &first, &stretch(opened, 60, 29)).problem(409, "conflict");
    assert_eq!(patch(&technician, &first, &stretch(opened, 30, 60)).pointers(), ["/ended_at"]);
    assert_eq!(patch(&technician, &first, &stretch(opened, 9000, 30)).pointers(), ["/started_at"]);
    let helper = shops.person("helper.north");
    patch(&helper, &first, &json!({ "activity": "repair" })).problem(403, "forbidden");
    helper.call("DELETE", &first).send().problem(403, "forbidden");
    let adviser = shops.person("adviser.north");
    patch(&adviser, &first, &json!({ "activity": "repair" })).expect(200);
    technician.call("DELETE", &second).send().expect(204);
    technician.call("DELETE", &second).send().problem(404, "not-found");
    // After a week it is the adviser's.
    let old = record(8 * 1440, 8 * 1440 - 30);
    patch(&technician, &old, &json!({ "activity": "proof" })).problem(403, "forbidden");
    patch(&adviser, &old, &json!({ "activity": "proof" })).expect(200);
}

fn the_manager_corrects_times(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (order, job) = open(&technician, "CR 4", "engine.stalls");
    let at = format!("jobs/{job}");
    let opened = opened_at(&technician, &order);
    let made = technician.post(&format!("{at}/labor"), &stretch(opened, 60, 40)).expect(201);
    let entry = format!("{at}/labor/{}", text(&made.json()["id"]));
    finish(&technician, &order, &job, "air-filter");
    let tag = technician.get(&at).tag();
    let shorter = stretch(opened, 50, 40);
    for (who, status) in [("technician.north", 409), ("adviser.north", 409), ("manager.north", 200)]
    {
        let client = shops.person(who);
        client.call("PATCH", &entry).json(&shorter).if_match(&tag).send().expect(status);
    }
    let whole = technician.get(&at).json();
    assert!(whole["corrected_at"].is_string());
    shops.person("manager.north").call("DELETE", &entry).send().expect(204);
    assert_eq!(technician.get(&at).json()["labor"], json!([]));
}

fn people_and_times_on_the_page(shops: &Shops) {
    let program = shops.person("technician.north");
    let (order, job) = open(&program, "CR 5", "engine.stalls");
    let opened = opened_at(&program, &order);
    program.post(&format!("jobs/{job}/labor"), &stretch(opened, 60, 40)).expect(201);
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get(&format!("jobs/{job}")).expect(200);
    let put = form(&page, "/people").fill("person_id", &id(shops, "helper.north"));
    let put =
        put.fill("worked_as", "trainee").fill("supervisor_id", &id(shops, "technician.north"));
    let page = put.follow(&technician);
    assert!(page.body.contains("under <bdi>technician of north</bdi>"), "{}", page.body);
    // Times that nobody touched keep their seconds.
    let before = shops.place.lines("SELECT CAST(started_at AS TEXT) AS line FROM labor_entry");
    form(&page, "/times").fill("activity", "repair").follow(&technician);
    let kept = "SELECT CAST(started_at AS TEXT) AS line FROM labor_entry WHERE activity = 'repair'";
    assert_eq!(shops.place.lines(kept), before);
    let page = technician.get(&format!("jobs/{job}")).expect(200);
    let page = form(&page, "/removal").follow(&technician);
    assert!(page.body.contains("Start now on"));
    assert_eq!(shops.place.count("FROM labor_entry"), 0);
}
