//! Breslow and Day (1987), Garwood (1936), Przyborowski and Wilenski (1940);
//! expected numbers from R `poisson.test` and scipy.

use analytics::stats::rate::{byar, exact, rate_ratio};
use serde_json::json;

use crate::files::{case, close, close_within, tell};

/// In Python 3.11 with scipy 1.17.1: Byar's formula with `norm.ppf(0.975)`, and
/// `chi2.ppf(0.025, 2 * o) / 2 / e`, `chi2.ppf(0.975, 2 * o + 2) / 2 / e`.
#[test]
fn observed_over_expected() {
    let case = json!({ "case": "observed over expected" });
    for (observed, expected, byar_limits, exact_limits) in [
        (
            9,
            8.8,
            (0.46669148000149235, 1.9415659873337139),
            (0.4676560337929924, 1.9414549376612686),
        ),
        (
            11,
            10.35,
            (0.5298251399468574, 1.9017620402073807),
            (0.5305468953852019, 1.901646233169271),
        ),
        (
            15,
            16.6,
            (0.5053773501936172, 1.4904597194722446),
            (0.5057461525773082, 1.4903746308124002),
        ),
        (
            1,
            2.5,
            (0.005228853160601733, 2.225502232990104),
            (0.010127123193715951, 2.2286573563755594),
        ),
        (0, 1.2, (0.0, 3.056676526811459), (0.0, 3.074066211761613)),
        (
            120,
            100.0,
            (0.9949023160561822, 1.4349166045405921),
            (0.994919256259387, 1.4349058536935226),
        ),
    ] {
        for (name, ours, theirs) in [
            ("Byar", byar(observed, expected, 0.95).unwrap(), byar_limits),
            ("exact", exact(observed, expected, 0.95).unwrap(), exact_limits),
        ] {
            let what = format!("{name} of {observed} over {expected}");
            close_within(&case, &what, (ours.0, theirs.0), (1e-10, 1e-10));
            close_within(&case, &what, (ours.1, theirs.1), (1e-10, 1e-10));
        }
    }
    tell("observed-over-expected");
}

/// Three people's returns over what their mix of jobs lets expect, with the
/// shop rates 1.5 %, 4 % and 11 %: 300 x 0.015 + 80 x 0.04 + 10 x 0.11 = 8.8,
/// and so on. Limits to two digits by hand from Byar's formula.
#[test]
fn returns_over_the_mix_of_jobs() {
    for (lines, observed, ratio, low, high) in [
        ([300.0, 80.0, 10.0], 9, 1.02, 0.47, 1.94),
        ([150.0, 120.0, 30.0], 11, 1.06, 0.53, 1.90),
        ([40.0, 70.0, 120.0], 15, 0.90, 0.51, 1.49),
    ] {
        let expected: f64 = lines.iter().zip([0.015, 0.04, 0.11]).map(|(n, rate)| n * rate).sum();
        let ours = byar(observed, expected, 0.95).unwrap();
        let rounded = |x: f64| (x * 100.0).round() / 100.0;
        let ours = (rounded(observed as f64 / expected), rounded(ours.0), rounded(ours.1));
        assert_eq!(ours, (ratio, low, high));
    }
}

#[test]
fn two_rates() {
    let case = case("o35-rate-ratio");
    let expected = case["expected"].as_array().unwrap();
    assert!(expected.len() >= 2);
    for row in expected {
        let number = |key: &str| row[key].as_f64().unwrap();
        let count = |key: &str| row[key].as_i64().unwrap();
        let ours = rate_ratio(count("x1"), number("t1"), count("x2"), number("t2"), 0.95).unwrap();
        close(&case, "ratio", ours.ratio.unwrap(), number("ratio"));
        close(&case, "low", ours.low, row["ci_95"][0].as_f64().unwrap());
        close(&case, "high", ours.high.unwrap(), row["ci_95"][1].as_f64().unwrap());
        close(&case, "two-sided", ours.two_sided, number("p_two_sided"));
    }
    tell("o35-rate-ratio");
}

/// scipy 1.17.1: `binomtest(x1, x1 + x2, t1 / (t1 + t2))`, its p value and the
/// odds of its exact interval times t2 / t1. A second rate of zero bounds
/// nothing from above.
#[test]
fn two_rates_of_which_one_may_be_zero() {
    let case = json!({ "case": "two rates, one may be zero" });
    for (x1, t1, x2, t2, two_sided, low, high) in [
        (0, 100.0, 4, 90.0, 0.050344917549742574, 0.0, Some(1.3633801734293471)),
        (3, 50.0, 0, 200.0, 0.008, 1.652925420123576, None),
        (5, 10.0, 5, 10.0, 1.0, 0.23014246893811693, Some(4.345134579523825)),
        (30, 1000.0, 12, 900.0, 0.019384985179502538, 1.1186668215559368, Some(4.825501635157237)),
        (2, 0.5, 150, 80.0, 0.24362212235175204, 0.2560046728622879, Some(7.841719899089189)),
    ] {
        let ours = rate_ratio(x1, t1, x2, t2, 0.95).unwrap();
        let what = format!("{x1} in {t1} against {x2} in {t2}");
        close_within(&case, &what, (ours.two_sided, two_sided), (0.0, 1e-10));
        close_within(&case, &what, (ours.low, low), (1e-10, 1e-10));
        assert_eq!(ours.high.is_some(), high.is_some(), "{what}");
        if let (Some(ours), Some(theirs)) = (ours.high, high) {
            close_within(&case, &what, (ours, theirs), (1e-10, 1e-10));
        }
    }
    tell("two-rates");
}
