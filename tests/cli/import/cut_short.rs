//! An import that is killed, again and again, and run again ends at the record
//! that it ends at undisturbed.

use std::process::{Command, Stdio};
use std::time::Duration;

use super::export::read_all;
use super::history::{History, JOBS, LABOR, ORDERS, each_database, export, state};
use crate::support::Place;
use crate::support::folder::Folder;

const ORDERS_IN_ALL: i64 = 2_000;

/// Visits of which every third has no VIN, and every second of those is a
/// comeback of the one before.
fn long_history() -> History {
    let history = History::new();
    let mut orders = vec![ORDERS.to_owned()];
    let mut jobs = vec![JOBS.to_owned()];
    let mut labor = vec![LABOR.to_owned()];
    for n in 1..=ORDERS_IN_ALL {
        let (month, day) = (1 + n / 28 % 12, 1 + n % 28);
        let on = format!("{}-{month:02}-{day:02}", 2020 + n / 336);
        let vin = if n % 3 == 0 { String::new() } else { format!("ZZD{:014}", n / 2) };
        orders.push(format!("{n},NORTH,{vin},,,,,,,{on}T08:00:00Z,{on}T18:00:00Z"));
        let from = if n % 6 == 0 { format!("{},1", n - 3) } else { ",".to_owned() };
        jobs.push(format!("{n},1,,engine.tick,,,,,,Person {},,,,,,{from},", n % 40));
        labor.push(format!("{n},1,Person {},repair,{on}T09:00:00Z,{on}T10:00:00Z,", n % 40));
    }
    for (file, lines) in [("orders.csv", orders), ("jobs.csv", jobs), ("labor.csv", labor)] {
        std::fs::write(history.files.join(file), lines.join("\n")).unwrap();
    }
    history
}

/// Starts the import and kills it; whether it had ended by itself.
fn killed_after(place: &Place, history: &History, millis: u64) -> bool {
    let mut child = Command::new(env!("CARGO_BIN_EXE_onetrip"))
        .args(["--data", &place.data(), "import"])
        .arg(&history.files)
        .args(["--zone", "UTC"])
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(millis));
    let ended = child.try_wait().unwrap().is_some();
    drop(child.kill());
    child.wait().unwrap();
    ended
}

#[test]
fn an_import_cut_short_goes_on_to_the_same_record() {
    let history = long_history();
    let out = Folder::new();
    let (whole, cut) = (out.path().join("whole"), out.path().join("cut"));
    let undisturbed = Place::empty_sqlite();
    history.import(&undisturbed, &[]).ended(0);
    assert_eq!(undisturbed.count("FROM comeback"), ORDERS_IN_ALL / 6);
    export(&undisturbed, &whole, &[]).ended(0);
    each_database(|place| {
        // Makes the tables, so that they can be looked into.
        history.import(place, &["--dry-run"]).ended(0);
        let mut inside = 0;
        for millis in (150..).step_by(150) {
            let ended = killed_after(place, &history, millis);
            let (orders, links) = (place.count("FROM repair_order"), place.count("FROM comeback"));
            inside += u32::from(!ended && orders > 0 && links < ORDERS_IN_ALL / 6);
            if ended {
                break;
            }
        }
        assert!(inside > 0, "no kill met the import at work");
        history.import(place, &[]).ended(0);
        for table in
            ["vehicle", "repair_order", "job", "labor_entry", "comeback", "code_entry", "person"]
        {
            let from = format!("FROM {table}");
            assert_eq!(place.count(&from), undisturbed.count(&from), "{table}");
        }
        drop(std::fs::remove_dir_all(&cut));
        export(place, &cut, &[]).ended(0);
        assert!(read_all(&cut) == read_all(&whole), "the records differ");
        let before = state(place);
        history.import(place, &[]).ended(0);
        assert_eq!(state(place), before);
    });
}

/// The links of vehicles without a VIN come last: an import that was stopped
/// before them must still join the visits.
#[test]
fn links_that_were_not_reached_are_made_up_for() {
    let history = long_history();
    let place = Place::empty_sqlite();
    let jobs = std::fs::read_to_string(history.files.join("jobs.csv")).unwrap();
    let without: String = jobs
        .lines()
        .enumerate()
        .map(|(at, line)| {
            let mut cells: Vec<&str> = line.split(',').collect();
            if at > 0 {
                (cells[15], cells[16]) = ("", "");
            }
            cells.join(",") + "\n"
        })
        .collect();
    std::fs::write(history.files.join("jobs.csv"), without).unwrap();
    history.import(&place, &[]).ended(0);
    assert_eq!(place.count("FROM comeback"), 0);
    std::fs::write(history.files.join("jobs.csv"), jobs).unwrap();
    history.import(&place, &[]).ended(0);
    assert_eq!(place.count("FROM comeback"), ORDERS_IN_ALL / 6);
    let joined = "FROM comeback c JOIN job e ON e.id = c.earlier_job_id JOIN job l ON l.id = c.later_job_id \
         JOIN repair_order eo ON eo.id = e.order_id JOIN repair_order lo ON lo.id = l.order_id \
         WHERE eo.vehicle_id = lo.vehicle_id";
    assert_eq!(place.count(joined), ORDERS_IN_ALL / 6);
}
