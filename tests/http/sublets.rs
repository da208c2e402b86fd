//! Work sent to another business.

use serde_json::{Value, json};

use crate::support::html::form;
use crate::support::visit::{open, text};
use crate::support::{Shops, on_each_database};

on_each_database!(
    a_sublet_goes_out_and_comes_back,
    money_of_a_sublet_by_role,
    a_job_that_was_sublet_says_where_it_went,
    a_sublet_on_the_page,
);

fn sublet() -> Value {
    json!({ "business": "Hollis Machine Works", "work": "surface the head", "sent_on": "2026-03-02" })
}

fn a_sublet_goes_out_and_comes_back(shops: &Shops) {
    let technician = shops.person("technician.north");
    let (_, job) = open(&technician, "SU 1", "engine.stalls");
    let at = format!("jobs/{job}");
    let made = technician.post(&format!("{at}/sublets"), &sublet()).expect(201).json();
    let thing = format!("{at}/sublets/{}", text(&made["id"]));
    let patch = |body: Value| {
        let tag = technician.get(&at).tag();
        technician.call("PATCH", &thing).json(&body).if_match(&tag).send()
    };
    let back = patch(json!({ "back_on": "2026-03-05" })).expect(200);
    assert_eq!(back.version(), technician.get(&at).version());
    assert_eq!(back.json()["business"], "Hollis Machine Works");
    assert_eq!(patch(json!({ "back_on": "2026-03-01" })).pointers(), ["/back_on"]);
    assert_eq!(patch(json!({ "back_on": "2199-03-01" })).pointers(), ["/back_on"]);
    assert_eq!(patch(json!({ "business": " " })).pointers(), ["/business"]);
    let mut odd = sublet();
    odd["work"] = json!("");
    assert_eq!(technician.post(&format!("{at}/sublets"), &odd).pointers(), ["/work"]);
    technician.call("DELETE", &thing).send().expect(204);
    technician.call("DELETE", &thing).send().problem(404, "not-found");
    let noted =
        "SELECT action AS line FROM record_change WHERE record = 'sublet' ORDER BY change_no";
    assert_eq!(shops.place.lines(noted), ["added", "changed", "removed"]);
}

fn money_of_a_sublet_by_role(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (_, job) = open(&manager, "SU 2", "engine.stalls");
    let at = format!("jobs/{job}");
    let mut priced = sublet();
    priced["cost_minor"] = json!(9_000);
    priced["price_minor"] = json!(12_000);
    manager.post(&format!("{at}/sublets"), &priced).expect(201);
    for (who, cost, price, refused) in [
        ("technician.north", Value::Null, Value::Null, vec!["/cost_minor", "/price_minor"]),
        ("adviser.north", Value::Null, json!(12_000), vec!["/cost_minor"]),
        ("manager.north", json!(9_000), json!(12_000), vec![]),
    ] {
        let person = shops.person(who);
        let seen = person.get(&at).json()["sublets"][0].clone();
        assert_eq!((&seen["cost_minor"], &seen["price_minor"]), (&cost, &price), "{who}");
        if !refused.is_empty() {
            let answer = person.post(&format!("{at}/sublets"), &priced);
            assert_eq!(answer.pointers(), refused, "{who}");
        }
    }
}

fn a_job_that_was_sublet_says_where_it_went(shops: &Shops) {
    let manager = shops.person("manager.north");
    let (order, job) = open(&manager, "SU 3", "engine.stalls");
    let at = format!("jobs/{job}");
    let close = json!({ "outcome": "sublet" });
    assert_eq!(manager.settle(&at, "closure", &close).pointers(), ["/sublets"]);
    let made = manager.post(&format!("{at}/sublets"), &sublet()).expect(201).json();
    manager.settle(&at, "closure", &close).expect(200);
    manager.settle(&format!("orders/{order}"), "closure", &json!({})).expect(200);
    // The invoice comes after the hand-over: the manager writes it in.
    let thing = format!("{at}/sublets/{}", text(&made["id"]));
    let tag = manager.get(&at).tag();
    let late = manager.call("PATCH", &thing).json(&json!({ "cost_minor": 8_800 })).if_match(&tag);
    assert_eq!(late.send().expect(200).json()["cost_minor"], 8_800);
    assert!(manager.get(&at).json()["corrected_at"].is_string());
    manager.call("DELETE", &thing).send().problem(409, "conflict");
}

fn a_sublet_on_the_page(shops: &Shops) {
    let (_, job) = open(&shops.person("manager.north"), "SU 4", "engine.stalls");
    let manager = shops.visitor("manager.north", "north");
    let page = manager.get(&format!("jobs/{job}")).expect(200);
    let out = form(&page, "/sublets").fill("business", "Hollis Machine Works");
    let out = out.fill("work", "surface the head").fill("cost_minor", "90.00").follow(&manager);
    assert!(out.body.contains("Hollis Machine Works") && out.body.contains("cost $90.00"));
}
