//! Logistic regression on one published data set; expected numbers from R
//! `glm`.

use analytics::stats::logistic::{Outcome, fit};

use crate::files::{case, close, table, tell};

/// Temperature and whether any ring was damaged, of the flights in `orings.csv`.
pub fn outcomes(file: &str) -> Vec<Outcome> {
    let (header, rows) = table(file);
    assert_eq!(header[..2], ["temperature", "any_damage"]);
    let outcome = |row: &Vec<String>| Outcome {
        reading: row[0].parse().unwrap(),
        event: row[1] == "1",
        count: 1,
    };
    rows.iter().map(outcome).collect()
}

#[test]
fn damage_against_temperature() {
    let case = case("o31-logistic-and-cutoff");
    let expected = &case["expected"];
    let fit = fit(outcomes(case["input"].as_str().unwrap())).unwrap();
    assert_eq!((fit.units, fit.events), (23, 7));
    for (key, ours) in [
        ("intercept", fit.intercept),
        ("slope", fit.slope),
        ("se_intercept", fit.intercept_standard_error),
        ("se_slope", fit.slope_standard_error),
        ("cov", fit.covariance),
        ("z_slope", fit.slope / fit.slope_standard_error),
        ("deviance", fit.deviance),
        ("null_deviance", fit.null_deviance),
        ("loglik", fit.log_likelihood),
    ] {
        close(&case, key, ours, expected[key].as_f64().unwrap());
    }
    let readings = expected["predict_at"].as_array().unwrap();
    assert_eq!(readings.len(), 7);
    for (reading, share) in readings.iter().zip(expected["predict"].as_array().unwrap()) {
        let reading = reading.as_f64().unwrap();
        close(&case, "share", fit.share(reading), share.as_f64().unwrap());
    }
    tell("o31-logistic-and-cutoff, curve");
}
