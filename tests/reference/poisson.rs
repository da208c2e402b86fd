//! Garwood (1936); expected numbers from scipy `chi2.ppf` and R `poisson.test`.

use analytics::stats::poisson::{at_least, at_most, central_range, mean_interval, two_sided};

use crate::files::{case, close, tell};

#[test]
fn exact_interval_of_a_mean() {
    let case = case("o34-poisson-exact");
    let expected = case["expected"].as_array().unwrap();
    assert!(expected.len() >= 10);
    for row in expected {
        let x = row["x"].as_i64().unwrap();
        let exposure = row["exposure"].as_f64().unwrap();
        let (low, high) = mean_interval(x, 0.95).unwrap();
        let what = format!("interval of {x}");
        close(&case, &what, low / exposure, row["garwood_95"][0].as_f64().unwrap());
        close(&case, &what, high / exposure, row["garwood_95"][1].as_f64().unwrap());
    }
    tell("o34-poisson-exact");
}

/// Tails of single counts, from scipy 1.17 `poisson.sf(k - 1, mean)` and
/// `poisson.cdf(k, mean)`. Five or more where 1.8 are expected: 3.6 %.
#[test]
fn exact_tails() {
    for (ours, theirs) in [
        (at_least(5, 1.8), 0.036_406_661_001_083_44),
        (at_least(3, 0.4), 0.007_926_331_867_253_838),
        (at_least(12, 4.5), 0.002_404_283_573_101_494_8),
        (at_most(1, 6.2), 0.014_611_900_581_329_286),
        (at_most(0, 3.3), 0.036_883_167_401_240_02),
        (two_sided(1, 6.2), 2.0 * 0.014_611_900_581_329_286),
        (two_sided(2, 2.0), 1.0),
    ] {
        assert!((ours - theirs).abs() < 1e-12, "{ours} against {theirs}");
    }
}

/// The counts with a two-sided probability of at least 2 % and of at least 5 %,
/// from sums of exp(-m) m^k / k! in Python 3.
#[test]
fn counts_of_a_normal_week() {
    for (mean, at_2, at_5) in [
        (0.0, (0, 0), (0, 0)),
        (0.4, (0, 2), (0, 2)),
        (1.8, (0, 6), (0, 5)),
        (2.7, (0, 7), (0, 6)),
        (6.2, (1, 13), (2, 11)),
        (12.0, (5, 21), (6, 19)),
        (30.0, (18, 43), (20, 41)),
    ] {
        assert_eq!(central_range(mean, 0.02), Some(at_2), "{mean}");
        assert_eq!(central_range(mean, 0.05), Some(at_5), "{mean}");
    }
}
