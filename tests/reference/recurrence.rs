//! The mean cumulative function on four data sets; expected numbers from R
//! survival `survfit` (id, cluster) and from the sum of the definition.

use std::collections::BTreeMap;

use analytics::stats::recurrence::{Event, History, MeanCurve, Scale};
use serde_json::Value;

use crate::files::{Folder, close_within, tell};

/// What a data file says of a unit.
#[derive(Default)]
struct Row {
    end: i32,
    events: Vec<Event>,
    units: i64,
}

/// The units of a case's data file. `amount` reads an event's amount.
fn units(
    folder: &Folder,
    case: &Value,
    amount: impl Fn(&dyn Fn(&str) -> Option<String>) -> i64,
) -> Vec<Row> {
    let (header, rows) = folder.table(case["input"].as_str().unwrap());
    let mut units: BTreeMap<String, Row> = BTreeMap::new();
    for row in &rows {
        let cell = |name: &str| {
            let place = header.iter().position(|column| column == name)?;
            Some(row[place].clone())
        };
        let unit = units.entry(cell("id").unwrap()).or_default();
        let time = cell("time").unwrap().parse().unwrap();
        if cell("status").unwrap() == "1" {
            unit.events.push(Event { time, amount: amount(&cell) });
        } else {
            assert_eq!(unit.units, 0, "one end of observation a unit");
            unit.end = time;
            unit.units = cell("units").map_or(1, |units| units.parse().unwrap());
        }
    }
    units.into_values().collect()
}

fn curve(units: &[Row]) -> MeanCurve {
    MeanCurve::new(units.iter().map(|unit| History {
        end: unit.end,
        events: &unit.events,
        units: unit.units,
    }))
}

/// Holds a curve against a case; `unit` is what an amount of 1 stands for.
fn check(case: &Value, expected: &Value, curve: &MeanCurve, unit: f64) {
    // Relative only: the variances are far smaller than an absolute room.
    let room = (0.0, case["tolerance"]["rel"].as_f64().unwrap());
    let number = |value: &Value| value.as_f64().unwrap();
    for (i, time) in expected["times"].as_array().unwrap().iter().enumerate() {
        let time = i32::try_from(time.as_i64().unwrap()).unwrap();
        let (what, ours) = (format!("at {time}"), curve.at(time));
        let same = |what: &str, ours: f64, theirs: &Value| {
            close_within(case, what, (ours, number(theirs)), room);
        };
        assert_eq!(curve.at_risk(time) as f64, number(&expected["n_at_risk"][i]), "{what}");
        same(&what, ours.mean * unit, &expected["mcf"][i]);
        let (variance, error) = (ours.variance().unwrap(), ours.standard_error().unwrap());
        same(&what, variance * unit * unit, &expected["var_lawless_nadeau"][i]);
        same(&what, error * unit, &expected["se_lawless_nadeau"][i]);
        for (name, scale) in [("ci_normal", Scale::Plain), ("ci_log", Scale::Log)] {
            let (low, high) = ours.interval(scale, 0.95).unwrap();
            let what = format!("{what}, {name}");
            same(&what, low * unit, &expected[name][i][0]);
            same(&what, high * unit, &expected[name][i][1]);
        }
    }
    let jumps = expected["jump_times"].as_array().unwrap();
    assert_eq!(curve.steps().len(), jumps.len());
    for (i, step) in curve.steps().iter().enumerate() {
        assert_eq!(i64::from(step.time), jumps[i].as_i64().unwrap());
        assert_eq!(step.at_risk as f64, number(&expected["jump_at_risk"][i]));
        let theirs = number(&expected["jump_mcf"][i]);
        close_within(case, "jump", (step.mean * unit, theirs), room);
    }
}

fn check_counts(folder: &Folder, name: &str) {
    let (case, one) = (folder.case(name), |_: &dyn Fn(&str) -> Option<String>| 1);
    let units = units(folder, &case, one);
    let (expected, curve) = (&case["expected"], curve(&units));
    assert_eq!(curve.units(), expected["units"].as_i64().unwrap());
    let events: usize = units.iter().map(|unit| unit.events.len()).sum();
    assert_eq!(events as i64, expected["repairs"].as_i64().unwrap());
    check(&case, expected, &curve, 1.0);
    tell(name);
}

#[test]
fn valve_seats() {
    check_counts(&Folder::own(), "o11-mcf-valve-seats");
}

#[test]
fn five_systems() {
    check_counts(&Folder::own(), "o12-mcf-five-systems");
}

#[test]
fn three_systems() {
    let name = "o13-mcf-three-systems";
    let Some(folder) = Folder::outside(name) else { return };
    check_counts(&folder, name);
}

#[test]
fn warranty_count_and_cost() {
    let name = "o14-mcf-vehicle-warranty-count-and-cost";
    let Some(folder) = Folder::outside(name) else { return };
    let case = folder.case(name);
    let counts = units(&folder, &case, |_| 1);
    check(&case, &case["expected"]["count"], &curve(&counts), 1.0);
    // Cents from "5.89", without going through a fraction.
    let cents = units(&folder, &case, |cell| {
        let cost = cell("cost").unwrap();
        let (whole, cents) = cost.split_once('.').unwrap();
        assert_eq!(cents.len(), 2);
        whole.parse::<i64>().unwrap() * 100 + cents.parse::<i64>().unwrap()
    });
    check(&case, &case["expected"]["cost"], &curve(&cents), 0.01);
    tell(name);
}
