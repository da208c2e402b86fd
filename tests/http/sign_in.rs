//! Who may come in.

use serde_json::json;

use crate::support::html::form;
use crate::support::shops::PASSWORD;
use crate::support::{Answer, Client, Place, Program, Server, Shops, on_each_database};

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
    soon_guessed_passwords_are_refused_everywhere,
);

fn soon_guessed_passwords_are_refused_everywhere(shops: &Shops) {
    let manager = shops.person("manager.north");
    let ids = manager.get("people").expect(200).json();
    let named = |item: &&serde_json::Value| item["name"] == "helper of north";
    let id = ids["items"].as_array().unwrap().iter().find(named).unwrap()["id"].clone();
    let person = format!("people/{}", id.as_str().unwrap());
    let page = shops.visitor("manager.north", "north");
    let own = shops.visitor("helper.north", "north");
    // A common one, one of the keyboard, and ones made of the names about it: of the
    // shop, the program, the person.
    let (name, sign_in_name) = ("Helper North", "helper.of");
    for soon in [
        "passwordpassword",
        "qwertyuiopasdfgh",
        "Shop north Shop",
        "onetriponetrip1",
        "helper.of.north",
    ] {
        let new = json!({
            "name": name, "role": "technician", "sign_in_name": sign_in_name, "password": soon,
        });
        assert_eq!(manager.post("people", &new).pointers(), ["/password"], "{soon}");
        assert_eq!(manager.patch(&person, &json!({ "password": soon })).pointers(), ["/password"]);
        let change = json!({ "old_password": PASSWORD, "new_password": soon });
        let helper = shops.person("helper.north");
        let asked = helper.call("PUT", "/api/v1/me/password").json(&change);
        assert_eq!(asked.send().pointers(), ["/new_password"], "{soon}");
        let add = form(&page.get("people").expect(200), "/people").fill("name", name);
        let add = add.fill("sign_in_name", sign_in_name).fill("role", "technician");
        assert!(
            add.fill("password", soon).send(&page).expect(422).body.contains("harder to guess")
        );
        let set = form(&page.get(&person).expect(200), "/password").fill("password", soon);
        set.send(&page).expect(422);
        let set = form(&own.get("/me").expect(200), "/me/password").fill("old_password", PASSWORD);
        set.fill("new_password", soon).send(&own).expect(422);
        let set = ["user", "password", "--sign-in", "helper.north", "--password-stdin"];
        let output = Program::new(&shops.place, &set).run(&format!("{soon}\n"));
        assert_eq!(output.status.code(), Some(2), "{soon}");
    }
    try_in(shops, "helper.north", PASSWORD).expect(200);
}

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
        let cookie = answer.header("set-cookie");
        assert_eq!(cookie.contains("; Secure"), secure, "{arguments:?}");
        assert!(cookie.contains("; HttpOnly") && cookie.contains("; Path=/"), "{cookie}");
        assert!(!cookie.contains("Domain"), "{cookie}");
        let (name, token) = cookie.split(';').next().unwrap().split_once('=').unwrap();
        let expected = if secure { "__Host-onetrip_session" } else { "onetrip_session" };
        assert_eq!(name, expected);
        // The one name is read, not the other.
        for name in ["onetrip_session", "__Host-onetrip_session"] {
            let visitor = Client::new(&server.base).with("cookie", format!("{name}={token}"));
            let status = if name == expected { 200 } else { 303 };
            visitor.get("/me").expect(status);
        }
    }
}

/// Somebody behind a web server that is trusted, at that address.
fn from(shops: &Shops, address: &str) -> Client {
    shops.stranger().with("x-forwarded-for", address.to_owned())
}

fn guess(client: &Client, name: &str) -> Answer {
    let body = json!({ "sign_in_name": name, "password": "not the one I chose" });
    client.call("POST", "/api/v1/sessions").json(&body).send()
}

/// Tries with ever other names until one is held up.
fn flood(client: &Client) {
    let held = (0..200).map(|number| guess(client, &format!("nobody{number}")));
    let held = held.into_iter().find(|answer| answer.status != 401);
    held.expect("two hundred tries from one address").problem(429, "too-many-tries");
}

