//! The whole record out and in again, between the two databases.

use std::fs;
use std::path::Path;

use serde_json::Value;

use super::import::export::read_all;
use super::import::history::{History, Told, told};
use crate::support::folder::Folder;
use crate::support::{Place, Program};

fn run(place: &Place, verb: &str, folder: &Path, more: &[&str]) -> Told {
    let arguments = [&[verb, "--all", folder.to_str().unwrap()][..], more].concat();
    told(&Program::new(place, &arguments).run(""))
}

/// Rows in every table that the API fills and an import does not.
const FILL: &str = "
    INSERT INTO odometer_reset SELECT shop_id, '00000000-0000-7000-8000-000000000001', id,
        '2026-03-05', 120300, 10, 'km', NULL, 1 FROM vehicle LIMIT 1;
    INSERT INTO order_authorization SELECT o.shop_id, '00000000-0000-7000-8000-000000000002', o.id, 12050,
        'the owner', 'by phone', '2026-03-02 15:00:00.000001', 'says \"go on\" \u{2014} now', p.id
        FROM repair_order o, person p LIMIT 1;
    INSERT INTO job_person SELECT j.shop_id, j.id, p.id, 'helper', NULL FROM job j, person p LIMIT 1;
    INSERT INTO job_wait SELECT shop_id, '00000000-0000-7000-8000-000000000003', id, 'part', NULL,
        '2026-03-04', '2026-03-02 15:00:00', '2026-03-03 15:00:00.5' FROM job LIMIT 1;
    INSERT INTO proof SELECT j.shop_id, '00000000-0000-7000-8000-000000000004', j.id, 'reading', TRUE,
        NULL, 0.1234567890123456789, 'V', p.id, '2026-03-02 15:00:00', 1 FROM job j, person p LIMIT 1;
    INSERT INTO sublet SELECT shop_id, '00000000-0000-7000-8000-000000000005', id, 1, 'Glass next door',
        'glass', '2026-03-02', NULL, NULL, 100, 200, 'customer', 1 FROM job LIMIT 1;
    INSERT INTO planned_visit SELECT shop_id, max(id), min(id) FROM job GROUP BY shop_id;
    INSERT INTO pay_back SELECT shop_id, '00000000-0000-7000-8000-000000000006', id, 'Quay', 8500,
        '2026-04-01', NULL, 1 FROM job LIMIT 1;
    INSERT INTO outside_return SELECT j.shop_id, '00000000-0000-7000-8000-000000000007', j.id,
        'not_fixed', '2026-03-20', NULL, NULL, p.id, 1 FROM job j, person p LIMIT 1;
    INSERT INTO attendance SELECT s.id, '00000000-0000-7000-8000-000000000008', p.id, '2026-03-02', 480,
        NULL, 1 FROM shop s, person p LIMIT 1;
    INSERT INTO access_token SELECT '00000000-0000-7000-8000-000000000009', group_id, id, 'till', 'read',
        'secret-of-a-token', '2026-03-02 15:00:00', NULL, NULL, NULL, NULL FROM person LIMIT 1;
    INSERT INTO tablet SELECT s.id, '00000000-0000-7000-8000-000000000010', 'bay 1', 'secret-of-a-tablet',
        p.id, '2026-03-02 15:00:00', NULL, NULL FROM shop s, person p LIMIT 1;
    INSERT INTO part_policy SELECT id, 'idle air valve', 90, 30, NULL, 8500, 2 FROM shop;
    INSERT INTO part_policy SELECT id, 'Zündkerze', NULL, NULL, NULL, NULL, NULL FROM shop;
    INSERT INTO check_plan (shop_id, id, symptom, made_at, version) SELECT id,
        '00000000-0000-7000-8000-000000000011', 'engine.tick', '2026-03-02 15:00:00', 1 FROM shop;
    INSERT INTO check_plan_version (shop_id, id, plan_id, number, state, origin, steps_json, made_at, from_at)
        SELECT id, '00000000-0000-7000-8000-000000000012', '00000000-0000-7000-8000-000000000011', 1,
        'in_force', 'own', '[]', '2026-03-02 15:00:00', '2026-03-02 15:00:00' FROM shop;
    INSERT INTO shop_rule (shop_id, id, kind, title, words, evidence, owner_id, starts_on, review_on,
        taken_by, taken_at, version) SELECT s.id, '00000000-0000-7000-8000-000000000013', 'free_text',
        'Ask twice', 'Ask when it happens', '3 of 9', p.id, '2026-03-02', '2026-09-02', p.id,
        '2026-03-02 15:00:00', 1 FROM shop s, (SELECT min(id) AS id FROM person) p;
    INSERT INTO rule_answer (shop_id, rule_id, job_id, kept, person_id, answered_at, version)
        SELECT j.shop_id, '00000000-0000-7000-8000-000000000013', j.id, TRUE, p.id,
        '2026-03-02 15:00:00', 1 FROM job j, person p LIMIT 1;
    INSERT INTO reading_list (shop_id, id, name, purpose, version) SELECT id,
        '00000000-0000-7000-8000-000000000014', 'New vehicles', 'preparation', 1 FROM shop;
    INSERT INTO reading_list_version (shop_id, id, list_id, number, lines_json, made_at) SELECT id,
        '00000000-0000-7000-8000-000000000015', '00000000-0000-7000-8000-000000000014', 1, '[]',
        '2026-03-02 15:00:00' FROM shop;
    INSERT INTO reading_sheet (shop_id, id, list_version_id, vehicle_id, begun_by, begun_at, begun_on, version)
        SELECT v.shop_id, '00000000-0000-7000-8000-000000000016', '00000000-0000-7000-8000-000000000015',
        v.id, p.id, '2026-03-02 15:00:00', '2026-03-02', 1 FROM vehicle v, person p LIMIT 1;
    INSERT INTO reading_taken (shop_id, id, sheet_id, line_key, attempt, state, value, unit, person_id,
        taken_at, taken_on) SELECT s.shop_id, '00000000-0000-7000-8000-000000000017',
        '00000000-0000-7000-8000-000000000016', 'gravity', 1, 'measured', 1.2640000000000002, '1', p.id,
        '2026-03-02 15:00:00', '2026-03-02' FROM reading_sheet s, (SELECT min(id) AS id FROM person) p;
    INSERT INTO stock_vehicle (shop_id, id, vehicle_id, arrived_on, version) SELECT shop_id,
        '00000000-0000-7000-8000-000000000018', id, '2026-03-02', 1 FROM vehicle LIMIT 1;
    INSERT INTO follow_up (shop_id, id, job_id, called_on, answer, person_id, written_at, version)
        SELECT j.shop_id, '00000000-0000-7000-8000-000000000019', j.id, '2026-03-20', 'no_contact', p.id,
        '2026-03-20 15:00:00', 1 FROM job j, person p LIMIT 1;
    INSERT INTO enquiry (shop_id, id, comeback_id, held_on, held_by, version) SELECT c.shop_id,
        '00000000-0000-7000-8000-000000000020', c.id, '2026-03-20', p.id, 1
        FROM comeback c, person p LIMIT 1;
    INSERT INTO corrective_action (shop_id, id, kind, words, owner_id, state, made_by, made_at, version)
        SELECT s.id, '00000000-0000-7000-8000-000000000021', 'training', 'Show it once more', p.id, 'open',
        p.id, '2026-03-20 15:00:00', 1 FROM shop s, (SELECT min(id) AS id FROM person) p;
    INSERT INTO warning_silence (shop_id, id, kind, group_key, reason, person_id, made_at, version)
        SELECT s.id, '00000000-0000-7000-8000-000000000022', 'lot', 'Q17', 'Sent back', p.id,
        '2026-03-20 15:00:00', 1 FROM shop s, (SELECT min(id) AS id FROM person) p;
    UPDATE person SET pin_hash = 'secret-of-a-pin' WHERE password_hash IS NOT NULL;";

