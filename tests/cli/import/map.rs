//! Another program's files, by a mapping.

use std::fs;

use super::export::read_all;
use super::history::{CHECKS, History, JOBS, LABOR, ORDERS, PARTS, export};
use crate::support::folder::Folder;
use crate::support::{Place, Program};

const MAP: &str = r#"
name = "The old system of the north shop"
[form]
delimiter = ";"
decimal = ","
thousands = "."
signs = "€"
time = "DD.MM.YYYY HH:MM"

[orders]
file = "visits.csv"
[orders.columns]
order_no = "Visit"
shop = { fixed = "NORTH" }
vin = "Chassis"
odometer_in = "Odo"
opened_at = { from = ["Day in", "Hour in"] }
closed_at = "Out"

[jobs]
file = "work lines.csv"
[jobs.columns]
order_no = "Visit"
job_no = "Line"
symptom = { from = "Code", words = { "X1" = "idle.rough", "none" = "-" } }
kind = { from = "Type", words = { "Service" = "maintenance", "" = "complaint" } }
complaint = "Said"
technician = "Who"
operation = "Op"
billed_hours = "Hours"
labor_amount = "Amount"

[parts]
file = "parts.csv"
[parts.columns]
order_no = "Visit"
job_no = "Line"
name = "What"
disposition = { from = "Done", words = { "new" = "replaced_new", "washed" = "cleaned_reused" } }
role = { fixed = "suspect" }
quantity = "Count"
unit_cost = "Cost"

[labor]
file = "clock.csv"
[labor.columns]
order_no = "Visit"
job_no = "Line"
technician = "Who"
started_at = "From"
ended_at = "To"
"#;

fn foreign() -> History {
    let history = History::new();
    history.put(
        "visits.csv",
        &[
            "\u{feff}Visit;Chassis;Odo;Day in;Hour in;Out;Paint",
            "A-1;ZZD00000000000015;120.300;02.03.2026;08:05;02.03.2026 16:30;blue",
            "A-2;;;03.03.2026;09:00;;",
        ],
    );
    history.put(
        "work lines.csv",
        &[
            "Visit;Line;Code;Type;Said;Who;Op;Hours;Amount",
            "A-1;1;X1;;\"shakes; at the lights\";Mirela;IDLE-1;1,25;€ 1.140,50",
            "A-1;2;none;Service;;Mirela;;;",
            "A-2;1;X1;;squeals;;;;",
        ],
    );
    history.put(
        "parts.csv",
        &["Visit;Line;What;Done;Count;Cost", "A-1;1;idle valve;Washed;1,5;85,00"],
    );
    history.put(
        "clock.csv",
        &["Visit;Line;Who;From;To", "A-1;1;Mirela;02.03.2026 09:00;02.03.2026 09:30"],
    );
    fs::write(history.around.path().join("old.toml"), MAP).unwrap();
    history
}

fn map_of(history: &History) -> String {
    history.around.path().join("old.toml").display().to_string()
}

#[test]
fn mapped_files_come_in_like_the_same_history_in_our_own() {
    let theirs = foreign();
    let zone = ["--zone", "America/Chicago"];
    let mapped = Place::empty_sqlite();
    let words =
        theirs.import(&mapped, &[&["--map", &map_of(&theirs)], &zone[..]].concat()).ended(0);
    assert!(words.contains("map: The old system of the north shop"), "{words}");
    assert!(words.contains("visits.csv: columns left aside: Paint"), "{words}");

    let ours = History::new();
    ours.put("orders.csv", &[
        ORDERS,
        "A-1,NORTH,ZZD00000000000015,,,,,120300,,2026-03-02T08:05:00-06:00,2026-03-02T16:30:00-06:00",
        "A-2,NORTH,,,,,,,,2026-03-03T09:00:00-06:00,",
    ]);
    ours.put(
        "jobs.csv",
        &[
            JOBS,
            "A-1,1,,idle.rough,shakes; at the lights,,,,,Mirela,IDLE-1,,1.25,1140.50,,,,",
            "A-1,2,maintenance,,,,,,,Mirela,,,,,,,,",
            "A-2,1,,idle.rough,squeals,,,,,,,,,,,,,",
        ],
    );
    ours.put("checks.csv", &[CHECKS]);
    ours.put("parts.csv", &[PARTS, "A-1,1,,,idle valve,,1.5,cleaned_reused,suspect,,,,85.00,,,"]);
    ours.put(
        "labor.csv",
        &[LABOR, "A-1,1,Mirela,,2026-03-02T09:00:00-06:00,2026-03-02T09:30:00-06:00,"],
    );
    let plain = Place::empty_sqlite();
    ours.import(&plain, &zone).ended(0);
    let out = Folder::new();
    let (one, other) = (out.path().join("one"), out.path().join("other"));
    export(&mapped, &one, &[]).ended(0);
    export(&plain, &other, &[]).ended(0);
    assert_eq!(read_all(&one), read_all(&other));
    // The shop's own zone is taken where it is there already.
    let words = theirs.import(&mapped, &["--map", &map_of(&theirs)]).ended(0);
    assert!(words.contains("2 unchanged"), "{words}");
}

