//! Every route asked by every role in every shop.

use serde_json::{Value, json};

use super::expected::{ROLES, Who, who};
use super::routes::{self, Route};
use crate::support::visit::{finish, open, text};
use crate::support::{Answer, Client, Shops, on_each_database};

on_each_database!(every_route_by_every_role_in_every_shop);

const NOBODY: &str = "00000000-0000-7000-8000-000000000000";
/// A part that the own shop has entered times of.
const PART: &str = "IAV-7";

/// Whose shop the address names, seen from who asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Where {
    Own,
    Sister,
    OtherGroup,
    Nowhere,
}

pub(super) const PLACES: [Where; 4] =
    [Where::Own, Where::Sister, Where::OtherGroup, Where::Nowhere];

/// What stands in the own shop, for addresses that name it.
pub(super) struct Things {
    order: String,
    job: String,
    vehicle: String,
    comeback: String,
    action: String,
    rule: String,
    /// Somebody of the floor, who asks for nothing here.
    person: String,
    plan: String,
    sheet: String,
    reading_list: String,
}

impl Things {
    pub fn make(shops: &Shops, shop: &str) -> Self {
        let manager = shops.person(&format!("manager.{shop}"));
        let (order, job) = open(&manager, "AC 1", "engine.stalls");
        finish(&manager, &order, &job, "air-filter");
        let (order, job) = open(&manager, "AC 1", "engine.stalls");
        let whole = manager.get(&format!("orders/{order}")).expect(200).json();
        let times = json!({ "access_minutes": 30 });
        let put = manager.call("PUT", &format!("part-policies/{PART}"));
        put.json(&times).send().expect(200);
        let id = |value: &Value| text(value).to_owned();
        let rule = json!({
            "kind": "free_text", "title": "torque twice", "words": "a second person looks",
            "evidence": "two came back loose",
        });
        let sheet = json!({ "vehicle_id": whole["vehicle_id"], "purpose": "preparation" });
        let sheet = manager.post("reading-sheets", &sheet).expect(201).json();
        let comeback = id(&whole["comebacks"][0]["id"]);
        // About the technician who asks.
        let named = json!({
            "technician_id": crate::support::visit::person(&manager, &format!("technician of {shop}")),
        });
        manager.post(&format!("comebacks/{comeback}/enquiry"), &named).expect(201);
        let action = json!({ "kind": "other", "words": "a lamp at bay 3" });
        Self {
            order,
            job,
            vehicle: id(&whole["vehicle_id"]),
            comeback,
            action: id(&manager.post("actions", &action).expect(201).json()["id"]),
            rule: id(&manager.post("rules", &rule).expect(201).json()["id"]),
            sheet: id(&sheet["id"]),
            reading_list: id(&sheet["list_id"]),
            person: crate::support::visit::person(&manager, &format!("helper of {shop}")),
            plan: id(&manager
                .post("plans", &serde_json::json!({ "symptom": "engine.tick" }))
                .expect(201)
                .json()["id"]),
        }
    }

    /// What is nowhere; people are known to all shops of their group.
    pub fn nowhere(person: &str) -> Self {
        let nobody = || NOBODY.to_owned();
        Self {
            order: nobody(),
            job: nobody(),
            vehicle: nobody(),
            comeback: nobody(),
            action: nobody(),
            rule: nobody(),
            person: person.to_owned(),
            plan: nobody(),
            sheet: nobody(),
            reading_list: nobody(),
        }
    }

    /// As it stands, with another person.
    pub fn with_person(self, person: &str) -> Self {
        Self { person: person.to_owned(), ..self }
    }

    pub fn person(&self) -> &str {
        &self.person
    }