fn behind(place: Place, trusted: bool) -> Shops {
    let more = ["--trusted-proxies", "127.0.0.1"];
    let server = Server::with(&place, if trusted { &more[..] } else { &[] });
    Shops::served(place, server)
}

#[test]
fn an_address_is_held_up_and_others_are_not() {
    let shops = behind(Place::sqlite(), true);
    // What a browser wrote itself stands further left: it is not believed.
    let attacker = from(&shops, "198.51.100.1, 203.0.113.9");
    flood(&attacker);
    guess(&from(&shops, "192.0.2.77, 203.0.113.9"), "x").problem(429, "too-many-tries");
    guess(&from(&shops, "203.0.113.10"), "x").problem(401, "not-signed-in");
    // Of IPv6 one has whole networks.
    flood(&from(&shops, "2001:db8:1:2::1"));
    guess(&from(&shops, "2001:db8:1:2:3::9"), "x").problem(429, "too-many-tries");
    guess(&from(&shops, "2001:db8:1:3::9"), "x").problem(401, "not-signed-in");
}

#[test]
fn nobody_says_for_others_where_they_come_from() {
    let place = Place::sqlite();
    let file = std::path::Path::new(&place.data()).join("log");
    let arguments = ["--log", "warn"];
    let server = Server::of(Program::serving(&place, &arguments).telling(&file));
    let shops = Shops::served(place, server);
    guess(&from(&shops, "203.0.113.9"), "adviser.north").problem(401, "not-signed-in");
    let log = std::fs::read_to_string(&file).unwrap();
    assert!(log.contains("from=127.0.0.1") && !log.contains("203.0.113.9"), "{log}");
}

#[test]
fn a_known_browser_comes_in_through_a_flood() {
    let shops = behind(Place::sqlite(), true);
    let own = from(&shops, "203.0.113.9");
    let fields = [("sign_in_name", "owner.riverside"), ("password", PASSWORD)];
    let sign_in = |client: &Client| client.call("POST", "/sign-in").form(&fields).send();
    let cookies: Vec<String> = sign_in(&own)
        .expect(303)
        .headers
        .get_all("set-cookie")
        .iter()
        .map(|value| value.to_str().unwrap().split(';').next().unwrap().to_owned())
        .collect();
    let kept = cookies.iter().find(|cookie| cookie.starts_with("onetrip_device=")).unwrap();
    // Somebody floods the same address, and guesses at the same name from everywhere.
    flood(&from(&shops, "203.0.113.9"));
    let mut number = 0;
    let held = std::iter::repeat_with(|| {
        number += 1;
        guess(&from(&shops, &format!("10.0.{}.9", number)), "owner.riverside")
    });
    // As long as a machine may take for a try: until the wait is longer.
    let held = held.take(250).find(|answer| {
        let seconds: u64 = answer.header("retry-after").parse().unwrap_or(0);
        if seconds < 4 {
            std::thread::sleep(std::time::Duration::from_secs(seconds));
        }
        seconds >= 4
    });
    held.expect("nobody guesses so often in a row").problem(429, "too-many-tries");
    sign_in(&from(&shops, "192.0.2.1")).expect(429);
    let known = own.clone().with("cookie", kept.clone());
    sign_in(&known).expect(303);
    // It is known of the owner, of nobody else, and has its own five tries.
    let wrong = |name: &str| {
        let fields = [("sign_in_name", name), ("password", "not the one I chose")];
        known.call("POST", "/sign-in").form(&fields).send().status
    };
    assert!((0..50).any(|number| wrong(&format!("nobody{number}")) == 429));
    assert!((0..10).any(|_| wrong("owner.riverside") == 429));
    // The record keeps no token of it.
    let hashes = shops.place.lines("SELECT token_hash AS line FROM known_device");
    assert!(!hashes.is_empty() && !hashes.iter().any(|hash| hash.starts_with("onetrip_")));
}

