//! Costs and prices are for those who may see them.

use serde_json::{Value, json};

use crate::support::visit::{finish, open, text};
use crate::support::{Shops, on_each_database};

on_each_database!(
    money_is_shown_by_role,
    money_is_written_by_role,
    labor_shows_the_own_line,
    advice_names_no_costs_to_who_may_not_see_them,
    the_break_even_is_drawn_for_who_sees_costs,
    only_who_sees_costs_may_try_them,
    bench_readings_name_no_costs_to_who_may_not_see_them,
);

fn part() -> Value {
    json!({
        "name": "coil", "disposition": "replaced_new", "role": "suspect",
        "unit_cost_minor": 4_150, "unit_price_minor": 6_900,
    })
}

fn operation() -> Value {
    json!({ "code": "coil", "flat_rate_hundredths": 120, "billed_hundredths": 120, "labor_amount_minor": 16_800 })
}

fn money_is_shown_by_role(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (_, job) = open(&manager, "MO 1", "engine.misfire");
    let made = manager.post(&format!("jobs/{job}/parts"), &part()).expect(201).json();
    assert_eq!(made["unit_cost_minor"], 4_150);
    manager.post(&format!("jobs/{job}/operations"), &operation()).expect(201);
    let null = Value::Null;
    for (who, cost, price, amount) in [
        ("technician.north", null.clone(), null.clone(), null.clone()),
        ("adviser.north", null, json!(6_900), json!(16_800)),
        ("manager.north", json!(4_150), json!(6_900), json!(16_800)),
        ("owner.riverside", json!(4_150), json!(6_900), json!(16_800)),
    ] {
        let seen = shops.person(who).get(&format!("jobs/{job}")).expect(200).json();
        let shown = &seen["parts"][0];
        assert_eq!(
            (&shown["unit_cost_minor"], &shown["unit_price_minor"]),
            (&cost, &price),
            "{who}"
        );
        assert_eq!(seen["operations"][0]["labor_amount_minor"], amount, "{who}");
        // Hours are no money.
        assert_eq!(seen["operations"][0]["flat_rate_hundredths"], 120, "{who}");
    }
    // Nor does anybody take a line away with amounts out of sight.
    let part = format!("jobs/{job}/parts/{}", text(&made["id"]));
    for who in ["technician.north", "adviser.north"] {
        let kept = shops.person(who).call("DELETE", &part).send().problem(409, "conflict");
        assert!(text(&kept["detail"]).contains("service manager"), "{who}: {kept}");
    }
    manager.call("DELETE", &part).send().expect(204);
}

fn money_is_written_by_role(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (_, job) = open(&manager, "MO 2", "engine.misfire");
    let at = format!("jobs/{job}");
    for (who, parts, operations) in [
        (
            "technician.north",
            vec!["/unit_cost_minor", "/unit_price_minor"],
            vec!["/labor_amount_minor"],
        ),
        ("adviser.north", vec!["/unit_cost_minor"], vec![]),
    ] {
        let person = shops.person(who);
        assert_eq!(person.post(&format!("{at}/parts"), &part()).pointers(), parts, "{who}");
        let answer = person.post(&format!("{at}/operations"), &operation());
        if operations.is_empty() {
            answer.expect(201);
        } else {
            assert_eq!(answer.pointers(), operations, "{who}");
        }
    }
    let front = json!({
        "vehicle": { "plate": "MO 3" }, "jobs": [{ "complaint": "squeals" }], "authorized_minor": 100,
    });
    shops.person("technician.north").post("orders", &front).problem(403, "forbidden");
    shops.person("adviser.north").post("orders", &front).expect(201);
    assert_eq!(shops.place.count("FROM part_use"), 0);
}

