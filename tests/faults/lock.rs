//! Nobody is told "locked": somebody else holds SQLite's file, or copies are made
//! without end while long reports are read.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::sqlite::SqliteConnection;
use serde_json::json;

use super::scale::trials;
use super::support::folder::Folder;
use super::support::visit::write_up;
use super::support::{Place, Program, Shops};

const WRITERS: usize = 8;
/// A write that cannot be done is told so by then.
const PATIENCE: Duration = Duration::from_secs(6);
/// The log may grow so far, and by what is written while it is carried over.
const LONGEST_LOG: u64 = 80 << 20;

/// One write under its key until it is taken; how often it was told to wait.
fn insist(shops: &Shops, plate: &str, slowest: &Mutex<Duration>) -> usize {
    let client = shops.person("manager.north");
    let key = uuid::Uuid::new_v4().to_string();
    for waits in 0.. {
        let begun = Instant::now();
        let call = client.call("POST", "orders").json(&write_up(plate, "engine.stalls")).key(&key);
        let answer = call.send();
        let took = begun.elapsed();
        let mut slowest = slowest.lock().unwrap();
        *slowest = took.max(*slowest);
        if answer.status == 201 {
            return waits;
        }
        answer.problem(503, "unavailable");
        assert!(!answer.header("retry-after").is_empty() && !answer.body.contains("locked"));
        drop(slowest);
        std::thread::sleep(Duration::from_millis(200));
    }
    unreachable!()
}

#[test]
fn an_outsider_holds_the_file() {
    let shops = Shops::open(Place::sqlite());
    let Place::Sqlite(folder) = &shops.place else { unreachable!() };
    let file = folder.path().join("onetrip.sqlite").display().to_string();
    // Signing in is a write, too.
    drop(shops.person("manager.north"));
    let (rounds, seconds) = (trials(1, 20), trials(7, 30));
    let slowest = Mutex::new(Duration::ZERO);
    let (written, waited) = (AtomicUsize::new(0), AtomicUsize::new(0));
    for round in 0..rounds {
        let mut outsider = SqliteConnection::establish(&file).unwrap();
        outsider.batch_execute("PRAGMA busy_timeout = 5000; BEGIN IMMEDIATE").unwrap();
        std::thread::scope(|scope| {
            for writer in 0..WRITERS {
                let (shops, slowest, written, waited) = (&shops, &slowest, &written, &waited);
                scope.spawn(move || {
                    // They come one after the other, not only as the lock begins.
                    std::thread::sleep(Duration::from_millis(400 * writer as u64));
                    waited.fetch_add(
                        insist(shops, &format!("LOCK {round} {writer}"), slowest),
                        Ordering::Relaxed,
                    );
                    written.fetch_add(1, Ordering::Relaxed);
                });
            }
            std::thread::sleep(Duration::from_secs(seconds as u64));
            // Reading goes on.
            shops.person("manager.north").get("orders").expect(200);
            assert_eq!(written.load(Ordering::Relaxed), round * WRITERS, "the lock held nobody");
            outsider.batch_execute("ROLLBACK").unwrap();
        });
    }
    let (written, waited) = (written.into_inner(), waited.into_inner());
    let slowest = slowest.into_inner().unwrap();
    assert_eq!(shops.place.count("FROM repair_order"), i64::try_from(written).unwrap());
    assert_eq!(written, rounds * WRITERS);
    assert!(
        waited > 0 && slowest <= PATIENCE,
        "{waited} told to wait, the slowest after {slowest:?}"
    );
    println!(
        "an_outsider_holds_the_file: {rounds} times {seconds} s, {waited} told to wait, the slowest answer after {slowest:?}, 0 lost"
    );
}

#[test]
fn copies_and_reports_hold_up_no_write() {
    let place = Place::sqlite();
    let shops = Shops::open(place);
    let Place::Sqlite(folder) = &shops.place else { unreachable!() };
    let lasts = Duration::from_secs(trials(6, 600) as u64);
    let (over, copies, reports) =
        (AtomicBool::new(false), AtomicUsize::new(0), AtomicUsize::new(0));
    let mut took = Vec::new();
    std::thread::scope(|scope| {
        scope.spawn(|| {
            while !over.load(Ordering::Relaxed) {
                let to = Folder::new();
                Program::new(&shops.place, &["backup", "--to", to.path().to_str().unwrap()])
                    .must("");
                copies.fetch_add(1, Ordering::Relaxed);
            }
        });
        scope.spawn(|| {
            let manager = shops.person("manager.north");
            while !over.load(Ordering::Relaxed) {
                for report in ["weekly", "comebacks", "labor"] {
                    let answer = manager.get(&format!("reports/{report}"));
                    assert!([200, 503].contains(&answer.status), "{}", answer.body);
                    reports.fetch_add(1, Ordering::Relaxed);
                }
            }
        });
        let writer = scope.spawn(|| {
            let manager = shops.person("manager.north");
            let (begun, mut took) = (Instant::now(), Vec::new());
            while begun.elapsed() < lasts {
                let at = Instant::now();
                let order = json!({
                    "vehicle": { "plate": format!("COPY {}", took.len() % 500) },
                    "jobs": [{ "complaint": "c".repeat(2_000), "symptom": "engine.stalls" }],
                });
                manager.post("orders", &order).expect(201);
                took.push(at.elapsed());
                // A hundred a second, as far as the machine can.
                std::thread::sleep(Duration::from_millis(10).saturating_sub(at.elapsed()));
            }
            over.store(true, Ordering::Relaxed);
            took
        });
        took = writer.join().unwrap();
    });
    took.sort_unstable();
    let log = std::fs::metadata(folder.path().join("onetrip.sqlite-wal")).unwrap().len();
    assert!(log <= LONGEST_LOG, "{log} bytes of log");
    assert_eq!(shops.place.count("FROM repair_order"), i64::try_from(took.len()).unwrap());
    let (copies, reports) = (copies.into_inner(), reports.into_inner());
    assert!(copies > 0 && reports > 0);
    println!(
        "copies_and_reports_hold_up_no_write: {} writes, 0 refused, 99 of 100 within {:?}; {copies} copies, {reports} reports, log {log} bytes",
        took.len(),
        took[took.len() * 99 / 100],
    );
}
