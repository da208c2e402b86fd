//! The product-limit estimate on five published data sets and one of the
//! field; expected numbers from R survival `survfit`.

use std::collections::BTreeMap;

use analytics::stats::survival::{Curve, Moment, Scale};
use serde_json::Value;

use crate::files::{Folder, case, close, close_or_absent, close_within, table, tell};

const SCALES: [(&str, Scale); 3] =
    [("log", Scale::Log), ("loglog", Scale::LogLog), ("plain", Scale::Plain)];

/// The curves of a case's data file, by group (`all` where it has none).
fn curves(case: &Value) -> BTreeMap<String, Curve> {
    let (header, rows) = table(case["input"].as_str().unwrap());
    let column = |key: &str| {
        let name = case["columns"][key].as_str()?;
        header.iter().position(|column| column == name)
    };
    let (time, status, group) =
        (column("time").unwrap(), column("status").unwrap(), column("group"));
    let mut moments: BTreeMap<String, Vec<Moment>> = BTreeMap::new();
    for row in &rows {
        let event = i64::from(row[status] == "1");
        let name = group.map_or("all", |group| &row[group]);
        moments.entry(name.to_owned()).or_default().push(Moment {
            time: row[time].parse().unwrap(),
            events: event,
            censored: 1 - event,
        });
    }
    moments.into_iter().map(|(name, moments)| (name, Curve::new(moments))).collect()
}

fn check_times(case: &Value, group: &str, curve: &Curve, expected: &Value) {
    let times = expected["times"].as_array().unwrap();
    assert!(!times.is_empty());
    for (i, time) in times.iter().enumerate() {
        let time = i32::try_from(time.as_i64().unwrap()).unwrap();
        let what = format!("{group} at {time}");
        let ours = curve.at(time);
        assert_eq!(curve.at_risk(time), expected["n_risk"][i].as_i64().unwrap(), "{what}");
        close(case, &what, ours.survival, expected["surv"][i].as_f64().unwrap());
        close_or_absent(case, &what, ours.standard_error(), &expected["se"][i]);
        close_or_absent(case, &what, ours.variance(), &expected["variance"][i]);
        for (name, scale) in SCALES {
            let interval = ours.interval(scale, 0.95);
            let theirs = &expected[format!("ci_{name}")][i];
            let what = format!("{what}, {name}");
            close_or_absent(case, &what, interval.map(|(low, _)| low), &theirs[0]);
            close_or_absent(case, &what, interval.map(|(_, high)| high), &theirs[1]);
        }
    }
}

fn check_quantiles(case: &Value, group: &str, curve: &Curve, expected: &Value) {
    for (name, scale) in SCALES {
        let median = curve.quantile(0.5, scale, 0.95);
        let theirs = &expected[format!("median_ci_{name}")];
        close_or_absent(case, group, median.time, &expected["median"]);
        close_or_absent(case, group, median.low, &theirs[0]);
        close_or_absent(case, group, median.high, &theirs[1]);
    }
    let quarter = curve.quantile(0.25, Scale::LogLog, 0.95);
    let theirs = &expected["quantile25_ci_loglog"];
    close_or_absent(case, group, quarter.time, &expected["quantile25"]);
    close_or_absent(case, group, quarter.low, &theirs[0]);
    close_or_absent(case, group, quarter.high, &theirs[1]);
    let tau = i32::try_from(expected["rmst_tau"].as_i64().unwrap()).unwrap();
    let (mean, error) = curve.restricted_mean(tau);
    close(case, group, mean, expected["rmst"].as_f64().unwrap());
    close(case, group, error, expected["rmst_se"].as_f64().unwrap());
}

fn check(name: &str, groups: usize) {
    let case = case(name);
    let curves = curves(&case);
    assert_eq!(curves.len(), groups);
    for (group, curve) in &curves {
        let expected = &case["expected"][group];
        assert_eq!(curve.units(), expected["n"].as_i64().unwrap());
        assert_eq!(curve.events_by(i32::MAX), expected["events"].as_i64().unwrap());
        check_times(&case, group, curve, expected);
        check_quantiles(&case, group, curve, expected);
    }
    tell(name);
}

#[test]
fn gehan() {
    check("o01-km-gehan", 2);
}

#[test]
fn aml() {
    check("o02-km-aml", 2);
}

#[test]
fn lung_by_sex() {
    check("o03-km-lung-by-sex", 2);
}

#[test]
fn diesel_fans() {
    check("o04-km-diesel-fans", 1);
}

#[test]
fn veteran_by_cell_type() {
    check("o05-km-veteran-celltype", 4);
}

/// First events of 13 units, and units without one in groups: a row with a
/// weight stands for as many units.
#[test]
fn vehicle_warranty() {
    let name = "o06-km-vehicle-warranty";
    let Some(folder) = Folder::outside(name) else { return };
    let case = folder.case(name);
    let (header, rows) = folder.table(case["input"].as_str().unwrap());
    let column = |name: &str| header.iter().position(|column| column == name).unwrap();
    let (id, time, status, units) =
        (column("id"), column("time"), column("status"), column("units"));
    let mut first: BTreeMap<&str, Moment> = BTreeMap::new();
    for row in &rows {
        let (time, units) = (row[time].parse().unwrap(), row[units].parse().unwrap());
        let moment = match &*row[status] {
            "1" => Moment { time, events: units, censored: 0 },
            _ => Moment { time, events: 0, censored: units },
        };
        let kept = first.entry(&row[id]).or_insert(moment);
        if moment.time < kept.time {
            *kept = moment;
        }
    }
    let (curve, expected) = (Curve::new(first.into_values()), &case["expected"]);
    assert_eq!(curve.units(), expected["n"].as_i64().unwrap());
    assert_eq!(curve.events_by(i32::MAX), expected["events"].as_i64().unwrap());
    check_times(&case, "all", &curve, expected);
    check_quantiles(&case, "all", &curve, expected);
    // The variances are about as small as the absolute room of the case.
    let room = (0.0, case["tolerance"]["rel"].as_f64().unwrap());
    for (i, time) in expected["times"].as_array().unwrap().iter().enumerate() {
        let time = i32::try_from(time.as_i64().unwrap()).unwrap();
        let theirs = expected["variance"][i].as_f64().unwrap();
        let ours = curve.at(time).variance().unwrap();
        close_within(&case, &format!("variance at {time}"), (ours, theirs), room);
    }
    tell(name);
}

/// Ten jobs, days to return (R) or to the last day seen:
/// 6R 10 13R 21R 25 28 30 30 30 30. By hand 9/10, x 7/8, x 6/7; the same from
/// R: `survfit(Surv(c(6,10,13,21,25,28,30,30,30,30), c(1,0,1,1,0,0,0,0,0,0)) ~ 1)`.
#[test]
fn ten_jobs_by_hand() {
    let days =
        [(6, 1), (10, 0), (13, 1), (21, 1), (25, 0), (28, 0), (30, 0), (30, 0), (30, 0), (30, 0)];
    let curve =
        Curve::new(days.map(|(time, events)| Moment { time, events, censored: 1 - events }));
    for (day, survival) in [(6, 0.9), (13, 0.7875), (21, 0.675)] {
        assert!((curve.at(day).survival - survival).abs() < 1e-12, "day {day}");
    }
    assert!((1.0 - curve.at(30).survival - 0.325).abs() < 1e-12);
}