/// How many passwords of one account are tried in an hour by as many as one likes,
/// from wherever they say they are: what a clock tells that goes on as they are
/// told to wait.
fn an_hour_of_guessing(place: Place) {
    let clock = std::env::temp_dir().join(format!("onetrip-clock-{}", uuid::Uuid::new_v4()));
    let began = crate::support::now();
    std::fs::write(&clock, began.to_rfc3339()).unwrap();
    let more = ["--clock-file", clock.to_str().unwrap(), "--trusted-proxies", "127.0.0.1"];
    let server = Server::with(&place, &more);
    let mut shops = Shops::served(place, server);
    let (mut passed, mut verified) = (0, 0);
    for number in 0..1_000 {
        let address = format!("10.{}.{}.9", number / 250, number % 250);
        let answer = guess(&from(&shops, &address), "manager.north");
        match answer.status {
            401 => verified += 1,
            _ => {
                answer.problem(429, "too-many-tries");
                passed += answer.header("retry-after").parse::<i64>().unwrap();
                let now = began + chrono::TimeDelta::seconds(passed);
                std::fs::write(&clock, now.to_rfc3339()).unwrap();
            }
        }
        // A new start forgets nothing.
        if number == 7 {
            shops.kill();
            let server = Server::with(&shops.place, &more);
            shops.serve(server);
        }
        if passed >= 3_600 {
            break;
        }
    }
    drop(std::fs::remove_file(&clock));
    assert!(passed >= 3_600, "{verified} in {passed} s");
    assert!((6..=30).contains(&verified), "{verified} passwords were tried in an hour");
}

#[test]
fn few_passwords_are_tried_in_an_hour_on_sqlite() {
    an_hour_of_guessing(Place::sqlite());
}

#[test]
fn few_passwords_are_tried_in_an_hour_on_postgres() {
    if let Some(place) = Place::postgres() {
        an_hour_of_guessing(place);
    }
}

#[test]
fn a_hash_is_made_dearer_as_one_signs_in() {
    let place = Place::sqlite();
    place.run("INSERT INTO password_cost (id, memory_kib, passes) VALUES (1, 20480, 3)");
    let hash = "SELECT password_hash AS line FROM person WHERE sign_in_name = 'adviser.north'";
    let before = place.lines(hash);
    assert!(before[0].contains("m=19456,t=2,p=1"), "{before:?}");
    let program = Program::serving(&place, &[]).set("ONETRIP_PASSWORD_COST", "measured");
    let shops = Shops::served(place, Server::of(program));
    try_in(&shops, "adviser.north", "not the one I chose").expect(401);
    assert_eq!(shops.place.lines(hash), before);
    let session = try_in(&shops, "adviser.north", PASSWORD).expect(200);
    let after = shops.place.lines(hash);
    assert!(after[0].contains("m=20480,t=3,p=1"), "{after:?}");
    // It is the same password, and nobody is put out.
    try_in(&shops, "adviser.north", PASSWORD).expect(200);
    assert_eq!(shops.place.lines(hash), after);
    let token = session.json()["token"].as_str().unwrap().to_owned();
    let bearer = shops.stranger().with("authorization", format!("Bearer {token}"));
    bearer.get("/api/v1/me").expect(200);
}

#[test]
fn what_a_hash_costs_is_measured_once() {
    let place = Place::empty_sqlite();
    let add = ["user", "add", "--name", "Office", "--sign-in", "office", "--role", "administrator"];
    let add = || Program::new(&place, &[&add[..], &["--password-stdin"]].concat());
    let measured = add().set("ONETRIP_PASSWORD_COST", "measured");
    measured.must(&format!("{PASSWORD}\n"));
    let cost = "SELECT memory_kib || ',' || passes AS line FROM password_cost";
    let lines = place.lines(cost);
    let (memory, passes) = lines[0].split_once(',').unwrap();
    let (memory, passes): (u32, u32) = (memory.parse().unwrap(), passes.parse().unwrap());
    assert!((19_456..=65_536).contains(&memory) && (2..=3).contains(&passes), "{lines:?}");
    let hashes = place.lines("SELECT password_hash AS line FROM person");
    assert!(hashes[0].contains(&format!("m={memory},t={passes},p=1")), "{hashes:?}");
}