fn labor_shows_the_own_line(shops: &Shops) {
    let manager = shops.person("manager.north");
    let technician = shops.person("technician.north");
    let helper = shops.person("helper.north");
    let (order, job) = open(&manager, "MO 4", "engine.misfire");
    manager.post(&format!("jobs/{job}/operations"), &operation()).expect(201);
    // An hour of the one, half an hour of the other: 1.2 flat-rate hours over
    // 1.5 clock hours, of which 0.8 go to the first by clock share.
    let opened = manager.get(&format!("orders/{order}")).json()["opened_at"].clone();
    let opened = chrono::DateTime::parse_from_rfc3339(text(&opened)).unwrap();
    for (person, minutes) in [(&technician, 60), (&helper, 30)] {
        let from = opened - chrono::Duration::minutes(minutes);
        let stretch = json!({
            "activity": "repair", "started_at": from.to_rfc3339(), "ended_at": opened.to_rfc3339(),
        });
        person.post(&format!("jobs/{job}/labor"), &stretch).expect(201);
    }
    let day = text(&finish(&manager, &order, &job, "air-filter")["closed_on"]).to_owned();
    let path = format!("reports/labor?as_of={day}");
    let whole = manager.get(&path).expect(200).json();
    assert_eq!(whole["lines"].as_array().unwrap().len(), 2);
    let near = |value: &Value, expected: f64| {
        let value = value.as_f64().unwrap();
        assert!((value - expected).abs() < 1e-9, "{value} against {expected}");
    };
    near(&whole["total"]["efficiency"]["value"], 0.8);
    near(&whole["total"]["clock_hours"], 1.5);
    let own = technician.get(&path).expect(200).json();
    let lines = own["lines"].as_array().unwrap();
    assert_eq!(lines.len(), 1);
    assert_eq!(lines[0]["group"], "technician of north");
    near(&lines[0]["clock_hours"], 1.0);
    near(&lines[0]["flat_rate_hours"], 0.8);
    assert!(lines[0]["labor_amount_minor"].is_null(), "{own}");
    assert!(!own.to_string().contains("helper of north"));
    technician.get(&format!("{path}&by=operation")).problem(403, "forbidden");
    shops.person("adviser.north").get(&path).problem(403, "forbidden");
}

fn advice_names_no_costs_to_who_may_not_see_them(shops: &Shops) {
    let day = valves(shops);
    let asked = format!("reports/reuse?as_of={day}&part=IAV-7&role=suspect");
    let advice = |who: &str| {
        let report = shops.person(who).get(&asked).expect(200).json();
        report["parts"][0]["advice"].clone()
    };
    let withheld = [
        "costs",
        "together",
        "shop",
        "break_even_gap",
        "break_even_share",
        "while_open_threshold",
        "money_text",
    ];
    let manager = advice("manager.north");
    assert!(withheld.iter().all(|key| !manager[key].is_null()), "{manager}");
    for who in ["technician.north", "adviser.north"] {
        let seen = advice(who);
        for key in withheld {
            assert!(seen[key].is_null(), "{who} {key}: {seen}");
        }
        assert_eq!(seen["verdict"], manager["verdict"], "{who}");
    }
}

fn the_break_even_is_drawn_for_who_sees_costs(shops: &Shops) {
    let day = valves(shops);
    let asked = format!("reuse?as_of={day}&part=IAV-7&role=suspect");
    let page = |who: &str| shops.visitor(who, "north").get(&asked).expect(200).body;
    let manager = page("manager.north");
    assert!(manager.contains("<b>Where the two cost the same</b>"), "{manager}");
    assert!(manager.contains("Customer and shop together</th>"), "{manager}");
    assert!(manager.contains("$85.00"), "{manager}");
    for who in ["technician.north", "adviser.north"] {
        let page = page(who);
        // The answer, what can be told of it, and how sure it is; and no amount.
        assert!(page.contains("class=\"verdict\"") && page.contains("At the counter:"), "{page}");
        assert!(page.contains("<b>How many come back</b>"), "{page}");
        for word in ["cost the same", "Customer and shop together", "$"] {
            assert!(!page.contains(word), "{who} {word}: {page}");
        }
    }
    let list = shops.visitor("technician.north", "north").get(&format!("reuse?as_of={day}"));
    // No window has ended: there is nothing to draw in the list of parts.
    let list = list.expect(200).body;
    assert!(list.contains("idle air valve") && !list.contains("<svg class=\"chart"), "{list}");
}