#[test]
fn faults_point_at_the_other_programs_file_line_and_column() {
    for (file, from, to, place, why) in [
        (
            "visits.csv",
            "02.03.2026;08:05",
            "2026-03-02;08:05",
            "visits.csv,2,Day in + Hour in,",
            "written as DD.MM.YYYY HH:MM",
        ),
        (
            "visits.csv",
            "120.300",
            "12.0300",
            "visits.csv,2,Odo,",
            "not a number with ',' for the decimals",
        ),
        ("work lines.csv", "1,25", "1.25", "work lines.csv,2,Hours,", "not a number with ','"),
        (
            "work lines.csv",
            ";Service;",
            ";Gift;",
            "work lines.csv,3,Type,",
            "is not one of: complaint",
        ),
        ("parts.csv", "Washed", "Binned", "parts.csv,2,Done,", "'Binned' is not one of"),
        ("clock.csv", ";02.03.2026 09:30", "", "clock.csv,2,,", "4 fields and the header 5"),
    ] {
        let history = foreign();
        history.mend(file, from, to);
        let target = Place::empty_sqlite();
        let dry = history.import(&target, &["--map", &map_of(&history), "--dry-run"]).ended(3);
        assert!(
            dry.contains(
                &place
                    .replacen(',', " line ", 1)
                    .replace(',', ", ")
                    .trim_end_matches(", ")
                    .to_owned()
            ) && dry.contains(why),
            "{why}: {dry}"
        );
        assert_eq!(target.count("FROM shop"), 0, "a dry run writes nothing");
        history.import(&target, &["--map", &map_of(&history)]).ended(3);
        let rejected = history.rejected();
        assert!(rejected.contains(place) && rejected.contains(why), "{why}: {rejected}");
    }
}

#[test]
fn what_follows_is_told_in_the_other_programs_words() {
    let history = foreign();
    history.mend("visits.csv", "A-2;;;03.03.2026", "A-2;;;yesterday");
    history.mend("clock.csv", "02.03.2026 09:30", "02.03.2026 08:30");
    let place = Place::empty_sqlite();
    history.import(&place, &["--map", &map_of(&history)]).ended(3);
    let rejected = history.rejected();
    for told in [
        "work lines.csv,4,Visit,visits.csv has no good row for order A-2",
        "clock.csv,2,To,is not after 'From'; correct one of the two",
        // The row can be put back as it stands.
        "A-2;1;X1;;squeals;;;;",
    ] {
        assert!(rejected.contains(told), "{told}: {rejected}");
    }
}

#[test]
fn a_zone_in_the_map_is_that_of_a_new_shop() {
    let history = foreign();
    let map = MAP.replacen("[form]", "[form]\nzone = \"America/Chicago\"", 1);
    fs::write(history.around.path().join("old.toml"), map).unwrap();
    let place = Place::empty_sqlite();
    let map = map_of(&history);
    let arguments = ["import", history.files.to_str().unwrap(), "--map", &map];
    Program::new(&place, &arguments).must("");
    assert_eq!(place.lines("SELECT time_zone AS line FROM shop"), ["America/Chicago"]);
}

#[test]
fn a_guess_states_what_leaves_one_way_only() {
    let history = History::new();
    history.put(
        "ro.csv",
        &["RO No.;Br.;km in;Received", "7;N;25.754;24.11.2025 13:39", "8;N;1.175;01.12.2025 08:00"],
    );
    history.put(
        "ro lines.csv",
        &["RO No.;Ln;Complaint code;Labour amt", "7;1;BRK-SQL;1.175,43", "8;1;Noise;12,50"],
    );
    history.put("parts.csv", &["RO No.;Ln;#;Descr.;Action;Suspect?", "7;1;1;pad;NEW;Y"]);
    let place = Place::empty_sqlite();
    let map = history.around.path().join("guess.toml").display().to_string();
    history.import(&place, &["--guess-map", &map]).ended(0);
    let text = fs::read_to_string(&map).unwrap();
    for line in [
        "decimal = \",\"   # only so",
        "thousands = \".\"",
        "time = \"DD.MM.YYYY HH:MM\"",
        "shop = \"Br.\"",
        "opened_at = \"Received\"",
        "job_no = \"Ln\"",
        "line = \"#\"",
        "\"BRK-SQL\" = \"\"",
        "onetrip codes symptom",
        "suspect = { from = \"Suspect?\", words = { \"Y\" = \"true\" } }",
        "# payer = \"\"   # one of: customer",
    ] {
        assert!(text.contains(line), "{line}: {text}");
    }
    fs::write(history.files.join("ro.csv"), b"RO No.;Br.;Received\n7;Gr\xFC\xDFe;x\n").unwrap();
    let other = history.around.path().join("other.toml").display().to_string();
    let words = history.import(&place, &["--guess-map", &other]).ended(0);
    assert!(words.contains("ro.csv: line 2 has bytes that are not UTF-8"), "{words}");
}