/// The tests' shops and people, a history, and a row in every table.
pub fn filled() -> Place {
    let place = Place::sqlite();
    let history = History::small();
    history.put(
        "operations.csv",
        &["order_no,job_no,line,operation,flat_rate_hours", "A-0415,1,2,DIAG,0.5"],
    );
    history.import(&place, &[]).ended(0);
    place.run(FILL);
    place
}

fn manifest(folder: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(folder.join("manifest.json")).unwrap()).unwrap()
}

#[test]
fn a_copy_of_a_copy_is_the_same_through_both_databases() {
    let out = Folder::new();
    let first = out.path().join("first");
    run(&filled(), "export", &first, &["--with-secrets"]).ended(0);
    let files = manifest(&first)["files"].as_array().unwrap().clone();
    for file in &files {
        assert!(file["rows"].as_u64().unwrap() > 0, "{file} says nothing about the table");
    }
    let lines = fs::read_to_string(first.join("proof.ndjson")).unwrap();
    assert!(lines.contains("\"reading\":0.12345678901234568"), "{lines}");
    assert!(lines.contains("\"proved_at\":\"2026-03-02T15:00:00.000000Z\""), "{lines}");
    let places = [Place::empty_postgres(), Some(Place::empty_sqlite())];
    let mut from = first.clone();
    for (at, place) in places.into_iter().flatten().enumerate() {
        run(&place, "import", &from, &[]).ended(0);
        let next = out.path().join(format!("next-{at}"));
        run(&place, "export", &next, &["--with-secrets"]).ended(0);
        assert!(read_all(&next) == read_all(&first), "the copies differ");
        from = next;
    }
}

