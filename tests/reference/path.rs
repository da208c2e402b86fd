//! Diagnosis paths: what a skipped first check goes with.

use analytics::figure::Query;
use analytics::path::{PathTally, SymptomLine, paths, paths_from};
use analytics::words::{Activity, CauseState, Finding};
use proptest::prelude::*;

use crate::shop::{Shop, day, facts, selected, until};

const FLAT: &str = "charge.battery-flat";
const TERMINALS: &str = "terminals, resting voltage";

fn near(ours: f64, theirs: f64, within: f64) {
    assert!((ours - theirs).abs() <= within, "{ours} against {theirs}");
}

/// 79 jobs begin at the terminals and take 30 to 38 minutes, 41 skip them and
/// take 67 to 75; two and six of them got the wrong part.
fn batteries() -> Shop {
    let mut shop = Shop::default();
    for number in 0..79_i32 {
        shop.job(FLAT, u64::try_from(number).unwrap());
        shop.check(TERMINALS, Some(6));
        shop.check("load test", Some(24 + number % 9));
        if number < 2 {
            shop.comeback(12, "misdiagnosis");
        }
    }
    for number in 0..41_i32 {
        shop.job(FLAT, u64::try_from(number).unwrap());
        shop.check(TERMINALS, None).finding = Some(Finding::NotDone);
        shop.check("load test", Some(32));
        shop.check("key-off drain", Some(35 + number % 9)).finding = Some(Finding::Abnormal);
        if number < 6 {
            shop.comeback(12, "misdiagnosis");
        } else if number == 6 {
            shop.comeback(13, "workmanship");
        }
    }
    shop
}

fn only(mut symptoms: Vec<SymptomLine>) -> SymptomLine {
    assert_eq!(symptoms.len(), 1);
    symptoms.remove(0)
}

/// Medians: numpy 2.4.6 median([30 + n % 9 for n in range(79)]) is 34 and
/// median([67 + n % 9 for n in range(41)]) is 71. Wilson: scipy 1.17.1
/// binomtest(2, 79) and binomtest(6, 41), proportion_ci(method="wilson").
#[test]
fn skipping_the_first_check_costs_time_and_wrong_parts() {
    let line = only(paths(&batteries().history(facts()), &until(200)).symptoms);
    assert_eq!(line.all.count, 120);
    let first = line.first_check.unwrap();
    assert_eq!(first.check, TERMINALS);
    assert_eq!((first.done_first.count, first.done_later.count, first.skipped.count), (79, 0, 41));
    assert_eq!(first.done_first.minutes.median, Some(34.0));
    assert_eq!(first.skipped.minutes.median, Some(71.0));
    let wrong = &first.done_first.misdiagnosed;
    assert_eq!((wrong.count, wrong.returns), (79, 2));
    near(wrong.interval.as_ref().unwrap().high, 0.087_685_846_288_91, 1e-12);
    let wrong = &first.skipped.misdiagnosed;
    assert_eq!((wrong.count, wrong.returns), (41, 6));
    near(wrong.share.unwrap(), 0.146_341_463_414_63, 1e-12);
    near(wrong.interval.as_ref().unwrap().low, 0.068_842_481_412_96, 1e-12);
    assert_eq!(first.skipped.closed.returns, 7);
    assert_eq!(
        first.skipped.misdiagnosed.jobs,
        "kind=complaint&symptom=charge.battery-flat&skipped_check=terminals%2C%20resting%20voltage\
         &outcome=repaired&closed_to=2026-05-21",
    );
}

#[test]
fn paths_and_tree_count_the_same_jobs() {
    let line = only(paths(&batteries().history(facts()), &until(200)).symptoms);
    let paths: Vec<(Vec<&str>, i64)> = line
        .paths
        .iter()
        .map(|path| (path.checks.iter().map(String::as_str).collect(), path.figures.count))
        .collect();
    let expected = [(vec![TERMINALS, "load test"], 79), (vec!["load test", "key-off drain"], 41)];
    assert_eq!(paths, expected);
    let tree: Vec<(usize, i64, i64)> =
        line.tree.iter().map(|branch| (branch.checks.len(), branch.count, branch.ended)).collect();
    assert_eq!(tree, [(1, 41, 0), (2, 41, 41), (1, 79, 0), (2, 79, 79)]);
    // Medians as above; 41 x 67 + 154 and 79 x 30 + 309 minutes, where 154 and
    // 309 are the sums of n % 9. Seven and two of them came back.
    let took: Vec<(Option<f64>, i64, i64)> = line
        .tree
        .iter()
        .map(|branch| {
            (branch.minutes.median, branch.minutes.total_minutes, branch.comebacks.returns)
        })
        .collect();
    let (drain, load) = ((Some(71.0), 2_901, 7), (Some(34.0), 2_679, 2));
    assert_eq!(took, [drain, drain, load, load]);
    let repaired = line.tree[0].jobs.replace("&closed_to", "&outcome=repaired&closed_to");
    assert_eq!(line.tree[0].comebacks.jobs, repaired);
    // By the sums that the jobs were written with: 120 load tests, 41 drains.
    let load = &line.checks[0];
    assert_eq!((load.check.as_str(), load.done, load.abnormal.returns), ("load test", 120, 0));
    let drain = line.checks.iter().find(|check| check.check == "key-off drain").unwrap();
    assert_eq!((drain.done, drain.abnormal.returns), (41, 41));
}

