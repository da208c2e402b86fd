//! Newcombe (1998), Brown, Cai and DasGupta (2001), NIST e-Handbook 7.2.4.2;
//! expected numbers from statsmodels `proportion_confint`.

use analytics::stats::proportion::{
    agresti_coull, clopper_pearson, jeffreys, jeffreys_corrected, wilson,
};

use crate::files::{case, close, tell};

#[test]
fn five_intervals_of_a_proportion() {
    let case = case("o19-binomial-intervals");
    let expected = case["expected"].as_array().unwrap();
    assert!(expected.len() >= 6);
    for row in expected {
        let (x, n) = (row["x"].as_i64().unwrap(), row["n"].as_i64().unwrap());
        let level = row["level"].as_f64().unwrap();
        for (name, ours) in [
            ("wilson", wilson(x, n, level)),
            ("clopper_pearson", clopper_pearson(x, n, level)),
            ("jeffreys_equal_tail", jeffreys(x, n, level)),
            ("jeffreys_bcd_modified", jeffreys_corrected(x, n, level)),
            ("agresti_coull", agresti_coull(x, n, level)),
        ] {
            let (low, high) = ours.unwrap();
            let what = format!("{name} of {x}/{n}");
            close(&case, &what, low, row[name][0].as_f64().unwrap());
            close(&case, &what, high, row[name][1].as_f64().unwrap());
        }
    }
    tell("o19-binomial-intervals");
}

/// Wilson's interval of small shop counts, in percent to one digit:
/// `scipy.stats.binomtest(x, n).proportion_ci(method="wilson")`.
#[test]
fn wilson_of_small_shop_counts() {
    for (x, n, low, high) in
        [(3, 40, 2.6, 19.9), (6, 40, 7.1, 29.1), (12, 400, 1.7, 5.2), (0, 25, 0.0, 13.3)]
    {
        let ours = wilson(x, n, 0.95).unwrap();
        let percent = |share: f64| (share * 1000.0).round() / 10.0;
        assert_eq!((percent(ours.0), percent(ours.1)), (low, high), "{x}/{n}");
    }
    assert_eq!(wilson(0, 25, 0.95).unwrap().0, 0.0);
    assert_eq!(wilson(25, 25, 0.95).unwrap().1, 1.0);
}
