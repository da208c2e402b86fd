//! Sending twice does once.

use serde_json::json;

use crate::support::visit::{open, repaired, text, write_up};
use crate::support::{Answer, Shops, on_each_database};

on_each_database!(
    the_same_request_gets_the_same_answer,
    a_key_belongs_to_one_request,
    twins_at_once_have_one_effect,
    closing_twice_closes_once,
    a_refusal_uses_no_key_up,
);

fn alike(one: &Answer, other: &Answer) {
    assert_eq!((one.status, &one.body), (other.status, &other.body));
    for name in ["etag", "location", "content-type"] {
        assert_eq!(one.header(name), other.header(name), "{name}");
    }
}

fn the_same_request_gets_the_same_answer(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let body = write_up("ID 1", "engine.stalls");
    let send = || adviser.call("POST", "orders").json(&body).key("write-up 1").send();
    let first = send().expect(201);
    alike(&first, &send());
    // The record has moved on; the answer is still that of the effect.
    let thing = format!("orders/{}", text(&first.json()["id"]));
    adviser.patch(&thing, &json!({ "customer_name": "B" })).expect(200);
    alike(&first, &send());
    assert_eq!(shops.place.count("FROM repair_order"), 1);
}

fn a_key_belongs_to_one_request(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let send = |plate: &str| {
        let body = write_up(plate, "engine.stalls");
        adviser.call("POST", "orders").json(&body).key("one key").send()
    };
    send("ID 2").expect(201);
    send("ID 3").problem(422, "idempotency-key-reused");
    // On another address, and from another person, it is another key.
    let vehicle = json!({ "plate": "ID 4" });
    adviser.call("POST", "vehicles").json(&vehicle).key("one key").send().expect(201);
    let manager = shops.person("manager.north");
    let body = write_up("ID 5", "engine.stalls");
    manager.call("POST", "orders").json(&body).key("one key").send().expect(201);
    let elsewhere = shops.person("adviser.south");
    elsewhere.call("POST", "orders").json(&body).key("one key").send().expect(201);
    assert_eq!(shops.place.count("FROM repair_order"), 3);
}

fn twins_at_once_have_one_effect(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let body = write_up("ID 6", "engine.stalls");
    let answers: Vec<Answer> = std::thread::scope(|scope| {
        let send = || adviser.call("POST", "orders").json(&body).key("twins").send();
        let threads: Vec<_> = (0..20).map(|_| scope.spawn(send)).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    for answer in &answers {
        alike(&answers[0], answer);
    }
    assert_eq!(answers[0].status, 201);
    assert_eq!(shops.place.count("FROM repair_order"), 1);
    assert_eq!(shops.place.count("FROM job"), 1);
}

fn closing_twice_closes_once(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let (order, job) = open(&adviser, "ID 7", "engine.stalls");
    for (thing, body) in
        [(format!("jobs/{job}"), repaired("air-filter")), (format!("orders/{order}"), json!({}))]
    {
        let tag = adviser.get(&thing).tag();
        let path = format!("{thing}/closure");
        let send = || adviser.call("POST", &path).json(&body).if_match(&tag).key(&thing).send();
        let first = send().expect(200);
        alike(&first, &send());
        // Another key is another wish, and the version has moved.
        let anew = adviser.call("POST", &path).json(&body).if_match(&tag).new_key().send();
        assert!([409, 412].contains(&anew.status), "{}", anew.body);
    }
}

fn a_refusal_uses_no_key_up(shops: &Shops) {
    let adviser = shops.person("adviser.north");
    let send = |symptom: &str| {
        let body = write_up("ID 8", symptom);
        adviser.call("POST", "orders").json(&body).key("second try").send()
    };
    send("engine.sulks").problem(422, "invalid");
    send("engine.stalls").expect(201);
}