#[test]
fn the_demo_shop_goes_over_and_is_sound_there() {
    let out = Folder::new();
    let (first, second) = (out.path().join("first"), out.path().join("second"));
    run(Place::demo(), "export", &first, &["--with-secrets"]).ended(0);
    let other = Place::empty_postgres().unwrap_or_else(Place::empty_sqlite);
    run(&other, "import", &first, &[]).ended(0);
    run(&other, "export", &second, &["--with-secrets"]).ended(0);
    assert!(read_all(&second) == read_all(&first), "the copies differ");
    let report = |place: &Place| {
        let asked = ["report", "reuse", "--as-of", "2026-10-11", "--format", "json"];
        Program::new(place, &asked).must("")
    };
    assert_eq!(report(&other), report(Place::demo()));
    assert!(!Program::new(&other, &["check"]).must("").contains("FAULT"));
}

#[test]
fn secrets_stay_out_unless_they_are_asked_for() {
    let out = Folder::new();
    let place = filled();
    let folder = out.path().join("plain");
    run(&place, "export", &folder, &[]).ended(0);
    for (name, text) in read_all(&folder) {
        assert!(!text.contains("argon2") && !text.contains("secret-of-a"), "{name}: {text}");
    }
    assert!(!folder.join("access_token.ndjson").exists() && !folder.join("tablet.ndjson").exists());
    assert_eq!(manifest(&folder)["with_secrets"], false);
    let other = Place::empty_sqlite();
    let words = run(&other, "import", &folder, &[]).ended(0);
    assert!(words.contains("the copy has no passwords"), "{words}");
    assert_eq!(other.count("FROM person"), place.count("FROM person"));
    assert_eq!(other.count("FROM person WHERE password_hash IS NOT NULL"), 0);
}

