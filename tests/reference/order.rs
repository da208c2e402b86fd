//! The order of checks against worked cases in which every order was tried.

use analytics::path::order::{
    Check, Cluster, MAX_CHECKS, Method, OrderError, Problem, ProblemError, ProblemParts,
    SignalError, SignalPath, after_clean, best_order, best_order_against, expected_minutes,
    expected_with_repair, greedy_order, least_minutes, looks, ratio_order, ratio_rule_holds,
};
use serde_json::{Value, json};

use crate::files::{case, close, tell};

pub fn check(minutes: f64, probability: f64) -> Check {
    Check { minutes, probability, sensitivity: 1.0, cluster: None }
}

/// Sure checks without teardown.
fn sure<const N: usize>(checks: [(f64, f64); N]) -> ProblemParts {
    let checks = checks.map(|(minutes, probability)| check(minutes, probability)).to_vec();
    ProblemParts { checks, ..ProblemParts::default() }
}

pub fn problem(parts: &ProblemParts) -> Problem {
    Problem::new(parts).unwrap()
}

/// A worked example whose numbers are exact.
fn exact(name: &str) -> Value {
    json!({ "case": name, "tolerance": { "rel": 1e-12 } })
}

/// Checks 0 to 4 of the no-start example: battery and terminals, starter
/// control, starter, fuel supply, crank sensor. Checked in Python's fractions
/// by adding up, for each cause, the minutes until its check is done.
fn no_start() -> ProblemParts {
    sure([(6.0, 0.40), (12.0, 0.15), (30.0, 0.20), (20.0, 0.15), (25.0, 0.10)])
}

/// Every order of so many checks.
pub fn permutations(count: usize) -> Vec<Vec<usize>> {
    let mut all = vec![vec![]];
    for next in 0..count {
        let places = |order: Vec<usize>| {
            (0..=next).map(move |place| {
                let mut longer = order.clone();
                longer.insert(place, next);
                longer
            })
        };
        all = all.into_iter().flat_map(places).collect();
    }
    all
}

fn index(ids: &[&str], id: &Value) -> usize {
    ids.iter().position(|known| Some(*known) == id.as_str()).unwrap()
}

/// The parts of a case, and the ids of its checks.
fn read(entry: &Value) -> (ProblemParts, Vec<&str>) {
    let rows = entry["checks"].as_array().unwrap();
    let ids: Vec<&str> = rows.iter().map(|row| row["id"].as_str().unwrap()).collect();
    let setup = entry["setup"].as_object();
    let groups: Vec<&String> = setup.into_iter().flat_map(|setup| setup.keys()).collect();
    let opening = |minutes: &Value| minutes.as_f64().unwrap();
    let parts = ProblemParts {
        checks: rows
            .iter()
            .map(|row| Check {
                cluster: groups.iter().position(|group| row["group"] == group.as_str()),
                ..check(row["time"].as_f64().unwrap(), row["p"].as_f64().unwrap())
            })
            .collect(),
        clusters: setup
            .into_iter()
            .flat_map(|setup| setup.values())
            .map(|minutes| Cluster { opening_minutes: opening(minutes), within: None })
            .collect(),
        pairs: entry["precedence"]
            .as_array()
            .into_iter()
            .flatten()
            .map(|pair| (index(&ids, &pair[0]), index(&ids, &pair[1])))
            .collect(),
        infer_last: entry["infer_last"] == true,
        ..ProblemParts::default()
    };
    (parts, ids)
}

