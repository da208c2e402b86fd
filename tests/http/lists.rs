//! Lists page by page, and what they can be narrowed to.

use serde_json::{Value, json};

use crate::support::visit::{finish, open, text};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    pages_walk_every_order_once,
    lists_are_narrowed,
    vehicles_are_found_and_warned_of
);

/// Every id of a list, page by page.
fn walk(client: &Client, list: &str, limit: usize) -> Vec<String> {
    let (mut ids, mut cursor) = (Vec::new(), String::new());
    loop {
        let page = client.get(&format!("{list}?limit={limit}{cursor}")).expect(200).json();
        let items = page["items"].as_array().unwrap();
        ids.extend(items.iter().map(|item| text(&item["id"]).to_owned()));
        let Some(next) = page["next_cursor"].as_str() else {
            assert!(items.len() <= limit);
            return ids;
        };
        assert_eq!(items.len(), limit);
        cursor = format!("&cursor={next}");
    }
}

fn pages_walk_every_order_once(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let mut made: Vec<String> =
        (0..23).map(|number| open(&adviser, &format!("LI {number}"), "engine.stalls").0).collect();
    made.reverse();
    for limit in [1, 4, 23, 24] {
        assert_eq!(walk(&adviser, "orders", limit), made, "{limit} a page");
    }
    let vehicles = walk(&adviser, "vehicles", 5);
    assert_eq!(vehicles.len(), 23);
    assert!(vehicles.is_sorted());
    // RFC 9562: the ids made here are of version 7, so they sort by time.
    for id in made.iter().chain(&vehicles) {
        assert_eq!(uuid::Uuid::parse_str(id).unwrap().get_version_num(), 7);
    }
}

fn lists_are_narrowed(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (closed, job) = open(&adviser, "LI A", "engine.stalls");
    finish(&adviser, &closed, &job, "air-filter");
    let (still_open, _) = open(&adviser, "LI A", "engine.stalls");
    let ids = |query: &str| -> Vec<String> {
        let list = adviser.get(&format!("orders?{query}")).expect(200).json();
        list["items"].as_array().unwrap().iter().map(|o| text(&o["id"]).to_owned()).collect()
    };
    assert_eq!(ids("status=closed"), std::slice::from_ref(&closed));
    assert_eq!(ids("status=open"), std::slice::from_ref(&still_open));
    assert_eq!(ids("order_no=2"), std::slice::from_ref(&still_open));
    let vehicle = adviser.get(&format!("orders/{closed}")).json()["vehicle_id"].clone();
    assert_eq!(ids(&format!("vehicle_id={}", text(&vehicle))), [still_open, closed]);
    let counted = |state: &str| {
        let list = adviser.get(&format!("comebacks?state={state}")).expect(200).json();
        list["items"].as_array().unwrap().len()
    };
    assert_eq!((counted("proposed"), counted("confirmed")), (1, 0));
}

// The first VIN is the example of 49 CFR 565, Table V: check digit 4. The second
// has two of its digits swapped, which makes it 5.
fn vehicles_are_found_and_warned_of(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let add = |vin: &str| -> Value {
        adviser.post("vehicles", &json!({ "vin": vin })).expect(201).json()
    };
    let good = add("1g4ah59h4-5g118341");
    assert_eq!(good["vin"], "1G4AH59H45G118341");
    assert!(good["vin_warning"].is_null(), "{good}");
    assert_eq!(add("1G4AH59H45G118341")["id"], good["id"]);
    let swapped = add("1G4AH59H45G118431");
    assert!(text(&swapped["vin_warning"]).contains("would be 5"), "{swapped}");
    assert!(text(&add("SHORT1")["vin_warning"]).contains("17"));
    let found = adviser.get("vehicles?q=5g118341").expect(200).json();
    assert_eq!(found["items"].as_array().unwrap().len(), 1);
    assert_eq!(found["items"][0]["id"], good["id"]);
    // Signs that a pattern would know are letters here.
    let none = adviser.get("vehicles?q=%25").problem(422, "invalid");
    assert_eq!(none["errors"][0]["pointer"], "/q");
}
