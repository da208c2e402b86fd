//! The Weibull life on four published data sets; expected numbers from R
//! survival `survreg`.

use analytics::stats::weibull::{Estimate, Fit, Moment, fit};
use serde_json::Value;

use crate::files::{Folder, close, close_within, tell};

const LEVEL: f64 = 0.95;

/// The tolerance the cases name for standard errors, and for the ends of
/// intervals made from them.
const ERRORS: (f64, f64) = (0.0, 1e-3);

fn moments(folder: &Folder, case: &Value) -> Vec<Moment> {
    let (header, rows) = folder.table(case["input"].as_str().unwrap());
    let column = |key: &str| {
        let name = case["columns"][key].as_str()?;
        header.iter().position(|column| column == name)
    };
    let (time, status, weight) =
        (column("time").unwrap(), column("status").unwrap(), column("weight"));
    rows.iter()
        .map(|row| {
            let count = weight.map_or(1, |weight| row[weight].parse().unwrap());
            let event = row[status] == "1";
            Moment {
                time: row[time].parse().unwrap(),
                events: if event { count } else { 0 },
                censored: if event { 0 } else { count },
            }
        })
        .collect()
}

fn check_estimate(case: &Value, what: &str, ours: Estimate, theirs: [&Value; 4]) {
    let [value, error, low, high] = theirs.map(|number| number.as_f64().unwrap());
    close(case, what, ours.value, value);
    for (ours, theirs) in [(ours.standard_error, error), (ours.low, low), (ours.high, high)] {
        close_within(case, what, (ours, theirs), ERRORS);
    }
}

fn check_fit(case: &Value, fit: &Fit) {
    let expected = &case["expected"];
    let number = |key: &str| expected[key].as_f64().unwrap();
    assert_eq!(fit.units, expected["n"].as_i64().unwrap());
    assert_eq!(fit.events, expected["failures"].as_i64().unwrap());
    close(case, "log likelihood", fit.log_likelihood, number("loglik"));
    close_within(
        case,
        "covariance",
        (fit.log_covariance(), number("cov_logscale_logshape")),
        ERRORS,
    );
    for (what, ours) in [
        ("shape", fit.shape_estimate(LEVEL).unwrap()),
        ("scale", fit.scale_estimate(LEVEL).unwrap()),
    ] {
        let interval = &expected[format!("{what}_ci_log")];
        let error = &expected[format!("se_{what}")];
        check_estimate(case, what, ours, [&expected[what], error, &interval[0], &interval[1]]);
    }
    for what in ["b1", "b10", "b50"] {
        let theirs = &expected[what];
        let ours = fit.life(theirs["p"].as_f64().unwrap(), LEVEL).unwrap();
        let interval = &theirs["ci_log"];
        check_estimate(
            case,
            what,
            ours,
            [&theirs["life"], &theirs["se"], &interval[0], &interval[1]],
        );
    }
    close(case, "mean life", fit.mean_life().unwrap(), number("mean_life"));
    let test = fit.shape_test().unwrap();
    for (ours, key) in [
        (test.exponential_mean, "theta"),
        (test.exponential_log_likelihood, "loglik"),
        (test.statistic, "lr_shape_eq_1"),
        (test.p, "p"),
    ] {
        close(case, key, ours, expected["exponential"][key].as_f64().unwrap());
    }
}

fn check(folder: &Folder, name: &str) {
    let case = folder.case(name);
    let fit = fit(moments(folder, &case)).unwrap();
    check_fit(&case, &fit);
    for (what, ours) in [("shape", fit.shape), ("scale", fit.scale)] {
        // Printed to four digits at least.
        let printed = case["published"][what].as_f64().unwrap();
        assert!((ours / printed - 1.0).abs() < 5e-4, "{name}: {what} {ours}, printed {printed}");
    }
    tell(name);
}

#[test]
fn test_stopped_at_500_hours() {
    check(&Folder::own(), "o15-weibull-nist");
}

#[test]
fn diesel_fans() {
    check(&Folder::own(), "o17-weibull-diesel-fans");
}

#[test]
fn road_distances() {
    check(&Folder::own(), "o18-weibull-automotive");
}

#[test]
fn shock_absorbers() {
    if let Some(folder) = Folder::outside("shock absorbers") {
        check(&folder, "o16-weibull-shock-absorber");
    }
}