fn agrees(name: &str) {
    let case = case(name);
    for entry in case["expected"].as_array().unwrap() {
        let (parts, ids) = read(entry);
        let problem = problem(&parts);
        let expected = &entry["expected"];
        let what = entry["name"].as_str().unwrap();
        if let Some(none) = entry["p_none"].as_f64() {
            close(&case, what, problem.none_of_them(), none);
        }
        let ours = |order: &[usize], theirs: &Value| match theirs.as_f64() {
            Some(theirs) => close(&case, what, expected_minutes(&problem, order).unwrap(), theirs),
            None => assert!(matches!(
                expected_minutes(&problem, order),
                Err(OrderError::OutOfTurn { .. })
            )),
        };
        let listed: Vec<usize> = (0..ids.len()).collect();
        ours(&listed, &expected["expected_time_as_listed"]);
        let named = |order: &[usize]| json!(order.iter().map(|i| ids[*i]).collect::<Vec<_>>());
        let by_ratio = ratio_order(&problem);
        assert_eq!(named(&by_ratio), expected["ratio_order"], "{what}");
        ours(&by_ratio, &expected["expected_time_ratio_order"]);
        let plan = best_order(&problem);
        let least = expected["optimal_expected_time"].as_f64().unwrap();
        close(&case, what, plan.expected_minutes, least);
        assert!(expected["optimal_orders"].as_array().unwrap().contains(&named(&plan.order)));
        let all = permutations(ids.len());
        let taken = all.iter().filter_map(|order| expected_minutes(&problem, order).ok());
        let best = taken.filter(|minutes| (minutes - least).abs() < 1e-9).count();
        assert_eq!(json!(best), expected["number_of_optimal_orders"], "{what}");
    }
    tell(name);
}

#[test]
fn every_order_of_five_checks() {
    agrees("o27-check-order");
}

#[test]
fn setup_and_precedence() {
    agrees("o28-check-order-setup-and-precedence");
}

/// T1, T2 and T3.
#[test]
fn the_ratio_rule_elimination_and_repair() {
    let case = exact("no start");
    let plain = problem(&no_start());
    assert!(ratio_rule_holds(&plain));
    let plan = best_order(&plain);
    assert_eq!((plan.order, plan.method), (vec![0, 1, 3, 2, 4], Method::Ratio));
    close(&case, "ratio", plan.expected_minutes, 33.7);
    for (order, minutes) in
        [([0, 2, 1, 3, 4], 36.3), ([0, 1, 3, 4, 2], 35.7), ([4, 2, 3, 1, 0], 75.0)]
    {
        close(&case, "order", expected_minutes(&plain, &order).unwrap(), minutes);
    }
    let repair = [10.0, 40.0, 50.0, 45.0, 60.0];
    for (order, minutes) in [([0, 1, 3, 2, 4], 66.45), ([4, 2, 3, 1, 0], 107.75)] {
        close(&case, "repair", expected_with_repair(&plain, &order, &repair).unwrap(), minutes);
    }
    let inferring = problem(&ProblemParts { infer_last: true, ..no_start() });
    assert!(!ratio_rule_holds(&inferring));
    let plan = best_order(&inferring);
    assert_eq!((plan.order.as_slice(), plan.inferred), (&[0, 1, 3, 4, 2][..], Some(2)));
    close(&case, "inferred", plan.expected_minutes, 29.7);
    close(&case, "by ratio", expected_minutes(&inferring, &[0, 1, 3, 2, 4]).unwrap(), 31.2);
    // What is inferred is repaired too, 29.7 + 32.75, even where its own check,
    // which is not done, would have missed it half the time.
    let mut unsure = no_start();
    unsure.checks[2].sensitivity = 0.5;
    let unsure = problem(&ProblemParts { infer_last: true, ..unsure });
    for inferring in [&inferring, &unsure] {
        let whole = expected_with_repair(inferring, &plan.order, &repair).unwrap();
        close(&case, "repair", whole, 62.45);
    }
    let small = ProblemParts { infer_last: true, ..sure([(20.0, 0.6), (40.0, 0.3), (20.0, 0.1)]) };
    let plan = best_order(&problem(&small));
    assert_eq!(plan.order, [0, 2, 1]);
    close(&case, "small", plan.expected_minutes, 28.0);
    let by_ratio = ratio_order(&problem(&small));
    close(&case, "ratio", expected_minutes(&problem(&small), &by_ratio).unwrap(), 36.0);
    tell("T1, T2, T3: ratio rule, elimination, repair");
}

