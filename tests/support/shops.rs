//! The shops that the tests work in, their people, and a server over them.
//!
//! Group Riverside has the shops `north` and `south`, group Uplands the shop
//! `far`. Somebody of one shop signs in as `role.shop`, of a group as
//! `role.group`.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use serde_json::json;

use super::client::Client;
use super::place::Place;
use super::program::{Program, Server};

/// Of everybody.
pub const PASSWORD: &str = "lamp river seven chair";

pub const GROUPS: [(&str, &[&str]); 2] =
    [("riverside", &["north", "south"]), ("uplands", &["far"])];
/// A sign-in's first word, and the word of the role.
pub const OF_SHOP: [(&str, &str); 4] = [
    ("technician", "technician"),
    ("helper", "technician"),
    ("adviser", "adviser"),
    ("manager", "service-manager"),
];
pub const OF_GROUP: [(&str, &str); 2] = [("owner", "owner"), ("administrator", "administrator")];

/// A record with the shops, served.
pub struct Shops {
    // Before the place: the server ends first.
    server: Server,
    pub place: Place,
    ids: HashMap<String, String>,
    tokens: Mutex<HashMap<String, String>>,
}

fn add(place: &Place, group: &str, shop: Option<&str>, first: &str, role: &str) {
    let sign_in = format!("{first}.{}", shop.unwrap_or(group));
    let name = sign_in.replace('.', " of ");
    let mut arguments = vec!["user", "add", "--group", group, "--name", &name];
    arguments.extend(["--sign-in", &sign_in, "--role", role, "--password-stdin"]);
    if let Some(shop) = shop {
        arguments.extend(["--shop", shop]);
    }
    Program::new(place, &arguments).must(&format!("{PASSWORD}\n"));
}

/// Makes shops and people in an empty place, by the ways that a user has.
pub fn furnish(place: &Place) {
    for (group, _) in GROUPS {
        for (first, role) in OF_GROUP {
            add(place, group, None, first, role);
        }
    }
    let server = Server::start(place);
    for (group, codes) in GROUPS {
        let client = signed_in(&server, &format!("administrator.{group}"));
        for code in codes {
            let shop = json!({
                "code": code, "name": format!("Shop {code}"), "time_zone": "America/Chicago",
                "currency": "USD", "labor_cost_minor": 9000, "posted_rate_minor": 14000,
                "window_days": 60,
            });
            client.post("/api/v1/shops", &shop).expect(201);
        }
    }
    drop(server);
    for (group, codes) in GROUPS {
        for code in codes {
            for (first, role) in OF_SHOP {
                add(place, group, Some(code), first, role);
            }
        }
    }
}

fn token(server: &Server, sign_in: &str) -> String {
    let body = json!({ "sign_in_name": sign_in, "password": PASSWORD });
    let answer = Client::new(&server.base).call("POST", "/api/v1/sessions").json(&body).send();
    answer.expect(200).json()["token"].as_str().unwrap().to_owned()
}

fn signed_in(server: &Server, sign_in: &str) -> Client {
    Client::new(&server.base).with("authorization", format!("Bearer {}", token(server, sign_in)))
}

impl Shops {
    pub fn open(place: Place) -> Self {
        let server = Server::start(&place);
        Self::served(place, server)
    }

    /// Served already.
    pub fn served(place: Place, server: Server) -> Self {
        let codes = place.lines("SELECT code || ' ' || public_id AS line FROM shop");
        let ids = codes
            .iter()
            .map(|line| line.split_once(' ').unwrap())
            .map(|(code, id)| (code.to_owned(), id.to_owned()))
            .collect();
        Self { server, place, ids, tokens: Mutex::default() }
    }

    /// As when the box is switched off.
    pub fn kill(&mut self) {
        self.server.kill();
    }

    pub fn restart(&mut self) {
        self.serve(Server::start(&self.place));
    }

    /// Served by this one from now on.
    pub fn serve(&mut self, server: Server) {
        self.server = server;
    }

    pub fn server(&mut self) -> &mut Server {
        &mut self.server
    }

    pub fn base(&self) -> &str {
        &self.server.base
    }

    /// The shop's id outside the program.
    pub fn id(&self, code: &str) -> &str {
        &self.ids[code]
    }

    /// Somebody who has not signed in.
    pub fn stranger(&self) -> Client {
        Client::new(self.base())
    }

    /// Somebody with a token, working in the own shop (the first of the group).
    pub fn person(&self, sign_in: &str) -> Client {
        let (_, at) = sign_in.split_once('.').unwrap();
        let first = GROUPS.iter().find(|(group, _)| *group == at).map(|(_, codes)| codes[0]);
        self.person_at(sign_in, first.unwrap_or(at))
    }

    /// Somebody with a token, working in that shop.
    pub fn person_at(&self, sign_in: &str, shop: &str) -> Client {
        let mut tokens = self.tokens.lock().unwrap_or_else(PoisonError::into_inner);
        let token = tokens
            .entry(sign_in.to_owned())
            .or_insert_with(|| token(&self.server, sign_in))
            .clone();
        Client::new(self.base())
            .with("authorization", format!("Bearer {token}"))
            .within(format!("/api/v1/shops/{}", self.id(shop)))
    }

    /// The token is dead: sign in again the next time.
    pub fn forget(&self, sign_in: &str) {
        self.tokens.lock().unwrap_or_else(PoisonError::into_inner).remove(sign_in);
    }

    /// Somebody at the pages, by cookie, in that shop.
    pub fn visitor(&self, sign_in: &str, shop: &str) -> Client {
        visitor(self.base(), sign_in, PASSWORD).within(format!("/shops/{shop}"))
    }
}

/// Somebody who has signed in on the page.
pub fn visitor(base: &str, sign_in: &str, password: &str) -> Client {
    let fields = [("sign_in_name", sign_in), ("password", password)];
    let answer = Client::new(base).call("POST", "/sign-in").form(&fields).send().expect(303);
    let cookie = answer.header("set-cookie").split(';').next().unwrap().to_owned();
    Client::new(base).with("cookie", cookie)
}
