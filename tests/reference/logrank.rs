//! The log-rank test on four published data sets; expected numbers from R
//! survival `survdiff` (rho = 0 and 1).

use analytics::stats::logrank::{Comparison, Weights};
use analytics::stats::survival::Moment;
use serde_json::Value;

use crate::files::{case, close_within, table, tell};

fn check_groups(case: &Value, what: &str, ours: &Comparison<String>, expected: &Value) {
    let room = (0.0, case["tolerance"]["chisq_rel"].as_f64().unwrap());
    let number = |value: &Value| value.as_f64().unwrap();
    assert_eq!(ours.groups.len(), expected["groups"].as_array().unwrap().len());
    for (i, group) in ours.groups.iter().enumerate() {
        let name = expected["groups"][i].as_str().unwrap();
        assert_eq!(name.split_once('=').unwrap().1, group.group);
        assert_eq!(group.units, expected["n"][i].as_i64().unwrap());
        let what = format!("{what}, {name}");
        close_within(case, &what, (group.observed, number(&expected["observed"][i])), room);
        close_within(case, &what, (group.expected, number(&expected["expected"][i])), room);
        for (j, cell) in ours.variance[i].iter().enumerate() {
            close_within(case, &what, (*cell, number(&expected["variance"][i][j])), room);
        }
    }
}

fn check(case: &Value, expected: &Value) {
    let csv = expected["csv"].as_str().unwrap();
    let (header, rows) = table(csv);
    let column = |key: &str| {
        let name = expected["columns"][key].as_str().unwrap();
        header.iter().position(|column| column == name).unwrap()
    };
    let (time, status, group) = (column("time"), column("status"), column("group"));
    let moments: Vec<(String, Moment)> = rows
        .iter()
        .map(|row| {
            let events = i64::from(row[status] == "1");
            let time = row[time].parse().unwrap();
            (row[group].clone(), Moment { time, events, censored: 1 - events })
        })
        .collect();
    for (name, weights) in [("logrank", Weights::Equal), ("peto_peto", Weights::Survival)] {
        let (what, expected) = (format!("{csv}, {name}"), &expected[name]);
        let ours = Comparison::new(moments.clone(), weights);
        check_groups(case, &what, &ours, expected);
        let test = ours.test.unwrap();
        assert_eq!(test.degrees_of_freedom, expected["df"].as_i64().unwrap());
        for (key, room, ours) in [("chisq", "chisq_rel", test.chi_square), ("p", "p_rel", test.p)] {
            let room = (0.0, case["tolerance"][room].as_f64().unwrap());
            close_within(case, &what, (ours, expected[key].as_f64().unwrap()), room);
        }
    }
}

#[test]
fn two_groups() {
    let name = "o09-logrank-two-groups";
    let case = case(name);
    for expected in ["gehan", "aml", "lung"] {
        check(&case, &case["expected"][expected]);
    }
    tell(name);
}

#[test]
fn four_groups() {
    let name = "o10-logrank-four-groups";
    let case = case(name);
    check(&case, &case["expected"]);
    tell(name);
}
