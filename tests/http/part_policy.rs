//! Times and costs that a shop enters of parts.

use serde_json::{Value, json};

use crate::support::html::form;
use crate::support::{Answer, Client, Shops, on_each_database};

on_each_database!(
    a_part_is_written_read_and_taken_back,
    what_it_costs_is_for_who_may_see_costs,
    faults_are_pointed_at,
    the_advice_reckons_with_it,
    the_page_keeps_it,
);

fn put(client: &Client, part: &str, body: &Value) -> Answer {
    client.call("PUT", &format!("part-policies/{part}")).json(body).send()
}

fn remove(client: &Client, part: &str) -> Answer {
    client.call("DELETE", &format!("part-policies/{part}")).send()
}

fn a_part_is_written_read_and_taken_back(shops: &Shops) {
    let manager = shops.person("manager.north");
    assert_eq!(manager.get("part-policies").expect(200).json()["items"], json!([]));
    let new = json!({ "access_minutes": 240, "clean_minutes": 40, "cost_minor": 6_000 });
    let made = put(&manager, "A%2FB%201", &new).expect(200);
    let row = made.json();
    assert_eq!((&row["part"], &row["version"]), (&json!("A/B 1"), &json!(1)));
    assert!(row["fit_minutes"].is_null());
    let again = put(&manager, "A%2FB%201", &json!({ "access_minutes": 200 }));
    assert_eq!(again.expect(200).json()["version"], 2);
    let read = manager.get("part-policies/A%2FB%201").expect(200);
    assert!(read.header("etag").starts_with("\"2."));
    assert_eq!(
        (&read.json()["access_minutes"], &read.json()["cost_minor"]),
        (&json!(200), &json!(null))
    );
    assert_eq!(manager.get("part-policies").json()["items"].as_array().unwrap().len(), 1);
    remove(&manager, "A%2FB%201").expect(204);
    remove(&manager, "A%2FB%201").problem(404, "not-found");
    manager.get("part-policies/A%2FB%201").problem(404, "not-found");
    let notes = shops.place.lines(
        "SELECT action || ' ' || record_id AS line FROM record_change \
         WHERE record = 'part_policy' ORDER BY change_no",
    );
    assert_eq!(notes, ["added A/B 1", "changed A/B 1", "removed A/B 1"]);
}

fn what_it_costs_is_for_who_may_see_costs(shops: &Shops) {
    let new = json!({ "access_minutes": 240, "cost_minor": 6_000 });
    for who in ["technician.north", "adviser.north"] {
        put(&shops.person(who), "LFT-1", &new).problem(403, "forbidden");
    }
    put(&shops.person("owner.riverside"), "LFT-1", &new).expect(200);
    for who in ["technician.north", "adviser.north"] {
        let person = shops.person(who);
        for row in [
            person.get("part-policies/LFT-1").expect(200).json(),
            person.get("part-policies").expect(200).json()["items"][0].clone(),
        ] {
            assert_eq!((&row["access_minutes"], &row["cost_minor"]), (&json!(240), &json!(null)));
        }
        let page = shops.visitor(who, "north").get("parts-times").expect(200).body;
        assert!(page.contains("4 h") && !page.contains("60.00"), "{page}");
    }
    assert_eq!(
        shops.person("manager.north").get("part-policies/LFT-1").json()["cost_minor"],
        6_000
    );
    shops
        .person_at("owner.riverside", "south")
        .get("part-policies/LFT-1")
        .problem(404, "not-found");
}

fn faults_are_pointed_at(shops: &Shops) {
    let manager = shops.person("manager.north");
    let at = |body: &Value| put(&manager, "LFT-1", body).pointers();
    assert_eq!(at(&json!({})), ["/access_minutes"]);
    assert_eq!(
        at(&json!({ "access_minutes": -1, "fit_minutes": 100_001, "cost_minor": -5 })),
        ["/access_minutes", "/fit_minutes", "/cost_minor"]
    );
    assert_eq!(at(&json!({ "price_minor": 1 })), ["/price_minor"]);
    let long = "a".repeat(201);
    assert_eq!(put(&manager, &long, &json!({ "fit_minutes": 1 })).pointers(), ["/part"]);
    assert_eq!(shops.place.count("FROM part_policy"), 0);
}

/// By hand: (240 + 40) x 1.50 = 420.00 and (240 + 15) x 1.50 + 60.00 = 442.50.
fn the_advice_reckons_with_it(shops: &Shops) {
    let manager = shops.person("manager.north");
    let new = json!({
        "access_minutes": 240, "clean_minutes": 40, "fit_minutes": 15, "cost_minor": 6_000,
    });
    put(&manager, "LFT-1", &new).expect(200);
    let asked = "reports/estimate?part=LFT-1&role=suspect&curable=depends";
    let advice = manager.get(asked).expect(200).json()["advice"].clone();
    assert_eq!(advice["costs"]["access"]["source"], "entered");
    assert_eq!(advice["costs"]["clean_now_minor"], 42_000.0);
    assert_eq!(advice["costs"]["replace_now_minor"], 44_250.0);
    remove(&manager, "LFT-1").expect(204);
    let advice = manager.get(asked).expect(200).json()["advice"].clone();
    assert_eq!(advice["missing"], json!(["access_minutes", "part_cost"]));
}

fn the_page_keeps_it(shops: &Shops) {
    let manager = shops.visitor("manager.north", "north");
    let page = manager.get("parts-times?part=LFT-1").expect(200);
    let refused = form(&page, "parts-times").fill("clean_minutes", "soon").send(&manager);
    let refused = refused.expect(422);
    assert!(refused.body.contains("value=\"soon\""), "{}", refused.body);
    let filled =
        form(&page, "parts-times").fill("access_minutes", "240").fill("cost_minor", "60.00");
    let kept = filled.follow(&manager);
    assert!(kept.body.contains("Saved.") && kept.body.contains("$60.00"), "{}", kept.body);
    // The line leads to the form, filled with what stands.
    let change = manager.get("parts-times?part=LFT-1").expect(200);
    assert!(change.body.contains("value=\"240\""), "{}", change.body);
    let taken = form(&kept, "parts-times/removal").follow(&manager);
    assert!(taken.body.contains("Taken back."), "{}", taken.body);
    assert_eq!(shops.place.count("FROM part_policy"), 0);
    let technician = shops.visitor("technician.north", "north");
    assert!(
        !technician
            .get("parts-times")
            .expect(200)
            .body
            .contains("<form method=\"post\" action=\"/shops/north/parts-times\"")
    );
}
