//! Parsing of rows, and files that are broken in every way.
#![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]

use std::path::PathBuf;

use analytics::words::{Disposition, PartRole};
use csv::StringRecord;
use proptest::prelude::*;

use super::fields::Fault;
use super::files::HistoryFile;
use super::folder::survey;
use super::parse;
use super::source::{Header, Raw, Rows};
use crate::domain::money::Currency;

/// A row of `file` with these columns.
fn row(file: HistoryFile, cells: &[(&str, &str)]) -> (Header, Raw) {
    let names = StringRecord::from_iter(cells.iter().map(|(name, _)| name));
    let fields = StringRecord::from_iter(cells.iter().map(|(_, value)| value));
    (Header::read(&names, file.columns()).unwrap(), Raw { line: 2, fields, ..Raw::default() })
}

fn part(cells: &[(&str, &str)]) -> Result<super::records::PartRecord, Vec<Fault>> {
    let base =
        [("order_no", "7"), ("job_no", "1"), ("name", "valve"), ("disposition", "cleaned_reused")];
    let given = base.into_iter().filter(|(name, _)| !cells.iter().any(|(other, _)| other == name));
    let all: Vec<(&str, &str)> = given.chain(cells.iter().copied()).collect();
    let (header, raw) = row(HistoryFile::Parts, &all);
    parse::part(&header, &raw, &Currency::parse("USD").unwrap())
}

fn columns(faults: &[Fault]) -> Vec<&str> {
    faults.iter().map(|fault| fault.column).collect()
}

#[test]
fn numbers_become_integers_of_the_smallest_unit() {
    let read =
        part(&[("quantity", "1.5"), ("unit_cost", "85"), ("bench_reading", "-0.25")]).unwrap();
    assert_eq!(read.quantity_hundredths, Some(150));
    assert_eq!(read.unit_cost_minor, Some(8500));
    assert_eq!(read.bench_reading, Some(-0.25));
    assert_eq!(read.disposition, Disposition::CleanedReused);
}

#[test]
fn every_fault_of_a_row_is_told() {
    let faults = part(&[
        ("name", ""),
        ("disposition", "washed"),
        ("quantity", "0"),
        ("unit_cost", "1,50"),
        ("unit_price", "-3"),
        ("bench_reading", "NaN"),
        ("lot", "a\u{0}b"),
    ])
    .unwrap_err();
    assert_eq!(
        columns(&faults),
        ["name", "disposition", "quantity", "lot", "unit_cost", "unit_price", "bench_reading"]
    );
    assert!(faults.iter().all(|fault| fault.reason.len() > 10), "{faults:?}");
}

#[test]
fn suspect_may_stand_for_the_role() {
    assert_eq!(part(&[("suspect", "true")]).unwrap().role, Some(PartRole::Suspect));
    assert_eq!(part(&[("suspect", "false")]).unwrap().role, None);
    assert_eq!(part(&[("suspect", "false"), ("role", "wish")]).unwrap().role, Some(PartRole::Wish));
    assert_eq!(columns(&part(&[("suspect", "true"), ("role", "wish")]).unwrap_err()), ["suspect"]);
    assert_eq!(
        columns(&part(&[("suspect", "false"), ("role", "suspect")]).unwrap_err()),
        ["suspect"]
    );
    assert_eq!(columns(&part(&[("suspect", "yes")]).unwrap_err()), ["suspect"]);
}

#[test]
fn times_are_taken_with_any_offset_and_only_with_one() {
    let order = |opened: &str| {
        let (header, raw) =
            row(HistoryFile::Orders, &[("shop", "S"), ("opened_at", opened), ("order_no", "7")]);
        parse::order(&header, &raw)
    };
    // RFC 3339, section 5.8: the same instant in two ways of writing it.
    let one = order("1990-12-31T15:59:50-08:00").unwrap();
    assert_eq!(one.opened_at, order("1990-12-31T23:59:50Z").unwrap().opened_at);
    assert_eq!(columns(&order("2026-03-02T14:05:00").unwrap_err()), ["opened_at"]);
    assert_eq!(columns(&order("03/02/2026").unwrap_err()), ["opened_at"]);
}

#[test]
fn a_vin_is_kept_in_capitals_without_blanks() {
    let (header, raw) = row(
        HistoryFile::Orders,
        &[
            ("order_no", "7"),
            ("shop", "S"),
            ("opened_at", "2026-03-02T14:05:00Z"),
            ("vin", " 1g4ah59h4-5g118341"),
        ],
    );
    assert_eq!(parse::order(&header, &raw).unwrap().vin.as_deref(), Some("1G4AH59H45G118341"));
}

/// A file of its own, gone with this.
struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> Self {
        let path =
            std::env::temp_dir().join(format!("onetrip-import-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn put(&self, file: &str, bytes: &[u8]) -> PathBuf {
        let path = self.0.join(file);
        std::fs::write(&path, bytes).unwrap();
        path
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        drop(std::fs::remove_dir_all(&self.0));
    }
}

/// Reads a file to its end; how many rows, where it is a file at all.
fn read_through(path: &std::path::Path) -> Option<u64> {
    let money = Currency::parse("USD").unwrap();
    let mut rows = Rows::open(path, "jobs.csv", HistoryFile::Jobs, None).ok()?;
    let mut count = 0;
    while let Some(raw) = rows.next_row().ok()? {
        let parsed = parse::job(&rows.header, &raw, &money);
        assert!(raw.line > 0, "a row without a line");
        assert!(
            parsed.is_ok_and(|line| !line.job.order_no.contains('\0'))
                || !raw.text(b',').is_empty()
        );
        count += 1;
    }
    Some(count)
}

const JOBS: &str = "order_no,job_no,symptom,complaint,labor_amount\r\n\
    7,1,idle.rough,\"shakes, \"\"hard\"\"\r\nGr\u{fc}\u{df}e\",140.00\r\n8,1,engine.tick,,\r\n";

#[test]
fn a_file_cut_short_anywhere_is_refused_or_read_to_its_end() {
    let scratch = Scratch::new("cut");
    scratch.put("orders.csv", b"order_no,shop,opened_at\r\n");
    let mut whole = 0;
    for cut in 0..=JOBS.len() {
        let path = scratch.put("jobs.csv", &JOBS.as_bytes()[..cut]);
        if survey(&scratch.0, None).is_ok() {
            let rows = read_through(&path);
            assert!(rows.is_some_and(|rows| rows <= 2), "cut at {cut}: {rows:?}");
            whole += 1;
        }
    }
    // The header without its last columns, the header alone, a first row that
    // is whole or only short of fields; never one within its quotes.
    assert!(whole > 20 && whole < JOBS.len(), "{whole}");
}

proptest! {
    #[test]
    fn no_bytes_make_it_fall_over(at in 0..JOBS.len(), bytes in prop::collection::vec(any::<u8>(), 1..12)) {
        let scratch = Scratch::new("bytes");
        let mut text = JOBS.as_bytes().to_vec();
        text.splice(at..at, bytes);
        scratch.put("orders.csv", b"order_no,shop,opened_at\n");
        let path = scratch.put("jobs.csv", &text);
        if survey(&scratch.0, None).is_ok() {
            prop_assert!(read_through(&path).is_some());
        }
    }
}