    pub fn address(&self, route: &Route, shop: &str) -> String {
        let path = route.path.replace("{shop}", shop).replace("{order}", &self.order);
        let path = path.replace("{job}", &self.job).replace("{vehicle}", &self.vehicle);
        let path = path.replace("{comeback}", &self.comeback).replace("{id}", NOBODY);
        let path = path.replace("{person}", &self.person).replace("{role}", "adviser");
        let path = path.replace("{session}", "0000000000000000").replace("{token}", NOBODY);
        let path = path.replace("{tablet}", NOBODY);
        let path = path.replace("{plan}", &self.plan).replace("{version}", NOBODY);
        let path = path.replace("{symptom}", "engine.tick");
        let lists = if path.contains("code") { "symptom" } else { &self.reading_list };
        let path = path.replace("{sheet}", &self.sheet);
        let path = path.replace("{list}", lists).replace("{code}", "engine.stalls");
        let path = path.replace("{day}", "2026-03-02").replace("{rule}", &self.rule);
        let path = path.replace("{action}", &self.action);
        let path = path.replace("{kind}", "stale").replace("{file}", "app.css");
        // Who may take it away leaves it for those who ask after.
        let part = if route.method == "DELETE" { NOBODY } else { PART };
        let path = path.replace("{part}", part).replace("{silence}", NOBODY);
        // The reports that are not made without being told of what.
        if path.ends_with("/effect") {
            format!("{path}?start=2026-01-01&review=2026-03-01")
        } else if path.ends_with("/reports/estimate") {
            format!("{path}?part={PART}&role=suspect&curable=no")
        } else {
            path
        }
    }
}

/// Somebody who asks: by token for programs, by cookie for pages.
pub(super) struct Asker {
    pub role: &'static str,
    pub program: Client,
    pub visitor: Client,
    pub form_token: String,
}

impl Asker {
    pub fn sign_in(shops: &Shops, role: &'static str) -> Self {
        let at = if ["owner", "administrator"].contains(&role) { "riverside" } else { "north" };
        let name = format!("{role}.{at}");
        shops.forget(&name);
        let visitor = shops.visitor(&name, "north");
        let tokens = shops.place.lines(&format!(
            "SELECT form_token AS line FROM session JOIN person ON person.id = session.person_id \
             WHERE kind = 'page' AND sign_in_name = '{name}' ORDER BY session.created_at DESC"
        ));
        Self { role, program: shops.person(&name), visitor, form_token: tokens[0].clone() }
    }
}

/// Sends what the route takes, with nothing in it: who is let through is told
/// what is missing, and nothing is changed.
pub(super) fn send(client: &Client, form_token: &str, route: &Route, address: &str) -> Answer {
    let call = client.call(&route.method, address);
    match (route.method.as_str(), route.is_api()) {
        ("GET" | "DELETE", _) => call.send(),
        (_, true) => call.json(&json!({})).send(),
        (_, false) => call.form(&[("form_token", form_token)]).send(),
    }
}

/// Ending one's session would end the test's.
pub(super) fn ends_the_session(route: &Route) -> bool {
    let others = route.method == "DELETE" && route.path == "/api/v1/me/sessions";
    let ends = ["/sign-out", "/api/v1/sessions/current", "/me/sessions/others"];
    others || ends.contains(&route.path.as_str())
}

fn every_route_by_every_role_in_every_shop(shops: &Shops) {
    let things = Things::make(shops, "north");
    let mut cells = 0;
    for route in routes::all() {
        let places = if route.path.contains("{shop}") { &PLACES[..] } else { &PLACES[..1] };
        for place in places {
            let address = things.address(&route, &shop_of(shops, &route, *place));
            shut_out(&shops.stranger(), "nobody", &route, &address);
            cells += 1;
        }
    }
    for role in ROLES {
        let mut asker = Asker::sign_in(shops, role);
        for route in routes::all() {
            cells += by_role(shops, &things, &asker, &route);
            if ends_the_session(&route) {
                asker = Asker::sign_in(shops, role);
            }
        }
    }
    println!("{cells} cells of the access table held");
    assert!(cells > 1_000, "{cells}");
}

