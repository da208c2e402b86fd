//! Skellam (1948), Efron and Morris (1975); expected numbers from scipy
//! `betabinom` and 40-digit mpmath.

use analytics::stats::shrink::{Group, fit, log_likelihood, shrunk, strength};
use serde_json::json;

use crate::files::{case, close, close_within, table, tell};

/// Logarithm of the ways to choose x of n.
fn ln_ways(n: i64, x: i64) -> f64 {
    (0..x).map(|i| ((n - i) as f64 / (i + 1) as f64).ln()).sum()
}

#[test]
fn batting_averages() {
    let case = case("o26-empirical-bayes-baseball");
    let expected = &case["expected"]["beta_binomial"];
    let (_, rows) = table(case["input"].as_str().unwrap());
    let counts: Vec<(i64, i64)> =
        rows.iter().map(|row| (row[1].parse().unwrap(), row[2].parse().unwrap())).collect();
    assert_eq!(counts.len(), 18);
    let fitted = fit(&counts).unwrap();
    close(&case, "mean", fitted.mean, expected["prior_mean"].as_f64().unwrap());
    close(&case, "strength", fitted.strength, expected["prior_strength"].as_f64().unwrap());
    let groups: Vec<Group> =
        counts.iter().map(|&(events, cases)| Group { mean: fitted.mean, cases, events }).collect();
    let ways: f64 = counts.iter().map(|&(events, cases)| ln_ways(cases, events)).sum();
    let log = log_likelihood(fitted.strength, &groups) + ways;
    close(&case, "log-likelihood", log, expected["loglik"].as_f64().unwrap());
    for (i, group) in groups.iter().enumerate() {
        let what = format!("player {i}");
        let ours = shrunk(group, fitted.strength).unwrap();
        close_within(&case, &what, (ours, expected["shrunk"][i].as_f64().unwrap()), (1e-5, 0.0));
    }
    tell("o26-empirical-bayes-baseball");
}

/// mpmath at 40 digits: `findroot` of both slopes (digamma differences) of the
/// log-likelihood. The case above was maximized by search, in double digits.
#[test]
fn fits_to_more_digits() {
    let case = json!({ "case": "beta-binomial fits" });
    let (_, rows) = table("baseball.csv");
    let players: Vec<(i64, i64)> =
        rows.iter().map(|row| (row[1].parse().unwrap(), row[2].parse().unwrap())).collect();
    let six = vec![(1, 12), (4, 20), (0, 7), (9, 15), (2, 30), (14, 40)];
    for (what, counts, mean, strength) in [
        ("players", players, 0.265_432_504_379_877_4, 793.236_821_049_558_4),
        ("six groups", six, 0.227_522_284_900_762_6, 5.642_140_495_131_272),
    ] {
        let fitted = fit(&counts).unwrap();
        close_within(&case, what, (fitted.mean, mean), (0.0, 1e-9));
        close_within(&case, what, (fitted.strength, strength), (0.0, 1e-7));
    }
    tell("beta-binomial-fits");
}

/// scipy 1.17.1: `betabinom.logpmf(x, n, m * s, (1 - m) * s)` less
/// `log(comb(n, x))`, summed over the groups: at s = 8, and as weight of each s
/// in `linspace(2, 20, 37)`; then 10 + (k - 4) / k times (the mean s less 10)
/// for k groups.
#[test]
fn strengths_around_own_means() {
    let case = json!({ "case": "strengths around own means" });
    let alike = vec![(0.1, 5, 50); 12];
    for (groups, log, expected) in [
        (
            vec![(0.25, 1, 12), (0.25, 4, 20), (0.25, 0, 7), (0.25, 9, 15), (0.25, 2, 30)],
            -37.229_290_382_829_89,
            9.712_852_895_542_008,
        ),
        (
            vec![
                (0.02, 1, 120),
                (0.05, 9, 90),
                (0.11, 12, 200),
                (0.03, 0, 40),
                (0.08, 7, 60),
                (0.04, 11, 80),
            ],
            -143.056_566_069_838_06,
            11.571_942_437_020_903,
        ),
        (alike, -207.976_268_243_725, 14.957_567_375_702_55),
    ] {
        let groups: Vec<Group> =
            groups.into_iter().map(|(mean, events, cases)| Group { mean, cases, events }).collect();
        close_within(&case, "log", (log_likelihood(8.0, &groups), log), (0.0, 1e-11));
        close_within(&case, "strength", (strength(&groups), expected), (0.0, 1e-10));
    }
    tell("strengths-around-own-means");
}
