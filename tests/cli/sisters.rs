//! A demo group of more than one shop.

use std::fs;

use serde_json::{Value, json};

use super::import::export::read_all;
use super::import::history::export;
use crate::support::folder::Folder;
use crate::support::place::{DEMO_END, Place};
use crate::support::{Client, Program, Server};

fn two_shops() -> Place {
    let place = Place::empty_sqlite();
    let plan = ["--jobs", "6000", "--shops", "2", "--end", DEMO_END];
    Program::new(&place, &[&["demo", "--prepare-only"][..], &plan].concat()).must("");
    place
}

/// Rows of a table by job of the sister shop.
fn a_job(place: &Place, table: &str) -> f64 {
    let of_sister = "WHERE shop_id = (SELECT id FROM shop WHERE code = 'quillbank')";
    let count = |table: &str| place.count(&format!("FROM {table} {of_sister}")) as f64;
    count(table) / count("job")
}

#[test]
fn jobs_are_shared_by_sister_shops_with_work_of_their_own() {
    let place = two_shops();
    let shops = place.lines("SELECT code || ' ' || name AS line FROM shop ORDER BY id");
    assert_eq!(
        shops,
        ["four-sycamores Four Sycamores Motor Works", "quillbank Quillbank Motor Works"]
    );
    assert_eq!(place.count("FROM shop_group"), 1);
    // The first shop is the one that a demo of one shop makes.
    let alone = Place::demo();
    let first = "WHERE shop_id = (SELECT id FROM shop WHERE code = 'four-sycamores')";
    for table in ["repair_order", "job", "job_check", "part_use", "labor_entry", "comeback"] {
        let from = format!("FROM {table} {first}");
        assert_eq!(place.count(&from), alone.count(&from), "{table}");
    }
    let of_sister = "WHERE shop_id = (SELECT id FROM shop WHERE code = 'quillbank')";
    let jobs = place.count(&format!("FROM job {of_sister}"));
    assert!((2_850..=3_150).contains(&jobs), "{jobs}");
    for (table, least, most) in [
        ("job_operation", 1.0, 1.0),
        ("job_check", 3.3, 3.9),
        ("part_use", 0.9, 1.1),
        ("labor_entry", 1.9, 2.1),
        ("comeback", 0.02, 0.06),
    ] {
        let share = a_job(&place, table);
        assert!((least..=most).contains(&share), "{table}: {share}");
    }
    // No vehicle and nobody of the crew is of both shops.
    let both = "FROM vehicle a JOIN vehicle b ON a.vin = b.vin AND a.shop_id < b.shop_id";
    assert_eq!(place.count(both), 0);
    let both = "FROM role_grant a JOIN role_grant b \
         ON a.person_id = b.person_id AND a.shop_id < b.shop_id";
    assert_eq!(place.count(both), 0);
}

#[test]
fn a_sister_shop_has_reports_and_people_who_sign_in() {
    let place = two_shops();
    let usual = ["report", "comebacks", "--shop", "quillbank", "--as-of", DEMO_END];
    let arguments = [&usual[..], &["--by", "technician", "--format", "json"]].concat();
    let report: Value = serde_json::from_str(&Program::new(&place, &arguments).must("")).unwrap();
    let names: Vec<&str> = report["groups"]
        .as_array()
        .unwrap()
        .iter()
        .map(|group| group["group"].as_str().unwrap())
        .collect();
    assert_eq!(names.len(), 3, "{names:?}");
    let server = Server::start(&place);
    for sign_in in ["isaura.brandwick", "leofric.passmoor"] {
        let body = json!({ "sign_in_name": sign_in, "password": "demo four sycamores" });
        let client = Client::new(&server.base);
        client.call("POST", "/api/v1/sessions").json(&body).send().expect(200);
    }
}

#[test]
fn a_seed_makes_one_group() {
    let around = Folder::new();
    let written = |name: &str| {
        let folder = around.path().join(name);
        export(&two_shops(), &folder, &[]).ended(0);
        let mut shops: Vec<_> =
            fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
        shops.sort();
        shops.iter().map(|shop| read_all(shop)).collect::<Vec<_>>()
    };
    let first = written("first");
    assert_eq!(first.len(), 2);
    assert!(first == written("second"), "the same seed makes another record");
}
