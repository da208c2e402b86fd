//! Reports over what is known beside jobs: told returns, failed proofs,
//! attendance. The counts are those of the visits made here, by hand.

use chrono::NaiveDate;
use serde_json::{Value, json};

use crate::support::visit::{finish, open, text};
use crate::support::{Shops, on_each_database};

on_each_database!(
    a_comparison_is_one_s_own_for_who_may_not_see_all,
    a_told_return_and_a_failed_proof_are_counted_apart,
    attended_hours_stand_beside_the_clock,
    a_page_forgives_an_old_bookmark,
    a_period_ahead_and_a_day_long_gone_are_refused,
    filters_follow_merged_codes_and_refuse_unknown_ones,
    a_refused_period_keeps_its_form,
    pages_lead_up_to_now_and_back,
    the_week_counts_what_it_lists,
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

/// One job each of two people, handed over a year ago as far as the figures know.
fn a_comparison_is_one_s_own_for_who_may_not_see_all(shops: &Shops) {
    let (technician, helper) = (shops.person("technician.north"), shops.person("helper.north"));
    let mut day = String::new();
    for (number, client) in [&technician, &helper].into_iter().enumerate() {
        let (order, job) = open(client, &format!("CO {number}"), "engine.misfire");
        day = text(&finish(client, &order, &job, "air-filter")["closed_on"]).to_owned();
    }
    let long_ago = day.parse::<NaiveDate>().unwrap() - chrono::Duration::days(365);
    shops.place.run(&format!(
        "UPDATE repair_order SET opened_on = '{long_ago}', closed_on = '{long_ago}' \
         WHERE closed_on IS NOT NULL"
    ));
    let path = format!("reports/compare?as_of={day}");
    let names = |report: &Value| -> Vec<String> {
        let groups = report["groups"].as_array().unwrap();
        groups.iter().map(|group| text(&group["group"]).to_owned()).collect()
    };
    let all = shops.person("manager.north").get(&path).expect(200).json();
    assert_eq!(names(&all), ["helper of north", "technician of north"]);
    assert_eq!(all["total"]["count"], 2);
    let own = technician.get(&path).expect(200).json();
    assert_eq!(names(&own), ["technician of north"]);
    assert_eq!(own["groups"][0]["share"]["count"], 1);
    for withheld in [&own["total"], &own["strength"], &own["groups"][0]["others"]] {
        assert!(withheld.is_null(), "{own}");
    }
    assert_eq!(own["funnel"], json!([]));
    assert!(!own.to_string().contains("helper of north"), "{own}");
    let csv = technician.get(&format!("{path}&format=csv")).expect(200).body;
    assert!(csv.contains("technician of north") && !csv.contains("helper of north"), "{csv}");
    technician.get(&format!("{path}&by=supplier")).problem(403, "forbidden");
}

fn a_told_return_and_a_failed_proof_are_counted_apart(shops: &Shops) {
    let (job, day) = visit(shops, "RE 1");
    visit(shops, "RE 2");
    put(
        shops,
        "outside_return",
        "(shop_id, id, job_id, told, told_on, person_id, version)",
        &format!(
            "SELECT j.shop_id, '01a21f17-0000-7000-8000-000000000001', j.id, 'fixed_elsewhere', o.closed_on, p.id, 1 FROM job j \
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
    for said in ["1 told by the customer", ": fixed by somebody else", "Caught here"] {
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
    let manager = shops.person("manager.north");
    let worked = shops.place.lines(&format!(
        "SELECT person_id || '/' || started_on AS line FROM labor_entry WHERE job_id = '{job}'"
    ));
    let there = json!({ "attended_minutes": 240 });
    manager.call("PUT", &format!("attendance/{}", worked[0])).json(&there).send().expect(200);
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
    assert!(page.contains("Productivity") && page.contains("25%"), "{page}");
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

fn filters_follow_merged_codes_and_refuse_unknown_ones(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, "RE 5", "engine.stalls");
    let day = text(&finish(&manager, &order, &job, "air-filter")["closed_on"]).to_owned();
    let own = json!({ "list": "symptom", "code": "engine.dies", "label": "Dies at a stop" });
    manager.post("codes", &own).expect(201);
    let into = json!({ "into": "engine.dies" });
    manager.post("codes/symptom/engine.stalls/merge", &into).expect(200);
    for symptom in ["engine.stalls", "engine.dies"] {
        let asked = format!("as_of={day}&symptom={symptom}");
        let paths = manager.get(&format!("reports/paths?{asked}")).expect(200).json();
        assert_eq!(paths["symptoms"][0]["symptom"], "engine.dies", "{paths}");
        let jobs = manager.get(&format!("reports/jobs?{asked}")).expect(200).json();
        assert_eq!(jobs["count"], 1, "{jobs}");
    }
    // Listed, and nothing done yet.
    let none = manager.get("reports/paths?symptom=engine.tick").expect(200).json();
    assert_eq!(none["symptoms"], json!([]));
    for (query, pointer) in [
        ("paths?symptom=no.such", "/symptom"),
        ("jobs?symptom=no.such", "/select"),
        ("reuse?part=nope", "/part"),
    ] {
        assert_eq!(manager.get(&format!("reports/{query}")).pointers(), [pointer], "{query}");
    }
    manager.get("reports/reuse?part=nope&part_cost=60").expect(200);

    let visitor = shops.visitor("manager.north", "north");
    for page in ["paths?symptom=no.such", "closed-jobs?symptom=no.such"] {
        let refused = visitor.get(page).expect(422).body;
        assert!(refused.contains("there is no symptom no.such"), "{refused}");
    }
    let page = visitor.get(&format!("paths?symptom=engine.stalls&as_of={day}")).expect(200).body;
    assert!(page.contains("Dies at a stop: which checks"), "{page}");
    // What was used counts as the entry that stays.
    let entry = visitor.get("codes?list=symptom&code=engine.dies").expect(200).body;
    assert!(entry.contains("<dd>1 time</dd>"), "{entry}");
    let entry = visitor.get("codes?list=symptom&code=engine.stalls").expect(200).body;
    assert!(entry.contains("<dd>0 times</dd>"), "{entry}");
}

fn a_refused_period_keeps_its_form(shops: &Shops) {
    let visitor = shops.visitor("manager.north", "north");
    for place in ["labor", "comeback-shares", "paths"] {
        let asked = format!("{place}?from=2026-03-02&to=2026-03-01&window=30");
        let page = visitor.get(&asked).expect(422).body;
        for said in ["id=\"from-fault\"", "value=\"2026-03-02\"", "value=\"30\""] {
            assert!(page.contains(said), "{said}: {page}");
        }
        assert!(!page.contains("Each entry of errors"), "{page}");
    }
}

fn pages_lead_up_to_now_and_back(shops: &Shops) {
    let (_, day) = visit(shops, "RE 6");
    let visitor = shops.visitor("manager.north", "north");
    for page in ["labor", "week", "reuse", "paths", "closed-jobs"] {
        let whole = visitor.get(page).expect(200).body;
        let now = format!("/shops/north/{page}?as_of={day}");
        assert!(whole.contains(&format!("href=\"{now}\"")), "{now}: {whole}");
        let running = visitor.get(&now).expect(200).body;
        let shown = day.format("%b %-d, %Y");
        assert!(running.contains(&format!("Up to now: {shown} is not over")), "{running}");
        assert!(running.contains(&format!("href=\"/shops/north/{page}\"")), "{running}");
    }
}

fn the_week_counts_what_it_lists(shops: &Shops) {
    let (_, day) = visit(shops, "RE 7");
    open(&shops.person("manager.north"), "RE 7", "engine.misfire");
    let visitor = shops.visitor("manager.north", "north");
    let page = visitor.get("week").expect(200).body;
    assert!(page.contains("1 to be decided") && page.contains("in no figure here: 1."), "{page}");
    let page = visitor.get(&format!("week?as_of={day}")).expect(200).body;
    assert!(page.contains("1 to be decided") && !page.contains("in no figure here"), "{page}");
}
