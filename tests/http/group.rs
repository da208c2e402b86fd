//! Labor over the shops of a group, against the shops' own reports.

use chrono::{DateTime, Duration};
use serde_json::{Value, json};

use crate::support::html::{links, plain};
use crate::support::visit::{finish, open, text};
use crate::support::{Shops, on_each_database};

on_each_database!(
    the_group_adds_up_its_shops,
    a_group_is_what_its_reader_may_read,
    the_file_tells_every_shop,
    labor_is_told_before_its_tables,
);

/// A job of that many minutes on the clock up to some minutes before its write-up,
/// charged an hour and a fifth, closed and handed over today: the day.
fn job(shops: &Shops, shop: &str, minutes: i64, before: i64) -> String {
    let technician = shops.person(&format!("technician.{shop}"));
    let manager = shops.person(&format!("manager.{shop}"));
    let (order, job) = open(&technician, &format!("GR {minutes}"), "engine.misfire");
    let operation = json!({
        "code": "coil", "flat_rate_hundredths": 120, "billed_hundredths": 120,
        "labor_amount_minor": 16_800,
    });
    manager.post(&format!("jobs/{job}/operations"), &operation).expect(201);
    let opened = technician.get(&format!("orders/{order}")).json()["opened_at"].clone();
    let opened = DateTime::parse_from_rfc3339(text(&opened)).unwrap();
    let stretch = json!({
        "started_at": (opened - Duration::minutes(before + minutes)).to_rfc3339(),
        "ended_at": (opened - Duration::minutes(before)).to_rfc3339(),
    });
    technician.post(&format!("jobs/{job}/labor"), &stretch).expect(201);
    text(&finish(&manager, &order, &job, "air-filter")["closed_on"]).to_owned()
}

/// A line of the table by its first cell, as the texts of its cells.
fn line(page: &str, name: &str) -> Vec<String> {
    let table = page.split_once("id=\"group\"").expect("the table").1;
    let row = table.split("<tr").find(|row| row.contains(&format!("<bdi>{name}</bdi>")));
    let row = row.unwrap_or_else(|| panic!("no line of {name}: {page}"));
    let cells = row.split("<bdi>").skip(1).map(|cell| cell.split("</bdi>").next().unwrap());
    cells.map(plain).collect()
}

fn total(shops: &Shops, shop: &str, day: &str) -> Value {
    let owner = shops.person_at("owner.riverside", shop);
    owner.get(&format!("reports/labor?as_of={day}")).expect(200).json()["total"].clone()
}

/// Hours as the page writes them.
fn hours(value: f64) -> String {
    format!("{value:.1}")
}

fn the_group_adds_up_its_shops(shops: &Shops) {
    for (minutes, before) in [(60, 0), (48, 70), (24, 130)] {
        job(shops, "north", minutes, before);
    }
    let day = job(shops, "south", 96, 0);
    let owner = shops.visitor("owner.riverside", "north");
    assert_eq!(owner.get("/").expect(303).header("location"), "/group/labor");
    let page = owner.get(&format!("/group/labor?as_of={day}")).expect(200);
    let mut sums = (0.0, 0.0, 0);
    for shop in ["north", "south"] {
        let total = total(shops, shop, &day);
        let number = |key: &str| total[key].as_f64().unwrap();
        let (flat, clock) = (number("flat_rate_hours"), number("clock_hours"));
        let cells = line(&page.body, &format!("Shop {shop}"));
        for expected in [hours(flat), hours(clock), total["count"].to_string()] {
            assert!(cells.contains(&expected), "{shop}: {expected} in {cells:?}");
        }
        sums = (sums.0 + flat, sums.1 + clock, sums.2 + total["count"].as_i64().unwrap());
    }
    // 4.8 flat-rate hours over 3.8 on the clock, of four jobs.
    assert!((sums.0 - 4.8_f64).abs() < 1e-9 && (sums.1 - 3.8_f64).abs() < 1e-9, "{sums:?}");
    let all = line(&page.body, "all shops");
    for expected in [hours(sums.0), hours(sums.1), sums.2.to_string(), "$140.00".to_owned()] {
        assert!(all.contains(&expected), "{expected} in {all:?}");
    }
    // A shop's line leads into the shop, under the same as-of.
    let place = format!("/shops/south/labor?as_of={day}");
    assert!(links(&page.body).contains(&place), "{}", page.body);
    let own = owner.get(&place).expect(200);
    assert!(own.body.contains("id=\"headline\""), "{}", own.body);
}

