//! A report is of one moment: whatever is written meanwhile, it says what the record
//! said at the change that it names.

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use rand::Rng;
use serde_json::{Value, json};

use super::scale::{dice, trials};
use super::support::visit::{finish, open, person, text};
use super::support::{Client, Place, Shops, now};

const JOBS: usize = 12;
const READERS: usize = 3;
/// So often something moves at least while they read.
const MOVES: usize = 40;

/// Moves jobs between the two technicians, so that the sum never changes.
fn move_on(
    manager: &Client,
    jobs: &[String],
    people: &[String; 2],
    (over, moved): (&AtomicBool, &AtomicUsize),
    seed: u64,
) {
    let mut dice = <rand_chacha::ChaCha8Rng as rand::SeedableRng>::seed_from_u64(seed);
    while !over.load(Ordering::Relaxed) {
        let thing = format!("jobs/{}", jobs[dice.random_range(0..jobs.len())]);
        let lead = json!({ "lead_id": people[dice.random_range(0..2)] });
        let tag = manager.get(&thing).expect(200).tag();
        let answer = manager.call("PATCH", &thing).json(&lead).if_match(&tag).send();
        assert!([200, 412].contains(&answer.status), "{}", answer.body);
        moved.fetch_add(usize::from(answer.status == 200), Ordering::Relaxed);
    }
}

/// Jobs by technician that a report tells, and the change it was made from.
fn told(report: &Value) -> (i64, BTreeMap<String, i64>) {
    let lines = report["groups"].as_array().unwrap();
    let counts = lines
        .iter()
        .map(|line| (text(&line["group"]).to_owned(), line["figures"]["count"].as_i64().unwrap()));
    (report["head"]["change_no"].as_i64().unwrap(), counts.collect())
}

/// What the notes of changes say of who led which job after each change.
fn replayed(
    place: &Place,
    names: &BTreeMap<String, String>,
) -> BTreeMap<i64, BTreeMap<String, i64>> {
    let notes = place.lines(
        "SELECT CAST(change_no AS TEXT) || ' ' || record_id || ' ' || after_json AS line \
         FROM record_change WHERE record = 'job' AND after_json IS NOT NULL ORDER BY change_no, line",
    );
    let (mut leads, mut states) = (BTreeMap::new(), BTreeMap::new());
    for note in notes {
        let mut parts = note.splitn(3, ' ');
        let (number, job, row) =
            (parts.next().unwrap(), parts.next().unwrap(), parts.next().unwrap());
        let row: Value = serde_json::from_str(row).unwrap();
        let Some(lead) = row["lead_id"].as_str() else { continue };
        leads.insert(job.to_owned(), names[lead].clone());
        let mut counts = BTreeMap::new();
        for name in leads.values() {
            *counts.entry(name.clone()).or_insert(0) += 1;
        }
        states.insert(number.parse().unwrap(), counts);
    }
    states
}

fn reports_are_one_moment(test: &str, place: Place) {
    let shops = Shops::open(place);
    let manager = shops.person("manager.north");
    let ids = ["technician of north", "helper of north"].map(|name| person(&manager, name));
    let names: BTreeMap<String, String> = ids
        .iter()
        .cloned()
        .zip(["technician of north", "helper of north"].map(str::to_owned))
        .collect();
    let mut jobs = Vec::new();
    for number in 0..JOBS {
        let (order, job) = open(&manager, &format!("MOMENT {number}"), "engine.stalls");
        manager.patch(&format!("jobs/{job}"), &json!({ "lead_id": ids[number % 2] })).expect(200);
        finish(&manager, &order, &job, "air-filter");
        jobs.push(job);
    }
    let mut dice = dice(test);
    let seeds: [u64; 2] = dice.random();
    let (reports, next) = (trials(200, 10_000), AtomicUsize::new(0));
    let today = (now() - chrono::Duration::hours(6)).date_naive();
    let path = format!("reports/comebacks?by=technician&as_of={today}");
    let (over, moved) = (AtomicBool::new(false), AtomicUsize::new(0));
    let answers = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for seed in seeds {
            let (manager, jobs, ids, told) = (&manager, &jobs, &ids, (&over, &moved));
            scope.spawn(move || move_on(manager, jobs, ids, told, seed));
        }
        let read = || {
            while next.fetch_add(1, Ordering::Relaxed) < reports
                || moved.load(Ordering::Relaxed) < MOVES
            {
                let report = manager.get(&path).expect(200).json();
                answers.lock().unwrap().push(told(&report));
            }
        };
        let readers: Vec<_> = (0..READERS).map(|_| scope.spawn(read)).collect();
        for reader in readers {
            reader.join().unwrap();
        }
        over.store(true, Ordering::Relaxed);
    });
    let answers = answers.into_inner().unwrap();
    let states = replayed(&shops.place, &names);
    let mut moments = std::collections::BTreeSet::new();
    for (change_no, counts) in &answers {
        let sum: i64 = counts.values().sum();
        assert_eq!(sum, JOBS as i64, "at {change_no}");
        // What no job of it changes leaves the state before it.
        let (_, state) = states.range(..=change_no).next_back().expect("a state");
        assert_eq!(counts, state, "at {change_no}");
        moments.insert(change_no);
    }
    assert!(moments.len() > 5, "nothing moved: {moments:?}");
    // When all is quiet, a report has all of it.
    let (_, counts) = told(&manager.get(&path).expect(200).json());
    assert_eq!(Some(&counts), states.values().next_back());
    println!("{test}: {} reports of {} moments, all as replayed", answers.len(), moments.len());
}

#[test]
fn one_moment_on_sqlite() {
    reports_are_one_moment("one_moment_on_sqlite", Place::sqlite());
}

#[test]
fn one_moment_on_postgres() {
    if let Some(place) = Place::postgres() {
        reports_are_one_moment("one_moment_on_postgres", place);
    }
}
