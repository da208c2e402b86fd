//! History files in and out, by the program itself.

mod any_order;
mod cut_short;
pub mod export;
pub mod history;
mod map;
mod new_shop;
mod unfit;

use std::fs;

use crate::support::Place;
use history::{History, each_database, state};

#[test]
fn a_history_comes_in_and_the_same_again_changes_nothing() {
    each_database(|place| {
        let history = History::small();
        let words = history.import(place, &["--zone", "America/Chicago"]).ended(0);
        assert!(words.contains("new shop NORTH: time zone America/Chicago"), "{words}");
        for (table, rows) in
            [("repair_order", 3), ("job", 4), ("job_check", 2), ("part_use", 2), ("labor_entry", 2)]
        {
            assert_eq!(place.count(&format!("FROM {table}")), rows, "{table}");
        }
        // 08:05 in Chicago is 14:05 UTC: the shop's own day and minute are kept.
        let opened = place.lines(
            "SELECT CAST(opened_on AS TEXT) || ' ' || CAST(opened_minute AS TEXT) AS line FROM repair_order WHERE order_no = 'A-0415'",
        );
        assert_eq!(opened, [format!("2026-03-02 {}", 8 * 60 + 5)]);
        let before = state(place);
        history.import(place, &[]).ended(0);
        assert_eq!(state(place), before);
    });
}

#[test]
fn links_confirm_comebacks_and_part_returns() {
    each_database(|place| {
        History::small().import(place, &[]).ended(0);
        let links = place.lines(
            "SELECT state || ' ' || proposed_by || ' ' || reason AS line FROM comeback \
             WHERE same_complaint AND same_system AND same_cause AND same_part AND our_work \
             AND decided_by IS NULL",
        );
        assert_eq!(links, ["confirmed import misdiagnosis"]);
        // The cause that was not the cause is only suspected again.
        let causes = "SELECT o.order_no || ' ' || j.cause_state AS line FROM job j \
             JOIN repair_order o ON o.shop_id = j.shop_id AND o.id = j.order_id \
             WHERE j.cause IS NOT NULL ORDER BY o.order_no";
        assert_eq!(place.lines(causes), ["A-0415 suspected", "A-0417 confirmed"]);
        let returns = "SELECT p.disposition || ' ' || r.state AS line FROM part_return r \
             JOIN part_use p ON p.shop_id = r.shop_id AND p.id = r.part_use_id";
        assert_eq!(place.lines(returns), ["cleaned_reused confirmed"]);
    });
}

#[test]
fn what_the_lists_lack_is_added_and_said() {
    each_database(|place| {
        let words = History::small().import(place, &[]).ended(0);
        assert!(words.contains("new technicians, without sign-in: Mirela, Tomas"), "{words}");
        for code in ["brakes.squeal-own-word", "own look", "IDLE-1", "valve-sticking"] {
            assert!(words.contains(code), "{code} in {words}");
            let sql = format!("FROM code_entry WHERE code = '{code}' AND origin = 'import'");
            assert_eq!(place.count(&sql), 1, "{code}");
        }
        assert_eq!(
            place.count("FROM code_entry WHERE code = 'stethoscope' AND origin = 'import'"),
            0
        );
        assert_eq!(place.count("FROM person WHERE sign_in_name IS NULL AND active"), 2);
        // Numbering goes on above the highest imported number.
        assert_eq!(
            place.lines("SELECT CAST(order_number AS TEXT) AS line FROM shop_counter"),
            ["417"]
        );
    });
}

