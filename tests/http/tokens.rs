//! Named tokens of programs.

use serde_json::{Value, json};

use crate::support::visit::{open, text, write_up};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    a_scope_is_a_limit,
    a_token_makes_no_token_and_no_password,
    tokens_end,
    the_administrator_sees_every_token,
);

const OWN: &str = "/api/v1/me/tokens";

fn make(person: &Client, scope: &str) -> Value {
    let new = json!({ "name": format!("{scope} program"), "scope": scope });
    person.call("POST", OWN).json(&new).send().expect(201).json()
}

/// The program that holds the token, in the shop.
fn program(shops: &Shops, made: &Value, shop: &str) -> Client {
    let token = text(&made["token"]);
    assert!(token.starts_with("onetrip_"));
    shops
        .stranger()
        .with("authorization", format!("Bearer {token}"))
        .within(format!("/api/v1/shops/{}", shops.id(shop)))
}

fn a_scope_is_a_limit(shops: &Shops) {
    let manager = shops.person("manager.north");
    let [read, work, all] =
        ["read", "work", "all"].map(|scope| program(shops, &make(&manager, scope), "north"));
    let visit = write_up("TK 1", "engine.stalls");
    read.get("orders").expect(200);
    read.get("people").expect(200);
    read.post("orders", &visit).problem(403, "forbidden");
    // Sent twice under one key, it acts once, for a token as for a session.
    let twice = || work.call("POST", "orders").json(&visit).key("a-key-of-mine").send().expect(201);
    assert_eq!(twice().body, twice().body);
    work.get("codes").expect(200);
    work.get("people").problem(403, "forbidden");
    let code = json!({ "list": "cause", "code": "loose-nut", "label": "loose nut" });
    work.post("codes", &code).problem(403, "forbidden");
    all.post("codes", &code).expect(201);
    all.get("people").expect(200);
    // No scope gives more than the person's roles, and those are looked up.
    let technician = program(shops, &make(&shops.person("technician.north"), "all"), "north");
    let (order, _) = open(&technician, "TK 2", "engine.stalls");
    let front = technician.patch(&format!("orders/{order}"), &json!({ "customer_name": "A" }));
    front.problem(403, "forbidden");
    let elsewhere = format!("/api/v1/shops/{}/orders", shops.id("south"));
    all.get(&elsewhere).problem(404, "not-found");
}

fn a_token_makes_no_token_and_no_password(shops: &Shops) {
    let manager = shops.person("manager.north");
    let all = program(shops, &make(&manager, "all"), "north");
    all.call("POST", OWN)
        .json(&json!({ "name": "x", "scope": "all" }))
        .send()
        .problem(403, "forbidden");
    all.get(OWN).problem(403, "forbidden");
    let change = json!({ "old_password": "a", "new_password": "b" });
    all.call("PUT", "/api/v1/me/password").json(&change).send().problem(403, "forbidden");
    let id = crate::support::visit::person(&manager, "helper of north");
    let place = format!("people/{id}");
    all.patch(&place, &json!({ "password": "a long enough password" })).problem(403, "forbidden");
    all.patch(&place, &json!({ "pin": "135790" })).problem(403, "forbidden");
    all.patch(&place, &json!({ "name": "Helper" })).expect(200);
    // A token opens no page.
    let page = all.get("/shops/north/today").expect(303);
    assert_eq!(page.header("location"), "/sign-in");
}

fn tokens_end(shops: &Shops) {
    let manager = shops.person("manager.north");
    let mut bad = json!({ "name": " ", "scope": "read", "ends_at": "2020-01-01T00:00:00Z" });
    let send = |body: &Value| manager.call("POST", OWN).json(body).send();
    assert_eq!(send(&bad).pointers(), ["/name", "/ends_at"]);
    bad["scope"] = json!("some");
    assert_eq!(send(&bad).pointers(), ["/scope"]);
    let made = make(&manager, "read");
    let holder = program(shops, &made, "north");
    holder.get("orders").expect(200);
    let kept = manager.get(OWN).expect(200).json()["items"][0].clone();
    assert!(kept["used_at"].is_string() && kept["token"].is_null(), "{kept}");
    let place = format!("{OWN}/{}", text(&made["id"]));
    // Somebody else's token is not there.
    shops.person("adviser.north").call("DELETE", &place).send().problem(404, "not-found");
    manager.call("DELETE", &place).send().expect(204);
    holder.get("orders").problem(401, "not-signed-in");
    manager.call("DELETE", &place).send().problem(404, "not-found");
    assert!(manager.get(OWN).expect(200).json()["items"][0]["revoked_at"].is_string());
    let hashes = shops.place.lines("SELECT token_hash AS line FROM access_token");
    assert!(hashes.iter().all(|hash| !hash.contains("onetrip")));
    let noted = shops.place.lines(
        "SELECT action AS line FROM record_change WHERE record = 'token' ORDER BY change_no",
    );
    assert_eq!(noted, ["added", "ended"]);
}

fn the_administrator_sees_every_token(shops: &Shops) {
    let made = make(&shops.person("technician.north"), "read");
    let holder = program(shops, &made, "north");
    let office = shops.person("administrator.riverside");
    let listed = office.get("/api/v1/tokens").expect(200).json();
    assert_eq!(listed["items"][0]["id"], made["id"]);
    let place = format!("/api/v1/tokens/{}", text(&made["id"]));
    let other = shops.person("administrator.uplands");
    assert_eq!(other.get("/api/v1/tokens").expect(200).json()["items"], json!([]));
    other.call("DELETE", &place).send().problem(404, "not-found");
    shops.person("manager.north").get("/api/v1/tokens").problem(403, "forbidden");
    holder.get("orders").expect(200);
    office.call("DELETE", &place).send().expect(204);
    holder.get("orders").problem(401, "not-signed-in");
}
