//! One technician, many devices, two shops of a group: nobody works twice at once.

use std::sync::atomic::{AtomicUsize, Ordering};

use chrono::Duration;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};

use super::scale::{dice, trials};
use super::support::visit::{open, text};
use super::support::{Client, Place, Program, Shops, now};

const DEVICES: usize = 20;
/// Pairs of entries of one person that share time.
pub const OVERLAPS: &str = "FROM labor_entry a JOIN labor_entry b \
    ON a.person_id = b.person_id AND (a.shop_id, a.id) < (b.shop_id, b.id) \
    AND a.started_at < coalesce(b.ended_at, '9999-01-01 00:00:00') \
    AND b.started_at < coalesce(a.ended_at, '9999-01-01 00:00:00')";
pub const BACKWARD: &str = "FROM labor_entry WHERE ended_at <= started_at";
pub const RUNNING: &str = "FROM labor_entry WHERE ended_at IS NULL";

/// What one device does next: a stretch that is over, a start, or the stop of its own
/// start.
struct Device {
    clients: [Client; 2],
    jobs: [String; 2],
    dice: ChaCha8Rng,
    running: Option<(usize, String)>,
    stored: usize,
    refused: usize,
}

impl Device {
    fn tap(&mut self) {
        if let Some((shop, entry)) = self.running.take() {
            let stop = format!("jobs/{}/labor/{entry}/stop", self.jobs[shop]);
            let answer = self.clients[shop].post(&stop, &json!({}));
            assert!([200, 409].contains(&answer.status), "{}", answer.body);
            return;
        }
        let shop = self.dice.random_range(0..2);
        let runs = self.dice.random_bool(0.1);
        let body = if runs { json!({}) } else { self.stretch() };
        let answer = self.clients[shop].post(&format!("jobs/{}/labor", self.jobs[shop]), &body);
        match answer.status {
            201 => {
                self.stored += 1;
                let entry = text(&answer.json()["id"]).to_owned();
                self.running = runs.then_some((shop, entry));
            }
            _ => {
                answer.problem(409, "conflict");
                self.refused += 1;
            }
        }
    }

    /// Within a few days, so short and so many that they meet.
    fn stretch(&mut self) -> Value {
        let from = now() - Duration::seconds(self.dice.random_range(7_200..6 * 86_400));
        let to = from + Duration::seconds(self.dice.random_range(60..3_600));
        json!({ "activity": "repair", "started_at": from.to_rfc3339(), "ended_at": to.to_rfc3339() })
    }
}

fn nobody_works_twice_at_once(test: &str, place: Place) {
    let base = ["user", "add", "--group", "riverside", "--name", "technician of north"];
    let lent = ["--sign-in", "technician.north", "--shop", "south", "--role", "technician"];
    Program::new(&place, &[base, lent].concat()).must("");
    let shops = Shops::open(place);
    let clients = ["north", "south"].map(|shop| shops.person_at("technician.north", shop));
    let jobs: [String; 2] =
        std::array::from_fn(|at| open(&clients[at], &format!("CL {at}"), "engine.stalls").1);
    let mut dice = dice(test);
    let taps = trials(600, 5_000);
    let mut devices: Vec<Device> = (0..DEVICES)
        .map(|_| Device {
            clients: clients.clone(),
            jobs: jobs.clone(),
            dice: ChaCha8Rng::seed_from_u64(dice.random()),
            running: None,
            stored: 0,
            refused: 0,
        })
        .collect();
    let done = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for device in &mut devices {
            scope.spawn(|| {
                while done.fetch_add(1, Ordering::Relaxed) < taps {
                    device.tap();
                }
            });
        }
    });
    let stored: usize = devices.iter().map(|device| device.stored).sum();
    let refused: usize = devices.iter().map(|device| device.refused).sum();
    assert_eq!(shops.place.count("FROM labor_entry"), i64::try_from(stored).unwrap());
    assert_eq!(shops.place.count(OVERLAPS), 0);
    assert_eq!(shops.place.count(BACKWARD), 0);
    assert!(shops.place.count(RUNNING) <= 1);
    assert!(refused * 10 > stored, "they met too seldom: {refused} of {stored}");
    println!("{test}: {taps} taps, {stored} stored, {refused} refused, 0 overlaps");
    walled(&shops.place);
}

/// The count above sees one that overlaps. PostgreSQL says no by itself to a request
/// in one shop; on SQLite no other write is under way.
fn walled(place: &Place) {
    let twice = "INSERT INTO labor_entry SELECT 3 - shop_id, 'twice', \
        (SELECT id FROM job WHERE job.shop_id = 3 - labor_entry.shop_id LIMIT 1), person_id, \
        activity, worked_as, started_at, started_on, ended_at, version, supervisor_id \
        FROM labor_entry WHERE ended_at IS NOT NULL ORDER BY id LIMIT 1";
    if matches!(place, Place::Postgres(_)) {
        let request = format!("SET onetrip.shop = '1'; {twice}");
        let run = std::panic::AssertUnwindSafe(|| place.run(&request));
        assert!(std::panic::catch_unwind(run).is_err(), "the database took it");
    }
    place.run(twice);
    assert_eq!(place.count(OVERLAPS), 1);
}

#[test]
fn clocked_on_sqlite() {
    nobody_works_twice_at_once("clocked_on_sqlite", Place::sqlite());
}

#[test]
fn clocked_on_postgres() {
    if let Some(place) = Place::postgres() {
        nobody_works_twice_at_once("clocked_on_postgres", place);
    }
}
