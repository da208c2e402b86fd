//! Many change one thing, and devices that were offline send what they have, in any
//! order and more than once.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};

use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};

use super::scale::{dice, trials};
use super::support::visit::open;
use super::support::{Client, Place, Shops};

/// Each edit is taken on the version that it was made on, or refused with the version
/// that stands; without a version it is asked for one.
fn edit_at_once(test: &str, place: Place) {
    let shops = Shops::open(place);
    let client = shops.person("adviser.north");
    let (order, _) = open(&client, "EDIT 1", "engine.stalls");
    let thing = format!("orders/{order}");
    let first = client.get(&thing).version();
    let (editors, edits) = (trials(5, 50), trials(20, 200));
    let (taken, refused) = (AtomicUsize::new(0), AtomicUsize::new(0));
    std::thread::scope(|scope| {
        for editor in 0..editors {
            let (client, thing, taken, refused) = (&client, &thing, &taken, &refused);
            scope.spawn(move || {
                for edit in 0..edits {
                    let change = json!({ "customer_name": format!("{editor} {edit}") });
                    let read = client.get(thing).expect(200);
                    client
                        .call("PATCH", thing)
                        .json(&change)
                        .send()
                        .problem(428, "version-missing");
                    let call = client.call("PATCH", thing).json(&change).if_match(&read.tag());
                    let answer = call.send();
                    if answer.status == 200 {
                        assert_eq!(answer.version(), read.version() + 1);
                        taken.fetch_add(1, Ordering::Relaxed);
                    } else {
                        let stands = answer.problem(412, "stale")["current_version"].clone();
                        assert!(stands.as_i64().unwrap() > read.version());
                        refused.fetch_add(1, Ordering::Relaxed);
                    }
                }
            });
        }
    });
    let (taken, refused) = (taken.into_inner(), refused.into_inner());
    assert_eq!(client.get(&thing).version() - first, i64::try_from(taken).unwrap());
    assert_eq!(taken + refused, editors * edits);
    println!("{test}: {editors} editors, {taken} edits taken, {refused} told of a newer version");
}

#[test]
fn edits_at_once_on_sqlite() {
    edit_at_once("edits_at_once_on_sqlite", Place::sqlite());
}

#[test]
fn edits_at_once_on_postgres() {
    if let Some(place) = Place::postgres() {
        edit_at_once("edits_at_once_on_postgres", place);
    }
}

const DEVICES: usize = 8;

/// What a device wrote while it was offline: a visit, and work on one that all know.
struct Message {
    key: String,
    path: String,
    body: Value,
}

impl Message {
    fn visit(key: &str, plate: &str) -> Self {
        let body = json!({
            "vehicle": { "plate": plate },
            "jobs": [{ "complaint": key, "symptom": "engine.stalls" }],
        });
        Self { key: key.to_owned(), path: "orders".to_owned(), body }
    }

    fn check(key: &str, job: &str) -> Self {
        let body = json!({ "code": "road-test", "position": key });
        Self { key: key.to_owned(), path: format!("jobs/{job}/checks"), body }
    }

    fn send(&self, client: &Client) {
        let call = client.call("POST", &self.path).json(&self.body).key(&self.key);
        call.send().expect(201);
    }
}

/// One history: each device has a few messages, all are sent shuffled, each one to
/// five times, and some again by another thread at the same time.
fn one_history(
    clients: &[Client],
    job: &str,
    number: usize,
    dice: &mut ChaCha8Rng,
) -> Vec<Message> {
    let mut messages = Vec::new();
    for device in 0..DEVICES {
        let key = |dice: &mut ChaCha8Rng| format!("{:032x}", dice.random::<u128>());
        if device % 2 == 0 {
            // Two devices of a history write up the same vehicle.
            let plate = format!("OFF {} {}", number % 50, device % 4);
            messages.push(Message::visit(&key(dice), &plate));
        } else {
            messages.push(Message::check(&key(dice), job));
        }
    }
    let mut deliveries: Vec<usize> = (0..messages.len())
        .flat_map(|at| std::iter::repeat_n(at, dice.random_range(1..=5)))
        .collect();
    deliveries.shuffle(dice);
    for at in deliveries {
        messages[at].send(&clients[dice.random_range(0..clients.len())]);
    }
    messages
}

fn offline(test: &str, place: Place) {
    let shops = Shops::open(place);
    // The key belongs to its person, whichever device sends it.
    let clients: Vec<Client> = (0..2).map(|_| shops.person("technician.north")).collect();
    let (_, job) = open(&clients[0], "OFFLINE", "engine.stalls");
    let (histories, threads) = (trials(200, 10_000), 4);
    let mut dice = dice(test);
    let seeds: Vec<u64> = (0..threads).map(|_| dice.random()).collect();
    let next = AtomicUsize::new(0);
    let work = |seed: u64| {
        let mut dice = ChaCha8Rng::seed_from_u64(seed);
        let mut sent = Vec::new();
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= histories {
                return sent;
            }
            sent.extend(one_history(&clients, &job, number, &mut dice));
        }
    };
    let sent: Vec<Message> = std::thread::scope(|scope| {
        let running: Vec<_> = seeds.iter().map(|seed| scope.spawn(|| work(*seed))).collect();
        running.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    });
    let mut owed: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for message in &sent {
        let kind = if message.path == "orders" { "visit" } else { "check" };
        owed.entry(kind).or_default().push(&message.key);
    }
    for (kind, sql) in [
        ("visit", "SELECT complaint AS line FROM job WHERE complaint <> 'it shakes at the lights'"),
        ("check", "SELECT position AS line FROM job_check"),
    ] {
        let mut kept = shops.place.lines(sql);
        kept.sort();
        let owed = owed.get_mut(kind).unwrap();
        owed.sort_unstable();
        assert!(kept.iter().eq(owed.iter()), "{kind}: {} kept of {}", kept.len(), owed.len());
    }
    // Whatever came first: one vehicle a plate, and numbers without a gap.
    assert_eq!(
        shops
            .place
            .count("FROM (SELECT plate FROM vehicle GROUP BY plate HAVING count(*) > 1) twice"),
        0
    );
    let orders = shops.place.count("FROM repair_order");
    let numbers = shops.place.lines("SELECT order_no AS line FROM repair_order");
    let mut numbers: Vec<i64> = numbers.iter().map(|number| number.parse().unwrap()).collect();
    numbers.sort_unstable();
    assert!(numbers.into_iter().eq(1..=orders));
    println!(
        "{test}: {histories} histories, {} messages, each one to five times: 0 lost, 0 twice",
        sent.len()
    );
}

#[test]
fn offline_in_any_order_on_sqlite() {
    offline("offline_in_any_order_on_sqlite", Place::sqlite());
}

#[test]
fn offline_in_any_order_on_postgres() {
    if let Some(place) = Place::postgres() {
        offline("offline_in_any_order_on_postgres", place);
    }
}
