//! Cut-offs on one published data set, and how often the interval of one holds
//! the true cut-off.

use analytics::stats::cutoff::{
    Better, Candidate, Costs, Cut, Resampling, candidates, cheapest, on_curve, resampled,
};
use analytics::stats::logistic::{Outcome, fit};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

use crate::files::{case, close, tell};
use crate::logistic::outcomes;

fn costs(expected: &Value) -> Costs {
    let cost = |key: &str| expected[key].as_i64().unwrap();
    Costs { false_alarm: cost("cost_false_alarm"), missed: cost("cost_missed") }
}

/// The row of the case that says the same as a candidate.
fn row(candidate: &Candidate) -> Value {
    let Candidate { cut, false_alarms, missed, cost } = *candidate;
    let reading = match cut {
        Cut::At(reading) => Some(reading),
        Cut::RejectNone | Cut::RejectAll => None,
    };
    serde_json::json!([reading, false_alarms, missed, cost])
}

#[test]
fn damage_against_temperature() {
    let case = case("o31-logistic-and-cutoff");
    let expected = &case["expected"];
    let number = |key: &str| expected[key].as_f64().unwrap();
    let (costs, better) = (costs(expected), Better::Higher);
    let outcomes = outcomes(case["input"].as_str().unwrap());

    close(&case, "threshold", costs.threshold().unwrap(), number("probability_threshold"));
    let curve = fit(outcomes.clone()).unwrap();
    let reading = on_curve(&curve, costs, better).unwrap();
    close(&case, "reading at threshold", reading, number("reading_at_threshold"));
    assert_eq!(on_curve(&curve, costs, Better::Lower), None);

    let all = candidates(outcomes, costs, better).unwrap();
    let rows: Vec<Value> = all.iter().map(row).collect();
    assert_eq!(Value::from(rows), expected["empirical_cutoffs_reading_falsealarms_missed_cost"]);
    let best = cheapest(&all);
    assert!(best.iter().all(|b| Some(b.cost) == expected["empirical_minimum_cost"].as_i64()));
    let cuts: Vec<Value> = best.iter().map(|candidate| row(candidate)[0].clone()).collect();
    assert_eq!(Value::from(cuts), expected["empirical_best_cutoffs"]);
    tell("o31-logistic-and-cutoff, cut-offs");
}

/// Units with readings spread evenly over 0 to 100, whose event has log odds
/// -(reading - 50) / 10.
fn simulated(units: usize, random: &mut ChaCha8Rng) -> Vec<Outcome> {
    (0..units)
        .map(|_| {
            let reading = 100.0 * random.random::<f64>();
            let share = 1.0 / (1.0 + ((reading - 50.0) / 10.0).exp());
            Outcome { reading, event: random.random::<f64>() < share, count: 1 }
        })
        .collect()
}

/// The true cut-off is where the share is 1/5: log odds -log 4, reading
/// 50 + 10 log 4. An
/// interval of 95 % that kept its word would hold it in about 142 of 150
/// samples; with 60 units this one holds it in about 79 % (2000 samples of 399
/// resamples), and the band is three standard errors of 150 samples about that.
#[test]
fn the_interval_mostly_holds_the_true_cut_off() {
    const SAMPLES: u64 = 150;
    let truth = 50.0 + 10.0 * 4.0_f64.ln();
    let costs = Costs { false_alarm: 1, missed: 4 };
    let mut random = ChaCha8Rng::seed_from_u64(20);
    let mut held = 0;
    for seed in 0..SAMPLES {
        let how = Resampling { resamples: 79, seed, level: 0.95 };
        let range = resampled(simulated(60, &mut random), costs, Better::Higher, how).unwrap();
        held += u64::from(range.low <= truth && truth <= range.high);
    }
    println!("cut-off interval: {held} of {SAMPLES} hold the true cut-off");
    assert!((103..=133).contains(&held), "{held}");
}
