//! The gate under load: who may no longer do something is refused at once, and how
//! long an answer takes tells nobody who is known.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use serde_json::json;

use super::scale::trials;
use super::support::shops::PASSWORD;
use super::support::visit::{person, text};
use super::support::{Client, Place, Server, Shops};
use super::timing::chance;

/// Requests in flight while rights change.
const ASKING: usize = 4;

/// Asks without end until told to stop: when each was sent, and its status.
fn hammer(client: &Client, path: &str, over: &AtomicBool, seen: &Mutex<Vec<(Instant, u16)>>) {
    while !over.load(Ordering::Relaxed) {
        let sent = Instant::now();
        let status = client.get(path).status;
        seen.lock().unwrap().push((sent, status));
    }
}

fn bearer(shops: &Shops, name: &str) -> Client {
    let body = json!({ "sign_in_name": name, "password": PASSWORD });
    let answer = shops.stranger().call("POST", "/api/v1/sessions").json(&body).send().expect(200);
    let token = text(&answer.json()["token"]).to_owned();
    shops.stranger().with("authorization", format!("Bearer {token}"))
}

/// One change while others ask: whatever was sent after it was answered must meet
/// it. Answers how many did.
fn once_changed(asker: &Client, path: &str, refused: u16, change: impl FnOnce()) -> usize {
    let (over, seen) = (AtomicBool::new(false), Mutex::new(Vec::new()));
    let changed = std::thread::scope(|scope| {
        for _ in 0..ASKING {
            scope.spawn(|| hammer(asker, path, &over, &seen));
        }
        std::thread::sleep(Duration::from_millis(30));
        change();
        let changed = Instant::now();
        std::thread::sleep(Duration::from_millis(60));
        over.store(true, Ordering::Relaxed);
        changed
    });
    let seen = seen.into_inner().unwrap();
    assert!(seen.iter().any(|(sent, status)| *sent < changed && *status == 200), "{seen:?}");
    let after: Vec<u16> =
        seen.into_iter().filter(|(sent, _)| *sent >= changed).map(|(_, status)| status).collect();
    assert!(after.iter().all(|status| *status == refused), "{after:?}");
    after.len()
}

fn rights_change_at_once(test: &str, place: Place) {
    let rounds = trials(8, 100);
    let shops = Shops::open(place);
    let (manager, north) = (shops.person("manager.north"), shops.id("north"));
    let office = shops.person("administrator.riverside");
    let id = person(&manager, "helper of north");
    let people = format!("/api/v1/shops/{north}/people/{id}");
    let mut asked = 0;
    for _ in 0..rounds {
        // A role that is taken.
        office
            .post(&format!("people/{id}/roles"), &json!({ "role": "service_manager" }))
            .expect(201);
        let asker = bearer(&shops, "helper.north");
        let figures = format!("/api/v1/shops/{north}/people");
        asked += once_changed(&asker, &figures, 403, || {
            let path = format!("{people}/roles/service_manager");
            office.call("DELETE", &path).send().expect(204);
        });
        // An account that is closed.
        let orders = format!("/api/v1/shops/{north}/orders");
        asked += once_changed(&asker, &orders, 401, || {
            office.patch(&people, &json!({ "active": false })).expect(200);
        });
        office.patch(&people, &json!({ "active": true })).expect(200);
    }
    assert!(asked > rounds, "{asked}");
    println!(
        "{test}: {rounds} roles taken, {rounds} accounts closed, {asked} requests after, all refused"
    );
}

#[test]
fn rights_change_at_once_on_sqlite() {
    rights_change_at_once("rights_change_at_once_on_sqlite", Place::sqlite());
}

#[test]
fn rights_change_at_once_on_postgres() {
    if let Some(place) = Place::postgres() {
        rights_change_at_once("rights_change_at_once_on_postgres", place);
    }
}

/// What is told, but for what is the request's own.
fn told(shops: &Shops, name: &str) -> (Duration, String) {
    let body = json!({ "sign_in_name": name, "password": "not the one I chose" });
    let begun = Instant::now();
    let answer = shops.stranger().call("POST", "/api/v1/sessions").json(&body).send();
    let took = begun.elapsed();
    let own = ["x-request-id", "date"];
    let headers: std::collections::BTreeMap<&str, &str> = answer
        .headers
        .iter()
        .map(|(name, value)| (name.as_str(), value.to_str().unwrap()))
        .filter(|(name, _)| !own.contains(name))
        .collect();
    (took, format!("{} {headers:?} {}", answer.status, answer.body))
}

/// Unknown, known and closed accounts are answered alike, also where they are held
/// up; in the long form nobody can tell them by how long it takes. The clock is
/// moved past every wait between two rounds.
#[test]
fn nobody_learns_who_is_known() {
    const NAMES: [&str; 3] = ["adviser.north", "nobody.north", "helper.north"];
    let pairs = trials(10, 2_000);
    let place = Place::sqlite();
    place.run("UPDATE person SET active = FALSE WHERE sign_in_name = 'helper.north'");
    let clock = std::env::temp_dir().join(format!("onetrip-clock-{}", uuid::Uuid::new_v4()));
    let mut now = super::support::now();
    std::fs::write(&clock, now.to_rfc3339()).unwrap();
    let server = Server::with(&place, &["--clock-file", clock.to_str().unwrap()]);
    let shops = Shops::served(place, server);
    let mut took: [Vec<Duration>; 3] = Default::default();
    for round in 0..pairs {
        now += chrono::TimeDelta::minutes(16);
        std::fs::write(&clock, now.to_rfc3339()).unwrap();
        let mut words: [String; 3] = Default::default();
        // Who is first changes from round to round.
        for turn in 0..3 {
            let name = (round + turn) % 3;
            let (time, answer) = told(&shops, NAMES[name]);
            took[name].push(time);
            words[name] = answer;
        }
        let alike = words[0] == words[1] && words[0] == words[2];
        assert!(words[0].starts_with("401 ") && alike, "{round}: {words:#?}");
    }
    // Held up they are told the same, too: the wait as well.
    let held = NAMES.map(|name| told(&shops, name).1);
    assert!(held[0].starts_with("429 ") && held[0] == held[1] && held[0] == held[2], "{held:?}");
    drop(std::fs::remove_file(&clock));
    let areas = [chance(&took[0], &took[1]), chance(&took[0], &took[2])];
    println!("nobody_learns_who_is_known: {pairs} pairs, areas under the curve {areas:.3?}");
    if pairs >= 2_000 {
        assert!(areas.iter().all(|area| (0.45..=0.55).contains(area)), "{areas:?}");
    }
}

/// The measure sees a difference where there is one.
#[test]
fn a_slower_answer_is_seen() {
    let quick: Vec<Duration> = (0..200).map(|n| Duration::from_micros(30_000 + n * 10)).collect();
    let slow: Vec<Duration> = quick.iter().map(|time| *time + Duration::from_millis(1)).collect();
    assert!((chance(&quick, &quick) - 0.5).abs() < 1e-9);
    assert!(chance(&slow, &quick) > 0.55);
}
