//! What is no comeback, and what is a return without a visit.

use serde_json::{Value, json};

use crate::support::visit::{finish, open, text, write_up};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    a_planned_second_visit_is_no_comeback,
    a_write_up_says_what_it_came_back_for,
    what_is_decided_is_left_to_who_decides,
    a_return_is_told_without_a_visit,
    suppliers_pay_back,
);

/// A visit that ended so: its job.
fn ended(client: &Client, plate: &str, outcome: &str) -> String {
    let (order, job) = open(client, plate, "engine.stalls");
    let close = json!({ "outcome": outcome, "correction": "made to run" });
    client.settle(&format!("jobs/{job}"), "closure", &close).expect(200);
    client.settle(&format!("orders/{order}"), "closure", &json!({})).expect(200);
    job
}

fn coming_back(plate: &str, field: &str, job: &str) -> Value {
    let mut visit = write_up(plate, "engine.stalls");
    visit["jobs"][0][field] = json!(job);
    visit
}

fn a_planned_second_visit_is_no_comeback(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    for (place, outcome) in ["planned_second_visit", "temporary_repair"].iter().enumerate() {
        let plate = format!("RE 1{place}");
        let earlier = ended(&adviser, &plate, outcome);
        let visit = coming_back(&plate, "second_visit_of_job_id", &earlier);
        let order = adviser.post("orders", &visit).expect(201).json();
        assert_eq!(order["comebacks"], json!([]));
        let later = &order["jobs"][0]["id"];
        let link = json!({ "earlier_job_id": earlier, "later_job_id": later });
        adviser.post("comebacks", &link).problem(409, "conflict");
        let page = shops.visitor("adviser.north", "north");
        let page = page.get(&format!("orders/{}", text(&order["id"]))).expect(200);
        assert!(page.body.contains("planned second visit"));
    }
    let (order, job) = open(&adviser, "RE 2", "engine.stalls");
    finish(&adviser, &order, &job, "air-filter");
    let at = ["/jobs/0/second_visit_of_job_id"];
    let refused = |plate: &str, job: &str| {
        adviser.post("orders", &coming_back(plate, "second_visit_of_job_id", job)).pointers()
    };
    // It was repaired: nothing more was to come.
    assert_eq!(refused("RE 2", &job), at);
    let planned = ended(&adviser, "RE 3", "planned_second_visit");
    assert_eq!(refused("RE 4", &planned), at);
    let (_, running) = open(&adviser, "RE 3", "engine.stalls");
    assert_eq!(refused("RE 3", &running), at);
    assert_eq!(refused("RE 3", "00000000-0000-7000-8000-000000000000"), at);
    let mut both = coming_back("RE 3", "second_visit_of_job_id", &planned);
    both["jobs"][0]["in_before_job_id"] = json!(planned);
    assert_eq!(adviser.post("orders", &both).pointers(), ["/jobs/0/in_before_job_id"]);
    assert_eq!(shops.place.count("FROM planned_visit"), 2);
}

fn a_write_up_says_what_it_came_back_for(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, job) = open(&adviser, "RE 5", "engine.stalls");
    finish(&adviser, &order, &job, "air-filter");
    let visit = coming_back("RE 5", "in_before_job_id", &job);
    let technician = shops.person("technician.north");
    technician.post("orders", &visit).problem(403, "forbidden");
    let other = coming_back("RE 6", "in_before_job_id", &job);
    assert_eq!(adviser.post("orders", &other).pointers(), ["/jobs/0/in_before_job_id"]);
    let nothing = "00000000-0000-7000-8000-000000000000";
    let unknown = coming_back("RE 5", "in_before_job_id", nothing);
    assert_eq!(adviser.post("orders", &unknown).pointers(), ["/jobs/0/in_before_job_id"]);
    let said = adviser.post("orders", &visit).expect(201).json();
    assert_eq!(said["comebacks"][0]["customer_says"], true);
    let more = json!({ "complaint": "stalls", "in_before_job_id": job });
    let jobs = format!("orders/{}/jobs", text(&said["id"]));
    technician.post(&jobs, &more).problem(403, "forbidden");
    adviser.post(&jobs, &more).expect(201);
}

