//! Files that cannot be taken at all, and imports that end before their end.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use super::history::{History, each_database, import, state, told};
use crate::support::Place;

/// Makes the files unfit; the reason that must be said.
type Break = fn(&History) -> &'static str;

#[test]
fn unfit_files_are_refused_and_nothing_is_written() {
    let breaks: [Break; 9] = [
        |h| {
            let text = fs::read_to_string(h.files.join("jobs.csv")).unwrap();
            let wide: Vec<u8> = [0xFF, 0xFE]
                .into_iter()
                .chain(text.encode_utf16().flat_map(u16::to_le_bytes))
                .collect();
            fs::write(h.files.join("jobs.csv"), wide).unwrap();
            "jobs.csv: is written in UTF-16"
        },
        |h| {
            let text =
                fs::read_to_string(h.files.join("parts.csv")).unwrap().replace("Quay", "Qu\u{1}");
            let latin: Vec<u8> = text.bytes().map(|b| if b == 1 { 0xE9 } else { b }).collect();
            fs::write(h.files.join("parts.csv"), latin).unwrap();
            "parts.csv: line 2 has bytes that are not UTF-8"
        },
        |h| {
            h.mend("orders.csv", "opened_at", "opened");
            "orders.csv: the first line must name the columns, and these are missing: opened_at"
        },
        |h| {
            h.mend("checks.csv", "finding", "seq");
            "checks.csv: the column seq is there twice"
        },
        |h| {
            fs::remove_file(h.files.join("jobs.csv")).unwrap();
            "jobs.csv: is missing"
        },
        |h| {
            fs::write(h.files.join("labor.csv"), "").unwrap();
            "labor.csv: the first line must name the columns"
        },
        |h| {
            h.mend("jobs.csv", "\"\"again\"\"\"", "again");
            "jobs.csv: the row that begins on line 2 has a quotation mark that is never closed"
        },
        |h| {
            fs::write(h.files.join("parts.csv"), "c,".repeat(100_000)).unwrap();
            "more than 500 columns"
        },
        |h| {
            let mut file =
                fs::OpenOptions::new().append(true).open(h.files.join("orders.csv")).unwrap();
            file.write_all(b"A-9,\"").unwrap();
            // A hole: a gibibyte to read, nothing on the disk.
            file.set_len(1 << 30).unwrap();
            "is longer than 1 MiB"
        },
    ];
    each_database(|place| {
        History::small().import(place, &[]).ended(0);
        let before = state(place);
        for unfit in breaks {
            let history = History::small();
            history.mend("orders.csv", "A-0416", "A-0499");
            let reason = unfit(&history);
            let begun = Instant::now();
            let words = history.import(place, &["--update"]).ended(2);
            assert!(words.contains(reason), "{reason}: {words}");
            assert!(begun.elapsed() < Duration::from_secs(10), "{reason}");
            assert_eq!(state(place), before, "{reason}");
        }
    });
}

#[test]
fn a_gibibyte_in_one_line_needs_little_memory() {
    let history = History::small();
    let path = history.files.join("orders.csv");
    fs::OpenOptions::new().append(true).open(path).unwrap().set_len(1 << 30).unwrap();
    let place = Place::empty_sqlite();
    let script = "ulimit -v 262144 && exec \"$0\" --data \"$1\" import \"$2\"";
    let output = Command::new("sh")
        .args(["-c", script, env!("CARGO_BIN_EXE_onetrip"), &place.data()])
        .arg(&history.files)
        .output()
        .unwrap();
    let words = told(&output).ended(2);
    assert!(words.contains("longer than 1 MiB"), "{words}");
}

#[test]
fn a_folder_without_files_is_refused() {
    let history = History::new();
    let place = Place::empty_sqlite();
    let words = history.import(&place, &[]).ended(2);
    assert!(words.contains("has no orders.csv"), "{words}");
    let words = import(&place, Path::new("/nowhere/at-all"), &[]).ended(2);
    assert!(words.contains("is not a folder"), "{words}");
}
