//! Many write-ups at once.

use serde_json::{Value, json};

use crate::support::visit::{text, write_up};
use crate::support::{Shops, on_each_database};

on_each_database!(
    each_stands_or_falls_by_itself,
    all_or_none,
    a_batch_is_opened_once,
    a_batch_has_limits,
);

fn good(plate: &str) -> Value {
    write_up(plate, "engine.stalls")
}

fn each_stands_or_falls_by_itself(shops: &Shops) {
    let technician = shops.person("technician.north");
    let mut of_the_front = good("BA 3");
    of_the_front["customer_name"] = json!("Imre");
    let items = json!([
        good("BA 1"),
        write_up("BA 2", "engine.sulks"),
        of_the_front,
        { "vehicle": { "plate": "BA 4" }, "jobs": "none" },
        good("BA 5"),
    ]);
    let done = technician.post("orders/batch", &json!({ "items": items })).expect(200).json();
    let told = done["items"].as_array().unwrap();
    let statuses: Vec<i64> = told.iter().map(|item| item["status"].as_i64().unwrap()).collect();
    assert_eq!(statuses, [201, 422, 403, 422, 201]);
    assert_eq!(told[1]["problem"]["errors"][0]["pointer"], "/jobs/0/symptom");
    assert_eq!(told[3]["problem"]["errors"][0]["pointer"], "/jobs");
    assert!(told[1]["order"].is_null() && told[0]["problem"].is_null());
    // What was refused took no number with it.
    assert_eq!(
        (text(&told[0]["order"]["order_no"]), text(&told[4]["order"]["order_no"])),
        ("1", "2")
    );
    assert_eq!(shops.place.count("FROM repair_order"), 2);
    assert_eq!(shops.place.count("FROM vehicle"), 2);
    let read = technician.get(&format!("orders/{}", text(&told[0]["order"]["id"])));
    assert_eq!(read.expect(200).json(), told[0]["order"]);
}

fn all_or_none(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let mut twice = write_up("BA 7", "engine.sulks");
    twice["odometer_in"] = json!(-1);
    let body =
        json!({ "atomic": true, "items": [good("BA 6"), twice, { "jobs": [], "color": 1 }] });
    let refused = adviser.post("orders/batch", &body);
    assert_eq!(refused.pointers(), ["/items/1/odometer_in", "/items/2/color"]);
    assert_eq!(shops.place.count("FROM repair_order"), 0);
    let body = json!({ "atomic": true, "items": [good("BA 6"), good("BA 8")] });
    let done = adviser.post("orders/batch", &body).expect(200).json();
    assert_eq!(done["items"].as_array().unwrap().len(), 2);
    assert_eq!(shops.place.count("FROM repair_order"), 2);
}

fn a_batch_is_opened_once(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let body = json!({ "items": [good("BA 9")] });
    let send = |query: &str| {
        adviser.call("POST", &format!("orders/batch{query}")).json(&body).key("a batch").send()
    };
    assert_eq!(send("?dry_run=true").expect(200).json()["items"][0]["status"], 201);
    assert_eq!(shops.place.count("FROM repair_order"), 0);
    let first = send("").expect(200);
    assert_eq!(send("").expect(200).body, first.body);
    assert_eq!(shops.place.count("FROM repair_order"), 1);
}

fn a_batch_has_limits(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    assert_eq!(adviser.post("orders/batch", &json!({ "items": [] })).pointers(), ["/items"]);
    let many: Vec<Value> = (0..501).map(|number| good(&format!("BL {number}"))).collect();
    assert_eq!(adviser.post("orders/batch", &json!({ "items": many })).pointers(), ["/items"]);
    let most: Vec<Value> = (0..500)
        .map(|number| {
            let mut visit = good(&format!("BL {number}"));
            visit["jobs"][0]["complaint"] = json!("it shakes at the lights ".repeat(30));
            visit
        })
        .collect();
    let body = json!({ "items": most });
    assert!(body.to_string().len() > 256 * 1024);
    let done = adviser.post("orders/batch", &body).expect(200).json();
    assert!(done["items"].as_array().unwrap().iter().all(|item| item["status"] == 201));
    assert_eq!(shops.place.count("FROM repair_order"), 500);
    let large = "x".repeat(2 * 1024 * 1024 + 1);
    let call = adviser.call("POST", "orders/batch").body(large, "application/json").new_key();
    call.send().problem(413, "too-large");
}
