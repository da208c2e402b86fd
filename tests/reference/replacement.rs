//! Replacing by age: optimum by scipy, and a table of twenty optima.

use analytics::stats::replacement::{Costs, Life, Planned, replacement};

use crate::files::{case, close, close_within, tell};

#[test]
fn age_replacement() {
    let case = case("o30-age-replacement");
    let rows = case["expected"].as_array().unwrap();
    assert_eq!(rows.len(), 4);
    for row in rows {
        let input = |key: &str| row[key].as_f64().unwrap();
        let expected = &row["expected"];
        let number = |key: &str| expected[key].as_f64().unwrap();
        let ours = replacement(
            Life { shape: input("beta"), scale: input("eta") },
            Costs { planned: input("cost_planned"), failure: input("cost_failure") },
        )
        .unwrap();
        close(
            &case,
            "run to failure",
            ours.run_to_failure_cost_rate,
            number("cost_rate_run_to_failure"),
        );
        let Some(age) = expected["optimal_age"].as_f64() else {
            assert_eq!(ours.planned, None);
            continue;
        };
        let planned = ours.planned.unwrap();
        close(&case, "age", planned.age, age);
        close(&case, "cost rate", planned.cost_rate, number("cost_rate"));
        close(&case, "failing", planned.failing_before, number("prob_failure_before_age"));
        close(&case, "saving", planned.saving, number("saving_vs_run_to_failure"));
    }
    tell("o30-age-replacement");
}

/// Failure costs in units of a planned replacement.
const FAILURE: [f64; 4] = [2.0, 3.0, 5.0, 10.0];

/// For a shape: best age in units of the scale, and its cost rate in units of
/// that of running to failure, for each of `FAILURE`. Computed to 40 digits
/// with mpmath 1.4.1 (`quad` for the integral, `findroot` on the condition of
/// Barlow and Hunter).
const OPTIMA: [(f64, [(f64, f64); 4]); 5] = [
    (
        1.5,
        [
            (2.17464137974, 0.998436202628),
            (1.15707679688, 0.971060581289),
            (0.675491992136, 0.890341426667),
            (0.378144491573, 0.749424506028),
        ],
    ),
    (
        2.0,
        [
            (1.09079696963, 0.966693644693),
            (0.737913860172, 0.871945508733),
            (0.510655224295, 0.72409025503),
            (0.336451191255, 0.536709788624),
        ],
    ),
    (
        2.5,
        [
            (0.883601677427, 0.921186536412),
            (0.6568557988, 0.787238959077),
            (0.493046957597, 0.614349051355),
            (0.35457440963, 0.421498828809),
        ],
    ),
    (
        3.0,
        [
            (0.810342027426, 0.879568122071),
            (0.636547860282, 0.723658413131),
            (0.502609582103, 0.541395029668),
            (0.382455531143, 0.352668890115),
        ],
    ),
    (
        4.0,
        [
            (0.766113237492, 0.81513582149),
            (0.64159460775, 0.638369210009),
            (0.538402120285, 0.452680041038),
            (0.439097186787, 0.276252074804),
        ],
    ),
];

#[test]
fn twenty_optima() {
    let case = serde_json::json!({ "case": "age replacement, twenty optima" });
    for (shape, row) in OPTIMA {
        for (failure, (age, relative)) in FAILURE.into_iter().zip(row) {
            let ours =
                replacement(Life { shape, scale: 1.0 }, Costs { planned: 1.0, failure }).unwrap();
            let Planned { age: our_age, saving, .. } = ours.planned.unwrap();
            let what = format!("shape {shape}, failure {failure}");
            close_within(&case, &what, (our_age, age), (0.0, 1e-9));
            close_within(&case, &what, (1.0 - saving, relative), (0.0, 1e-9));
        }
    }
    tell("o30-age-replacement, twenty optima");
}