#[test]
fn bad_rows_are_rejected_and_the_good_ones_go_in() {
    let cases: [(&str, &str, &str, &str); 12] = [
        ("orders.csv", "B-1,NORTH,,,,,,,,yesterday,", "opened_at", "is not a time"),
        ("orders.csv", "B-1,,,,,,,,,2026-03-03T09:00:00Z,", "shop", "is empty"),
        (
            "orders.csv",
            "B-1,NORTH,,,,,,,,2026-03-03T09:00:00Z,2026-03-02T09:00:00Z",
            "closed_at",
            "before opened_at",
        ),
        ("orders.csv", "B-1,NORTH,,,,,,-5,,2026-03-03T09:00:00Z,", "odometer_in", "whole number"),
        ("orders.csv", "A-0415,NORTH,,,,,,,,2026-03-02T08:05:00-06:00,", "order_no", "twice"),
        ("orders.csv", "B-1,NORTH", "", "2 fields and the header 11"),
        (
            "jobs.csv",
            "Z-9,1,,idle.rough,,,,,,,,,,,,,,",
            "order_no",
            "orders.csv has no good row for order Z-9",
        ),
        ("jobs.csv", "A-0415,3,,,,,,,,,,,,,,,,", "symptom", "is empty"),
        ("jobs.csv", "A-0415,3,,idle.rough,,mended,,,,,,,,,,,,", "outcome", "not one of: repaired"),
        (
            "jobs.csv",
            "A-0415,3,,idle.rough,,,,,,,IDLE-1,1.205,,,,,,",
            "flat_rate_hours",
            "at most 2 decimals",
        ),
        ("parts.csv", "A-0415,1,2,,valve,,1,thrown_away,,,,,,,,", "disposition", "not one of"),
        (
            "labor.csv",
            "A-0415,2,Mirela,repair,2026-03-02T09:15:00-06:00,2026-03-02T10:00:00-06:00,lead",
            "started_at",
            "job 1 of order A-0415",
        ),
    ];
    for (file, row, column, reason) in cases {
        let place = Place::empty_sqlite();
        let history = History::small();
        let path = history.files.join(file);
        let text = fs::read_to_string(&path).unwrap() + row + "\r\n";
        let line = text.lines().count();
        fs::write(&path, text).unwrap();
        history.import(&place, &[]).ended(3);
        let rejected = history.rejected();
        let mut lines = rejected.lines().skip(1);
        let told = lines.next().unwrap_or_default();
        assert!(told.starts_with(&format!("{file},{line},{column},")), "{row}: {told}");
        assert!(told.contains(reason), "{row}: {told}");
        assert!(told.replace("\"\"", "\"").contains(row), "{row}: {told}");
        assert_eq!(lines.next(), None, "{row}");
        assert_eq!(place.count("FROM job"), 4, "{row}");
        assert_eq!(place.count("FROM labor_entry"), 2, "{row}");
    }
}

#[test]
fn links_that_cannot_be_are_rejected_but_their_jobs_go_in() {
    let cases = [
        ("A-0417,1", "names the job itself"),
        ("A-0415,9", "no good row for job 9 of order A-0415"),
        ("X-1,1", "no good row for job 1 of order X-1"),
        ("A-0416,1", "not handed over"),
        ("A-0400,1", "another vehicle"),
        ("A-0418,1", "handed over after this order was opened"),
    ];
    for (from, reason) in cases {
        let place = Place::empty_sqlite();
        let history = History::small();
        for (file, rows) in [
            (
                "orders.csv",
                "A-0400,NORTH,ZZD00000000000099,,,,,,,2026-01-02T08:00:00Z,2026-01-03T08:00:00Z\r\nA-0418,NORTH,ZZD00000000000015,,,,,,,2026-03-25T08:00:00Z,2026-03-26T08:00:00Z\r\n",
            ),
            (
                "jobs.csv",
                "A-0400,1,,idle.rough,,,,,,,,,,,,,,\r\nA-0418,1,,idle.rough,,,,,,,,,,,,,,\r\n",
            ),
        ] {
            let text = fs::read_to_string(history.files.join(file)).unwrap();
            fs::write(history.files.join(file), text + rows).unwrap();
        }
        history.mend("jobs.csv", "A-0415,1,misdiagnosis", &format!("{from},misdiagnosis"));
        history.import(&place, &[]).ended(3);
        let rejected = history.rejected();
        assert!(rejected.contains("jobs.csv,2,returned_from_order,"), "{from}: {rejected}");
        assert!(rejected.contains(reason), "{from}: {rejected}");
        assert_eq!((place.count("FROM job"), place.count("FROM comeback")), (6, 0), "{from}");
    }
}

