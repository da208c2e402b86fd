//! Who may come in.

use serde_json::json;

use crate::support::shops::PASSWORD;
use crate::support::{Answer, Client, Place, Server, Shops, on_each_database};

#[test]
fn an_empty_record_says_how_to_begin() {
    let place = Place::empty_sqlite();
    let server = Server::start(&place);
    let page = Client::new(&server.base).get("/sign-in").expect(200);
    assert!(page.body.contains("Nobody can sign in yet"), "{}", page.body);
    assert!(page.body.contains("onetrip user add"), "{}", page.body);
}

on_each_database!(
    wrong_and_unknown_are_answered_alike,
    guessing_is_slowed_down,
    a_token_ends_with_sign_out,
    people_are_added_by_those_who_may,
);

fn try_in(shops: &Shops, name: &str, password: &str) -> Answer {
    let body = json!({ "sign_in_name": name, "password": password });
    shops.stranger().call("POST", "/api/v1/sessions").json(&body).send()
}

fn wrong_and_unknown_are_answered_alike(shops: &Shops) {
    let page = shops.stranger().get("/sign-in").expect(200);
    assert!(!page.body.contains("Nobody can sign in yet"));
    let wrong = try_in(shops, "adviser.north", "not the one I chose").problem(401, "not-signed-in");
    let unknown =
        try_in(shops, "nobody.north", "not the one I chose").problem(401, "not-signed-in");
    assert_eq!(wrong, unknown);
    try_in(shops, " Adviser.NORTH ", PASSWORD).expect(200);
    // The record keeps no secret: neither password nor token is in it.
    let kept = "SELECT COALESCE(password_hash, '') AS line FROM person";
    assert!(shops.place.lines(kept).iter().all(|hash| hash.starts_with("$argon2id$")));
    let hashes = shops.place.lines("SELECT token_hash AS line FROM session");
    assert!(!hashes.is_empty() && hashes.iter().all(|hash| !hash.starts_with("onetrip_")));
}

fn guessing_is_slowed_down(shops: &Shops) {
    let guess = || try_in(shops, "owner.riverside", "guess number one more");
    for _ in 0..5 {
        guess().problem(401, "not-signed-in");
    }
    // How long a try takes is the machine's affair: go on until the wait is
    // longer than any of them.
    let held = std::iter::repeat_with(guess).take(1_000).find_map(|answer| {
        let seconds: u64 = answer.header("retry-after").parse().unwrap_or(0);
        if seconds < 4 {
            std::thread::sleep(std::time::Duration::from_secs(seconds));
            return None;
        }
        Some(answer)
    });
    let held = held.expect("nobody may guess a thousand times in a row");
    held.problem(429, "too-many-tries");
    // The right password waits, too, and others are not held up.
    try_in(shops, "owner.riverside", PASSWORD).problem(429, "too-many-tries");
    try_in(shops, "adviser.south", PASSWORD).expect(200);
}

fn a_token_ends_with_sign_out(shops: &Shops) {
    let answer = try_in(shops, "technician.far", PASSWORD).expect(200).json();
    let token = format!("Bearer {}", answer["token"].as_str().unwrap());
    let person = shops.stranger().with("authorization", token);
    let me = person.get("/api/v1/me").expect(200).json();
    assert_eq!(me["shops"][0]["code"], "far");
    assert_eq!(me["shops"][0]["roles"], json!(["technician"]));
    person.call("DELETE", "/api/v1/sessions/current").send().expect(204);
    person.get("/api/v1/me").problem(401, "not-signed-in");
}

fn people_are_added_by_those_who_may(shops: &Shops) {
    let new = |role: &str, sign_in: &str, password: &str| json!({ "name": format!("New {sign_in}"), "role": role, "sign_in_name": sign_in, "password": password });
    let manager = shops.person("manager.north");
    let long = "a bolt, a nut, a washer";
    manager.post("people", &new("technician", "tove", long)).expect(201);
    try_in(shops, "tove", long).expect(200);
    manager.post("people", &new("technician", "tove", long)).problem(409, "conflict");
    assert_eq!(
        manager.post("people", &new("technician", "ulf", "short")).pointers(),
        ["/password"]
    );
    assert_eq!(manager.post("people", &new("owner", "ulf", long)).pointers(), ["/role"]);
    manager.post("people", &new("service_manager", "ulf", long)).problem(403, "forbidden");
    let office = shops.person("administrator.riverside");
    office.post("people", &new("service_manager", "ulf", long)).expect(201);
    let listed = manager.get("people").expect(200);
    assert!(listed.body.contains("New ulf") && !listed.body.contains("argon2"));
}

#[test]
fn cookies_are_for_encrypted_connections_where_the_server_is_told() {
    for (arguments, secure) in [(&[][..], false), (&["--secure-cookies"][..], true)] {
        let server = Server::with(&Place::sqlite(), arguments);
        let fields = [("sign_in_name", "adviser.north"), ("password", PASSWORD)];
        let client = Client::new(&server.base);
        // What anybody may send is not asked.
        let call = client.call("POST", "/sign-in").form(&fields);
        let answer = call.header("x-forwarded-proto", "https").send().expect(303);
        assert_eq!(answer.header("set-cookie").contains("; Secure"), secure, "{arguments:?}");
    }
}
