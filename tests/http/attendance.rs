//! How long people were there for work.

use chrono::{Duration, NaiveDate};
use serde_json::{Value, json};

use crate::support::html::form;
use crate::support::visit::text;
use crate::support::{Shops, on_each_database};

on_each_database!(
    a_day_is_written_over_and_taken_back,
    days_that_cannot_be,
    a_technician_sees_the_own_days,
    a_week_on_the_page,
);

fn id(shops: &Shops, name: &str) -> String {
    let me = shops.person(name).get("/api/v1/me").expect(200).json();
    text(&me["id"]).to_owned()
}

/// Days before today; from the second one on past in every zone.
fn past(days: i64) -> NaiveDate {
    crate::support::now().date_naive() - Duration::days(days)
}

fn a_day_is_written_over_and_taken_back(shops: &Shops) {
    let manager = shops.person("manager.north");
    let who = id(shops, "technician.north");
    let place = format!("attendance/{who}/{}", past(2));
    let put = |minutes: i64| {
        let body = json!({ "attended_minutes": minutes, "note": "short day" });
        manager.call("PUT", &place).json(&body).send().expect(200).json()
    };
    let first = put(480);
    assert_eq!(first["worked_on"], past(2).to_string());
    let second = put(450);
    assert_eq!((&second["id"], &second["attended_minutes"]), (&first["id"], &json!(450)));
    let span = format!("attendance?from={}&to={}", past(3), past(1));
    let listed = manager.get(&span).expect(200).json();
    assert_eq!(listed["items"], json!([second]));
    let other = id(shops, "helper.north");
    let of_other = manager.get(&format!("{span}&person_id={other}")).expect(200).json();
    assert_eq!(of_other["items"], json!([]));
    manager.call("DELETE", &place).send().expect(204);
    manager.call("DELETE", &place).send().problem(404, "not-found");
    let noted =
        "SELECT action AS line FROM record_change WHERE record = 'attendance' ORDER BY change_no";
    assert_eq!(shops.place.lines(noted), ["added", "changed", "removed"]);
}

fn days_that_cannot_be(shops: &Shops) {
    let manager = shops.person("manager.north");
    let who = id(shops, "technician.north");
    let put = |who: &str, day: NaiveDate, minutes: i64| {
        let body = json!({ "attended_minutes": minutes });
        manager.call("PUT", &format!("attendance/{who}/{day}")).json(&body).send()
    };
    assert_eq!(put(&who, past(-2), 480).pointers(), ["/day"]);
    assert_eq!(put(&who, past(402), 480).pointers(), ["/day"]);
    assert_eq!(put(&who, past(2), 1441).pointers(), ["/attended_minutes"]);
    assert_eq!(put(&id(shops, "technician.south"), past(2), 480).pointers(), ["/person"]);
    let soon = manager.call("PUT", &format!("attendance/{who}/soon")).json(&json!({}));
    soon.send().problem(404, "not-found");
    for query in [format!("from={}&to={}", past(1), past(2)), format!("from={}", past(500))] {
        manager.get(&format!("attendance?{query}")).problem(422, "invalid");
    }
    assert_eq!(shops.place.count("FROM attendance"), 0);
}

fn a_technician_sees_the_own_days(shops: &Shops) {
    let manager = shops.person("manager.north");
    let people = ["technician.north", "helper.north"].map(|name| id(shops, name));
    for person in &people {
        let place = format!("attendance/{person}/{}", past(2));
        manager.call("PUT", &place).json(&json!({ "attended_minutes": 480 })).send().expect(200);
    }
    let technician = shops.person("technician.north");
    let own = technician.get("attendance").expect(200).json()["items"].clone();
    let own: Vec<&Value> = own.as_array().unwrap().iter().map(|row| &row["person_id"]).collect();
    assert_eq!(own, [&json!(people[0])]);
    let other = technician.get(&format!("attendance?person_id={}", people[1]));
    other.problem(403, "forbidden");
    let all = manager.get("attendance").expect(200).json();
    assert_eq!(all["items"].as_array().unwrap().len(), 2);
}

fn a_week_on_the_page(shops: &Shops) {
    let who = id(shops, "technician.north");
    let manager = shops.visitor("manager.north", "north");
    let day = past(9);
    let cell = format!("{who}_{day}");
    let page = manager.get(&format!("attendance?day={day}")).expect(200);
    let wrong = form(&page, "/attendance").fill(&cell, "a while").send(&manager).expect(422);
    assert!(
        wrong.body.contains("aria-invalid=\"true\"") && wrong.body.contains("value=\"a while\"")
    );
    let kept = form(&wrong, "/attendance").fill(&cell, "7.5").follow(&manager);
    assert!(kept.body.contains("value=\"7:30\""), "{}", kept.body);
    let minutes = "SELECT CAST(attended_minutes AS TEXT) AS line FROM attendance";
    assert_eq!(shops.place.lines(minutes), ["450"]);
    // A sheet that changes nothing writes nothing.
    let kept = form(&kept, "/attendance").follow(&manager);
    assert_eq!(shops.place.count("FROM record_change WHERE record = 'attendance'"), 1);
    form(&kept, "/attendance").fill(&cell, "").follow(&manager);
    assert_eq!(shops.place.count("FROM attendance"), 0);
    let owner = shops.visitor("owner.riverside", "north").get("attendance").expect(200);
    assert!(!owner.body.contains("Save the week"));
}