/// T4 and T5: A, B, X, Y, Z; then a, b, d.
#[test]
fn shared_teardown_and_precedence() {
    let case = exact("teardown and precedence");
    let mut parts = sure([(5.0, 0.10), (20.0, 0.25), (5.0, 0.25), (10.0, 0.20), (30.0, 0.20)]);
    parts.clusters = vec![Cluster { opening_minutes: 40.0, within: None }];
    for inside in [2, 3] {
        parts.checks[inside].cluster = Some(0);
    }
    let torn = problem(&parts);
    for plan in [best_order(&torn), greedy_order(&torn)] {
        assert_eq!(plan.order, [0, 1, 2, 3, 4]);
        close(&case, "teardown", plan.expected_minutes, 62.25);
    }
    assert_eq!(ratio_order(&torn), [2, 0, 3, 1, 4]);
    for (order, minutes) in [([2, 0, 3, 1, 4], 70.25), ([0, 1, 4, 2, 3], 64.75)] {
        close(&case, "order", expected_minutes(&torn, &order).unwrap(), minutes);
    }
    let free = sure([(10.0, 0.05), (5.0, 0.55), (12.0, 0.40)]);
    close(&case, "no pair", best_order(&problem(&free)).expected_minutes, 10.90);
    let chained = problem(&ProblemParts { pairs: vec![(0, 1)], ..free });
    for plan in [best_order(&chained), greedy_order(&chained)] {
        assert_eq!(plan.order, [0, 1, 2]);
        close(&case, "pair", plan.expected_minutes, 19.55);
    }
    for (order, minutes) in [([2, 0, 1], 20.75), ([0, 2, 1], 24.15)] {
        close(&case, "order", expected_minutes(&chained, &order).unwrap(), minutes);
    }
    let turned = expected_minutes(&chained, &[1, 0, 2]);
    assert_eq!(turned, Err(OrderError::OutOfTurn { check: 1 }));
    tell("T4, T5: shared teardown, precedence");
}

/// By hand: the inner cover lies behind the outer one, so the first look inside
/// pays 10 + 20, the look at the outer one nothing more:
/// 1 x (10 + 20 + 5) + 0.6 x 7 = 39.2; the other way 1 x (10 + 7) + 0.6 x (20 + 5) = 32.
#[test]
fn a_teardown_within_a_teardown_is_paid_once() {
    let mut parts = sure([(5.0, 0.4), (7.0, 0.4)]);
    parts.clusters = vec![
        Cluster { opening_minutes: 10.0, within: None },
        Cluster { opening_minutes: 20.0, within: Some(0) },
    ];
    parts.checks[0].cluster = Some(1);
    parts.checks[1].cluster = Some(0);
    let nested = problem(&parts);
    let case = exact("nested");
    close(&case, "inner first", expected_minutes(&nested, &[0, 1]).unwrap(), 39.2);
    close(&case, "outer first", expected_minutes(&nested, &[1, 0]).unwrap(), 32.0);
}

/// T6: fuse, pump, wiring. One pass in order, by hand:
/// 5 + 0.55 x 15 + 0.31 x 20 = 19.45.
#[test]
fn looks_that_miss() {
    let case = exact("misses");
    let mut parts = sure([(5.0, 0.5), (15.0, 0.3), (20.0, 0.2)]);
    for (check, sensitivity) in parts.checks.iter_mut().zip([0.9, 0.8, 0.5]) {
        check.sensitivity = sensitivity;
    }
    let missing = problem(&parts);
    let expected = [
        (0, 1, 0.09),
        (1, 1, 0.016),
        (0, 2, 0.009),
        (2, 1, 0.005),
        (1, 2, 0.0032),
        (2, 2, 0.0025),
        (2, 3, 0.00125),
    ];
    let sequence: Vec<_> = looks(&missing).take(7).collect();
    for (ours, (check, look, index)) in sequence.iter().zip(expected) {
        assert_eq!((ours.check, ours.look), (check, look));
        close(&case, "index", ours.index, index);
    }
    close(&case, "unexplained", sequence[6].unexplained, 0.042);
    let after = after_clean(&missing, &[1, 0, 0]).unwrap();
    // 0.05, 0.3 and 0.2 of 0.55.
    for (ours, theirs) in after.causes.iter().zip([1.0 / 11.0, 6.0 / 11.0, 4.0 / 11.0]) {
        close(&case, "after a clean fuse", *ours, theirs);
    }
    close(&case, "one pass", best_order(&missing).expected_minutes, 19.45);
    let sure_ones = problem(&no_start());
    assert_eq!(looks(&sure_ones).count(), 5, "a sure look is done once");
    assert_eq!(after_clean(&sure_ones, &[1; 5]), None, "one of them must have shown");
    assert_eq!(after_clean(&sure_ones, &[1; 4]), None);
    tell("T6: checks that miss");
}

