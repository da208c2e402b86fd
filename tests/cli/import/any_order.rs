//! More rows than are taken at once, in whatever order the files have them.

use std::cell::RefCell;
use std::fs;

use super::export::read_all;
use super::history::{CHECKS, History, JOBS, LABOR, ORDERS, each_database, export};
use crate::support::Place;

const ORDERS_IN_ALL: usize = 2_300;

/// Visits of two jobs each, every tenth a comeback of the one before of its
/// vehicle.
fn history() -> History {
    let history = History::new();
    let mut files = [
        ("orders.csv", vec![ORDERS.to_owned()]),
        ("jobs.csv", vec![JOBS.to_owned()]),
        ("checks.csv", vec![CHECKS.to_owned()]),
        ("labor.csv", vec![LABOR.to_owned()]),
    ];
    for n in 1..=ORDERS_IN_ALL {
        let (month, day) = (1 + n / 28 % 12, 1 + n % 28);
        let on = format!("{}-{month:02}-{day:02}", 2016 + n / 336);
        let [orders, jobs, checks, labor] = &mut files;
        let vin = format!("ZZD{:014}", n % 200);
        orders.1.push(format!("{n},NORTH,{vin},,,,,,,{on}T08:00:00Z,{on}T18:00:00Z"));
        let from = if n > 200 && n % 10 == 0 { format!("{},1", n - 200) } else { ",".to_owned() };
        jobs.1.push(format!("{n},1,,engine.tick,,,,,,Person {},,,,,,{from},", n % 40));
        jobs.1.push(format!("{n},2,maintenance,,,,,,,Person {},,,,,,,,", n % 40));
        for seq in [1, 2, 70] {
            checks.1.push(format!("{n},1,{seq},own look,,normal,{seq},,"));
        }
        labor.1.push(format!("{n},1,Person {},repair,{on}T09:00:00Z,{on}T10:00:00Z,", n % 40));
    }
    for (file, lines) in files {
        fs::write(history.files.join(file), lines.join("\n") + "\n").unwrap();
    }
    history
}

/// The rows the other way round, below their header.
fn turn_round(history: &History, file: &str) {
    let path = history.files.join(file);
    let text = fs::read_to_string(&path).unwrap();
    let (header, rows) = text.split_once('\n').unwrap();
    let turned: Vec<&str> = rows.lines().rev().collect();
    fs::write(path, format!("{header}\n{}\n", turned.join("\n"))).unwrap();
}

#[test]
fn the_order_of_rows_does_not_matter() {
    let written: RefCell<Vec<Vec<(String, String)>>> = RefCell::default();
    for turned in [&[][..], &["jobs.csv", "labor.csv"], &["checks.csv"]] {
        each_database(|place| {
            let history = history();
            for file in turned {
                turn_round(&history, file);
            }
            history.import(place, &[]).ended(0);
            let out = history.around.path().join("out");
            export(place, &out, &[]).ended(0);
            written.borrow_mut().push(read_all(&out));
        });
    }
    assert!(written.borrow().windows(2).all(|pair| pair[0] == pair[1]), "the records differ");
}

#[test]
fn a_visit_is_written_whole() {
    each_database(|place| {
        history().import(place, &[]).ended(0);
        // Only what came back was touched again, by the link to it.
        let linked = "SELECT 1 FROM comeback c WHERE c.shop_id = j.shop_id \
             AND j.id IN (c.earlier_job_id, c.later_job_id)";
        let again = format!("FROM job j WHERE version > 1 AND NOT EXISTS ({linked})");
        assert_eq!(place.count(&again), 0);
        let notes = "FROM record_change WHERE record = 'order' AND action = 'imported'";
        assert_eq!(place.count(notes), i64::try_from(ORDERS_IN_ALL).unwrap());
    });
}

#[test]
fn lines_that_are_there_twice_are_found_across_the_files() {
    let history = history();
    let path = history.files.join("checks.csv");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text + "1,1,2,own look,,,,,\n1,1,70,own look,,,,,\n1,1,71,own look,,,,,\n")
        .unwrap();
    let place = Place::empty_sqlite();
    history.import(&place, &[]).ended(3);
    let rejected = history.rejected();
    assert_eq!(rejected.matches("there twice on this job").count(), 2, "{rejected}");
    let checks = i64::try_from(ORDERS_IN_ALL).unwrap() * 3 + 1;
    assert_eq!(place.count("FROM job_check"), checks);
}
