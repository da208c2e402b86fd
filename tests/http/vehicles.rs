//! Vehicles: found however their plate is written, changed, sold.

use serde_json::{Value, json};

use crate::support::visit::{open, text, write_up};
use crate::support::{Shops, on_each_database};

on_each_database!(
    a_plate_is_one_however_it_is_written,
    what_nobody_sees_is_refused,
    a_vehicle_changes,
    a_sold_vehicle_keeps_its_history,
);

fn a_plate_is_one_however_it_is_written(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let vehicle = |plate: &str| {
        let (order, _) = open(&adviser, plate, "engine.stalls");
        adviser.get(&format!("orders/{order}")).json()["vehicle_id"].clone()
    };
    let known = vehicle("ab-12 cd");
    for written in ["AB 12.CD", "ab12cd", "A-B-1-2-C-D"] {
        assert_eq!(vehicle(written), known, "{written}");
    }
    assert_ne!(vehicle("AB 12 CE"), known);
    for asked in ["12-cd", "B12.CD", "2%20cd"] {
        let found = adviser.get(&format!("vehicles?q={asked}")).expect(200).json();
        let ids: Vec<&Value> =
            found["items"].as_array().unwrap().iter().map(|item| &item["id"]).collect();
        assert_eq!(ids, [&known], "{asked}");
    }
    let nameless = json!({ "vehicle": { "plate": " - " }, "jobs": [{ "complaint": "squeals" }] });
    assert_eq!(adviser.post("orders", &nameless).pointers(), ["/vehicle/vin"]);
}

fn what_nobody_sees_is_refused(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    for (field, value) in [
        ("plate", "AB\u{200b} 12"),
        ("plate", "AB\u{200d} 12"),
        ("vin", "1G4AH59H4\u{202e}5G118341"),
        ("make", "Corv\u{ad}ane"),
        ("model", "line\nbreak"),
    ] {
        let mut visit = write_up("AB 13", "engine.stalls");
        visit["vehicle"][field] = json!(value);
        let at = format!("/vehicle/{field}");
        assert_eq!(adviser.post("orders", &visit).pointers(), [at], "{value:?}");
    }
    let mut visit = write_up("AB 14", "engine.stalls");
    visit["jobs"][0]["complaint"] = json!("first line\nsecond line");
    let order = adviser.post("orders", &visit).expect(201).json();
    assert_eq!(order["jobs"][0]["complaint"], "first line\nsecond line");
    assert_eq!(shops.place.count("FROM vehicle"), 1);
}

fn a_vehicle_changes(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, job) = open(&adviser, "VC 1", "engine.stalls");
    let id = text(&adviser.get(&format!("orders/{order}")).json()["vehicle_id"]).to_owned();
    let thing = format!("vehicles/{id}");
    let tag = adviser.get(&thing).tag();
    let job_was = adviser.get(&format!("jobs/{job}")).tag();
    let vin = json!({ "vin": "1g4ah59h45g118341", "plate": null, "engine": "2.4" });
    let now = adviser.patch(&thing, &vin).expect(200);
    assert_eq!(now.json()["vin"], "1G4AH59H45G118341");
    assert!(now.json()["plate"].is_null() && now.json()["vin_warning"].is_null());
    assert_ne!(now.tag(), tag);
    // The figures of its jobs tell the engine.
    assert_ne!(adviser.get(&format!("jobs/{job}")).tag(), job_was);
    let late = adviser.call("PATCH", &thing).json(&vin).if_match(&tag).send();
    late.problem(412, "stale");
    assert_eq!(adviser.patch(&thing, &json!({ "vin": null })).pointers(), ["/vin"]);
    let odd = json!({ "model_year": 1066 });
    assert_eq!(adviser.patch(&thing, &odd).pointers(), ["/model_year"]);
    let other = adviser.post("vehicles", &json!({ "vin": "11111111111111111" })).expect(201).json();
    let other = format!("vehicles/{}", text(&other["id"]));
    adviser.patch(&other, &vin).problem(409, "conflict");
    let notes = shops.place.lines(
        "SELECT action AS line FROM record_change WHERE record = 'vehicle' ORDER BY change_no",
    );
    assert_eq!(notes, ["added", "changed", "added"]);
}

fn a_sold_vehicle_keeps_its_history(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, _) = open(&adviser, "VS 1", "engine.stalls");
    let order = adviser.get(&format!("orders/{order}")).json();
    let id = text(&order["vehicle_id"]).to_owned();
    let thing = format!("vehicles/{id}");
    let future = json!({ "sold_on": "2199-01-01" });
    assert_eq!(adviser.patch(&thing, &future).pointers(), ["/sold_on"]);
    let sold = json!({ "sold_on": order["opened_on"], "sold_note": "to a neighbor" });
    let now = adviser.patch(&thing, &sold).expect(200).json();
    assert_eq!(
        (&now["sold_on"], &now["sold_note"]),
        (&order["opened_on"], &json!("to a neighbor"))
    );
    // The new owner comes with it: the same vehicle, and the write-up tells it.
    let (again, _) = open(&adviser, "vs1", "engine.stalls");
    let again = adviser.get(&format!("orders/{again}")).json();
    assert_eq!(again["vehicle_id"], order["vehicle_id"]);
    assert_eq!(again["vehicle"]["sold_on"], order["opened_on"]);
    let visitor = shops.visitor("adviser.north", "north");
    for page in [format!("orders/{}", text(&again["id"])), format!("write-up?vehicle={id}")] {
        let page = visitor.get(&page).expect(200);
        assert!(page.body.contains("ask who owns it now"), "{}", page.body);
    }
    // The plate went on to another vehicle: that one is meant.
    let vin = json!({ "vin": "11111111111111111", "plate": "VS-1" });
    let other = adviser.post("vehicles", &vin).expect(201).json();
    let found = adviser.post("vehicles", &json!({ "plate": "VS 1" })).expect(201).json();
    assert_eq!(found["id"], other["id"]);
    let kept = adviser.patch(&thing, &json!({ "sold_on": null })).expect(200).json();
    assert!(kept["sold_on"].is_null() && kept["sold_note"].is_null());
}
