//! The order of checks, of any problem, against a count over causes that tries
//! every order.

use std::collections::HashMap;

use analytics::path::order::{
    Check, Cluster, EXACT_CHECKS, MAX_CHECKS, Method, Problem, ProblemParts, SignalPath,
    after_clean, best_order, best_order_against, expected_minutes, greedy_order, least_minutes,
    looks,
};
use proptest::num::f64::ANY;
use proptest::prelude::*;

use crate::order::{check, permutations, problem};

/// Expected minutes counted over the causes: for each the minutes until its own
/// check is done, or until the end where that misses. `None` where the order
/// breaks a rule.
fn over_causes(parts: &ProblemParts, none: f64, order: &[usize]) -> Option<f64> {
    let place: HashMap<usize, usize> = order.iter().enumerate().map(|(a, b)| (*b, a)).collect();
    let in_turn = parts.pairs.iter().all(|(a, b)| place[a] < place[b]);
    if !in_turn || order[..parts.first.len()] != parts.first {
        return None;
    }
    let possible = |check: &usize| parts.checks[*check].probability > 0.0;
    let (mut clock, mut open, mut until) = (0.0, vec![], HashMap::new());
    for (done, next) in order.iter().enumerate() {
        let sure = order[..done].iter().filter(|check| possible(check));
        let sure = sure.clone().all(|check| parts.checks[*check].sensitivity >= 1.0);
        let alone = order[done..].iter().filter(|check| possible(check)).count() == 1;
        if parts.infer_last && none == 0.0 && sure && alone && done >= parts.first.len() {
            break;
        }
        let mut cluster = parts.checks[*next].cluster;
        while let Some(closed) = cluster.filter(|cluster| !open.contains(cluster)) {
            clock += parts.clusters[closed].opening_minutes;
            open.push(closed);
            cluster = parts.clusters[closed].within;
        }
        clock += parts.checks[*next].minutes;
        until.insert(*next, clock);
    }
    let each = parts.checks.iter().enumerate().map(|(cause, check)| {
        let seen = until.get(&cause).copied().unwrap_or(clock);
        let d = check.sensitivity;
        check.probability * (d * seen + (1.0 - d) * clock)
    });
    Some(each.sum::<f64>() + none * clock)
}

prop_compose! {
    /// Any problem with this many checks, and the chance of none of its causes.
    fn any_parts(counts: std::ops::Range<usize>)(count in counts)(
        rows in prop::collection::vec(
            (1_u32..40, 0_u32..8, prop::sample::select(vec![1.0, 0.9, 0.5, 0.0]), prop::option::of(0_usize..3)),
            count,
        ),
        openings in prop::collection::vec(0_u32..60, 3),
        nested in prop::bool::ANY,
        none in prop::sample::select(vec![0_u32, 0, 1, 5]),
        pairs in prop::collection::vec((0..count, 0..count), 0..4),
        first in prop::sample::select(vec![0_usize, 0, 0, 1, 2]),
        (sure, infer_last) in (prop::bool::ANY, prop::bool::ANY),
    ) -> (ProblemParts, f64) {
        let total = none + rows.iter().map(|row| row.1).sum::<u32>();
        let share = |weight: u32| if total == 0 { 0.0 } else { f64::from(weight) / f64::from(total) };
        let checks = rows.iter().map(|&(minutes, weight, sensitivity, cluster)| Check {
            sensitivity: if sure { 1.0 } else { sensitivity },
            cluster,
            ..check(f64::from(minutes), share(weight))
        });
        let clusters = openings.iter().enumerate().map(|(index, minutes)| Cluster {
            opening_minutes: f64::from(*minutes),
            within: (nested && index == 2).then_some(0),
        });
        let parts = ProblemParts {
            checks: checks.collect(),
            clusters: clusters.collect(),
            pairs: pairs.into_iter().filter(|(a, b)| a < b).collect(),
            first: (0..first.min(rows.len())).collect(),
            infer_last,
        };
        (parts, if total == 0 { 1.0 } else { share(none) })
    }
}