#[test]
fn changed_rows_need_update() {
    each_database(|place| {
        let history = History::small();
        history.import(place, &[]).ended(0);
        let before = state(place);
        history.mend("orders.csv", ",120300,", ",120301,");
        history.mend("jobs.csv", "shakes at the lights", "shakes at every light");
        history.mend("checks.csv", ",abnormal,12,", ",abnormal,13,");
        history.mend("parts.csv", ",85.00,", ",86.00,");
        history.mend("labor.csv", "T09:30", "T09:45");
        history.import(place, &[]).ended(3);
        let rejected = history.rejected();
        assert_eq!(rejected.matches("run with --update").count(), 5);
        for told in [
            ",odometer_in,\"differs from the record, which has '120300';",
            ",complaint,\"differs from the record, which has 'shakes at the lights';",
            ",minutes,\"differs from the record, which has '12';",
            ",unit_cost,differs from the record;",
            ",ended_at,\"differs from the record, which has '2026-03-02T15:30:00Z';",
        ] {
            assert!(rejected.contains(told), "{told}: {rejected}");
        }
        assert_eq!(state(place), before);
        history.import(place, &["--update"]).ended(0);
        assert_eq!(place.lines("SELECT CAST(odometer_in AS TEXT) AS line FROM repair_order WHERE order_no = 'A-0415'"), ["120301"]);
        assert_eq!(place.count("FROM job_check WHERE minutes = 13"), 1);
        assert_eq!(place.count("FROM part_use WHERE unit_cost_minor = 8600"), 1);
        assert_eq!(place.count("FROM job WHERE complaint = 'shakes at every light'"), 1);
        // The order's other job is told of the change too.
        let last = "FROM job j JOIN repair_order o ON o.id = j.order_id AND o.shop_id = j.shop_id \
             WHERE o.order_no = 'A-0415' AND j.change_no < o.change_no";
        assert_eq!(place.count(last), 0);
        let after = state(place);
        history.import(place, &["--update"]).ended(0);
        assert_eq!(state(place), after);
        assert_eq!(history.rejected(), "", "the earlier rejects are gone, and their file");
    });
}

#[test]
fn columns_that_a_file_lacks_leave_the_record_alone() {
    let place = Place::empty_sqlite();
    let history = History::small();
    history.import(&place, &[]).ended(0);
    let before = state(&place);
    history.put(
        "orders.csv",
        &[
            "closed_at,opened_at,shop,order_no",
            "2026-03-02T22:30:00Z,2026-03-02T14:05:00Z,NORTH,A-0415",
        ],
    );
    history.put("jobs.csv", &["job_no,symptom,order_no", "1,idle.rough,A-0415"]);
    for file in ["checks.csv", "parts.csv", "labor.csv"] {
        fs::remove_file(history.files.join(file)).unwrap();
    }
    history.import(&place, &["--update"]).ended(0);
    assert_eq!(state(&place), before);
}

#[test]
fn nothing_handed_over_is_opened_again() {
    let place = Place::empty_sqlite();
    let history = History::small();
    history.import(&place, &[]).ended(0);
    history.mend("orders.csv", ",2026-03-21T15:00:00-05:00", ",");
    history.import(&place, &["--update"]).ended(3);
    assert!(history.rejected().contains("nothing handed over is opened again"));
    assert_eq!(place.count("FROM repair_order WHERE status = 'closed'"), 2);
}

#[test]
fn a_dry_run_counts_alike_and_writes_nothing() {
    each_database(|place| {
        let history = History::small();
        history.mend("labor.csv", "T11:00", "T10:00");
        let dry = history.import(place, &["--dry-run"]).ended(3);
        assert!(history.rejected().contains("labor.csv,3,ended_at"));
        for table in ["shop", "person", "repair_order", "job", "code_entry"] {
            assert_eq!(place.count(&format!("FROM {table}")), 0, "{table}");
        }
        let wet = history.import(place, &[]).ended(3);
        let counts = |words: &str| -> Vec<String> {
            words
                .lines()
                .filter(|line| line.contains(" unchanged ") || line.starts_with("new in the list"))
                .map(str::to_owned)
                .collect()
        };
        assert!(dry.contains("new in the list of symptom codes: brakes.squeal-own-word"), "{dry}");
        assert!(dry.contains("labor.csv") && dry.contains("1 added"), "{dry}");
        assert_eq!(counts(&dry), counts(&wet));
    });
}

