//! Backups: made while people write, put back elsewhere, kept before a step; and
//! records that this program must leave alone.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

use serde_json::json;

use crate::support::folder::Folder;
use crate::support::{Place, Program, Shops};

fn backup(place: &Place, to: &Folder) -> PathBuf {
    let to = to.path().to_str().unwrap();
    let said = Program::new(place, &["backup", "--to", to]).must("");
    PathBuf::from(said.trim_end())
}

fn restored(file: &Path) -> Place {
    let place = Place::empty_sqlite();
    Program::new(&place, &["restore", file.to_str().unwrap()]).must("");
    place
}

/// Every file of a whole copy.
fn whole(place: &Place) -> Vec<(String, String)> {
    let folder = Folder::new();
    let path = folder.path().join("copy");
    Program::new(place, &["export", "--all", path.to_str().unwrap(), "--with-secrets"]).must("");
    let mut files: Vec<(String, String)> = std::fs::read_dir(&path)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| !path.ends_with("manifest.json"))
        .map(|path| {
            let text = std::fs::read_to_string(&path).unwrap();
            (path.file_name().unwrap().to_string_lossy().into_owned(), text)
        })
        .collect();
    files.sort();
    files
}

#[test]
fn a_backup_is_the_record_and_comes_back_as_it() {
    let (place, to) = (Place::demo().copied(), Folder::new());
    let file = backup(&place, &to);
    let other = restored(&file);
    assert_eq!(whole(&other), whole(&place));
    Program::new(&other, &["check"]).must("");
}

#[test]
fn a_backup_under_work_has_all_that_was_acknowledged_before_it() {
    let shops = Shops::open(Place::sqlite());
    let over = AtomicBool::new(false);
    let order = json!({
        "vehicle": { "plate": "BK 1" },
        "jobs": [{ "complaint": "it dies at the lights", "symptom": "engine.stalls" }],
    });
    std::thread::scope(|scope| {
        for _ in 0..3 {
            scope.spawn(|| {
                let manager = shops.person("manager.north");
                while !over.load(Ordering::Relaxed) {
                    manager.post("orders", &order).expect(201);
                }
            });
        }
        for _ in 0..5 {
            let before = shops.place.count("FROM repair_order");
            let to = Folder::new();
            let file = backup(&shops.place, &to);
            let after = shops.place.count("FROM repair_order");
            let other = restored(&file);
            let kept = other.count("FROM repair_order");
            assert!((before..=after).contains(&kept), "{before} {kept} {after}");
            // No number is missing, and each order has its job.
            assert_eq!(other.count("FROM job"), kept);
            Program::new(&other, &["check"]).must("");
        }
        over.store(true, Ordering::Relaxed);
    });
}

#[test]
fn what_is_no_backup_is_not_put_back() {
    let folder = Folder::new();
    let file = folder.path().join("words.sqlite");
    std::fs::write(&file, "these are words").unwrap();
    let torn = folder.path().join("torn.sqlite");
    let whole = std::fs::read(backup(&Place::sqlite(), &folder)).unwrap();
    std::fs::write(&torn, &whole[..whole.len() / 2]).unwrap();
    for file in [file, torn, folder.path().join("nowhere.sqlite")] {
        let place = Place::empty_sqlite();
        let said = Program::new(&place, &["restore", file.to_str().unwrap()]).run("");
        assert_eq!(said.status.code(), Some(2), "{}", file.display());
        assert_eq!(std::fs::read_dir(place.data()).unwrap().count(), 0);
    }
}

#[test]
fn the_log_of_another_record_is_not_taken_for_its_own() {
    let (folder, place) = (Folder::new(), Place::empty_sqlite());
    let file = backup(&Place::sqlite(), &folder);
    std::fs::write(Path::new(&place.data()).join("onetrip.sqlite-wal"), "left behind").unwrap();
    let said = Program::new(&place, &["restore", file.to_str().unwrap()]).run("");
    assert_eq!(said.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&said.stderr).contains("is left of another record"));
    assert!(!Path::new(&place.data()).join("onetrip.sqlite").exists());
}

#[test]
fn a_record_is_never_written_over() {
    let (place, folder) = (Place::sqlite(), Folder::new());
    let file = backup(&place, &folder);
    let said = Program::new(&place, &["restore", file.to_str().unwrap()]).run("");
    assert_eq!(said.status.code(), Some(2));
    assert_eq!(
        Program::new(&Place::empty_sqlite(), &["backup", "--to", "x"]).run("").status.code(),
        Some(2)
    );
}

/// The steps that the program knows, the last first.
fn steps() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations/sqlite");
    let names = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<String> =
        names.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names.reverse();
    names
}

/// A record as it was before the latest step is brought up to date, and a copy of it
/// as it was is kept.
#[test]
fn before_a_step_a_copy_is_kept() {
    let place = Place::demo().copied();
    let before = whole(&place);
    let step = &steps()[0];
    let down = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../migrations/sqlite")
        .join(step)
        .join("down.sql");
    place.run(&std::fs::read_to_string(down).unwrap());
    let version: String =
        step.chars().take_while(|c| *c != '_').filter(char::is_ascii_digit).collect();
    place.run(&format!("DELETE FROM __diesel_schema_migrations WHERE version = '{version}'"));
    Program::new(&place, &["check"]).must("");
    let kept = Path::new(&place.data()).join(format!("before-{version}.sqlite"));
    let other = restored(&kept);
    assert_eq!(whole(&other), before);
    assert_eq!(whole(&place), before);
}

#[test]
fn a_record_of_a_newer_program_is_left_alone() {
    let places = [Some(Place::sqlite()), Place::postgres()];
    for place in places.into_iter().flatten() {
        place.run("INSERT INTO __diesel_schema_migrations (version) VALUES ('21990101000000')");
        for verb in [&["check"][..], &["serve", "--listen", "127.0.0.1:0"]] {
            let said = Program::new(&place, verb).run("");
            assert_eq!(said.status.code(), Some(1));
            let words = String::from_utf8_lossy(&said.stderr).into_owned();
            assert!(words.contains("made by a newer onetrip"), "{words}");
        }
    }
}
