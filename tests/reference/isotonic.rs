//! Least squares under order on two published examples; expected numbers from
//! R `isoreg` and scikit-learn.

use analytics::stats::isotonic::{Direction, Level, Point, fit};
use serde_json::Value;

use crate::files::{case, close, table, tell};

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

#[test]
fn isotonic() {
    let case = case("o32-isotonic");
    let expected = &case["expected"];

    let values = numbers(&case["input"]["y"]);
    let points =
        values.iter().enumerate().map(|(i, &value)| Point { at: i as f64, value, count: 1 });
    let ours = fit(points, Direction::Increasing).unwrap();
    let theirs = numbers(&expected["y_fit"]);
    assert_eq!(ours.len(), theirs.len());
    for (level, value) in ours.iter().zip(theirs) {
        close(&case, "nine values", level.value, value);
    }

    let (_, rows) = table(case["input"]["csv"].as_str().unwrap());
    let points = rows.iter().map(|row| Point {
        at: row[0].parse().unwrap(),
        value: row[1].parse().unwrap(),
        count: 1,
    });
    let ours = fit(points, Direction::Decreasing).unwrap();
    let readings: Vec<f64> = ours.iter().rev().map(|level| level.at).collect();
    assert_eq!(readings, numbers(&expected["temperature"]));
    let fitted = ours.iter().rev().map(|level| level.value);
    for (value, theirs) in fitted.zip(numbers(&expected["damage_fit"])) {
        close(&case, "damage", value, theirs);
    }
    let units: i64 = ours.iter().map(|Level { count, .. }| count).sum();
    assert_eq!(units, rows.len() as i64);
    tell("o32-isotonic");
}
