//! Numbers at the ends of what a machine can hold: taken whole, or refused.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use super::support::examples::{Examples, with};
use super::support::{Shops, on_each_database};

on_each_database!(any_number_in_any_field, sums_are_to_the_minor_unit);

/// The most that one amount may be.
const MOST: i64 = 1_000_000_000_000;

fn numbers() -> Vec<Value> {
    let mut numbers: Vec<Value> = vec![
        json!(i64::MIN),
        json!(i64::MIN + 1),
        json!(-MOST - 1),
        json!(i32::MIN),
        json!(-1),
        json!(0),
        json!(1),
        json!(i32::MAX),
        json!(i64::from(i32::MAX) + 1),
        json!(MOST),
        json!(MOST + 1),
        json!((1_i64 << 53) + 1),
        json!(i64::MAX - 1),
        json!(i64::MAX),
        json!(u64::MAX),
        json!(0.5),
        json!(-0.0),
        json!(1e18),
        json!(1e300),
        json!("12"),
        json!(true),
        json!([1]),
    ];
    // Past every type there is.
    numbers.push(serde_json::from_str("123456789012345678901234567890").unwrap());
    numbers
}

fn any_number_in_any_field(shops: &Shops) {
    let mut examples = Examples::of(shops);
    let (mut tried, mut fields, mut taken, mut wrong) = (0, 0, 0, Vec::new());
    let mut seen = BTreeSet::new();
    examples.play(shops, |examples, request| {
        if !request.takes_dry_run() || !seen.insert(request.name.to_owned()) {
            return;
        }
        let Some(body) = &request.body else { return };
        let whole = examples.places(request, "integer");
        for at in whole.iter().chain(&examples.places(request, "number")) {
            fields += 1;
            for number in numbers() {
                let answer = request.rehearse(&with(body, at, number.clone()));
                tried += 1;
                match answer.status {
                    200 | 201 => {
                        taken += 1;
                        let over = number.as_i64().is_some_and(|n| !(-MOST..=MOST).contains(&n));
                        if over && at.ends_with("_minor") {
                            wrong.push(format!("{}{at}: {number} was taken", request.name));
                        }
                    }
                    404 | 409 | 422 => {}
                    status => wrong.push(format!("{}{at}: {number}: {status}", request.name)),
                }
            }
        }
    });
    assert!(wrong.is_empty(), "{} of {tried}:\n{}", wrong.len(), wrong.join("\n"));
    println!("{tried} numbers in {fields} fields, {taken} taken, the others refused");
    assert!(fields > 60 && taken > fields, "{fields} {taken}");
}

/// Lines as large as they may be add up; one past that is refused.
fn sums_are_to_the_minor_unit(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = super::support::visit::open(&manager, "SUM 1", "engine.stalls");
    let part = |minor: i64, hundredths: i64| {
        json!({
            "name": "gold", "disposition": "replaced_new",
            "quantity_hundredths": hundredths, "unit_price_minor": minor,
        })
    };
    let parts = format!("jobs/{job}/parts");
    let lines = [(MOST, 100), (MOST / 1_000_000, 100_000_000), (333, 450), (1, 1), (99, 50)];
    let mut exact = 0;
    for (minor, hundredths) in lines {
        manager.post(&parts, &part(minor, hundredths)).expect(201);
        exact += (i128::from(minor) * i128::from(hundredths) + 50) / 100;
    }
    for (minor, hundredths) in [(MOST, 101), (MOST / 1_000_000 + 1, 100_000_000)] {
        let answer = manager.post(&parts, &part(minor, hundredths));
        assert_eq!(answer.pointers(), ["/quantity_hundredths"], "{minor} {hundredths}");
    }
    let charged = manager.get(&format!("orders/{order}")).expect(200).json();
    let charged =
        charged["charges"]["charged_minor"].as_i64().unwrap_or_else(|| panic!("{charged}"));
    assert_eq!(i128::from(charged), exact);
}