fn what_is_decided_is_left_to_who_decides(shops: &Shops) {
    let (adviser, manager) = (shops.person("adviser.north"), shops.person("manager.north"));
    let (order, earlier) = open(&adviser, "RE 7", "engine.stalls");
    finish(&adviser, &order, &earlier, "air-filter");
    let (_, later) = open(&adviser, "RE 7", "engine.stalls");
    let link = json!({ "earlier_job_id": earlier, "later_job_id": later, "customer_says": false });
    adviser.post("comebacks", &link).expect(201);
    let id = text(&manager.get("comebacks").json()["items"][0]["id"]).to_owned();
    let decision = json!({ "confirm": true, "reason": "misdiagnosis" });
    manager.settle(&format!("comebacks/{id}"), "decision", &decision).expect(200);
    adviser.post("comebacks", &link).problem(409, "conflict");
    let row = manager.post("comebacks", &link).expect(201).json();
    assert_eq!((&row["id"], &row["state"]), (&json!(id), &json!("confirmed")));
    let notes = shops.place.lines(
        "SELECT record || ' ' || action AS line FROM record_change \
         WHERE record = 'comeback' ORDER BY change_no, line",
    );
    let expected = ["comeback added", "comeback changed", "comeback decided", "comeback changed"];
    assert_eq!(notes, expected);
    // The cause that was not it is doubted, and that is noted on its job.
    let doubted = format!(
        "FROM record_change WHERE record = 'job' AND job_id = '{earlier}' \
         AND before_json LIKE '%\"confirmed\"%' AND after_json LIKE '%\"suspected\"%'"
    );
    assert_eq!(shops.place.count(&doubted), 1);
}

fn a_return_is_told_without_a_visit(shops: &Shops) {
    let (adviser, manager) = (shops.person("adviser.north"), shops.person("manager.north"));
    let (order, job) = open(&adviser, "RE 8", "engine.stalls");
    let at = format!("jobs/{job}/outside-return");
    let day = adviser.get(&format!("orders/{order}")).json()["opened_on"].clone();
    let told = json!({
        "told": "fixed_elsewhere", "told_on": day, "reason": "misdiagnosis", "note": "another shop",
    });
    adviser.post(&at, &told).problem(409, "conflict");
    finish(&adviser, &order, &job, "air-filter");
    let but = |field: &str, value: &str| {
        let mut odd = told.clone();
        odd[field] = json!(value);
        adviser.post(&at, &odd).pointers()
    };
    assert_eq!(but("told", "cured"), ["/told"]);
    assert_eq!(but("told_on", "2199-01-01"), ["/told_on"]);
    assert_eq!(but("told_on", "2020-01-01"), ["/told_on"]);
    assert_eq!(but("reason", "because"), ["/reason"]);
    let row = adviser.post(&at, &told).expect(201).json();
    assert_eq!((&row["told"], &row["reason"]), (&told["told"], &told["reason"]));
    assert_eq!(row["person_id"], adviser.get("/api/v1/me").json()["id"]);
    adviser.post(&at, &told).problem(409, "conflict");
    let list = shops.visitor("adviser.north", "north").get("comebacks").expect(200);
    assert!(list.body.contains("fixed by somebody else"), "{}", list.body);
    adviser.call("DELETE", &at).send().problem(403, "forbidden");
    manager.call("DELETE", &at).send().expect(204);
    manager.call("DELETE", &at).send().problem(404, "not-found");
    adviser.post(&at, &told).expect(201);
    let notes = shops.place.lines(
        "SELECT action AS line FROM record_change WHERE record = 'outside_return' ORDER BY change_no",
    );
    assert_eq!(notes, ["added", "removed", "added"]);
}

fn suppliers_pay_back(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, "RE 9", "engine.stalls");
    let day = manager.get(&format!("orders/{order}")).json()["opened_on"].clone();
    let at = format!("jobs/{job}/pay-backs");
    let paid = json!({ "supplier": "Tarn Parts", "amount_minor": 4_150, "paid_on": day });
    shops.person("adviser.north").post(&at, &paid).problem(403, "forbidden");
    let odd = json!({ "supplier": " ", "amount_minor": 0, "paid_on": "2020-01-01" });
    assert_eq!(manager.post(&at, &odd).pointers(), ["/supplier", "/amount_minor", "/paid_on"]);
    let was = manager.get(&format!("jobs/{job}")).tag();
    let row = manager.post(&at, &paid).expect(201).json();
    assert_eq!(row["amount_minor"], 4_150);
    assert_ne!(manager.get(&format!("jobs/{job}")).tag(), was);
    let page = |who: &str| {
        let page = shops.visitor(who, "north").get(&format!("jobs/{job}/after")).expect(200);
        assert!(page.body.contains("Tarn Parts"), "{}", page.body);
        page.body.contains("$41.50")
    };
    assert!(page("manager.north") && !page("technician.north"));
    let line = format!("{at}/{}", text(&row["id"]));
    let (_, other) = open(&manager, "RE 10", "engine.stalls");
    let elsewhere = format!("jobs/{other}/pay-backs/{}", text(&row["id"]));
    manager.call("DELETE", &elsewhere).send().problem(404, "not-found");
    manager.call("DELETE", &line).send().expect(204);
    assert_eq!(shops.place.count("FROM pay_back"), 0);
}
