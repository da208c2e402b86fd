//! Accounts: kept by those who may, and by their owners.

use serde_json::{Value, json};

use crate::support::html::form;
use crate::support::shops::{PASSWORD, visitor};
use crate::support::visit::{open, person, text};
use crate::support::{Answer, Client, Program, Shops, on_each_database};

on_each_database!(
    a_manager_keeps_the_floor_of_the_own_shop,
    a_closed_account_opens_nothing,
    roles_are_given_and_taken_at_once,
    an_administrator_stays,
    the_own_password_ends_other_sessions,
    sessions_are_seen_and_ended,
    people_are_kept_on_pages,
    the_command_line_keeps_accounts,
);

const ANOTHER: &str = "sparrow kettle nine doors";

fn try_in(shops: &Shops, name: &str, password: &str) -> Answer {
    let body = json!({ "sign_in_name": name, "password": password });
    shops.stranger().call("POST", "/api/v1/sessions").json(&body).send()
}

/// Somebody who signs in anew, beside the sessions that there are.
fn another(shops: &Shops, name: &str, shop: &str) -> Client {
    let token = try_in(shops, name, PASSWORD).expect(200).json()["token"].clone();
    shops
        .stranger()
        .with("authorization", format!("Bearer {}", text(&token)))
        .within(format!("/api/v1/shops/{}", shops.id(shop)))
}

fn roles(client: &Client) -> Value {
    client.get("/api/v1/me").expect(200).json()["shops"][0]["roles"].clone()
}

fn a_manager_keeps_the_floor_of_the_own_shop(shops: &Shops) {
    let manager = shops.person("manager.north");
    let id = person(&manager, "technician of north");
    let place = format!("people/{id}");
    let read = manager.get(&place).expect(200);
    let account = read.json();
    assert_eq!(account["roles"], json!([{ "role": "technician", "of_group": false }]));
    assert_eq!((&account["signs_in"], &account["has_pin"]), (&json!(true), &json!(false)));
    let named = manager.patch(&place, &json!({ "name": "Tech North" })).expect(200);
    assert_eq!(named.json()["name"], "Tech North");
    let stale = manager.call("PATCH", &place).json(&json!({ "name": "Late" }));
    stale.if_match(&read.tag()).send().problem(412, "stale");
    manager.patch(&place, &json!({ "name": "adviser of north" })).problem(409, "conflict");
    manager.patch(&place, &json!({ "sign_in_name": "adviser.north" })).problem(409, "conflict");
    let odd = json!({ "name": " ", "password": "short", "pin": "111111" });
    assert_eq!(manager.patch(&place, &odd).pointers(), ["/name", "/password", "/pin"]);
    // Null takes away; what cannot be taken away is not left as it is unsaid.
    for field in ["name", "active", "password"] {
        let nothing = json!({ field: null });
        assert_eq!(manager.patch(&place, &nothing).pointers(), [format!("/{field}")]);
    }
    let nameless = json!({ "sign_in_name": null, "password": ANOTHER });
    assert_eq!(manager.patch(&place, &nameless).pointers(), ["/sign_in_name"]);

    // Whose roles reach further is out of the manager's reach.
    for name in ["manager of north", "owner of riverside", "administrator of riverside"] {
        let place = format!("people/{}", person(&manager, name));
        manager.patch(&place, &json!({ "name": "Mine" })).problem(403, "forbidden");
    }
    // A colleague outside the shop is not there.
    let south = person(&shops.person("manager.south"), "technician of south");
    manager.get(&format!("people/{south}")).problem(404, "not-found");
    let change = manager.call("PATCH", &format!("people/{south}")).json(&json!({ "name": "X" }));
    change.if_match("\"1\"").send().problem(404, "not-found");
    // Nor is it there for an administrator who asks in another shop.
    let office = shops.person_at("administrator.riverside", "south");
    office.get(&format!("people/{id}")).problem(404, "not-found");
    let notes = shops.place.lines(
        "SELECT COALESCE(before_json, '') || COALESCE(after_json, '') AS line FROM record_change \
         WHERE record = 'person'",
    );
    assert!(notes.iter().any(|note| note.contains("Tech North")), "{notes:?}");
    assert!(notes.iter().all(|note| !note.contains("argon2")), "{notes:?}");
}

