//! Reports over what is known beside jobs: told returns, failed proofs,
//! attendance. The counts are those of the visits made here, by hand.

use chrono::NaiveDate;
use serde_json::{Value, json};

use crate::support::visit::{finish, open, text};
use crate::support::{Shops, on_each_database};

on_each_database!(
    a_told_return_and_a_failed_proof_are_counted_apart,
    attended_hours_stand_beside_the_clock,
    a_page_forgives_an_old_bookmark,
    a_period_ahead_and_a_day_long_gone_are_refused,
);

/// A finished job whose proof failed once: its id, the order's, and the day.
fn visit(shops: &Shops, plate: &str) -> (String, NaiveDate) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, plate, "engine.misfire");
    for passed in [false, true] {
        let proof = json!({ "how": "road_test", "passed": passed });
        manager.post(&format!("jobs/{job}/proofs"), &proof).expect(201);
    }
    let day = text(&finish(&manager, &order, &job, "air-filter")["closed_on"]).to_owned();
    (job, day.parse().unwrap())
}

/// Rows written before the first report is made.
fn put(shops: &Shops, table: &str, columns: &str, from: &str) {
    let sql = format!("INSERT INTO {table} {columns} {from} RETURNING 'row' AS line");
    assert_eq!(shops.place.lines(&sql), ["row"]);
}

fn near(value: &Value, expected: f64) {
    let value = value.as_f64().unwrap();
    assert!((value - expected).abs() < 1e-9, "{value} against {expected}");
}

fn a_told_return_and_a_failed_proof_are_counted_apart(shops: &Shops) {
    let (job, day) = visit(shops, "RE 1");
    visit(shops, "RE 2");
    put(
        shops,
        "outside_return",
        "(shop_id, id, job_id, told, told_on, person_id, version)",
        &format!(
            "SELECT j.shop_id, 'told', j.id, 'fixed_elsewhere', o.closed_on, p.id, 1 FROM job j \
             JOIN repair_order o ON o.shop_id = j.shop_id AND o.id = j.order_id \
             JOIN person p ON p.sign_in_name = 'manager.north' WHERE j.id = '{job}'"
        ),
    );
    let manager = shops.person("manager.north");
    let report = manager.get(&format!("reports/comebacks?as_of={day}")).expect(200).json();
    let total = &report["total"];
    assert_eq!((&total["count"], &total["share"]["returns"]), (&json!(2), &json!(1)), "{report}");
    assert_eq!(total["told"], 1);
    let back = &report["returns"][0];
    assert_eq!((&back["told"], &back["later"]), (&json!("fixed_elsewhere"), &Value::Null));
    assert_eq!(back["earlier"]["job_id"], job);
    let caught = &report["caught_here"];
    assert_eq!((&caught["count"], &caught["failed_proofs"]), (&json!(2), &json!(2)));
    let behind = |selector: &str| {
        manager.get(&format!("reports/jobs?as_of={day}&{selector}")).expect(200).json()["count"]
            .clone()
    };
    assert_eq!(behind(text(&caught["jobs"])), 2);
    assert_eq!(behind("told=true"), 1);

    let week = day.format("%G-W%V");
    let review = manager.get(&format!("reports/weekly?week={week}&as_of={day}")).expect(200).json();
    assert_eq!(
        (&review["arrivals"]["observed"], &review["arrivals"]["told"]),
        (&json!(1), &json!(1))
    );
    let page =
        shops.visitor("manager.north", "north").get(&format!("week?week={week}&as_of={day}"));
    let page = page.expect(200).body;
    for said in ["1 told, not seen", ": fixed elsewhere", "Caught here"] {
        assert!(page.contains(said), "{said}: {page}");
    }
    let csv = format!("reports/comebacks?as_of={day}&format=csv&table=returns");
    let csv = manager.get(&csv).expect(200).body;
    let line = csv.lines().nth(1).unwrap();
    assert!(line.contains("/1,,fixed_elsewhere,RE 1,engine.misfire,"), "{csv}");
}