/// T7; the entropy is `-sum(p * log2(p))` in Python.
#[test]
fn a_signal_path() {
    let case = exact("signal path");
    let equal = SignalPath::new(&[3.0; 8]).unwrap();
    close(&case, "linear", equal.linear(), 4.375);
    close(&case, "halves", equal.half_split(), 3.0);
    close(&case, "best", equal.best().probes, 3.0);
    let uneven = SignalPath::new(&[0.40, 0.20, 0.10, 0.10, 0.08, 0.06, 0.04, 0.02]).unwrap();
    close(&case, "linear", uneven.linear(), 2.68);
    close(&case, "halves", uneven.half_split(), 3.0);
    close(&case, "best", uneven.best().probes, 2.56);
    assert_eq!(uneven.best().first_after, Some(1));
    close(&case, "entropy", uneven.entropy_bits(), 2.491_215_963_821_565);
    let single = SignalPath::new(&[0.2]).unwrap();
    assert_eq!((single.linear(), single.half_split()), (0.0, 0.0));
    assert_eq!((single.best().probes, single.best().first_after), (0.0, None));
    for (weights, error) in [
        (&[][..], SignalError::Stages),
        (&[1.0; MAX_CHECKS + 1][..], SignalError::Stages),
        (&[1.0, -1.0], SignalError::Weight { stage: 1 }),
        (&[f64::NAN], SignalError::Weight { stage: 0 }),
        (&[0.0, 0.0], SignalError::Sum),
        (&[f64::MAX, f64::MAX], SignalError::Sum),
    ] {
        assert_eq!(SignalPath::new(weights), Err(error));
    }
    tell("T7: signal path");
}

/// Sixteen checks with teardown, chains and misses. The least minutes come from
/// dynamic programming over subsets in Python, evaluated with its fractions.
#[test]
fn past_the_search_the_bound_is_honest() {
    const LEAST: f64 = 159.711_969_696_969_7;
    let checks = (0..16_u32).map(|i| Check {
        minutes: f64::from(3 + 7 * i % 23),
        probability: 0.95 * f64::from(1 + 5 * i % 11) / 99.0,
        sensitivity: f64::from(10 - i % 4) / 10.0,
        cluster: (i % 5 < 3).then_some(i as usize % 5),
    });
    let openings =
        [25.0, 40.0, 15.0].map(|minutes| Cluster { opening_minutes: minutes, within: None });
    let pairs = vec![(0, 6), (3, 9), (6, 12), (9, 15)];
    let mut parts = ProblemParts { checks: checks.collect(), pairs, ..ProblemParts::default() };
    parts.clusters = openings.to_vec();
    let long = problem(&parts);
    let plan = best_order(&long);
    assert_eq!(plan.method, Method::Greedy);
    let bound = plan.bound.unwrap();
    assert!(bound <= LEAST && LEAST <= plan.expected_minutes + 1e-9);
    assert!(plan.at_most_above() < 0.1 * LEAST, "{} is no use", plan.at_most_above());
    // The optimal order that Python found.
    let best = [4, 8, 14, 13, 2, 7, 10, 0, 5, 1, 6, 12, 3, 9, 15, 11];
    close(&exact("sixteen"), "order", expected_minutes(&long, &best).unwrap(), LEAST);
    let against = best_order_against(&long, &best).unwrap();
    close(&exact("sixteen"), "habit", against.expected_minutes, LEAST);
    // With two mandatory first checks, fourteen are left to search.
    parts.first = vec![4, 8];
    let searched = best_order(&problem(&parts));
    assert_eq!((searched.method, searched.bound), (Method::Exact, None));
    close(&exact("sixteen"), "first", searched.expected_minutes, LEAST);
    tell("sixteen checks");
}