fn a_closed_account_opens_nothing(shops: &Shops) {
    let manager = shops.person("manager.north");
    let technician = another(shops, "technician.north", "north");
    let new = json!({ "name": "bench", "scope": "read" });
    let made = technician.call("POST", "/api/v1/me/tokens").json(&new).send().expect(201).json();
    let program = shops
        .stranger()
        .with("authorization", format!("Bearer {}", text(&made["token"])))
        .within(format!("/api/v1/shops/{}", shops.id("north")));
    program.get("orders").expect(200);
    let place = format!("people/{}", person(&manager, "technician of north"));
    manager.patch(&place, &json!({ "active": false })).expect(200);
    technician.get("orders").problem(401, "not-signed-in");
    program.get("orders").problem(401, "not-signed-in");
    let closed = try_in(shops, "technician.north", PASSWORD).problem(401, "not-signed-in");
    assert_eq!(closed, try_in(shops, "nobody.north", PASSWORD).problem(401, "not-signed-in"));
    manager.patch(&place, &json!({ "active": true })).expect(200);
    let technician = another(shops, "technician.north", "north");
    // The token stays dead; another password ends what was open.
    program.get("orders").problem(401, "not-signed-in");
    manager.patch(&place, &json!({ "password": ANOTHER })).expect(200);
    technician.get("orders").problem(401, "not-signed-in");
    try_in(shops, "technician.north", PASSWORD).problem(401, "not-signed-in");
    let again = try_in(shops, "technician.north", ANOTHER).expect(200).json();
    // Without a sign-in name nothing that was opened before stays open.
    manager.patch(&place, &json!({ "sign_in_name": null })).expect(200);
    let bearer = format!("Bearer {}", text(&again["token"]));
    let session = shops.stranger().with("authorization", bearer);
    session.get("/api/v1/me").problem(401, "not-signed-in");
}

fn roles_are_given_and_taken_at_once(shops: &Shops) {
    let manager = shops.person("manager.north");
    let technician = shops.person("technician.north");
    let place = format!("people/{}", person(&manager, "technician of north"));
    let give = |client: &Client, role: &str| {
        client.post(&format!("{place}/roles"), &json!({ "role": role }))
    };
    let take = |client: &Client, role: &str| {
        client.call("DELETE", &format!("{place}/roles/{role}")).send()
    };
    let (order, _) = open(&manager, "RG 1", "engine.stalls");
    let front = || technician.patch(&format!("orders/{order}"), &json!({ "customer_name": "A" }));
    front().problem(403, "forbidden");
    let given = give(&manager, "adviser").expect(201).json();
    assert_eq!(given["roles"].as_array().unwrap().len(), 2);
    front().expect(200);
    // Giving it again changes nothing.
    let tag = manager.get(&place).tag();
    give(&manager, "adviser").expect(201);
    assert_eq!(manager.get(&place).tag(), tag);
    take(&manager, "technician").expect(204);
    assert_eq!(roles(&technician), json!(["adviser"]));
    take(&manager, "technician").problem(404, "not-found");
    take(&manager, "adviser").problem(409, "conflict");
    for role in ["service_manager", "owner", "administrator"] {
        give(&manager, role).problem(403, "forbidden");
    }
    let own = format!("people/{}", person(&manager, "manager of north"));
    manager.post(&format!("{own}/roles"), &json!({ "role": "adviser" })).problem(403, "forbidden");
    let office = shops.person("administrator.riverside");
    give(&office, "service_manager").expect(201);
    take(&manager, "service_manager").problem(403, "forbidden");
    take(&office, "service_manager").expect(204);
    let noted = shops.place.lines(
        "SELECT action || ' ' || COALESCE(after_json, before_json) AS line FROM record_change \
         WHERE record = 'role' ORDER BY change_no",
    );
    let words: Vec<&str> = noted.iter().filter_map(|line| line.split(' ').next()).collect();
    assert_eq!(words, ["added", "removed", "added", "removed"]);
    assert!(noted[0].contains("\"role\":\"adviser\""), "{noted:?}");
}