fn a_page_forgives_an_old_bookmark(shops: &Shops) {
    let manager = shops.visitor("manager.north", "north");
    manager.get("comeback-shares?part_no=X&by=symptom").expect(200);
    for odd in ["labor?from=soon", "labor?by=payer&by=symptom"] {
        let told = manager.get(odd).expect(422).body;
        assert!(told.contains("<h1>") && told.contains("Onetrip"), "{told}");
        assert!(!told.contains("deserialize") && !told.contains("errors points"), "{told}");
    }
    // A program is told of what it misspells.
    let program = shops.person("manager.north").get("reports/labor?part_no=X");
    assert_eq!(program.pointers(), ["part_no"]);
}

fn attended_hours_stand_beside_the_clock(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (order, job) = open(&technician, "RE 3", "engine.misfire");
    let (_, still_open) = open(&technician, "RE 4", "engine.misfire");
    let opened = technician.get(&format!("orders/{order}")).json()["opened_at"].clone();
    let opened = chrono::DateTime::parse_from_rfc3339(text(&opened)).unwrap();
    let at = |minutes: i64| (opened - chrono::Duration::minutes(minutes)).to_rfc3339();
    for (job, from, to) in [(&job, 60, 30), (&still_open, 30, 0)] {
        let stretch = json!({ "started_at": at(from), "ended_at": at(to) });
        technician.post(&format!("jobs/{job}/labor"), &stretch).expect(201);
    }
    let day = text(&finish(&technician, &order, &job, "air-filter")["closed_on"]).to_owned();
    put(
        shops,
        "attendance",
        "(shop_id, id, person_id, worked_on, attended_minutes, version)",
        &format!(
            "SELECT s.id, 'day', p.id, l.started_on, 240, 1 FROM person p \
             JOIN labor_entry l ON l.person_id = p.id JOIN shop s ON s.id = l.shop_id \
             WHERE l.job_id = '{job}'"
        ),
    );
    let path = format!("reports/labor?as_of={day}");
    let report = shops.person("manager.north").get(&path).expect(200).json();
    // Half an hour on each job of four hours there; no flat-rate anywhere.
    for line in [&report["total"], &report["lines"][0]] {
        near(&line["attended_hours"], 4.0);
        near(&line["clock_hours"], 0.5);
        near(&line["productivity"], 0.25);
        near(&line["overall"], 0.0);
        assert!(line["efficiency"]["value"].is_null(), "{line}");
    }
    assert_eq!(report["outcomes"][0]["outcome"], "repaired");
    let own = technician.get(&path).expect(200).json();
    near(&own["lines"][0]["productivity"], 0.25);
    for amount in [&own["total"]["labor_amount_minor"], &own["comebacks"]["total_minor"]] {
        assert!(amount.is_null(), "{own}");
    }
    let by_symptom = shops.person("manager.north").get(&format!("{path}&by=symptom")).json();
    assert!(by_symptom["lines"][0]["productivity"].is_null(), "{by_symptom}");
    let page = shops.visitor("manager.north", "north").get(&format!("labor?as_of={day}"));
    let page = page.expect(200).body;
    assert!(page.contains("Productivity") && page.contains("25\u{a0}%"), "{page}");
}

fn a_period_ahead_and_a_day_long_gone_are_refused(shops: &Shops) {
    let manager = shops.person("manager.north");
    let cases = [
        ("weekly?week=2090-W10", "/week"),
        ("labor?week=2090-W10", "/week"),
        ("paths?from=2090-01-01", "/from"),
        ("comebacks?as_of=1979-12-31", "/as_of"),
    ];
    for (query, pointer) in cases {
        let refused = manager.get(&format!("reports/{query}"));
        assert_eq!(refused.pointers(), [pointer], "{query}");
        assert!(
            refused.body.contains("has not begun") != query.contains("1979"),
            "{}",
            refused.body
        );
    }
}
