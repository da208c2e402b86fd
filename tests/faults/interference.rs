//! Two records that differ in another shop alone: whoever asks in this one is
//! answered the same, to the last byte.

use rand::Rng;
use rand::seq::IndexedRandom;
use serde_json::json;

use super::scale::{dice, trials};
use super::support::folder::Folder;
use super::support::visit::{finish, open, text};
use super::support::{Client, Place, Server, Shops, now};

/// What is asked for in a shop; `{}` stands for an id.
const PATHS: [&str; 30] = [
    "orders",
    "orders?limit=3",
    "orders?status=open",
    "orders/{}",
    "orders/{}/audit",
    "vehicles",
    "vehicles?limit=2",
    "vehicles?plate=BOTH 1",
    "vehicles/{}",
    "jobs/{}",
    "jobs/{}/checks",
    "people",
    "codes",
    "changes",
    "changes?after=2",
    "audit",
    "comebacks",
    "comebacks/{}",
    "plans",
    "rules",
    "stock",
    "actions",
    "attendance",
    "tablets",
    "reports/weekly",
    "reports/comebacks",
    "reports/labor?by=technician",
    "reports/paths",
    "reports/reuse",
    "reports/repeats",
];

struct Pair {
    alike: Place,
    other: Place,
    /// Ids of this shop and of the other one.
    ids: Vec<String>,
    client: Client,
    shop: String,
}

/// Work in both shops, then more in the other one on one of two copies.
fn pair(place: Place) -> Pair {
    let mut shops = Shops::open(place);
    let north = shops.person("manager.north");
    let mut ids = Vec::new();
    for number in 0..6 {
        let (order, job) = open(&north, &format!("BOTH {number}"), "engine.stalls");
        if number < 4 {
            finish(&north, &order, &job, "air-filter");
        }
        ids.extend([order, job]);
    }
    // Signed in already: the copies know the tokens.
    drop(shops.person("manager.south"));
    let shop = format!("/api/v1/shops/{}", shops.id("north"));
    shops.server().stop();
    let (alike, other) = (shops.place.copied(), shops.place.copied());
    let mut there = Shops::open(other);
    let south = there.person("manager.south");
    for number in 0..9 {
        let (order, job) = open(&south, &format!("BOTH {number}"), "engine.stalls");
        let part =
            json!({ "name": "air filter", "disposition": "cleaned_reused", "role": "suspect" });
        south.post(&format!("jobs/{job}/parts"), &part).expect(201);
        let code = json!({ "list": "check", "code": format!("own-{number}"), "label": format!("Own {number}") });
        south.post("codes", &code);
        finish(&south, &order, &job, "air-filter");
        ids.extend([order, job]);
    }
    let vehicles = there.place.lines("SELECT id AS line FROM vehicle");
    ids.extend(vehicles);
    assert!(there.place.count("FROM repair_order") == 15 && alike.count("FROM repair_order") == 6);
    there.server().stop();
    let other = there.place.copied();
    Pair { alike, other, ids, client: north, shop }
}

fn another_shop_changes_nothing(test: &str, place: Place) {
    let Pair { alike, other, ids, client, shop } = pair(place);
    let clock = Folder::new();
    let file = clock.path().join("clock");
    // Sessions stand, and the day of the visits is a complete one.
    std::fs::write(&file, (now() + chrono::Duration::hours(10)).to_rfc3339()).unwrap();
    let with = ["--clock-file", file.to_str().unwrap()];
    let servers = [Server::with(&alike, &with), Server::with(&other, &with)];
    let clients = [0, 1].map(|at| client.clone().moved_to(&servers[at].base).within(shop.clone()));
    let mut dice = dice(test);
    let requests = trials(100, 1_000);
    let (mut found, mut refused) = (0, 0);
    for at in 0..requests {
        // Each at least once, then by the dice.
        let path = PATHS.get(at).unwrap_or_else(|| PATHS.choose(&mut dice).unwrap());
        let random = uuid::Uuid::from_u128(dice.random()).to_string();
        let id = if dice.random_bool(0.9) { ids.choose(&mut dice).unwrap() } else { &random };
        let path = path.replace("{}", id).replace(' ', "%20");
        let answers = clients.each_ref().map(|client| client.get(&path));
        let told = answers.each_ref().map(|answer| {
            (
                answer.status,
                answer.body.clone(),
                answer.header("etag").to_owned(),
                answer.header("link").to_owned(),
            )
        });
        assert!(told[0] == told[1], "{path}:\n{:?}\n{:?}", told[0], told[1]);
        found += usize::from(told[0].0 == 200);
        refused += usize::from(told[0].0 == 404);
    }
    assert!(found > requests / 4 && refused > 0, "{found} found, {refused} not");
    // The next number goes by this shop alone.
    let numbers = clients.map(|client| {
        let order = super::support::visit::write_up("NEXT 1", "engine.stalls");
        text(&client.post("orders", &order).expect(201).json()["order_no"]).to_owned()
    });
    assert_eq!(numbers[0], numbers[1]);
    println!("{test}: {requests} requests, {found} found, {refused} not there, all alike");
}

#[test]
fn alike_on_sqlite() {
    another_shop_changes_nothing("alike_on_sqlite", Place::sqlite());
}

#[test]
fn alike_on_postgres() {
    if let Some(place) = Place::postgres() {
        another_shop_changes_nothing("alike_on_postgres", place);
    }
}