fn an_administrator_stays(shops: &Shops) {
    let office = shops.person("administrator.riverside");
    let own = format!("people/{}", person(&office, "administrator of riverside"));
    let take =
        |client: &Client| client.call("DELETE", &format!("{own}/roles/administrator")).send();
    take(&office).problem(403, "forbidden");
    for change in [json!({ "active": false }), json!({ "sign_in_name": null })] {
        office.patch(&own, &change).problem(403, "forbidden");
    }
    let disable = || {
        let arguments = ["user", "disable", "--sign-in", "administrator.riverside"];
        Program::new(&shops.place, &arguments).run("").status.code()
    };
    assert_eq!(disable(), Some(1));
    let manager = shops.person("manager.north");
    let place = format!("people/{}/roles", person(&office, "manager of north"));
    office.post(&place, &json!({ "role": "administrator" })).expect(201);
    manager.patch(&own, &json!({ "name": "The office" })).expect(200);
    assert_eq!(disable(), Some(0));
    office.get("people").problem(401, "not-signed-in");
}

fn the_own_password_ends_other_sessions(shops: &Shops) {
    let here = another(shops, "adviser.north", "north");
    let there = another(shops, "adviser.north", "north");
    let change = |old: &str, new: &str| {
        let body = json!({ "old_password": old, "new_password": new });
        here.call("PUT", "/api/v1/me/password").json(&body).send()
    };
    assert_eq!(change(ANOTHER, "twelve quiet hedges").pointers(), ["/old_password"]);
    assert_eq!(change(PASSWORD, "short").pointers(), ["/new_password"]);
    assert_eq!(change(PASSWORD, PASSWORD).pointers(), ["/new_password"]);
    there.get("orders").expect(200);
    change(PASSWORD, ANOTHER).expect(204);
    there.get("orders").problem(401, "not-signed-in");
    here.get("orders").expect(200);
    try_in(shops, "adviser.north", PASSWORD).problem(401, "not-signed-in");
    try_in(shops, "adviser.north", ANOTHER).expect(200);
    // Guessing the old one waits as a sign-in does.
    for _ in 0..5 {
        change(PASSWORD, "twelve quiet hedges");
    }
    change(ANOTHER, "twelve quiet hedges").problem(429, "too-many-tries");
}

fn sessions_are_seen_and_ended(shops: &Shops) {
    let here = another(shops, "technician.north", "north").with("user-agent", "x".repeat(400));
    visitor(shops.base(), "technician.north", PASSWORD);
    let there = another(shops, "technician.north", "north");
    let list = |client: &Client, place: &str| {
        client.get(place).expect(200).json()["items"].as_array().unwrap().clone()
    };
    let sessions = list(&here, "/api/v1/me/sessions");
    assert_eq!(sessions.len(), 3);
    assert!(sessions.iter().all(|session| text(&session["id"]).len() == 16));
    let current: Vec<&Value> =
        sessions.iter().filter(|session| session["current"] == true).collect();
    assert_eq!(current.len(), 1);
    let own = list(&there, "/api/v1/me/sessions");
    let that = own.iter().find(|session| session["current"] == true).unwrap();
    let end = |id: &Value| here.call("DELETE", &format!("/api/v1/me/sessions/{}", text(id))).send();
    end(&that["id"]).expect(204);
    end(&that["id"]).problem(404, "not-found");
    there.get("orders").problem(401, "not-signed-in");
    here.call("DELETE", "/api/v1/me/sessions").send().expect(204);
    assert_eq!(list(&here, "/api/v1/me/sessions").len(), 1);
    // The manager ends a technician's, and no owner's.
    let manager = shops.person("manager.north");
    let place = format!("people/{}/sessions", person(&manager, "technician of north"));
    let id = text(&list(&manager, &place)[0]["id"]).to_owned();
    manager.call("DELETE", &format!("{place}/{id}")).send().expect(204);
    here.get("orders").problem(401, "not-signed-in");
    let owner = format!("people/{}/sessions", person(&manager, "owner of riverside"));
    manager.get(&owner).problem(403, "forbidden");
    let agents = "SELECT COALESCE(agent, '') AS line FROM session";
    assert!(shops.place.lines(agents).iter().all(|agent| agent.len() <= 300));
}

