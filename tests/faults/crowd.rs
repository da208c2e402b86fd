//! Many ask at once: the same thing again and again, or the next number.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use rand::Rng;
use serde_json::json;

use super::scale::{dice, trials};
use super::support::visit::text;
use super::support::{Client, Place, Server, Shops};

const THREADS: usize = 16;

/// Keys that are sent again and again: one effect each, and one answer.
fn a_storm(test: &str, place: Place) {
    let shops = Shops::open(place);
    let (keys, times) = (trials(40, 500), trials(15, 100));
    let mut dice = dice(test);
    let mut sendings: Vec<usize> = (0..keys * times).map(|at| at % keys).collect();
    for at in (1..sendings.len()).rev() {
        sendings.swap(at, dice.random_range(0..=at));
    }
    let keys: Vec<String> = (0..keys).map(|_| format!("{:032x}", dice.random::<u128>())).collect();
    let next = AtomicUsize::new(0);
    let answers: Mutex<BTreeMap<usize, BTreeSet<String>>> = Mutex::default();
    std::thread::scope(|scope| {
        for _ in 0..THREADS {
            scope.spawn(|| {
                let client = shops.person("manager.north");
                while let Some(&key) = sendings.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let order = json!({
                        "vehicle": { "plate": format!("STORM {key}") },
                        "jobs": [{ "complaint": keys[key], "symptom": "engine.stalls" }],
                    });
                    let call = client.call("POST", "orders").json(&order).key(&keys[key]);
                    let answer = call.send().expect(201);
                    answers.lock().unwrap().entry(key).or_default().insert(answer.body);
                }
            });
        }
    });
    let answers = answers.into_inner().unwrap();
    assert_eq!(answers.len(), keys.len());
    for (key, told) in &answers {
        assert_eq!(told.len(), 1, "{key}: {told:?}");
    }
    let mut made = shops.place.lines("SELECT complaint AS line FROM job");
    made.sort();
    let mut asked = keys.clone();
    asked.sort();
    assert_eq!(made, asked);
    println!("{test}: {} keys, each {times} times: one effect, one answer", keys.len());
}

#[test]
fn a_storm_on_sqlite() {
    a_storm("a_storm_on_sqlite", Place::sqlite());
}

#[test]
fn a_storm_on_postgres() {
    if let Some(place) = Place::postgres() {
        a_storm("a_storm_on_postgres", place);
    }
}

/// Three servers on one database write up orders, a tenth of which are refused; one
/// of the servers dies in the middle. The numbers have no gap and none is there
/// twice.
#[test]
fn three_servers_share_the_numbers() {
    let test = "three_servers_share_the_numbers";
    let Some(place) = Place::postgres() else { return };
    let shops = Shops::open(place);
    let mut others = [Server::start(&shops.place), Server::start(&shops.place)];
    let orders = trials(1_200, 50_000);
    let client = shops.person("manager.north");
    let clients: Vec<Client> = [shops.base(), &others[0].base, &others[1].base]
        .map(|base| client.clone().moved_to(base))
        .into();
    let (next, made) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let write_up = |number: usize| {
        let refused = number.is_multiple_of(10);
        let complaint = if refused { String::new() } else { format!("order {number}") };
        let order = json!({
            "vehicle": { "plate": format!("NUMBER {}", number % 500) },
            "jobs": [{ "complaint": complaint, "symptom": if refused { "no such" } else { "engine.stalls" } }],
        });
        let key = uuid::Uuid::new_v4().to_string();
        // A server that is gone is left for the next one.
        for turn in 0.. {
            let client = &clients[(number + turn) % clients.len()];
            let call = client.call("POST", "orders").json(&order).key(&key);
            let Ok(answer) = call.try_send() else { continue };
            if answer.status == 503 {
                continue;
            }
            let answer = answer.expect(if refused { 422 } else { 201 });
            if !refused {
                assert!(!text(&answer.json()["order_no"]).is_empty());
                made.fetch_add(1, Ordering::Relaxed);
            }
            return;
        }
    };
    std::thread::scope(|scope| {
        for _ in 0..THREADS {
            scope.spawn(|| {
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if number >= orders {
                        return;
                    }
                    write_up(number);
                }
            });
        }
        while next.load(Ordering::Relaxed) < orders / 2 {
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
        others[1].kill();
    });
    let made = made.into_inner();
    let numbers = shops.place.lines("SELECT order_no AS line FROM repair_order");
    let numbers: BTreeSet<i64> = numbers.iter().map(|number| number.parse().unwrap()).collect();
    assert!(numbers.into_iter().eq(1..=i64::try_from(made).unwrap()), "the numbers have a gap");
    println!("{test}: {orders} asked of three servers, {made} written up, numbers 1 to {made}");
}