#[test]
fn marks_line_ends_and_more_columns_do_no_harm() {
    let place = Place::empty_sqlite();
    let history = History::small();
    let text = fs::read_to_string(history.files.join("orders.csv")).unwrap().replace('\r', "");
    let wider: String = text
        .lines()
        .enumerate()
        .map(|(at, line)| format!("{line},{}\n", if at == 0 { "Color" } else { "blue" }))
        .collect();
    fs::write(history.files.join("orders.csv"), format!("\u{FEFF}{wider}")).unwrap();
    let words = history.import(&place, &[]).ended(0);
    assert!(words.contains("orders.csv: columns left aside: Color"), "{words}");
    assert_eq!(place.count("FROM repair_order"), 3);
}

#[test]
fn two_shops_with_the_same_number_in_one_folder_are_told_apart() {
    let place = Place::empty_sqlite();
    let history = History::small();
    history.mend("orders.csv", "A-0416,NORTH", "A-0415,SOUTH");
    history.import(&place, &[]).ended(3);
    assert!(history.rejected().contains("one folder a shop"), "{}", history.rejected());
}

#[test]
fn a_vehicle_without_a_vin_is_of_its_order_until_a_link_says_more() {
    let place = Place::empty_sqlite();
    let history = History::new();
    history.put(
        "orders.csv",
        &[
            "order_no,shop,opened_at,closed_at",
            "1,S,2026-01-05T08:00:00Z,2026-01-05T12:00:00Z",
            "2,S,2026-01-20T08:00:00Z,2026-01-20T12:00:00Z",
            "3,S,2026-02-20T08:00:00Z,2026-02-20T12:00:00Z",
            "4,S,2026-02-21T08:00:00Z,",
        ],
    );
    history.put(
        "jobs.csv",
        &[
            "order_no,job_no,symptom,returned_from_order,returned_from_job",
            "3,1,engine.tick,2,1",
            "2,1,engine.tick,1,1",
            "1,1,engine.tick,,",
            "4,1,engine.tick,,",
        ],
    );
    history.import(&place, &[]).ended(0);
    let vehicles = place.lines("SELECT vehicle_id AS line FROM repair_order ORDER BY order_no");
    assert!(vehicles[0] == vehicles[1] && vehicles[1] == vehicles[2], "{vehicles:?}");
    assert_ne!(vehicles[0], vehicles[3]);
    assert_eq!(place.count("FROM vehicle"), 2);
    let before = state(&place);
    history.import(&place, &[]).ended(0);
    assert_eq!(state(&place), before);
}

#[test]
fn faults_of_one_kind_are_told_once() {
    let place = Place::empty_sqlite();
    let history = History::small();
    let text = fs::read_to_string(history.files.join("parts.csv")).unwrap();
    fs::write(history.files.join("parts.csv"), text.replace(",suspect,", ",Y,")).unwrap();
    let words = history.import(&place, &["--dry-run"]).ended(3);
    assert!(words.contains("parts.csv, role: 'Y' is not one of"), "{words}");
    assert!(words.contains("(2 rows, first line 2)"), "{words}");
    assert!(words.contains("2 rows were rejected; correct them by"), "{words}");
}

#[test]
fn a_code_that_is_the_label_of_another_is_told() {
    each_database(|place| {
        let history = History::small();
        history.mend("checks.csv", "own look", "Road test");
        let told = "'Road test' is the label of road-test";
        let dry = history.import(place, &["--dry-run"]).ended(0);
        let wet = history.import(place, &[]).ended(0);
        assert!(dry.contains(told) && wet.contains(told), "{dry}{wet}");
        assert_eq!(place.count("FROM code_entry WHERE code = 'Road test'"), 1);
    });
}

#[test]
fn links_from_is_kept_with_the_shop() {
    each_database(|place| {
        History::small().import(place, &["--links-from", "2026-03-01"]).ended(0);
        let kept = place.lines("SELECT CAST(links_from AS TEXT) AS line FROM shop");
        assert_eq!(kept, ["2026-03-01"]);
    });
}
