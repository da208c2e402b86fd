//! A customer's personal data goes, from every row, page, log, export and later backup;
//! no report changes.

use std::path::Path;

use serde_json::json;

use crate::support::folder::Folder;
use crate::support::visit::{finish, open};
use crate::support::{Place, Program, Shops, now};

/// What must go: name, contact, who authorized, plate.
const PERSONAL: [&str; 4] = ["Zwentibold Quarn", "zq@example.net", "Zwenti by phone", "ZQ GONE 7"];
/// Another customer's name, and his plate.
const OTHER: [&str; 2] = ["Ismene Otherwise", "STAYS 8"];
const ERASE: [&str; 7] =
    ["erase", "--shop", "north", "--customer", PERSONAL[0], "--by", "administrator.riverside"];

/// Two visits of the customer's one vehicle and one of another's.
fn worked(place: Place) -> Place {
    let mut shops = Shops::open(place);
    let adviser = shops.person("adviser.north");
    let manager = shops.person("manager.north");
    for (name, plate) in
        [(PERSONAL[0], PERSONAL[3]), (OTHER[0], OTHER[1]), (PERSONAL[0], PERSONAL[3])]
    {
        let (order, job) = open(&adviser, plate, "engine.stalls");
        let contact = if name == PERSONAL[0] { PERSONAL[1] } else { "555 0100" };
        let customer = json!({ "customer_name": "mistyped", "customer_contact": contact });
        adviser.patch(&format!("orders/{order}"), &customer).expect(200);
        adviser.patch(&format!("orders/{order}"), &json!({ "customer_name": name })).expect(200);
        let by = if name == PERSONAL[0] { PERSONAL[2] } else { "Ismene" };
        let asked =
            json!({ "amount_minor": 12_000, "authorized_by": by, "authorized_how": "by phone" });
        adviser.post(&format!("orders/{order}/authorizations"), &asked).expect(201);
        finish(&manager, &order, &job, "air-filter");
    }
    shops.server().stop();
    shops.place.copied()
}

/// Every report that needs no more words, without the number of the last change.
fn reports(place: &Place) -> Vec<String> {
    let said = Program::new(place, &["report", "no-such"]).run("");
    let said = String::from_utf8_lossy(&said.stderr).into_owned();
    let (_, names) = said.split_once("[possible values: ").expect("the reports");
    let (names, _) = names.split_once(']').unwrap();
    let today = (now() - chrono::Duration::hours(6)).date_naive().to_string();
    let made = names.split(", ").filter_map(|name| {
        let asked = ["report", name, "--shop", "north", "--as-of", &today, "--format", "json"];
        let output = Program::new(place, &asked).run("");
        output.status.success().then(|| unnumbered(&String::from_utf8(output.stdout).unwrap()))
    });
    made.collect()
}

fn unnumbered(report: &str) -> String {
    let mut parts = report.split("\"change_no\":");
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |told, part| {
        told + part.trim_start_matches(|c: char| c == ' ' || c.is_ascii_digit())
    })
}

/// The values that some file below the folder has.
fn held(folder: &Path, values: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(held(&path, values));
            continue;
        }
        let bytes = std::fs::read(&path).unwrap();
        for value in values {
            // A plate is also kept as it is looked for.
            for form in [(*value).to_owned(), value.replace(' ', "")] {
                if bytes.windows(form.len()).any(|window| window == form.as_bytes()) {
                    found.push(format!("{form} in {}", path.display()));
                }
            }
        }
    }
    found
}

/// Whatever the program writes of the record, into one folder.
fn written(place: &Place) -> Folder {
    let out = Folder::new();
    let at = |name: &str| out.path().join(name).display().to_string();
    Program::new(place, &["export", "--all", &at("copy"), "--with-secrets"]).must("");
    Program::new(place, &["export", &at("files"), "--shop", "north"]).must("");
    if matches!(place, Place::Sqlite(_)) {
        Program::new(place, &["backup", "--to", &at("backup")]).must("");
    }
    out
}

fn is_forgotten(place: &Place) {
    // The values are there before, where they are looked for afterwards.
    let before = reports(place);
    assert!(before.len() >= 5, "{}", before.len());
    for value in PERSONAL {
        assert!(!held(written(place).path(), &[value]).is_empty(), "{value} was never there");
    }
    let folder = match place {
        Place::Sqlite(folder) => Some(folder.path()),
        Place::Postgres(_) => None,
    };
    if let Some(folder) = folder {
        assert!(!held(folder, &PERSONAL).is_empty());
    }
    let of_customer = format!("SELECT id AS line FROM vehicle WHERE plate = '{}'", PERSONAL[3]);
    let vehicle = place.lines(&of_customer).remove(0);
    let rows = place.count("FROM record_change");
    let said = Program::new(place, &ERASE).run("");
    let words = String::from_utf8_lossy(&said.stderr).into_owned();
    assert!(said.status.success() && words.contains("from 2 orders"), "{words}");
    assert!(!words.contains(PERSONAL[1]), "{words}");
    assert_eq!(held(written(place).path(), &PERSONAL), Vec::<String>::new());
    if let Some(folder) = folder {
        assert_eq!(held(folder, &PERSONAL), Vec::<String>::new());
    }
    for value in OTHER {
        assert!(!held(written(place).path(), &[value]).is_empty(), "{value} is gone, too");
    }
    // The list of jobs names a vehicle by its plate, and now by its id.
    for (told, was) in reports(place).iter().zip(&before) {
        assert_eq!(*told, was.replace(PERSONAL[3], &vehicle), "a report changed");
    }
    // The notes stay, and what was done is noted.
    assert_eq!(place.count("FROM record_change"), rows + 2);
    assert_eq!(place.count("FROM record_change WHERE action = 'erased'"), 2);
    Program::new(place, &["check"]).must("");
    assert_eq!(Program::new(place, &ERASE).run("").status.code(), Some(2));
}

#[test]
fn a_customer_is_forgotten() {
    is_forgotten(&worked(Place::sqlite()));
    if let Some(place) = Place::postgres() {
        is_forgotten(&worked(place));
    }
}

#[test]
fn nobody_is_erased_under_a_server_on_a_folder() {
    let shops = Shops::open(Place::sqlite());
    let said = Program::new(&shops.place, &ERASE).run("");
    assert_eq!(said.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&said.stderr).contains("stop it first"));
}