#[test]
fn a_mapping_that_does_not_fit_the_files_is_refused_whole() {
    for (from, to, why) in [
        ("vin = \"Chassis\"", "vin = \"Frame\"", "'Frame' (for vin) is missing"),
        (
            "file = \"clock.csv\"",
            "file = \"times.csv\"",
            "times.csv: is missing, but the map names it",
        ),
        ("delimiter = \";\"", "delimiter = \",\"", "is missing"),
        ("decimal = \",\"", "", "state decimal"),
        ("order_no = \"Visit\"", "", "orders.columns.order_no: is needed"),
    ] {
        let history = foreign();
        let changed = MAP.replacen(from, to, 1);
        assert_ne!(changed, MAP);
        fs::write(history.around.path().join("old.toml"), changed).unwrap();
        let place = Place::empty_sqlite();
        let words = history.import(&place, &["--map", &map_of(&history)]).ended(2);
        assert!(words.contains(why), "{why}: {words}");
        assert!(words.contains("nothing was imported"), "{words}");
    }
}

#[test]
fn a_guessed_mapping_is_finished_by_hand_and_then_taken() {
    let history = History::new();
    history.put(
        "repair orders.csv",
        &[
            "RO Number;VIN;Mileage In;Date In;Date Out",
            "7;ZZD00000000000015;120300;03/02/2026;03/02/2026",
        ],
    );
    history.put(
        "job lines.csv",
        &[
            "RO Number;Line;Complaint Code;Concern;Result;Blood Group",
            "7;1;idle.rough;shakes;Fixed;A",
        ],
    );
    let place = Place::empty_sqlite();
    let map = history.around.path().join("guess.toml");
    let map_text = map.display().to_string();
    history.import(&place, &["--guess-map", &map_text]).ended(0);
    let text = fs::read_to_string(&map).unwrap();
    for line in [
        "delimiter = \";\"",
        "file = \"repair orders.csv\"",
        "order_no = \"RO Number\"   # a usual name for it",
        "odometer_in = \"Mileage In\"   # a usual name for it",
        "values here: 03/02/2026",
        "shop = { fixed = \"MAIN\" }",
        "outcome = { from = \"Result\", words = { \"Fixed\" = \"\" } }",
        "# headers left aside: Blood Group",
    ] {
        assert!(text.contains(line), "{line}: {text}");
    }
    // How times are written is never guessed, nor what a word means.
    let words = history.import(&place, &["--map", &map_text]).ended(2);
    assert!(
        words.contains("time '' needs YYYY") && words.contains("'Fixed' has no value"),
        "{words}"
    );
    let again = history.import(&place, &["--guess-map", &map_text]).ended(2);
    assert!(again.contains("is there already"), "{again}");
    let finished = text
        .replace("time = \"\"", "time = \"MM/DD/YYYY\"")
        .replace("# at = ", "at = ")
        .replace("\"Fixed\" = \"\"", "\"Fixed\" = \"repaired\"")
        .replace("\"idle.rough\" = \"\"", "\"idle.rough\" = \"engine.idle-rough\"");
    fs::write(&map, finished).unwrap();
    history.import(&place, &["--map", &map_text, "--zone", "America/Chicago"]).ended(0);
    let opened = "SELECT CAST(opened_on AS TEXT) || ' ' || CAST(opened_minute AS TEXT) AS line FROM repair_order";
    assert_eq!(place.lines(opened), ["2026-03-02 480"]);
    assert_eq!(place.count("FROM job WHERE outcome = 'repaired' AND complaint = 'shakes'"), 1);
}

#[test]
fn links_from_lies_in_no_future() {
    let history = History::small();
    let place = Place::empty_sqlite();
    let words = history.import(&place, &["--links-from", "2199-01-01"]).ended(2);
    assert!(words.contains("is in the future"), "{words}");
    let help = Program::new(&place, &["import", "--help"]).must("");
    assert!(help.contains("--guess-map"), "{help}");
}