#[test]
fn checks_typed_in_at_close_have_no_order_and_no_time() {
    let mut shop = Shop::default();
    shop.job(FLAT, 1);
    shop.check("load test", Some(90)).at_close = true;
    shop.job(FLAT, 2);
    shop.check("load test", Some(8));
    shop.job(FLAT, 3);
    let line = only(paths(&shop.history(facts()), &until(200)).symptoms);
    assert_eq!(line.all.count, 3);
    assert_eq!(line.all.minutes.timed, 1);
    let apart = line.order_not_measured.unwrap();
    assert_eq!((apart.count, apart.minutes.median), (1, None));
    assert_eq!(line.no_checks.unwrap().count, 1);
    assert_eq!(line.paths.len(), 1);
    let load = &line.checks[0];
    assert_eq!((load.done, load.minutes.timed, load.minutes.median), (2, 1, Some(8.0)));
}

#[test]
fn labor_on_diagnosis_stands_in_for_checks_without_minutes() {
    let mut shop = Shop::default();
    shop.job(FLAT, 1);
    shop.check("load test", None);
    shop.labor("Mirela", Activity::Diagnosis, 25);
    shop.labor("Mirela", Activity::Repair, 70);
    shop.job(FLAT, 1);
    shop.check("load test", Some(11));
    shop.labor("Mirela", Activity::Diagnosis, 25);
    shop.last_job().cause_state = Some(CauseState::Confirmed);
    let line = only(paths(&shop.history(facts()), &until(200)).symptoms);
    assert_eq!((line.all.minutes.timed, line.all.minutes.total_minutes), (2, 36));
    assert_eq!((line.all.found.count, line.all.found.returns), (2, 1));
}

#[test]
fn only_complaints_have_a_path() {
    let mut shop = Shop::default();
    shop.job(FLAT, 1);
    shop.last_job().kind = analytics::words::JobKind::Maintenance;
    shop.check("load test", Some(11));
    shop.job(FLAT, 1);
    shop.check("belt", Some(3));
    let line = only(paths(&shop.history(facts()), &until(200)).symptoms);
    assert_eq!(line.all.count, 1);
    assert_eq!(line.paths[0].checks, ["belt"]);
}

type JobNumbers = (u64, u8, Vec<(u8, bool)>, bool);

fn some_jobs() -> impl Strategy<Value = Vec<JobNumbers>> {
    let checks = proptest::collection::vec((0_u8..4, proptest::bool::ANY), 0..4);
    proptest::collection::vec((0_u64..150, 0_u8..2, checks, proptest::bool::ANY), 0..30)
}

fn random_shop(jobs: &[JobNumbers], first_id: u128) -> Shop {
    let mut shop = Shop::starting_at(first_id);
    for (closed, symptom, checks, back) in jobs {
        shop.job(&format!("engine.symptom-{symptom}"), *closed);
        for (check, at_close) in checks {
            shop.check(&format!("check {check}"), Some(i32::from(*check) + 5)).at_close = *at_close;
        }
        if *back {
            shop.comeback(30, "workmanship");
        }
    }
    shop
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn tallies_add_and_every_job_stands_once(a in some_jobs(), b in some_jobs()) {
        let mut both = random_shop(&a, 0);
        both.absorb(random_shop(&b, 1_000_000));
        let history = both.history(facts());
        let whole = PathTally::of(&history);
        let mut sum = PathTally::of(&random_shop(&a, 0).history(facts()));
        sum.add(&PathTally::of(&random_shop(&b, 1_000_000).history(facts())));
        prop_assert_eq!(&sum, &whole);
        let query = Query { from: Some(day(20)), to: Some(day(120)), ..until(180) };
        let report = paths_from(&whole, &facts(), 1, &query);
        let inside = a.iter().chain(&b).filter(|job| (20..=120).contains(&job.0)).count();
        let all: i64 = report.symptoms.iter().map(|line| line.all.count).sum();
        prop_assert_eq!(all as usize, inside);
        for line in &report.symptoms {
            let mut figures = vec![&line.all];
            figures.extend(line.paths.iter().map(|path| &path.figures));
            figures.extend(line.order_not_measured.iter().chain(&line.no_checks));
            if let Some(first) = &line.first_check {
                figures.extend([&first.done_first, &first.done_later, &first.skipped]);
            }
            for figures in figures {
                prop_assert_eq!(selected(&history, &figures.jobs, day(180)), figures.count);
                let comebacks = &figures.comebacks;
                prop_assert_eq!(selected(&history, &comebacks.jobs, day(180)), comebacks.count);
                let closed = &figures.closed;
                prop_assert_eq!(selected(&history, &closed.jobs, day(180)), closed.count);
            }
            for branch in &line.tree {
                prop_assert_eq!(selected(&history, &branch.jobs, day(180)), branch.count);
            }
            let paths: i64 = line.paths.iter().map(|path| path.figures.count).sum();
            let apart = |figures: &Option<analytics::path::PathFigures>| {
                figures.as_ref().map_or(0, |figures| figures.count)
            };
            let apart = apart(&line.order_not_measured) + apart(&line.no_checks);
            prop_assert_eq!(paths + apart, line.all.count);
            // The tree's roots hold every job that did a check in order.
            let roots: i64 =
                line.tree.iter().filter(|branch| branch.checks.len() == 1).map(|branch| branch.count).sum();
            let ended: i64 = line.tree.iter().map(|branch| branch.ended).sum();
            prop_assert_eq!(roots, ended);
            if let Some(first) = &line.first_check {
                let three = first.done_first.count + first.done_later.count + first.skipped.count;
                prop_assert_eq!(three, paths);
            }
        }
    }
}
