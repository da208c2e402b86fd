//! Benjamini and Hochberg (1995), Holm (1979); expected numbers from scipy
//! 1.17.1 `false_discovery_control` and statsmodels 0.15.0 `multipletests`.

use analytics::stats::multiple::{benjamini_hochberg, holm};
use serde_json::json;

use crate::files::{close_within, tell};

/// The fifteen p values of the example of Benjamini and Hochberg, section 4.1.
const FIFTEEN: [f64; 15] = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719,
    0.6528, 0.7590, 1.0,
];
/// With ties, in no order.
const TIED: [f64; 8] = [0.3, 0.02, 0.02, 0.9, 0.001, 0.04, 0.02, 0.5];

fn check(name: &str, ours: Option<Vec<f64>>, theirs: &[f64]) {
    let case = json!({ "case": name });
    let ours = ours.unwrap();
    assert_eq!(ours.len(), theirs.len());
    for (i, (&ours, &theirs)) in ours.iter().zip(theirs).enumerate() {
        close_within(&case, &format!("value {i}"), (ours, theirs), (0.0, 1e-12));
    }
}

#[test]
fn false_discoveries() {
    check("five", benjamini_hochberg(&[0.01, 0.02, 0.03, 0.04, 0.05]), &[0.05; 5]);
    let fifteen = [
        0.0015,
        0.003,
        0.0095,
        0.035625,
        0.0603,
        0.06385714285714286,
        0.06385714285714286,
        0.0645,
        0.0765,
        0.486,
        0.5811818181818182,
        0.714875,
        0.7532307692307693,
        0.8132142857142857,
        1.0,
    ];
    check("fifteen", benjamini_hochberg(&FIFTEEN), &fifteen);
    let tied = [0.4, 0.04, 0.04, 0.9, 0.008, 0.064, 0.04, 0.5714285714285714];
    check("tied", benjamini_hochberg(&TIED), &tied);
    tell("benjamini-hochberg");
}

/// The paper: at 5 % the four smallest are taken by the false discovery rate,
/// and three by the chance of a single wrong one (from memory).
#[test]
fn the_paper_takes_four_and_three() {
    let taken = |adjusted: Option<Vec<f64>>| {
        adjusted.unwrap().iter().filter(|&&value| value <= 0.05).count()
    };
    assert_eq!(taken(benjamini_hochberg(&FIFTEEN)), 4);
    assert_eq!(taken(holm(&FIFTEEN)), 3);
}

#[test]
fn a_single_wrong_one() {
    check("five", holm(&[0.01, 0.02, 0.03, 0.04, 0.05]), &[0.05, 0.08, 0.09, 0.09, 0.09]);
    let fifteen = [
        0.0015, 0.0056, 0.0247, 0.114, 0.2211, 0.278, 0.278, 0.278, 0.3213, 1.0, 1.0, 1.0, 1.0,
        1.0, 1.0,
    ];
    check("fifteen", holm(&FIFTEEN), &fifteen);
    check("tied", holm(&TIED), &[0.9, 0.14, 0.14, 1.0, 0.008, 0.16, 0.14, 1.0]);
    tell("holm");
}
