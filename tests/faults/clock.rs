//! The machine's clock jumps while people clock their work: the record stays in the
//! order of its numbers, and no time is negative or worked twice.

use chrono::{DateTime, Duration, Utc};
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use serde_json::json;

use super::clocked::{BACKWARD, OVERLAPS, RUNNING};
use super::scale::{dice, trials};
use super::support::folder::Folder;
use super::support::visit::{open, text};
use super::support::{Client, Place, Server, Shops, now};

/// From the time that would be right, in seconds.
const STEPS: [i64; 5] = [-1, -3_600, -86_400, -56 * 365 * 86_400, 0];

/// A technician who starts and stops, whatever the clock says.
struct Clocking {
    client: Client,
    jobs: Vec<String>,
    running: Option<(String, String)>,
    taken: usize,
    refused: usize,
}

impl Clocking {
    fn tap(&mut self, dice: &mut ChaCha8Rng) {
        let path = match &self.running {
            Some((job, entry)) => format!("jobs/{job}/labor/{entry}/stop"),
            None => format!("jobs/{}/labor", self.jobs[dice.random_range(0..self.jobs.len())]),
        };
        let answer = self.client.post(&path, &json!({}));
        match answer.status {
            201 => {
                let made = answer.json();
                self.running =
                    Some((text(&made["job_id"]).to_owned(), text(&made["id"]).to_owned()));
                self.taken += 1;
            }
            200 => {
                self.running = None;
                self.taken += 1;
            }
            401 | 409 | 422 => self.refused += 1,
            other => panic!("answered {other}: {}", answer.body),
        }
    }
}

/// In the order of the numbers, each write of labor there, no time negative or twice.
fn judged(place: &Place, clocking: &Clocking) {
    assert_eq!((place.count(OVERLAPS), place.count(BACKWARD)), (0, 0));
    assert!(place.count(RUNNING) <= 1);
    let noted = place.count("FROM record_change WHERE record = 'labor'");
    assert_eq!(usize::try_from(noted).unwrap(), clocking.taken, "each write has its number");
    let feed = clocking.client.get("changes").expect(200).json();
    let items = feed["items"].as_array().unwrap();
    let numbers: Vec<i64> = items.iter().map(|item| item["change_no"].as_i64().unwrap()).collect();
    assert!(numbers.is_sorted() && !numbers.is_empty(), "{numbers:?}");
}

fn a_clock_that_jumps(test: &str, place: Place) {
    let folder = Folder::new();
    let file = folder.path().join("clock");
    let set = |at: DateTime<Utc>| {
        let next = folder.path().join("next");
        std::fs::write(&next, at.to_rfc3339()).unwrap();
        std::fs::rename(next, &file).unwrap();
    };
    let mut right = now();
    set(right);
    let server = Server::with(&place, &["--clock-file", file.to_str().unwrap()]);
    let shops = Shops::served(place, server);
    let client = shops.person("technician.north");
    let jobs = (0..3).map(|at| open(&client, &format!("CLOCK {at}"), "engine.stalls").1).collect();
    let mut clocking = Clocking { client, jobs, running: None, taken: 0, refused: 0 };
    let mut dice = dice(test);
    let rounds = trials(4, 100);
    for _ in 0..rounds {
        for step in STEPS {
            right += Duration::seconds(dice.random_range(60..1_800));
            set(right + Duration::seconds(step));
            clocking.tap(&mut dice);
            clocking.tap(&mut dice);
        }
        // Far ahead nobody is signed in any more; back again everybody still is.
        set(right + Duration::days(3_652));
        clocking.client.get("orders").problem(401, "not-signed-in");
        set(right);
        clocking.client.get("orders").expect(200);
    }
    judged(&shops.place, &clocking);
    let Clocking { taken, refused, .. } = clocking;
    assert!(taken > rounds && refused > 0, "{taken} taken, {refused} refused");
    println!(
        "{test}: {rounds} times each of {} steps and ten years ahead: {taken} taken, {refused} refused, none negative",
        STEPS.len()
    );
}

#[test]
fn jumps_on_sqlite() {
    a_clock_that_jumps("jumps_on_sqlite", Place::sqlite());
}

#[test]
fn jumps_on_postgres() {
    if let Some(place) = Place::postgres() {
        a_clock_that_jumps("jumps_on_postgres", place);
    }
}
