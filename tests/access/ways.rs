//! Every other way in than a fresh sign-in, at every route: what has ended opens
//! nothing, a token reaches as far as its scope, a PIN as far as the floor.

use serde_json::json;
use sha2::{Digest, Sha256};

use super::expected::ROLES;
use super::matrix::{Asker, PLACES, Things, cells, ends_the_session, has_role, shop_of, shut_out};
use super::routes::{self, Route};
use crate::support::html::form;
use crate::support::shops::PASSWORD;
use crate::support::visit::{person, text};
use crate::support::{Client, Shops, on_each_database};

on_each_database!(
    what_has_ended_opens_nothing,
    a_token_reaches_as_far_as_its_scope,
    a_pin_reaches_as_far_as_the_floor,
);

const TOKENS: &str = "/api/v1/me/tokens";
const PIN: &str = "135790";

/// Somebody with a secret: a program carries it, a page has it as its cookie.
fn holder(shops: &Shops, secret: &str) -> Client {
    let client = shops.stranger().with("authorization", format!("Bearer {secret}"));
    client.with("cookie", format!("onetrip_session={secret}"))
}

/// A program's session, opened anew.
fn session(shops: &Shops, name: &str) -> String {
    let body = json!({ "sign_in_name": name, "password": PASSWORD });
    let answer = shops.stranger().call("POST", "/api/v1/sessions").json(&body).send();
    text(&answer.expect(200).json()["token"]).to_owned()
}

/// A page's session, opened anew.
fn page_session(shops: &Shops, name: &str) -> String {
    let fields = [("sign_in_name", name), ("password", PASSWORD)];
    let answer = shops.stranger().call("POST", "/sign-in").form(&fields).send().expect(303);
    let set = answer.header("set-cookie").to_owned();
    let (_, value) = set.split(';').next().unwrap().split_once('=').unwrap();
    value.to_owned()
}

/// A named token: its id and its secret.
fn named(person: &Client, scope: &str) -> (String, String) {
    let new = json!({ "name": format!("{scope} program"), "scope": scope });
    let made = person.call("POST", TOKENS).json(&new).send().expect(201).json();
    (text(&made["id"]).to_owned(), text(&made["token"]).to_owned())
}

/// Moves a time of the secret's row behind the program's back, as if the clock had
/// gone on.
fn long_ago(shops: &Shops, table: &str, column: &str, secret: &str) {
    let hash: String = Sha256::digest(secret).iter().map(|byte| format!("{byte:02x}")).collect();
    let row = format!("{table} WHERE token_hash = '{hash}'");
    assert_eq!(shops.place.count(&format!("FROM {row}")), 1, "{table}");
    shops.place.run(&format!(
        "UPDATE {table} SET {column} = '2020-01-01 00:00:00' WHERE token_hash = '{hash}'"
    ));
}

/// Asks every route at every place with what opens nothing any more.
fn nobody_comes_in(shops: &Shops, things: &Things, ended: &[(&str, String)]) -> usize {
    let mut asked = 0;
    for (name, secret) in ended {
        let client = holder(shops, secret);
        for route in routes::all() {
            let places = if route.path.contains("{shop}") { &PLACES[..] } else { &PLACES[..1] };
            for place in places {
                let address = things.address(&route, &shop_of(shops, &route, *place));
                shut_out(&client, name, &route, &address);
                asked += 1;
            }
        }
    }
    asked
}

fn what_has_ended_opens_nothing(shops: &Shops) {
    let name = "manager.north";
    let things = Things::make(shops, "north");
    let manager = shops.person(name);
    let of_the_api = |secret: &str, status: u16| {
        holder(shops, secret).get("/api/v1/shops").expect(status);
    };
    let [late, out] = [(); 2].map(|()| session(shops, name));
    let [late_page, idle, out_page] = [(); 3].map(|()| page_session(shops, name));
    let (revoked_id, revoked) = named(&manager, "all");
    let (_, ended) = named(&manager, "all");
    // Each of them is known before it ends, and remembered.
    for secret in [&late, &out, &revoked, &ended] {
        of_the_api(secret, 200);
    }
    for secret in [&late_page, &idle, &out_page] {
        holder(shops, secret).get("/shops/north/today").expect(200);
    }
    let call = |method: &str, path: &str| manager.call(method, path).send();
    call("DELETE", &format!("{TOKENS}/{revoked_id}")).expect(204);
    holder(shops, &out).call("DELETE", "/api/v1/sessions/current").send().expect(204);
    let there = holder(shops, &out_page);
    form(&there.get("/shops/north/today"), "/sign-out").send(&there).expect(303);
    for (table, column, secret) in [
        ("session", "ends_at", &late),
        ("session", "ends_at", &late_page),
        ("session", "seen_at", &idle),
        ("access_token", "ends_at", &ended),
    ] {
        long_ago(shops, table, column, secret);
    }
    let made_up = format!("onetrip_{}", "0".repeat(64));
    let mut asked = nobody_comes_in(
        shops,
        &things,
        &[
            ("a session past its end", late),
            ("a page's session past its end", late_page),
            ("a page's session unused for a shift", idle),
            ("a session that was signed out", out),
            ("a page's session that was signed out", out_page),
            ("a revoked token", revoked),
            ("a token past its end", ended),
            ("a made-up secret", made_up),
        ],
    );
    // The account is closed, and with it all that was opened for it.
    let (kept, page, (_, token)) =
        (session(shops, name), page_session(shops, name), named(&manager, "all"));
    of_the_api(&kept, 200);
    let office = shops.person("administrator.riverside");
    let id = person(&office, "manager of north");
    office.patch(&format!("people/{id}"), &json!({ "active": false })).expect(200);
    asked += nobody_comes_in(
        shops,
        &things,
        &[
            ("a closed account's session", kept),
            ("a closed account's page", page),
            ("a closed account's token", token),
        ],
    );
    println!("{asked} times nobody came in");
    assert!(asked > 5_000, "{asked}");
}