fn people_are_kept_on_pages(shops: &Shops) {
    let manager = shops.visitor("manager.north", "north");
    let page = manager.get("people").expect(200);
    let add = form(&page, "/people").fill("name", "Rosa Q").fill("sign_in_name", "rosa");
    let short = add.fill("role", "technician").fill("password", "short").send(&manager).expect(422);
    assert!(short.body.contains("15 characters") && !short.body.contains("value=\"short\""));
    let add = form(&short, "/people").fill("role", "technician").fill("password", ANOTHER);
    let page = add.follow(&manager);
    assert!(page.body.contains("Rosa Q") && !page.body.contains("service_manager"));
    try_in(shops, "rosa", ANOTHER).expect(200);
    let id = person(&shops.person("manager.north"), "Rosa Q");
    let page = manager.get(&format!("people/{id}")).expect(200);
    let page = form(&page, "/password").fill("password", PASSWORD).follow(&manager);
    try_in(shops, "rosa", PASSWORD).expect(200);
    let page = form(&page, "/pin").fill("pin", "135790").follow(&manager);
    let page = form(&page, "/roles").fill("role", "adviser").follow(&manager);
    let page = form(&page, "/sessions/removal").follow(&manager);
    assert!(page.body.contains("Nowhere just now"));
    let page = form(&page, "/active").fill("active", "no").follow(&manager);
    assert!(page.body.contains("Open the account again"));
    try_in(shops, "rosa", PASSWORD).problem(401, "not-signed-in");
    let stale = form(&page, "/active").fill("version", "1").fill("active", "yes").send(&manager);
    assert!(stale.expect(412).body.contains("Somebody else changed this"));

    // The own page: a form that lost its token says what to do about it.
    let technician = shops.visitor("technician.north", "north");
    let page = technician.get("/me").expect(200);
    let lost = form(&page, "/me/pin").without("form_token").send(&technician).expect(403);
    assert!(lost.body.contains("Load the page again") && !lost.body.contains("Your role may not"));
    let wrong = form(&page, "/me/pin").fill("password", ANOTHER).fill("pin", "135790");
    assert!(wrong.send(&technician).expect(422).body.contains("not your password"));
    let page =
        form(&page, "/me/pin").fill("password", PASSWORD).fill("pin", "135790").follow(&technician);
    assert!(page.body.contains("You have a PIN"));
    let token = form(&page, "/me/tokens").fill("name", "Bench PC").fill("scope", "read");
    let shown = token.fill("ends_at", "2199-12-31").send(&technician).expect(200);
    assert!(shown.body.contains("onetrip_"));
    let page = technician.get("/me").expect(200);
    assert!(page.body.contains("Bench PC") && !page.body.contains("onetrip_"));
    let page = form(&page, "/removal").follow(&technician);
    assert!(page.body.contains("revoked"));
    let change = form(&page, "/me/password").fill("old_password", PASSWORD);
    change.fill("new_password", ANOTHER).follow(&technician);
    try_in(shops, "technician.north", ANOTHER).expect(200);
}

fn the_command_line_keeps_accounts(shops: &Shops) {
    let run = |arguments: &[&str], input: &str| {
        Program::new(&shops.place, &[&["user"], arguments].concat()).run(input)
    };
    let listed = String::from_utf8(run(&["list"], "").stdout).unwrap();
    assert!(listed.contains("adviser of north\tadviser.north\topen\tadviser of north"), "{listed}");
    // Who asked a moment ago is known to the server, until the record says else.
    let held = another(shops, "adviser.north", "north");
    held.get("orders").expect(200);
    let name = ["--sign-in", "adviser.north"];
    let password = [&["password"][..], &name, &["--password-stdin"]].concat();
    assert_eq!(run(&password, "short\n").status.code(), Some(2));
    assert!(run(&password, &format!("{ANOTHER}\n")).status.success());
    held.get("orders").problem(401, "not-signed-in");
    let token = try_in(shops, "adviser.north", ANOTHER).expect(200).json()["token"].clone();
    let again = shops.stranger().with("authorization", format!("Bearer {}", text(&token)));
    again.get("/api/v1/me").expect(200);
    assert!(run(&[&["disable"][..], &name].concat(), "").status.success());
    again.get("/api/v1/me").problem(401, "not-signed-in");
    try_in(shops, "adviser.north", ANOTHER).problem(401, "not-signed-in");
    assert!(run(&[&["enable"][..], &name].concat(), "").status.success());
    try_in(shops, "adviser.north", ANOTHER).expect(200);
    let nobody = run(&["disable", "--sign-in", "nobody"], "");
    assert_eq!(nobody.status.code(), Some(1));
}
