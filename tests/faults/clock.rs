//! The machine's clock jumps while people clock their work: the record stays in the
//! order of its numbers, and no time is negative or worked twice.

use chrono::{DateTime, Duration, Utc};
use rand::Rng;
use serde_json::json;

use super::clocked::{BACKWARD, OVERLAPS, RUNNING};
use super::scale::{dice, trials};
use super::support::folder::Folder;
use super::support::visit::{open, text};
use super::support::{Place, Server, Shops, now};

/// From the time that would be right, in seconds.
const STEPS: [i64; 5] = [-1, -3_600, -86_400, -56 * 365 * 86_400, 0];

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
    let jobs: Vec<String> =
        (0..3).map(|at| open(&client, &format!("CLOCK {at}"), "engine.stalls").1).collect();
    let mut dice = dice(test);
    let rounds = trials(4, 100);
    let (mut taken, mut refused) = (0, 0);
    let mut count = |status: u16| match status {
        200..300 => taken += 1,
        401 | 409 | 422 => refused += 1,
        other => panic!("answered {other}"),
    };
    let mut running: Option<(String, String)> = None;
    for _ in 0..rounds {
        for step in STEPS {
            // The right time goes on, and never by more than a shift.
            right += Duration::seconds(dice.random_range(60..1_800));
            set(right + Duration::seconds(step));
            for _ in 0..2 {
                match running.take() {
                    Some((job, entry)) => {
                        let stop = format!("jobs/{job}/labor/{entry}/stop");
                        let answer = client.post(&stop, &json!({}));
                        count(answer.status);
                        if answer.status != 200 {
                            running = Some((job, entry));
                        }
                    }
                    None => {
                        let job = &jobs[dice.random_range(0..jobs.len())];
                        let answer = client.post(&format!("jobs/{job}/labor"), &json!({}));
                        count(answer.status);
                        if answer.status == 201 {
                            running = Some((job.clone(), text(&answer.json()["id"]).to_owned()));
                        }
                    }
                }
            }
        }
        // Far ahead nobody is signed in any more; back again everybody still is.
        set(right + Duration::days(3_652));
        client.get("orders").problem(401, "not-signed-in");
        set(right);
        client.get("orders").expect(200);
    }
    let place = &shops.place;
    assert_eq!((place.count(OVERLAPS), place.count(BACKWARD)), (0, 0));
    assert!(place.count(RUNNING) <= 1);
    let changes = place.lines(
        "SELECT CAST(change_no AS TEXT) AS line FROM record_change WHERE record = 'labor' ORDER BY change_no, line",
    );
    assert_eq!(changes.len(), taken, "each write has its number");
    let audit = client.get("changes").expect(200).json();
    let numbers: Vec<i64> = audit["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|item| item["change_no"].as_i64().unwrap())
        .collect();
    assert!(numbers.is_sorted(), "{numbers:?}");
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
