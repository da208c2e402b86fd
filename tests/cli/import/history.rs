//! A small history in files, and the program run on it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use crate::support::folder::Folder;
use crate::support::{Place, Program};

pub const ORDERS: &str =
    "order_no,shop,vin,make,model,model_year,engine,odometer_in,odometer_unit,opened_at,closed_at";
pub const JOBS: &str = "order_no,job_no,kind,symptom,complaint,outcome,cause,cause_position,correction,technician,operation,flat_rate_hours,billed_hours,labor_amount,payer,returned_from_order,returned_from_job,comeback_reason";
pub const CHECKS: &str = "order_no,job_no,seq,check,position,finding,minutes,reading,unit";
pub const PARTS: &str = "order_no,job_no,line,part_no,name,position,quantity,disposition,role,serviceable,supplier,lot,unit_cost,unit_price,bench_reading,bench_unit";
pub const LABOR: &str = "order_no,job_no,technician,activity,started_at,ended_at,as";

/// A folder of history files, and what is beside it.
pub struct History {
    pub around: Folder,
    pub files: PathBuf,
}

impl History {
    pub fn new() -> Self {
        let around = Folder::new();
        let files = around.path().join("old-system");
        fs::create_dir(&files).unwrap();
        Self { around, files }
    }

    /// A valve cleaned as the suspect, back after nineteen days with the same
    /// valve suspected again: invented.
    pub fn small() -> Self {
        let history = Self::new();
        history.put("orders.csv", &[
            ORDERS,
            "A-0415,NORTH,ZZD00000000000015,Ostrelle,Corva,2012,1.6,120300,km,2026-03-02T08:05:00-06:00,2026-03-02T16:30:00-06:00",
            "A-0417,NORTH,ZZD00000000000015,Ostrelle,Corva,2012,1.6,121000,km,2026-03-21T09:00:00-05:00,2026-03-21T15:00:00-05:00",
            "A-0416,NORTH,,,,,,,,2026-03-03T09:00:00-06:00,",
        ]);
        history.put("jobs.csv", &[
            JOBS,
            // The later job stands first.
            "A-0417,1,,idle.rough,shakes again,,valve-sticking,,\"cleaned, \"\"again\"\"\",Tomas,IDLE-1,1.2,1.5,140.00,own_guarantee,A-0415,1,misdiagnosis",
            "A-0415,1,,idle.rough,shakes at the lights,,valve-sticking,,cleaned,Mirela,IDLE-1,1.2,1.5,140.00,customer,,,",
            "A-0415,2,maintenance,,,,,,oil changed,Mirela,,,,,,,,",
            "A-0416,1,,brakes.squeal-own-word,squeals,,,,,,,,,,,,,",
        ]);
        history.put(
            "checks.csv",
            &[
                CHECKS,
                "A-0415,1,1,stethoscope,,abnormal,12,-1.5,V",
                "A-0415,1,2,own look,,normal,,,",
            ],
        );
        history.put("parts.csv", &[
            PARTS,
            "A-0415,1,1,IAV-100,idle air valve,throttle,1,cleaned_reused,suspect,alone,Quay,L7,85.00,120.00,0.4,A",
            "A-0417,1,,IAV-100,idle air valve,throttle,0.5,adjusted_reused,suspect,,,,,,,",
        ]);
        history.put("labor.csv", &[
            LABOR,
            "A-0415,1,Mirela,diagnosis,2026-03-02T09:00:00-06:00,2026-03-02T09:30:00-06:00,lead",
            "A-0417,1,Tomas,repair,2026-03-21T10:00:00-05:00,2026-03-21T11:00:00-05:00,",
        ]);
        history
    }

    pub fn put(&self, file: &str, lines: &[&str]) {
        fs::write(self.files.join(file), lines.join("\r\n") + "\r\n").unwrap();
    }

    /// Replaces one text in a file, which must be there.
    pub fn mend(&self, file: &str, from: &str, to: &str) {
        let path = self.files.join(file);
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(from), "{file} has no {from}");
        fs::write(path, text.replacen(from, to, 1)).unwrap();
    }

    pub fn import(&self, place: &Place, more: &[&str]) -> Told {
        import(place, &self.files, more)
    }

    pub fn rejected(&self) -> String {
        fs::read_to_string(self.around.path().join("old-system-rejected.csv")).unwrap_or_default()
    }
}

/// What a run said, and how it ended.
pub struct Told {
    pub code: Option<i32>,
    pub words: String,
}

pub fn import(place: &Place, folder: &Path, more: &[&str]) -> Told {
    let mut arguments = vec!["import", folder.to_str().unwrap()];
    arguments.extend(more);
    // A new shop must be told where it is.
    if !more.contains(&"--zone") {
        arguments.extend(["--zone", "UTC"]);
    }
    told(&Program::new(place, &arguments).run(""))
}

pub fn export(place: &Place, folder: &Path, more: &[&str]) -> Told {
    let mut arguments = vec!["export", folder.to_str().unwrap()];
    arguments.extend(more);
    told(&Program::new(place, &arguments).run(""))
}

pub fn told(output: &Output) -> Told {
    assert!(output.stdout.is_empty(), "data on stdout");
    Told { code: output.status.code(), words: String::from_utf8_lossy(&output.stderr).into_owned() }
}

impl Told {
    #[track_caller]
    pub fn ended(self, code: i32) -> String {
        assert_eq!(self.code, Some(code), "{}", self.words);
        self.words
    }
}

/// Runs on an empty SQLite record, and on an empty PostgreSQL one where a
/// server answers.
pub fn each_database(test: impl Fn(&Place)) {
    test(&Place::empty_sqlite());
    if let Some(place) = Place::empty_postgres() {
        test(&place);
    }
}

/// Versions, change numbers and places of every row that an import may write.
pub fn state(place: &Place) -> Vec<String> {
    let queries = [
        "SELECT id || ' ' || vehicle_id || ' ' || CAST(version AS TEXT) || ' ' || CAST(change_no AS TEXT) AS line FROM repair_order ORDER BY id",
        "SELECT id || ' ' || CAST(version AS TEXT) || ' ' || CAST(change_no AS TEXT) AS line FROM job ORDER BY id",
        "SELECT id || ' ' || CAST(version AS TEXT) AS line FROM vehicle ORDER BY id",
        "SELECT id || ' ' || CAST(version AS TEXT) AS line FROM job_operation ORDER BY id",
        "SELECT id || ' ' || CAST(version AS TEXT) AS line FROM job_check ORDER BY id",
        "SELECT id || ' ' || CAST(version AS TEXT) AS line FROM part_use ORDER BY id",
        "SELECT id || ' ' || CAST(version AS TEXT) AS line FROM labor_entry ORDER BY id",
        "SELECT id || ' ' || CAST(version AS TEXT) || ' ' || CAST(change_no AS TEXT) AS line FROM comeback ORDER BY id",
        "SELECT part_use_id || ' ' || later_job_id AS line FROM part_return ORDER BY part_use_id",
        "SELECT list || ' ' || code AS line FROM code_entry ORDER BY list, code",
        "SELECT name AS line FROM person ORDER BY name",
        "SELECT CAST(change_no AS TEXT) || ' ' || CAST(order_number AS TEXT) AS line FROM shop_counter ORDER BY shop_id",
    ];
    queries.iter().flat_map(|sql| place.lines(sql)).collect()
}