fn a_group_is_what_its_reader_may_read(shops: &Shops) {
    let day = job(shops, "north", 60, 0);
    job(shops, "south", 30, 0);
    let address = format!("/group/labor?as_of={day}");
    let manager = shops.visitor("manager.north", "north").get(&address).expect(200);
    assert!(manager.body.contains("Shop north") && !manager.body.contains("Shop south"));
    // The manager's week stays the first page.
    let start = shops.visitor("manager.north", "north").get("/").expect(303);
    assert_eq!(start.header("location"), "/shops/north/week");
    let other = shops.visitor("owner.uplands", "far").get(&address).expect(200);
    assert!(other.body.contains("Shop far") && !other.body.contains("Shop north"));
    // One shop is no group: its owner starts in it.
    let start = shops.visitor("owner.uplands", "far").get("/").expect(303);
    assert_eq!(start.header("location"), "/shops/far/labor");
    for name in ["technician.north", "adviser.north", "administrator.riverside"] {
        shops.visitor(name, "north").get(&address).expect(403);
    }
    let refused = shops.visitor("owner.riverside", "north").get("/group/labor?from=soon");
    assert!(refused.expect(422).body.contains("write a day such as"));
    let refused = shops.visitor("owner.riverside", "north").get("/group/labor?format=json");
    assert!(refused.expect(422).body.contains("write csv, or leave it out"));
}

fn the_file_tells_every_shop(shops: &Shops) {
    let day = job(shops, "north", 60, 0);
    let owner = shops.visitor("owner.riverside", "north");
    let file = owner.get(&format!("/group/labor?as_of={day}&format=csv")).expect(200);
    assert!(file.header("content-type").starts_with("text/csv"));
    let lines: Vec<&str> = file.body.lines().collect();
    assert_eq!(lines.len(), 3, "{}", file.body);
    assert!(lines[0].starts_with("group,jobs,efficiency_count,"), "{}", lines[0]);
    assert!(lines[1].starts_with("Shop north,1,") && lines[1].contains(",north,"));
    assert!(lines[2].starts_with("Shop south,0,") && lines[2].contains(",south,"));
}

fn labor_is_told_before_its_tables(shops: &Shops) {
    let mut day = String::new();
    for minutes in 30..41 {
        day = job(shops, "north", minutes, (minutes - 30) * 50);
    }
    let address = format!("labor?as_of={day}");
    let owner = shops.visitor("owner.riverside", "north").get(&address).expect(200).body;
    for word in [
        "class=\"efficiency\"",
        "Hours lost to comebacks",
        "What comebacks cost",
        "Effective labor rate",
        "Efficiency without comebacks",
    ] {
        assert!(owner.contains(word), "{word}: {owner}");
    }
    // Eleven jobs of 1.2 flat-rate hours over 385 minutes.
    assert!(owner.contains(">206%</a>"), "{owner}");
    let technician = shops.visitor("technician.north", "north").get(&address).expect(200).body;
    assert!(technician.contains("Your hours on comebacks"), "{technician}");
    for word in ["What comebacks cost", "Effective labor rate", "USD 1", ">all<", "by=operation"] {
        assert!(!technician.contains(word), "{word}: {technician}");
    }
    let helper = shops.visitor("helper.north", "north").get(&address).expect(200).body;
    assert!(!helper.contains("technician of north") && helper.contains("0 jobs"), "{helper}");
}
