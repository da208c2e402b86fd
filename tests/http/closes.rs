//! A job closed together with the checks and parts that are typed in with it.

use serde_json::{Value, json};

use crate::support::visit::{finish, open, repaired, text};
use crate::support::{Shops, on_each_database};

on_each_database!(
    one_request_closes_with_its_lines,
    all_that_is_wrong_is_told_at_once,
    a_twin_takes_no_number,
    a_part_cleaned_at_close_says_why,
    a_close_with_a_part_that_came_back_proposes,
);

fn valve() -> Value {
    json!({
        "part_no": "IAV-100", "name": "idle air valve", "position": "bank 1",
        "disposition": "cleaned_reused", "role": "suspect",
    })
}

fn with(mut closing: Value, checks: Value, parts: Value) -> Value {
    closing["checks"] = checks;
    closing["parts"] = parts;
    closing
}

fn three_checks() -> Value {
    json!([
        { "code": "read-codes", "finding": "normal" },
        { "code": "charging-voltage", "finding": "abnormal", "minutes": 12 },
        { "code": "road-test", "finding": "normal" },
    ])
}

fn one_request_closes_with_its_lines(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (_, job) = open(&technician, "CL 1", "engine.stalls");
    let at = format!("jobs/{job}");
    let before = json!({ "code": "read-codes", "finding": "normal" });
    technician.post(&format!("{at}/checks"), &before).expect(201);
    let seen = technician.get(&at).version();
    let closing = with(repaired("air-filter"), three_checks(), json!([valve()]));
    let answer = technician.settle(&at, "closure", &closing).expect(200);
    assert_eq!(answer.version(), seen + 1);
    let closed = answer.json();
    let now = technician.get(&at).expect(200).json();
    assert_eq!(closed, now);
    let checks = closed["checks"].as_array().unwrap();
    let told: Vec<(&str, i64, bool)> = checks
        .iter()
        .map(|check| {
            let typed = check["typed_at_close"].as_bool().unwrap();
            (text(&check["code"]), check["seq"].as_i64().unwrap(), typed)
        })
        .collect();
    let typed = [("charging-voltage", 3, true), ("road-test", 4, true)];
    assert_eq!(told[..2], [("read-codes", 1, false), ("read-codes", 2, true)]);
    assert_eq!(told[2..], typed);
    assert_eq!(
        (&closed["parts"][0]["line"], text(&closed["parts"][0]["name"])),
        (&json!(1), "idle air valve")
    );

    let lines =
        shops.person("manager.north").get("audit?limit=50").expect(200).json()["items"].clone();
    let lines = lines.as_array().unwrap();
    let number = &lines[0]["change_no"];
    let mut last: Vec<(&str, &str)> = lines
        .iter()
        .filter(|line| line["change_no"] == *number)
        .map(|line| (text(&line["record"]), text(&line["action"])))
        .collect();
    last.reverse();
    let added = [("check", "added"), ("check", "added"), ("check", "added"), ("part_use", "added")];
    assert_eq!(last, [&added[..], &[("job", "closed")]].concat());
}

fn all_that_is_wrong_is_told_at_once(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (_, job) = open(&technician, "CL 2", "engine.stalls");
    let at = format!("jobs/{job}");
    let checks = json!([
        { "code": "read-codes" },
        { "code": "no-such-check" },
        { "code": "road-test", "finding": "not_done", "minutes": -1 },
    ]);
    let mut part = valve();
    part["unit_cost_minor"] = json!(100);
    part["quantity_hundredths"] = json!(0);
    let closing = with(json!({ "outcome": "repaired" }), checks, json!([valve(), part]));
    let refused = technician.settle(&at, "closure", &closing);
    let wrong = [
        "/cause",
        "/correction",
        "/checks/1/code",
        "/checks/2/minutes",
        "/checks/2/not_done_reason",
        "/parts/1/unit_cost_minor",
        "/parts/1/quantity_hundredths",
    ];
    // Who leads is not owed: who closes does.
    assert_eq!(refused.pointers(), wrong);
    let stands = technician.get(&at).expect(200).json();
    assert_eq!((&stands["checks"], &stands["parts"]), (&json!([]), &json!([])));
    let many: Vec<Value> = (0..201).map(|_| json!({ "code": "read-codes" })).collect();
    let closing = with(repaired("air-filter"), json!(many), json!([]));
    assert_eq!(technician.settle(&at, "closure", &closing).pointers(), ["/checks"]);
}

fn a_twin_takes_no_number(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (_, job) = open(&technician, "CL 3", "engine.stalls");
    let at = format!("jobs/{job}");
    let tag = technician.get(&at).tag();
    let closing = with(repaired("air-filter"), three_checks(), json!([valve()]));
    let send = || {
        let call = technician.call("POST", &format!("{at}/closure")).json(&closing);
        call.if_match(&tag).key("closed once").send().expect(200).body
    };
    let number = || shops.place.lines("SELECT CAST(change_no AS TEXT) AS line FROM shop_counter");
    let first = send();
    let numbers = number();
    assert_eq!(send(), first);
    assert_eq!(number(), numbers);
    assert_eq!(shops.place.count("FROM job_check"), 3);
}

fn a_part_cleaned_at_close_says_why(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (order, job) = open(&technician, "CL 4", "engine.stalls");
    technician.post(&format!("jobs/{job}/parts"), &valve()).expect(201);
    finish(&technician, &order, &job, "air-filter");
    let (_, job) = open(&technician, "CL 4", "engine.stalls");
    let at = format!("jobs/{job}");
    let closing = with(repaired("air-filter"), json!([]), json!([valve()]));
    let refused = technician.settle(&at, "closure", &closing);
    assert_eq!(refused.pointers(), ["/parts/0/again_reason"]);
    let mut again = valve();
    again["again_reason"] = json!("the new one is on back order");
    let closing = with(repaired("air-filter"), json!([]), json!([again]));
    let closed = technician.settle(&at, "closure", &closing).expect(200).json();
    assert_eq!(closed["parts"][0]["times_cleaned_before"], 1);
}

fn a_close_with_a_part_that_came_back_proposes(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (order, earlier) = open(&technician, "CL 5", "brakes.pull");
    let mut fitted = valve();
    fitted["disposition"] = json!("replaced_new");
    technician.post(&format!("jobs/{earlier}/parts"), &fitted).expect(201);
    finish(&technician, &order, &earlier, "air-filter");
    let (_, later) = open(&technician, "CL 5", "engine.stalls");
    let at = format!("jobs/{later}");
    assert_eq!(technician.get(&at).expect(200).json()["comebacks"], json!([]));
    let closing = with(repaired("air-filter"), json!([]), json!([fitted]));
    let closed = technician.settle(&at, "closure", &closing).expect(200).json();
    assert_eq!(closed["comebacks"][0]["earlier_job_id"], json!(earlier));
    assert_eq!(closed["comebacks"][0]["same_part"], true);
    assert_eq!(closed, technician.get(&at).expect(200).json());
}
