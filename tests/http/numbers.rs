//! Order numbers without gaps, change numbers that only grow.

use serde_json::json;

use crate::support::visit::{finish, open, text, write_up};
use crate::support::{Shops, on_each_database};

on_each_database!(order_numbers_have_no_gap, change_numbers_only_grow);

fn order_numbers_have_no_gap(shops: &Shops) {
    let people = ["technician.north", "adviser.north", "manager.north", "helper.north"];
    let people = people.map(|sign_in| shops.person(sign_in));
    let mut numbers: Vec<u32> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..8)
            .map(|thread| {
                let person = people[thread % people.len()].clone();
                scope.spawn(move || {
                    let mut numbers = Vec::new();
                    for round in 0..10 {
                        let plate = format!("NU {thread}{round}");
                        let made =
                            person.post("orders", &write_up(&plate, "engine.stalls")).expect(201);
                        numbers.push(text(&made.json()["order_no"]).parse().unwrap());
                        // Refused after the number was taken: it is given back.
                        person.post("orders", &write_up(&plate, "engine.sulks")).expect(422);
                    }
                    numbers
                })
            })
            .collect();
        threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    });
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=80).collect::<Vec<u32>>());
    // Each shop counts for itself.
    let elsewhere =
        shops.person("adviser.south").post("orders", &write_up("NU S", "engine.stalls"));
    assert_eq!(elsewhere.expect(201).json()["order_no"], "1");
}

fn change_numbers_only_grow(shops: &Shops) {
    let manager = shops.person("manager.north");
    let mut seen = vec![0_i64];
    let mut look = || {
        let head = manager.get("reports/jobs").expect(200).json()["head"].clone();
        seen.push(head["change_no"].as_i64().unwrap());
    };
    let (order, job) = open(&manager, "NU C", "engine.stalls");
    look();
    let check = json!({ "code": "road-test" });
    let check = manager.post(&format!("jobs/{job}/checks"), &check).expect(201).json();
    look();
    manager.call("DELETE", &format!("jobs/{job}/checks/{}", text(&check["id"]))).send().expect(204);
    look();
    manager.patch(&format!("jobs/{job}"), &json!({ "bay": "4" })).expect(200);
    look();
    finish(&manager, &order, &job, "air-filter");
    look();
    assert!(seen.windows(2).all(|pair| pair[0] < pair[1]), "{seen:?}");
    let largest = shops.place.lines("SELECT CAST(max(change_no) AS TEXT) AS line FROM job");
    assert_eq!(largest, [seen[5].to_string()]);
}