fn best_of_all(parts: &ProblemParts, none: f64) -> Result<(), TestCaseError> {
    let ours = problem(parts);
    let mut least = f64::INFINITY;
    for order in permutations(parts.checks.len()) {
        let theirs = over_causes(parts, none, &order);
        let minutes = expected_minutes(&ours, &order).ok();
        prop_assert_eq!(minutes.is_some(), theirs.is_some());
        if let (Some(minutes), Some(theirs)) = (minutes, theirs) {
            prop_assert!((minutes - theirs).abs() < 1e-9, "{minutes} against {theirs}: {order:?}");
            least = least.min(theirs);
        }
    }
    let (best, greedy) = (best_order(&ours), greedy_order(&ours));
    prop_assert!((best.expected_minutes - least).abs() < 1e-9);
    prop_assert!(best.bound.is_none());
    let taken = over_causes(parts, none, &greedy.order).unwrap();
    prop_assert!((taken - greedy.expected_minutes).abs() < 1e-9);
    prop_assert!(greedy.bound.unwrap() <= least + 1e-9, "{:?} above {least}", greedy.bound);
    // Without teardown and pairs the ratio rule's value bounds it, and no better.
    let mut loose = ProblemParts { pairs: vec![], clusters: vec![], ..parts.clone() };
    loose.checks.iter_mut().for_each(|check| check.cluster = None);
    if !parts.infer_last {
        prop_assert!(greedy.bound.unwrap() >= best_order(&problem(&loose)).expected_minutes - 1e-9);
    }
    prop_assert!(greedy.at_most_above() >= greedy.expected_minutes - least - 1e-9);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn the_best_order_is_the_best_of_all((parts, none) in any_parts(1..7)) {
        best_of_all(&parts, none)?;
    }

    #[test]
    fn no_habit_is_better((parts, _) in any_parts(1..30), keys in prop::collection::vec(0_u32..1000, 30)) {
        let ours = problem(&parts);
        // Any order in which each check comes after what precedes it.
        let mut habit = parts.first.clone();
        while habit.len() < ours.len() {
            let ready = (0..ours.len()).filter(|check| {
                !habit.contains(check)
                    && parts.pairs.iter().all(|(a, b)| b != check || habit.contains(a))
            });
            habit.push(ready.min_by_key(|check| keys[*check]).unwrap());
        }
        let minutes = expected_minutes(&ours, &habit).unwrap();
        let plan = best_order_against(&ours, &habit).unwrap();
        prop_assert!(plan.expected_minutes <= minutes * (1.0 + 1e-12));
        prop_assert_eq!(expected_minutes(&ours, &plan.order), Ok(plan.expected_minutes));
        prop_assert!(least_minutes(&ours) <= plan.expected_minutes + 1e-9);
        prop_assert!(plan.method != Method::Greedy || ours.len() > EXACT_CHECKS);
    }

    #[test]
    fn the_order_of_rows_does_not_matter((mut parts, _) in any_parts(1..9)) {
        // Pairs and first checks name rows: turn them with the rows.
        let before = best_order(&problem(&parts)).expected_minutes;
        let turned = |check: usize, count: usize| count - 1 - check;
        let count = parts.checks.len();
        parts.checks.reverse();
        parts.pairs.iter_mut().for_each(|(a, b)| (*a, *b) = (turned(*a, count), turned(*b, count)));
        parts.first.iter_mut().for_each(|check| *check = turned(*check, count));
        let after = best_order(&problem(&parts)).expected_minutes;
        prop_assert!((before - after).abs() < 1e-9, "{before} against {after}");
    }

    #[test]
    fn looks_find_less_and_less((parts, none) in any_parts(1..9)) {
        let ours = problem(&parts);
        let mut counts = vec![0; ours.len()];
        let (mut index, mut unexplained) = (f64::INFINITY, 1.0);
        for look in looks(&ours).take(30) {
            counts[look.check] += 1;
            prop_assert_eq!(look.look, counts[look.check]);
            prop_assert!(look.index > 0.0 && look.index <= index * (1.0 + 1e-12));
            // What a look may find leaves what is unexplained.
            unexplained -= look.index * parts.checks[look.check].minutes;
            prop_assert!((look.unexplained - unexplained).abs() < 1e-9 && unexplained > none - 1e-9);
            index = look.index;
            if let Some(after) = after_clean(&ours, &counts) {
                prop_assert!((after.causes.iter().sum::<f64>() + after.none - 1.0).abs() < 1e-12);
                for ((check, count), chance) in parts.checks.iter().zip(&counts).zip(after.causes) {
                    let missed = (0..*count).fold(check.probability, |p, _| p * (1.0 - check.sensitivity));
                    prop_assert!((chance * unexplained - missed).abs() < 1e-9);
                }
            }
        }
    }

    /// Between the entropy and two probes above it (Gilbert and Moore 1959, from
    /// memory), and the least over every way to split.
    #[test]
    fn the_best_splits_are_the_best(weights in prop::collection::vec(0_u32..20, 1..9)) {
        fn least(weights: &[u32]) -> u32 {
            let splits = (1..weights.len()).map(|at| least(&weights[..at]) + least(&weights[at..]));
            splits.min().map_or(0, |rest| rest + weights.iter().sum::<u32>())
        }
        let total: u32 = weights.iter().sum();
        prop_assume!(total > 0);
        let values: Vec<f64> = weights.iter().map(|weight| f64::from(*weight)).collect();
        let path = SignalPath::new(&values).unwrap();
        let best = path.best().probes;
        prop_assert!((best - f64::from(least(&weights)) / f64::from(total)).abs() < 1e-9);
        prop_assert!(path.entropy_bits() - 1e-9 <= best && best <= path.entropy_bits() + 2.0 + 1e-9);
        prop_assert!(best <= path.linear() + 1e-9 && best <= path.half_split() + 1e-9);
        let halvings = f64::from(values.len().next_power_of_two().ilog2());
        prop_assert!(path.half_split() <= halvings + 1e-9);
        if let Some(at) = path.best().first_after {
            let rest = least(&weights[..at]) + least(&weights[at..]) + total;
            prop_assert_eq!(rest, least(&weights));
        }
    }

    #[test]
    fn no_number_breaks_it(
        rows in prop::collection::vec((ANY, ANY, ANY), 0..6),
        opening in ANY,
        scale in prop::sample::select(vec![1.0, 1e-300, 1e9]),
    ) {
        let mut parts = ProblemParts {
            clusters: vec![Cluster { opening_minutes: opening, within: None }],
            checks: rows
                .iter()
                .map(|&(minutes, probability, sensitivity)| Check { minutes, probability, sensitivity, cluster: Some(0) })
                .collect(),
            ..ProblemParts::default()
        };
        let _ = Problem::new(&parts);
        // The same brought into range.
        let fraction = |value: f64| if value.is_finite() { value.abs() / (1.0 + value.abs()) } else { 1.0 };
        parts.clusters[0].opening_minutes = fraction(opening) * scale;
        for check in &mut parts.checks {
            check.minutes = (fraction(check.minutes) * scale).max(f64::MIN_POSITIVE);
            check.probability = fraction(check.probability) / 6.0;
            check.sensitivity = fraction(check.sensitivity);
        }
        for infer_last in [false, true] {
            parts.infer_last = infer_last;
            let sound = problem(&parts);
            let greedy = greedy_order(&sound);
            let best = best_order(&sound).expected_minutes;
            prop_assert!(best.is_finite() && greedy.at_most_above().is_finite());
            let room = 1e-9 * best;
            prop_assert!(greedy.bound.unwrap() <= best + room && best <= greedy.expected_minutes + room);
            prop_assert!(looks(&sound).take(50).all(|look| look.index > 0.0));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4, ..ProptestConfig::default() })]

    #[test]
    fn eight_checks_too((parts, none) in any_parts(8..9)) {
        best_of_all(&parts, none)?;
    }

    #[test]
    fn a_long_list_is_ordered((parts, _) in any_parts(MAX_CHECKS..MAX_CHECKS + 1)) {
        let plan = best_order(&problem(&parts));
        prop_assert!(plan.bound.is_none_or(|bound| bound > 0.0 && bound <= plan.expected_minutes));
    }
}