pub(super) fn shop_of(shops: &Shops, route: &Route, place: Where) -> String {
    let code = match place {
        Where::Own => "north",
        Where::Sister => "south",
        Where::OtherGroup => "far",
        Where::Nowhere if route.is_api() => return NOBODY.to_owned(),
        Where::Nowhere => return "nowhere".to_owned(),
    };
    if route.is_api() { shops.id(code).to_owned() } else { code.to_owned() }
}

/// Whoever is nobody here is told to sign in, whatever the address.
pub(super) fn shut_out(client: &Client, name: &str, route: &Route, address: &str) {
    let answer = send(client, "", route, address);
    let said = format!("{} {address} by {name}: {}", route.method, answer.status);
    match who(route).expect("written down") {
        Who::Anybody => assert!(answer.status < 500 && answer.status != 403, "{said}"),
        _ if route.is_api() => assert_eq!(answer.status, 401, "{said}"),
        _ => {
            assert_eq!(answer.status, 303, "{said}");
            assert_eq!(answer.header("location"), "/sign-in", "{said}");
        }
    }
}

/// The cells of one route and role.
fn by_role(shops: &Shops, things: &Things, asker: &Asker, route: &Route) -> usize {
    let may = has_role(route, asker.role);
    cells(shops, things, asker, route, may)
}

/// Whether somebody of the role may use the route in the own shop.
pub(super) fn has_role(route: &Route, role: &str) -> bool {
    match who(route).expect("written down") {
        Who::Anybody | Who::SignedIn => true,
        Who::Roles(roles) => roles.contains(&role),
    }
}

/// The route in every place, by somebody who may use it in the own shop or not.
pub(super) fn cells(
    shops: &Shops,
    things: &Things,
    asker: &Asker,
    route: &Route,
    may: bool,
) -> usize {
    let client = if route.is_api() { &asker.program } else { &asker.visitor };
    let ask = |place: Where| {
        let address = things.address(route, &shop_of(shops, route, place));
        send(client, &asker.form_token, route, &address)
    };
    let said = |place: Where, status: u16| {
        format!("{} {} by {} in {place:?}: {status}", route.method, route.path, asker.role)
    };
    let own = ask(Where::Own);
    if matches!(who(route), Some(Who::Anybody)) {
        // Signing in answers 401 to a password that does not fit.
        assert!(own.status < 500 && own.status != 403, "{}", said(Where::Own, own.status));
    } else {
        held(&own, route, may, &said(Where::Own, own.status));
    }
    if !route.path.contains("{shop}") {
        return 1;
    }
    let nowhere = ask(Where::Nowhere);
    assert_eq!(nowhere.status, 404, "{}", said(Where::Nowhere, nowhere.status));
    let mut foreign = vec![Where::OtherGroup];
    if ["owner", "administrator"].contains(&asker.role) {
        // All shops of the group are theirs; what the address names besides
        // belongs to another shop and is not found.
        let sister = ask(Where::Sister);
        let expected = if may { sister.status != 403 } else { sister.status == 403 };
        assert!(expected && sister.status != 401, "{}", said(Where::Sister, sister.status));
    } else {
        foreign.push(Where::Sister);
    }
    for place in foreign {
        let answer = ask(place);
        assert_eq!(answer.status, 404, "{}", said(place, answer.status));
        // What is not for these eyes looks like what is not there.
        assert_eq!(answer.body, nowhere.body, "{}", said(place, answer.status));
    }
    4
}

/// The own shop: let through, or refused by role.
fn held(answer: &Answer, route: &Route, may: bool, said: &str) {
    if !may {
        assert_eq!(answer.status, 403, "{said}");
        return;
    }
    assert!(![401, 403].contains(&answer.status) && answer.status < 500, "{said}: {}", answer.body);
    let reads = route.method == "GET" && route.path != "/";
    assert!(!reads || answer.status == 200, "{said}: {}", answer.body);
}