#[test]
fn what_does_not_hold_is_named() {
    let bad = |change: &dyn Fn(&mut ProblemParts)| {
        let mut parts = no_start();
        parts.clusters = vec![Cluster { opening_minutes: 5.0, within: None }; 2];
        change(&mut parts);
        Problem::new(&parts).unwrap_err()
    };
    for minutes in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(bad(&|p| p.checks[1].minutes = minutes), ProblemError::Minutes { check: 1 });
    }
    for share in [-0.1, 1.1, f64::NAN] {
        let error = ProblemError::Probability { check: 2 };
        assert_eq!(bad(&|p| p.checks[2].probability = share), error);
        let error = ProblemError::Sensitivity { check: 2 };
        assert_eq!(bad(&|p| p.checks[2].sensitivity = share), error);
    }
    assert_eq!(bad(&|p| p.checks[0].probability = 0.5), ProblemError::ProbabilitySum);
    for minutes in [-1.0, f64::NAN, f64::INFINITY] {
        let error = ProblemError::Opening { cluster: 1 };
        assert_eq!(bad(&|p| p.clusters[1].opening_minutes = minutes), error);
    }
    assert_eq!(bad(&|p| p.pairs = vec![(0, 5)]), ProblemError::UnknownCheck { check: 5 });
    assert_eq!(bad(&|p| p.first = vec![5]), ProblemError::UnknownCheck { check: 5 });
    let unknown = ProblemError::UnknownCluster { cluster: 2 };
    assert_eq!(bad(&|p| p.checks[0].cluster = Some(2)), unknown);
    assert_eq!(bad(&|p| p.clusters[0].within = Some(2)), unknown);
    let circle = |p: &mut ProblemParts| {
        p.clusters[0].within = Some(1);
        p.clusters[1].within = Some(0);
    };
    assert_eq!(bad(&circle), ProblemError::WithinItself { cluster: 0 });
    assert_eq!(bad(&|p| p.first = vec![3, 3]), ProblemError::FirstTwice { check: 3 });
    let before = |pairs: &[(usize, usize)]| bad(&|p| p.pairs = pairs.to_vec());
    assert_eq!(before(&[(4, 4)]), ProblemError::BeforeItself { check: 4 });
    // 0 only follows the circle of 1, 2 and 3.
    let circle = [(1, 2), (2, 3), (3, 1), (3, 0)];
    assert_eq!(before(&circle), ProblemError::BeforeItself { check: 1 });
    let late = |p: &mut ProblemParts| (p.first, p.pairs) = (vec![2], vec![(1, 2)]);
    assert_eq!(bad(&late), ProblemError::BeforeItself { check: 1 });
    let many = |p: &mut ProblemParts| p.checks = vec![check(1.0, 0.0); MAX_CHECKS + 1];
    assert_eq!(bad(&many), ProblemError::TooMany);
}

#[test]
fn an_order_names_every_check_once() {
    let five = problem(&no_start());
    for (order, error) in [
        (&[0, 1, 2, 3, 5][..], OrderError::Unknown { check: 5 }),
        (&[0, 1, 2, 3, 3], OrderError::Twice { check: 3 }),
        (&[0, 1, 2, 3], OrderError::Incomplete),
        (&[0, 1, 2, 3, 4, 0], OrderError::Twice { check: 0 }),
    ] {
        assert_eq!(expected_minutes(&five, order), Err(error));
        assert_eq!(best_order_against(&five, order), Err(error));
    }
    for repair in [&[1.0; 4][..], &[1.0, 1.0, 1.0, 1.0, -1.0], &[f64::NAN; 5]] {
        let whole = expected_with_repair(&five, &[0, 1, 2, 3, 4], repair);
        assert_eq!(whole, Err(OrderError::RepairMinutes));
    }
    let none = problem(&ProblemParts { infer_last: true, ..ProblemParts::default() });
    let plan = best_order(&none);
    assert_eq!((plan.order, plan.expected_minutes), (vec![], 0.0));
    assert_eq!((looks(&none).count(), least_minutes(&none)), (0, 0.0));
}
