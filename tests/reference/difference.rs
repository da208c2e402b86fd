//! Newcombe (1998), Zou and Donner (2008), Fisher (1935); expected numbers from
//! statsmodels `confint_proportions_2indep` and scipy `fisher_exact`.

use analytics::stats::difference::{difference_in_differences, fisher_two_sided, newcombe};
use serde_json::{Value, json};

use crate::files::{case, close, close_within, tell};

#[test]
fn interval_of_a_difference() {
    let case = case("o20-difference-of-proportions");
    let expected = case["expected"].as_array().unwrap();
    assert!(expected.len() >= 5);
    for row in expected {
        let count = |key: &str| row[key].as_i64().unwrap();
        let (x1, n1, x2, n2) = (count("x1"), count("n1"), count("x2"), count("n2"));
        let (low, high) = newcombe(x1, n1, x2, n2, 0.95).unwrap();
        let what = format!("{x1}/{n1} - {x2}/{n2}");
        close(&case, &what, low, row["newcombe_10"][0].as_f64().unwrap());
        close(&case, &what, high, row["newcombe_10"][1].as_f64().unwrap());
        let published = &case["published"][format!("{x1}/{n1}-{x2}/{n2}")];
        for (ours, theirs) in [(low, &published[0]), (high, &published[1])] {
            assert!((ours - theirs.as_f64().unwrap()).abs() <= 0.5001e-4, "{what}: {ours}");
        }
    }
    tell("o20-difference-of-proportions");
}

fn named(name: &str) -> Value {
    json!({ "case": name })
}

/// In Python 3.11: the two intervals from statsmodels 0.15.0
/// `confint_proportions_2indep(compare='diff', method='newcomb')`, then
/// `d - hypot(d1 - l1, u2 - d2)` and `d + hypot(u1 - d1, d2 - l2)`.
#[test]
fn interval_of_a_difference_of_differences() {
    let case = named("difference of differences");
    for (first, second, level, low, high) in [
        ([(9, 38), (4, 96)], [(2, 60), (3, 118)], 0.95, 0.039509521970028466, 0.3530914323232783),
        ([(9, 38), (4, 96)], [(2, 60), (3, 118)], 0.90, 0.06405353516302432, 0.32458190211512705),
        (
            [(12, 400), (30, 420)],
            [(15, 300), (16, 310)],
            0.95,
            -0.08800785457295067,
            0.007333576757982109,
        ),
        (
            [(12, 400), (30, 420)],
            [(15, 300), (16, 310)],
            0.90,
            -0.07975849793948661,
            -0.0006284352052993228,
        ),
        ([(10, 10), (0, 20)], [(0, 20), (10, 10)], 0.95, 1.5461591213712, 2.0),
        (
            [(5, 56), (0, 29)],
            [(84, 101), (89, 105)],
            0.95,
            -0.05737928754934292,
            0.2502444359663296,
        ),
    ] {
        let ours = difference_in_differences(first, second, level).unwrap();
        let what = format!("{first:?} - {second:?} at {level}");
        close_within(&case, &what, (ours.0, low), (1e-10, 1e-10));
        close_within(&case, &what, (ours.1, high), (1e-10, 1e-10));
    }
    tell("difference-of-differences");
}

/// scipy 1.17.1 `fisher_exact`, each the same from Python's `Fraction` over
/// all tables. The first is Fisher's tea (The Design of Experiments, 1935): by
/// hand (1 + 16) x 2 of the 70 ways to name four cups of eight.
#[test]
fn exact_test_of_two_shares() {
    let case = named("Fisher's exact test");
    for (x1, n1, x2, n2, p) in [
        (3, 4, 1, 4, 34.0 / 70.0),
        (9, 38, 4, 96, 0.0015549235650497532),
        (9, 38, 2, 60, 0.0028390218211145467),
        (6, 22, 3, 118, 0.00048254238966382186),
        (7, 95, 33, 805, 0.1803502067092292),
        (0, 5, 0, 7, 1.0),
        (3, 3, 0, 3, 0.1),
        (5, 10, 5, 10, 1.0),
        (8, 9, 2, 11, 0.005477494641581329),
        (40, 400, 90, 300, 2.1208144538156066e-11),
        (1, 2000, 9, 2100, 0.02169994695606213),
    ] {
        let what = format!("{x1}/{n1} against {x2}/{n2}");
        let ours = fisher_two_sided(x1, n1, x2, n2).unwrap();
        close_within(&case, &what, (ours, p), (0.0, 1e-12));
    }
    tell("fisher");
}