/// Whether the route is for who signed in with a password.
fn is_asked_in_person(route: &Route) -> bool {
    let own = route.path == "/me" || route.path.starts_with("/me/");
    own || route.path.starts_with("/api/v1/me/") || route.path == "/api/v1/sessions/current"
}

/// Whether a token of the scope may be used there, written down once more by hand.
fn reaches(scope: &str, route: &Route) -> bool {
    let path = route.path.as_str();
    let reads = route.method == "GET";
    let shop = "/api/v1/shops/{shop}";
    let beside_the_work = path.starts_with("/api/v1/tokens")
        || path.starts_with(&format!("{shop}/people"))
        || path.starts_with(&format!("{shop}/tablets"))
        || path == format!("{shop}/audit")
        || !reads && path.starts_with(&format!("{shop}/codes"))
        || !reads && (path == shop || path == "/api/v1/shops");
    match scope {
        "read" => reads,
        "work" => !beside_the_work,
        _ => true,
    }
}

fn a_token_reaches_as_far_as_its_scope(shops: &Shops) {
    let things = Things::make(shops, "north");
    let mut asked = 0;
    for role in ROLES {
        let signed_in = Asker::sign_in(shops, role);
        for scope in ["read", "work", "all"] {
            let (_, secret) = named(&signed_in.program, scope);
            let asker = Asker {
                role,
                program: holder(shops, &secret),
                visitor: holder(shops, &secret),
                form_token: signed_in.form_token.clone(),
            };
            for route in routes::all() {
                if !route.is_api() {
                    shut_out(&asker.visitor, scope, &route, &things.address(&route, "north"));
                    asked += 1;
                    continue;
                }
                let may =
                    has_role(&route, role) && reaches(scope, &route) && !is_asked_in_person(&route);
                asked += cells(shops, &things, &asker, &route, may);
            }
        }
    }
    println!("{asked} cells of tokens held");
    assert!(asked > 5_000, "{asked}");
}

/// Who comes in on the tablet with the PIN, as that role.
fn come_in(shops: &Shops, tablet: &str, id: &str, role: &'static str) -> Asker {
    let kept = format!("onetrip_tablet={tablet}");
    let door = shops.stranger().with("cookie", kept.clone());
    let page = door.get("/tablet").expect(200);
    let answer = form(&page, "/tablet").fill("person_id", id).fill("pin", PIN).send(&door);
    let answer = answer.expect(303);
    let set = answer.header("set-cookie").split(';').next().unwrap();
    let (_, secret) = set.split_once('=').unwrap();
    let visitor = shops.stranger().with("cookie", format!("{kept}; {set}"));
    let tokens = shops.place.lines(
        "SELECT form_token AS line FROM session WHERE tablet_id IS NOT NULL \
         ORDER BY created_at DESC",
    );
    let program = shops.stranger().with("authorization", format!("Bearer {secret}"));
    Asker { role, program, visitor, form_token: tokens[0].clone() }
}

fn a_pin_reaches_as_far_as_the_floor(shops: &Shops) {
    let things = Things::make(shops, "north");
    let manager = shops.person("manager.north");
    let made = manager.call("POST", "tablets").json(&json!({ "name": "bay 3" })).send();
    let tablet = text(&made.expect(201).json()["token"]).to_owned();
    let mut asked = 0;
    // Who manages the shop is a technician there.
    for (first, role) in
        [("technician", "technician"), ("adviser", "adviser"), ("manager", "technician")]
    {
        let body = json!({ "password": PASSWORD, "pin": PIN });
        let own = shops.person(&format!("{first}.north"));
        own.call("PUT", "/api/v1/me/pin").json(&body).send().expect(204);
        let id = person(&manager, &format!("{first} of north"));
        let mut asker = come_in(shops, &tablet, &id, role);
        for route in routes::all() {
            if route.is_api() {
                // A program does not come in by a tablet.
                let address = things.address(&route, shops.id("north"));
                shut_out(&asker.program, "a tablet", &route, &address);
                asked += 1;
                continue;
            }
            let may = has_role(&route, role) && !is_asked_in_person(&route);
            asked += cells(shops, &things, &asker, &route, may);
            if ends_the_session(&route) {
                asker = come_in(shops, &tablet, &id, role);
            }
        }
    }
    println!("{asked} cells of tablets held");
    assert!(asked > 1_500, "{asked}");
}