#[test]
fn what_is_no_whole_copy_is_refused_and_nothing_is_written() {
    let out = Folder::new();
    let good = out.path().join("good");
    run(&filled(), "export", &good, &[]).ended(0);
    let place = Place::empty_sqlite();
    let refused = |from: &str, to: &str, file: &str, why: &str| {
        let bad = out.path().join("bad");
        drop(fs::remove_dir_all(&bad));
        fs::create_dir(&bad).unwrap();
        for (name, text) in read_all(&good) {
            let text = if name == file { text.replacen(from, to, 1) } else { text };
            fs::write(bad.join(name), text).unwrap();
        }
        let words = run(&place, "import", &bad, &[]).ended(2);
        assert!(words.contains(why), "{why}: {words}");
        assert!(
            !Path::new(&place.data()).join("onetrip.sqlite").exists()
                || place.count("FROM person") == 0
        );
    };
    refused("Mirela", "Marela", "person.ndjson", "person.ndjson: is not as it was written");
    refused(
        "\"format_version\": 1",
        "\"format_version\": 2",
        "manifest.json",
        "newer than this program",
    );
    refused(
        "\"schema_step\": \"2",
        "\"schema_step\": \"3",
        "manifest.json",
        "newer than this program",
    );
    refused("onetrip copy", "other", "manifest.json", "no copy's manifest");
    refused("\"job.ndjson\"", "\"../job.ndjson\"", "manifest.json", "../job.ndjson");
    fs::remove_file(good.join("vehicle.ndjson")).unwrap();
    refused("", "", "", "vehicle.ndjson");
}

#[test]
fn a_copy_goes_into_an_empty_place_only() {
    let out = Folder::new();
    let folder = out.path().join("copy");
    let place = filled();
    run(&place, "export", &folder, &["--with-secrets"]).ended(0);
    let before = place.count("FROM record_change");
    let words = run(&place, "import", &folder, &[]).ended(2);
    assert!(words.contains("has something in it already"), "{words}");
    assert_eq!(place.count("FROM record_change"), before);
    let words = run(&place, "export", &folder, &[]).ended(2);
    assert!(words.contains("is not empty; name another folder"), "{words}");
}

fn sha256(bytes: &[u8]) -> String {
    use sha2::Digest;
    sha2::Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Puts a file of the copy in another's place, with the checksum put right.
fn rewrite(folder: &Path, table: &str, text: &str) {
    fs::write(folder.join(format!("{table}.ndjson")), text).unwrap();
    let listed = manifest(folder);
    let old = listed["files"].as_array().unwrap().iter().find(|f| f["table"] == table);
    let old = old.unwrap()["sha256"].as_str().unwrap();
    let listed = fs::read_to_string(folder.join("manifest.json")).unwrap();
    let listed = listed.replace(old, &sha256(text.as_bytes()));
    fs::write(folder.join("manifest.json"), listed).unwrap();
}

#[test]
fn a_row_that_the_record_does_not_take_is_named() {
    let out = Folder::new();
    let folder = out.path().join("copy");
    run(&filled(), "export", &folder, &[]).ended(0);
    // A lone line, with the checksum put right: the fault is the row's own.
    let text = fs::read_to_string(folder.join("labor_entry.ndjson")).unwrap();
    rewrite(&folder, "labor_entry", &text.replacen("\"lead\"", "\"chief\"", 1));
    let place = Place::empty_sqlite();
    let words = run(&place, "import", &folder, &[]).ended(2);
    assert!(words.contains("labor_entry.ndjson line 1: the record does not allow this"), "{words}");
    assert_eq!(place.count("FROM person"), 0, "nothing of it stays");
}

/// Before shops said how they write, their lines had no such column.
#[test]
fn a_copy_of_an_earlier_record_opens() {
    let out = Folder::new();
    let folder = out.path().join("copy");
    run(&filled(), "export", &folder, &[]).ended(0);
    let text = fs::read_to_string(folder.join("shop.ndjson")).unwrap();
    let earlier: String = text
        .lines()
        .map(|line| {
            let mut shop: serde_json::Map<String, Value> = serde_json::from_str(line).unwrap();
            assert!(shop.remove("date_style").is_some_and(|style| style.is_string()));
            format!("{}\n", Value::Object(shop))
        })
        .collect();
    rewrite(&folder, "shop", &earlier);
    let place = Place::empty_sqlite();
    run(&place, "import", &folder, &[]).ended(0);
    assert!(place.count("FROM shop") > 0);
    assert_eq!(place.count("FROM shop WHERE date_style IS NOT NULL"), 0);
}