/// A valve that was replaced at 85.00, and one that was read and put back: the
/// day on which both were handed over.
fn valves(shops: &Shops) -> String {
    let manager = shops.person("manager.north");
    let replaced = json!({
        "part_no": "IAV-7", "name": "idle air valve", "disposition": "replaced_new",
        "role": "suspect", "unit_cost_minor": 8_500,
    });
    let put_back = json!({
        "part_no": "IAV-7", "name": "idle air valve", "disposition": "cleaned_reused",
        "role": "suspect", "bench_reading": 11.5, "bench_unit": "Ohm",
    });
    let mut day = String::new();
    for (plate, part) in [("MO 7", replaced), ("MO 8", put_back)] {
        let (order, job) = open(&manager, plate, "engine.idle-rough");
        // Nobody works on two jobs at a time: the first one says how long access takes.
        if day.is_empty() {
            let opened = manager.get(&format!("orders/{order}")).json()["opened_at"].clone();
            let opened = chrono::DateTime::parse_from_rfc3339(text(&opened)).unwrap();
            let from = (opened - chrono::Duration::minutes(30)).to_rfc3339();
            let stretch = json!({
                "activity": "access", "started_at": from, "ended_at": opened.to_rfc3339(),
            });
            manager.post(&format!("jobs/{job}/labor"), &stretch).expect(201);
        }
        manager.post(&format!("jobs/{job}/parts"), &part).expect(201);
        day = text(&finish(&manager, &order, &job, "air-filter")["closed_on"]).to_owned();
    }
    day
}

/// Verdicts at costs of one's own choice would give the part's cost away.
fn only_who_sees_costs_may_try_them(shops: &Shops) {
    let asked = "reports/reuse?part=IAV-7&role=suspect&access_minutes=30&part_cost=85.00";
    for who in ["technician.north", "adviser.north"] {
        let refused = shops.person(who).get(asked);
        refused.problem(403, "forbidden");
        assert!(refused.body.contains("costs are for the service manager"), "{}", refused.body);
        let page = shops.visitor(who, "north");
        page.get("reuse?part=IAV-7&access_minutes=30&part_cost=85.00").expect(403);
        // Times of one's own choice tell as much: money is time at a known rate.
        for time in ["access_minutes=30", "clean_minutes=57", "fit_minutes=0"] {
            let asked = format!("reports/reuse?part=IAV-7&role=suspect&{time}");
            shops.person(who).get(&asked).problem(403, "forbidden");
            page.get(&format!("reuse?part=IAV-7&{time}")).expect(403);
        }
        let form = page.get("reuse").expect(200).body;
        assert!(!form.contains("access_minutes") && !form.contains("part_cost"), "{form}");
    }
    shops.person("manager.north").get(asked).expect(200);
    let form = shops.visitor("manager.north", "north").get("reuse").expect(200).body;
    assert!(form.contains("name=\"part_cost\""), "{form}");
}

fn bench_readings_name_no_costs_to_who_may_not_see_them(shops: &Shops) {
    let day = valves(shops);
    let bench = |who: &str| {
        let path = format!("reports/bench?as_of={day}&part=IAV-7&better=higher");
        shops.person(who).get(&path).expect(200).json()
    };
    let manager = bench("manager.north");
    let line = &manager["parts"][0];
    assert_eq!((&line["put_back"], &line["unit"]), (&json!(1), &json!("Ohm")), "{manager}");
    assert_eq!(line["no_cut_off"], "too_few");
    assert!(line["costs"].is_object() && line["break_even_share"].is_number(), "{manager}");
    let technician = bench("technician.north");
    let line = &technician["parts"][0];
    assert!(line["costs"].is_null() && line["break_even_share"].is_null(), "{technician}");
    assert!(technician["head"]["definitions"]["costs"].is_string());
    assert_eq!(line["text"], manager["parts"][0]["text"]);
}
