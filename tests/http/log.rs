//! The log: who came in and who was turned away, and nothing that opens a door.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::support::shops::{PASSWORD, visitor};
use crate::support::visit::text;
use crate::support::{Client, Place, Program, Server, Shops};

/// Stands in everything secret that is sent.
const CANARY: &str = "kanarienvogel";
/// What is typed for a name that nobody has, perhaps a password.
const NAME: &str = "zeisig";
/// Would begin another line, or end a text of JSON.
const BREAKER: &str =
    "\"}\u{1b}[2J\r\n{\"level\":\"INFO\",\"what\":\"sign-in\",\"way\":\"forged\"}\n";

struct Logged {
    shops: Shops,
    file: PathBuf,
    secrets: Vec<String>,
}

fn served(form: &str) -> Logged {
    let place = Place::sqlite();
    let file = Path::new(&place.data()).join("log");
    let more = ["--log", "info", "--log-form", form, "--trusted-proxies", "127.0.0.1"];
    let server = Server::of(Program::serving(&place, &more).telling(&file));
    Logged { shops: Shops::served(place, server), file, secrets: vec![CANARY.to_owned()] }
}

/// A value for a header: line ends cannot be sent there.
fn in_a_header(text: &str) -> String {
    text.replace(['\r', '\n', '\u{1b}'], "\t")
}

/// Comes in, fails to, and asks for what is not to be had, with secrets and
/// breakers wherever one can send them.
fn try_everything(logged: &mut Logged) {
    let shops = &logged.shops;
    let sign_in = |name: &str, password: &str| {
        let body = json!({ "sign_in_name": name, "password": password });
        let stranger = shops.stranger();
        let call = stranger.call("POST", "/api/v1/sessions").json(&body);
        call.header("user-agent", in_a_header(BREAKER))
            .header("x-forwarded-for", format!("{}, 203.0.113.9", in_a_header(BREAKER)))
            .send()
    };
    let token = sign_in("adviser.north", PASSWORD).expect(200).json();
    let token = text(&token["token"]).to_owned();
    sign_in("adviser.north", &format!("{CANARY}{BREAKER}")).expect(401);
    sign_in(&format!("{NAME}{BREAKER}"), CANARY).expect(401);
    for _ in 0..8 {
        sign_in(NAME, CANARY);
    }
    let stranger = shops.stranger();
    let breaker = crate::support::client::encoded(BREAKER);
    stranger.get(&format!("/api/v1/shops/{breaker}/orders?q={CANARY}{breaker}")).expect(401);
    stranger.get(&format!("/{breaker}{CANARY}")).expect(404);
    let forged = Client::new(shops.base()).with("authorization", format!("Bearer {CANARY}"));
    forged.get("/api/v1/me").expect(401);
    Client::new(shops.base())
        .with("cookie", format!("onetrip_session={CANARY}"))
        .get("/me")
        .expect(303);
    let technician = shops.person("technician.north");
    technician.get(&format!("reports/weekly?week={breaker}")).problem(403, "forbidden");
    technician.get(&format!("/api/v1/shops/{}/orders", shops.id("far"))).problem(404, "not-found");
    let change = json!({ "old_password": format!("{CANARY}{BREAKER}"), "new_password": PASSWORD });
    technician.call("PUT", "/api/v1/me/password").json(&change).send().expect(422);
    let page = visitor(shops.base(), "manager.north", PASSWORD);
    let form = [("form_token", CANARY), ("name", BREAKER)];
    page.call("POST", "/shops/north/tablets").form(&form).send().expect(403);
    let elsewhere = page.call("POST", "/sign-in").form(&[("password", CANARY)]);
    elsewhere.header("origin", "https://elsewhere.example").send().expect(403);
    let program = Client::new(shops.base()).with("authorization", format!("Bearer {token}"));
    program.call("DELETE", "/api/v1/sessions/current").send().expect(204);
    program.get("/api/v1/me").expect(401);
    logged.secrets.extend([token, PASSWORD.to_owned(), NAME.to_owned()]);
    let hashes = "SELECT token_hash AS line FROM session UNION SELECT form_token FROM session \
                  UNION SELECT password_hash FROM person WHERE password_hash IS NOT NULL";
    logged.secrets.extend(logged.shops.place.lines(hashes));
}

/// What was written, once no secret was found in it.
fn read(logged: &Logged) -> String {
    let text = std::fs::read_to_string(&logged.file).unwrap();
    for secret in &logged.secrets {
        assert!(!text.contains(secret), "{secret} was logged:\n{text}");
        // The beginning of a hash names a session.
        assert!(!text.contains(&secret[..secret.len().min(16)]), "{secret} was logged:\n{text}");
    }
    assert!(!text.contains("forged"), "{text}");
    text
}

#[test]
fn every_line_is_one_object_and_opens_no_door() {
    let mut logged = served("json");
    try_everything(&mut logged);
    let lines: Vec<Value> = read(&logged)
        .lines()
        .map(|line| serde_json::from_str(line).unwrap_or_else(|error| panic!("{error}: {line}")))
        .collect();
    let adviser = &logged
        .shops
        .place
        .lines("SELECT id AS line FROM person WHERE sign_in_name = 'adviser.north'")[0];
    let count = |wanted: Value| {
        let fits = |line: &&Value| wanted.as_object().unwrap().iter().all(|(k, v)| line[k] == *v);
        let found: Vec<&Value> = lines.iter().filter(fits).collect();
        for line in &found {
            assert!(text(&line["timestamp"]).ends_with('Z'), "{line}");
            assert!(text(&line["from"]).parse::<std::net::IpAddr>().is_ok(), "{line}");
        }
        found.len()
    };
    let from = "203.0.113.9";
    for (wanted, least) in [
        (json!({ "message": "came in", "way": "password", "who": adviser, "from": from }), 1),
        (json!({ "message": "kept out", "who": adviser, "from": from, "why": "wrong" }), 1),
        (json!({ "message": "kept out", "who": "unknown", "from": from, "why": "wrong" }), 5),
        (json!({ "message": "kept out", "who": "unknown", "why": "too-many-tries" }), 1),
        (json!({ "message": "kept out", "way": "own password", "why": "wrong" }), 1),
        (json!({ "message": "turned away", "route": "/api/v1/me", "why": "not-signed-in" }), 2),
        (json!({ "message": "turned away", "route": "/me", "why": "not-signed-in" }), 1),
        (json!({ "message": "turned away", "method": "GET", "why": "forbidden" }), 1),
        (json!({ "message": "turned away", "method": "GET", "why": "other-shop" }), 1),
        (json!({ "message": "turned away", "route": "/sign-in", "why": "form-expired" }), 1),
        (json!({ "message": "turned away", "method": "POST", "why": "form-expired" }), 2),
        (json!({ "message": "done", "what": "sign-out", "who": adviser }), 1),
    ] {
        assert!(count(wanted.clone()) >= least, "{wanted}: {lines:#?}");
    }
}

#[test]
fn plain_lines_stay_lines_and_open_no_door() {
    for form in ["full", "compact"] {
        let mut logged = served(form);
        try_everything(&mut logged);
        let text = read(&logged);
        for line in text.lines() {
            let begun = line.split('T').next().unwrap_or_default();
            assert!(begun.parse::<chrono::NaiveDate>().is_ok(), "{form}: {line:?}");
            assert!(!line.contains(char::is_control), "{form}: {line:?}");
        }
        assert!(text.contains("came in") && text.contains("turned away"), "{form}: {text}");
    }
}
