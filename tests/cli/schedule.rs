//! Backups by schedule, and answers that are kept so long and no longer.

use std::path::Path;
use std::time::{Duration, Instant};

use chrono::{DateTime, Utc};

use crate::support::folder::Folder;
use crate::support::visit::open;
use crate::support::{Place, Program, Server, Shops, now};

fn set(clock: &Path, at: DateTime<Utc>) {
    let beside = clock.with_extension("next");
    std::fs::write(&beside, at.to_rfc3339()).unwrap();
    std::fs::rename(beside, clock).unwrap();
}

/// Names of the backups that are there.
fn made(folder: &Path) -> Vec<String> {
    let names = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut names: Vec<String> =
        names.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.retain(|name| name.ends_with(".sqlite"));
    names.sort();
    names
}

/// Waits for what another thread does.
fn until(what: &str, done: impl Fn() -> bool) {
    let begun = Instant::now();
    while !done() {
        assert!(begun.elapsed() < Duration::from_secs(60), "{what}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn backups_are_made_by_the_clock_and_told_of() {
    let (around, to) = (Folder::new(), Folder::new());
    let clock = around.path().join("clock");
    let start = now() + chrono::Duration::hours(1);
    set(&clock, start);
    let place = Place::sqlite();
    let folder = to.path().join("kept");
    let more = ["--clock-file", clock.to_str().unwrap(), "--backup-to", folder.to_str().unwrap()];
    let server = Server::with(&place, &more);
    let shops = Shops::served(place, server);
    until("the first is made at once", || made(&folder).len() == 1);
    // A server that died left this half made.
    std::fs::write(folder.join("scheduled-20260101T000000Z.part"), "half").unwrap();
    let manager = shops.person("manager.north");
    open(&manager, "SCHED 1", "engine.stalls");
    set(&clock, start + chrono::Duration::minutes(61));
    until("the next is made an hour later", || made(&folder).len() == 2);
    assert!(!folder.join("scheduled-20260101T000000Z.part").exists());
    // It is the record of that moment.
    let latest = folder.join(made(&folder).pop().unwrap());
    let other = Place::empty_sqlite();
    Program::new(&other, &["restore", latest.to_str().unwrap()]).must("");
    assert_eq!(other.count("FROM repair_order"), 1);
    let office = shops.visitor("administrator.riverside", "north");
    let page = office.get("/house").expect(200).body;
    assert!(page.contains("2 backups there") && page.contains("looked through"), "{page}");
    assert!(!page.contains("no backup of the last three days"), "{page}");
    // Where none can be made any more, the page says why, and in three days that none is.
    std::fs::remove_dir_all(&folder).unwrap();
    std::fs::write(&folder, "a file in its place").unwrap();
    set(&clock, start + chrono::Duration::hours(3));
    let told = |word: &str| office.get("/house").expect(200).body.contains(word);
    until("the fault is told", || told("The last backup was not made"));
    assert!(told("There is no backup of the last three days"));
}

#[test]
fn without_a_schedule_the_page_says_so() {
    let shops = Shops::open(Place::sqlite());
    let office = shops.visitor("administrator.riverside", "north");
    assert!(office.get("/house").expect(200).body.contains("No backups are made by schedule"));
    let more =
        ["serve", "--listen", "127.0.0.1:0", "--backup-to", "x", "--backup-minutes", "often"];
    let said = Program::new(&Place::empty_sqlite(), &more).run("");
    assert_eq!(said.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&said.stderr).contains("backup_minutes is 'often'"));
}

#[test]
fn answers_are_kept_for_thirty_days() {
    for place in [Some(Place::sqlite()), Place::postgres()].into_iter().flatten() {
        let mut shops = Shops::open(place);
        let manager = shops.person("manager.north");
        let old = open(&manager, "KEPT 1", "engine.stalls").0;
        let young = open(&manager, "KEPT 2", "engine.stalls").0;
        shops.server().stop();
        let all = shops.place.count("FROM idempotency_key");
        let day = |days: i64| {
            (now() - chrono::Duration::days(days))
                .naive_utc()
                .format("%Y-%m-%d %H:%M:%S")
                .to_string()
        };
        for (word, days) in [(&old, 31), (&young, 29)] {
            shops.place.run(&format!(
                "UPDATE idempotency_key SET created_at = '{}' WHERE body LIKE '%{word}%'",
                day(days)
            ));
        }
        shops.restart();
        until("the old one goes", || shops.place.count("FROM idempotency_key") == all - 1);
        let stays = format!("FROM idempotency_key WHERE body LIKE '%{young}%'");
        assert_eq!(shops.place.count(&stays), 1);
    }
}
