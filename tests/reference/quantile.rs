//! Quantiles by four conventions, and what else is read off ordered values;
//! expected numbers from R and scipy.

use analytics::stats::quantile::{
    Convention, median_deviation, of_sorted, rank_interval, trimmed_mean,
};
use serde_json::Value;

use crate::files::{Folder, close, table, tell};

const CONVENTIONS: [(&str, Convention); 4] = [
    ("type1", Convention::One),
    ("type6", Convention::Six),
    ("type7", Convention::Seven),
    ("type8", Convention::Eight),
];

/// The one column of a data file, ascending.
fn sorted((_, rows): (Vec<String>, Vec<Vec<String>>)) -> Vec<f64> {
    let mut values: Vec<f64> = rows.iter().map(|row| row[0].parse().unwrap()).collect();
    values.sort_unstable_by(f64::total_cmp);
    values
}

fn check(case: &Value, values: &[f64], expected: &Value) {
    let number = |key: &str| expected[key].as_f64().unwrap();
    assert_eq!(values.len() as u64, expected["n"].as_u64().unwrap());
    let shares = expected["p"].as_array().unwrap();
    assert!(!shares.is_empty());
    for (name, convention) in CONVENTIONS {
        for (p, theirs) in shares.iter().zip(expected[name].as_array().unwrap()) {
            let ours = of_sorted(values, p.as_f64().unwrap(), convention).unwrap();
            close(case, &format!("{name} at {p}"), ours, theirs.as_f64().unwrap());
        }
    }
    for (key, fraction) in [("mean", 0.0), ("trim10", 0.1), ("trim20", 0.2), ("trim25", 0.25)] {
        close(case, key, trimmed_mean(values, fraction).unwrap(), number(key));
    }
    close(case, "mad", median_deviation(values).unwrap(), number("mad"));
}

fn check_intervals(case: &Value, values: &[f64], expected: &Value) {
    let intervals = expected["order_statistic_ci_95"].as_array().unwrap();
    assert_eq!(intervals.len(), 3);
    for theirs in intervals {
        let number = |key: &str| theirs[key].as_f64().unwrap();
        let ours = rank_interval(values, number("p"), number("level")).unwrap();
        assert_eq!(ours.low_rank as u64, theirs["lower_rank"].as_u64().unwrap());
        assert_eq!(ours.high_rank as u64, theirs["upper_rank"].as_u64().unwrap());
        close(case, "low", ours.low.unwrap(), number("lower"));
        close(case, "high", ours.high.unwrap(), number("upper"));
        close(case, "coverage", ours.coverage, number("exact_coverage"));
    }
}

#[test]
fn repair_times_and_gauge_readings() {
    let Some(folder) = Folder::outside("quantiles and trimmed means") else { return };
    let case = folder.case("o33-quantiles-and-trimmed-mean");
    let times = sorted(folder.table("repairtimes.csv"));
    let expected = &case["expected"];
    check(&case, &times, &expected["repairtimes"]);
    check_intervals(&case, &times, &expected["repairtimes"]);
    check(&case, &sorted(table("nist_percentile.csv")), &expected["nist_percentile"]);
    tell("o33-quantiles-and-trimmed-mean");
}

/// The twelve gauge readings of the NIST/SEMATECH e-Handbook, section 7.2.6.2,
/// whose printed 90th percentile is 95.1981 (convention six; value from
/// memory). Ranks by hand: 0.9 x 13 = 11.7.
#[test]
fn gauge_readings_by_hand() {
    let values = sorted(table("nist_percentile.csv"));
    let ours = of_sorted(&values, 0.9, Convention::Six).unwrap();
    assert!((ours - (values[10] + 0.7 * (values[11] - values[10]))).abs() < 1e-12);
    assert!((ours - 95.1981).abs() < 5e-5);
}

/// Count, p, level; low rank, high rank, coverage. From scipy 1.17.1
/// (`scipy.stats.binom`: ppf(a / 2), ppf(1 - a / 2) + 1, cdf between).
const RANKS: [(usize, f64, f64, usize, usize, f64); 6] = [
    (5, 0.5, 0.95, 0, 6, 1.0),
    (6, 0.5, 0.95, 1, 6, 0.96875),
    (12, 0.9, 0.9, 9, 13, 0.974362529835),
    (1000, 0.9, 0.95, 881, 919, 0.9549071811148259),
    (100_000, 0.5, 0.99, 49_593, 50_408, 0.9900415411987196),
    (1_000_000, 0.25, 0.95, 249_152, 250_850, 0.9500837964926835),
];

#[test]
fn ranks_of_many_and_few() {
    let case = serde_json::json!({ "case": "ranks", "tolerance": { "rel": 1e-9 } });
    for (count, p, level, low, high, coverage) in RANKS {
        let values: Vec<f64> = (1..=count).map(|i| i as f64).collect();
        let ours = rank_interval(&values, p, level).unwrap();
        assert_eq!((ours.low_rank, ours.high_rank), (low, high), "{count}");
        assert_eq!(ours.low, (low > 0).then_some(low as f64));
        assert_eq!(ours.high, (high <= count).then_some(high as f64));
        close(&case, &format!("{count}"), ours.coverage, coverage);
    }
    tell("o33-quantiles-and-trimmed-mean, ranks");
}
