//! Comebacks by reason, whether groups differ, and by odometer.

use analytics::comeback::{
    ComebackReport, ComebackTally, comebacks, comebacks_from, comebacks_listing,
};
use analytics::figure::Query;
use analytics::history::{History, Odometer, Rows};
use analytics::words::{JobKind, LinkState, Told};
use proptest::prelude::*;

use crate::files::{case, close, close_within, table, tell};
use crate::shop::{Shop, day, facts, selected, until};
use crate::world::{cut, world};

fn near(ours: f64, theirs: f64) {
    assert!((ours - theirs).abs() <= 1e-8, "{ours} against {theirs}");
}

fn asked(by: &str, as_of: u64, window: i32) -> Query {
    Query { by: Some(by.to_owned()), window_days: Some(window), ..until(as_of) }
}

/// The women of a published cohort as jobs, months as days, the two causes as
/// reasons of the return: numbers of R survival and etm.
#[test]
fn reasons_compete() {
    let case = case("o08-cif-mgus2-by-sex");
    let (header, rows) = table(case["input"].as_str().unwrap());
    let column = |key: &str| {
        let name = case["columns"][key].as_str().unwrap();
        header.iter().position(|column| column == name).unwrap()
    };
    let (time, cause, group) = (column("time"), column("cause"), column("group"));
    let mut shop = Shop::default();
    for row in rows.iter().filter(|row| row[group] == "F") {
        let days: u64 = row[time].parse().unwrap();
        // Followed to day 500 where nothing happened.
        match row[cause].as_str() {
            "0" => drop(shop.job("engine.tick", 500 - days)),
            reason => {
                shop.job("engine.tick", 0);
                shop.comeback(days, &format!("reason {reason}"));
            }
        }
    }
    let history = shop.history(facts());
    let expected = &case["expected"]["F"];
    let se_rel = case["tolerance"]["se_rel"].as_f64().unwrap();
    for (i, time) in expected["times"].as_array().unwrap().iter().enumerate() {
        let window = i32::try_from(time.as_i64().unwrap()).unwrap();
        let report = comebacks(&history, &asked("symptom", 500, window)).unwrap();
        assert_eq!(report.reasons.len(), 2);
        for line in &report.reasons {
            let reason = line.reason.as_deref().unwrap();
            let expected = &expected[format!("cause_{}", &reason[7..])];
            let what = format!("{reason} at {window}");
            let share = &line.share;
            close(&case, &what, share.share.unwrap(), expected["cif"][i].as_f64().unwrap());
            let theirs = expected["se_greenwood_etm"][i].as_f64().unwrap();
            let errors = (share.standard_error.unwrap(), theirs);
            close_within(&case, &what, errors, (0.0, se_rel));
        }
    }
    tell("o08-cif-mgus2-by-sex, as reasons");
}

/// Weeks in remission as days, the two treatments as symptoms: R `survdiff`.
#[test]
fn two_groups_differ() {
    let case = case("o09-logrank-two-groups");
    let expected = &case["expected"]["gehan"]["logrank"];
    let (_, rows) = table("gehan.csv");
    let mut shop = Shop::default();
    for row in &rows {
        let days: u64 = row[1].parse().unwrap();
        let back = row[2] == "1";
        shop.job(&row[0], if back { 0 } else { 100 - days });
        if back {
            shop.comeback(days, "workmanship");
        }
    }
    // A group of nine is not held against the others, nor is one without a name.
    for symptom in ["few", ""] {
        for _ in 0..9 {
            shop.job(symptom, 0);
        }
    }
    (0..20).for_each(|_| {
        shop.job("engine.tick", 0);
        shop.last_job().symptom = None;
    });
    let history = shop.history(facts());
    let test = comebacks(&history, &asked("symptom", 100, 60)).unwrap().groups_test.unwrap();
    let value = |key: &str| expected[key].as_f64().unwrap();
    let rel = |key: &str| (0.0, case["tolerance"][key].as_f64().unwrap());
    let (ours, theirs) = (test.chi_square.unwrap(), value("chisq"));
    close_within(&case, "chi-square", (ours, theirs), rel("chisq_rel"));
    close_within(&case, "p", (test.p.unwrap(), value("p")), rel("p_rel"));
    assert_eq!(test.groups, ["6-MP", "control"]);
    assert_eq!((test.count, test.returns, test.degrees_of_freedom), (42, 30, Some(1)));
    assert!(test.groups_left_out >= 1);
    assert_eq!(
        test.says,
        "The 2 groups with at least five expected returns do differ in how often they come back within 60 days \
         (luck alone: less than 1 in 1,000). It does not say which, or why."
    );
    assert!(comebacks(&history, &asked("week", 100, 60)).unwrap().groups_test.is_none());
    assert!(comebacks(&history, &until(100)).unwrap().groups_test.is_none());
    let people = comebacks(&history, &asked("technician", 100, 60)).unwrap().groups_test.unwrap();
    assert_eq!((people.chi_square, people.p, people.too_few), (None, None, true));
    tell("o09-logrank-two-groups, as symptoms");
}

/// Groups of jobs closed on day 0, the first of each back on day 10.
fn groups_of(sizes: &[(&str, i64, i64)]) -> Shop {
    let mut shop = Shop::default();
    for (symptom, jobs, returns) in sizes {
        for number in 0..*jobs {
            shop.job(symptom, 0);
            if number < *returns {
                shop.comeback(10, "workmanship");
            }
        }
    }
    shop
}

/// Thirty groups of ten of which one comes back each, beside two large ones. By
/// hand: of 420 jobs 60 come back, so 1.4 are expected of a small group and 8.6 of
/// a large one. At the one event time of the large ones alone, 24 and 6 of 60:
/// (24 - 15)^2 over 30 x 1/4 x 90/119.
#[test]
fn sparse_groups_do_not_enter() {
    let names: Vec<String> = (0..30).map(|number| format!("sparse {number:02}")).collect();
    let sparse: Vec<(&str, i64, i64)> = names.iter().map(|name| (name.as_str(), 10, 1)).collect();
    let test = |sizes: &[(&str, i64, i64)]| {
        let history = groups_of(sizes).history(facts());
        comebacks(&history, &asked("symptom", 100, 60)).unwrap().groups_test.unwrap()
    };
    let both = test(&[&[("a", 60, 24), ("b", 60, 6)], sparse.as_slice()].concat());
    assert_eq!(both.groups, ["a", "b"]);
    assert_eq!((both.groups_left_out, both.count, both.returns), (30, 120, 30));
    assert_eq!((both.degrees_of_freedom, both.too_few), (Some(1), false));
    near(both.chi_square.unwrap(), 14.28);
    let alone = test(&sparse);
    assert_eq!((alone.groups_left_out, alone.count, alone.too_few), (30, 0, true));
    assert_eq!((alone.chi_square, alone.p), (None, None));
}

/// Ten of twenty come back, five expected of each ten; nine, four and a half. By
/// hand (8 - 5)^2 over 10 x 1/4 x 10/19.
#[test]
fn five_expected_returns_are_enough() {
    let test = |returns: i64| {
        let history = groups_of(&[("a", 10, returns), ("b", 10, 2)]).history(facts());
        comebacks(&history, &asked("symptom", 100, 60)).unwrap().groups_test.unwrap()
    };
    let enough = test(8);
    assert_eq!((enough.groups.len(), enough.groups_left_out, enough.too_few), (2, 0, false));
    near(enough.chi_square.unwrap(), 6.84);
    let few = test(7);
    assert_eq!((few.groups.len(), few.groups_left_out, few.too_few), (0, 2, true));
}

/// What comes back after the window is not counted. By hand: 12 of 60 inside it,
/// (12 - 6)^2 over 12 x 1/4 x 48/59.
#[test]
fn returns_after_the_window_are_not_in_the_test() {
    let mut shop = groups_of(&[("a", 30, 12)]);
    for number in 0..30 {
        shop.job("b", 0);
        if number < 12 {
            shop.comeback(70, "workmanship");
        }
    }
    let test = comebacks(&shop.history(facts()), &asked("symptom", 100, 60)).unwrap();
    let test = test.groups_test.unwrap();
    assert_eq!((test.groups.len(), test.count, test.returns), (2, 60, 12));
    near(test.chi_square.unwrap(), 14.75);
}

/// Jobs with parts of two suppliers are in neither group of the test.
#[test]
fn jobs_in_several_groups_are_left_out() {
    use analytics::words::{Disposition::ReplacedNew, PartRole::Suspect};
    let mut shop = Shop::default();
    for number in 0..36_u64 {
        shop.job("engine.tick", 0);
        let suppliers: &[&str] = match number {
            0..15 => &["A"],
            15..30 => &["B"],
            _ => &["A", "B"],
        };
        for supplier in suppliers {
            shop.part("V-1", Suspect, ReplacedNew).supplier = Some((*supplier).to_owned());
        }
        if number.is_multiple_of(2) {
            shop.comeback(1 + number, "workmanship");
        }
    }
    let test = comebacks(&shop.history(facts()), &asked("supplier", 100, 60)).unwrap();
    let test = test.groups_test.unwrap();
    assert_eq!((test.groups.len(), test.count, test.left_out), (2, 30, 6));
    // By hand: the even numbers below 30.
    assert_eq!((test.returns, test.too_few), (15, false));
}

/// Kilometers to the return (R) or to the last reading, a hundred times those of
/// the ten repairs: 600R 1000 1300R 2100R 2500 2800 3000 3000 3000 3000. Beside
/// them one that came back unread, one told, one read below, and one never seen.
fn driven(miles: bool) -> Shop {
    let mut shop = Shop::default();
    let reading = |km| Some(Odometer { series: 0, km });
    let start = |shop: &mut Shop| {
        shop.job("engine.tick", 10);
        let job = shop.last_job();
        (job.odometer_in, job.odometer_out) = (reading(990), reading(1_000));
        job.odometer_in_miles = miles;
    };
    for (km, back) in [
        (600, true),
        (1_000, false),
        (1_300, true),
        (2_100, true),
        (2_500, false),
        (2_800, false),
        (3_000, false),
        (3_000, false),
        (3_000, false),
        (3_000, false),
    ] {
        start(&mut shop);
        if back {
            shop.comeback(20, "workmanship");
            shop.rows.returns.last_mut().unwrap().later_odometer = reading(1_000 + km);
        } else {
            let vehicle = shop.last_job().vehicle.clone();
            shop.job("", 40);
            let job = shop.last_job();
            (job.vehicle, job.kind) = (vehicle, JobKind::Maintenance);
            job.odometer_in = reading(1_000 + km);
        }
    }
    start(&mut shop);
    shop.comeback(20, "workmanship");
    start(&mut shop);
    shop.told(20, Told::NotFixed, None);
    start(&mut shop);
    shop.comeback(20, "workmanship");
    shop.rows.returns.last_mut().unwrap().later_odometer = reading(900);
    start(&mut shop);
    shop
}

/// 3000 km: lifelines 0.30.3 KaplanMeierFitter as for the ten repairs by days
/// (survival 0.675, 0.29058536 to 0.88249673). By hand 1/10 by 1000 km, and
/// 1 - 9/10 x 7/8 by 2000; nobody was followed for 5000.
#[test]
fn how_far_repairs_held() {
    let history = driven(false).history(facts());
    let report = comebacks(&history, &until(100)).unwrap().distance;
    assert_eq!(report.unit, "km");
    let counts = [&report.known, &report.returned_unread, &report.no_later_reading];
    assert_eq!(counts.map(|line| line.count), [10, 3, 1]);
    for line in counts {
        assert_eq!(selected(&history, &line.jobs, day(100)), line.count, "{}", line.jobs);
    }
    let shares: Vec<(i64, Option<f64>)> =
        report.points.iter().map(|point| (point.distance, point.share.share)).collect();
    let expected = [
        (500, Some(0.0)),
        (1_000, Some(0.1)),
        (2_000, Some(0.2125)),
        (3_000, Some(0.325)),
        (5_000, None),
        (10_000, None),
    ];
    for ((distance, share), (known, theirs)) in shares.into_iter().zip(expected) {
        assert_eq!((distance, share.is_some()), (known, theirs.is_some()));
        near(share.unwrap_or_default(), theirs.unwrap_or_default());
    }
    let interval = report.points[3].share.interval.clone().unwrap();
    near(interval.low, 1.0 - 0.882_496_73);
    near(interval.high, 1.0 - 0.290_585_36);
    // On day 20 nobody had been seen again.
    let early = comebacks(&history, &until(20)).unwrap().distance;
    assert_eq!((early.known.count, early.no_later_reading.count), (0, 14));
}

/// By hand: 2000 mi are 3218.7 km, past the last reading; 1000 mi are 1609.3.
#[test]
fn a_shop_of_miles_is_told_in_miles() {
    let history = driven(true).history(facts());
    let report = comebacks(&history, &until(100)).unwrap().distance;
    assert_eq!(report.unit, "mi");
    let thousand = &report.points[1];
    near(thousand.share.share.unwrap(), 0.2125);
    assert!(thousand.returned_jobs.contains("back_within_km=1610"), "{}", thousand.returned_jobs);
    assert_eq!(selected(&history, &thousand.returned_jobs, day(100)), 2);
    assert_eq!(report.points[2].share.share, None);
}

/// Past a replacement whose readings nobody knows there is no distance.
#[test]
fn readings_of_two_series_are_not_compared() {
    let mut shop = driven(false);
    for link in &mut shop.rows.returns {
        link.later_odometer = link.later_odometer.map(|read| Odometer { series: 1, ..read });
    }
    let report = comebacks(&shop.history(facts()), &until(100)).unwrap().distance;
    assert_eq!((report.known.count, report.returned_unread.count), (7, 6));
}

fn report(rows: Rows, query: &Query) -> ComebackReport {
    comebacks(&History::new(facts(), rows, 1).unwrap(), query).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn reasons_and_distances_hang_together(
        world in world(40), as_of in 30_u64..220, window in 1_i32..90, from in 0_u64..60,
    ) {
        let history = History::new(facts(), world.rows(None), 1).unwrap();
        let query = Query { from: Some(day(from)), ..asked("supplier", as_of, window) };
        let report = comebacks(&history, &query).unwrap();
        let count = |jobs: &str| {
            let selector = analytics::select::Selector::parse(jobs).unwrap();
            analytics::select::select(&history, &selector, day(as_of), window).len() as i64
        };
        // The latest stand first, and all are counted, however few are listed.
        let few = comebacks_listing(&history, &query, window as usize % 4).unwrap();
        prop_assert_eq!(few.returns_count as usize, report.returns.len());
        prop_assert_eq!(&few.returns[..], &report.returns[..few.returns.len()]);
        prop_assert_eq!(few.returns.len(), report.returns.len().min(window as usize % 4));
        prop_assert_eq!(few.chains, report.chains);
        let total = &report.total.share;
        let returns: i64 = report.reasons.iter().map(|line| line.share.returns).sum();
        prop_assert_eq!(returns, total.returns);
        let shares: f64 = report.reasons.iter().filter_map(|line| line.share.share).sum();
        if let Some(share) = total.share {
            prop_assert!((shares - share).abs() < 1e-9, "{} against {}", shares, share);
        }
        for line in &report.reasons {
            let share = &line.share;
            prop_assert_eq!(count(&share.jobs), share.returns, "{}", &share.jobs);
            if let (Some(value), Some(interval)) = (share.share, &share.interval) {
                prop_assert!(interval.low <= value + 1e-12 && value <= interval.high + 1e-12);
            }
        }
        let distance = &report.distance;
        let parts = [&distance.known, &distance.returned_unread, &distance.no_later_reading];
        prop_assert_eq!(parts.iter().map(|part| part.count).sum::<i64>(), report.total.count);
        for part in parts {
            prop_assert_eq!(count(&part.jobs), part.count, "{}", &part.jobs);
        }
        let mut before = 0.0;
        for point in &distance.points {
            prop_assert_eq!(count(&point.share.jobs), point.share.count);
            prop_assert_eq!(count(&point.returned_jobs), point.share.returns);
            let Some(share) = point.share.share else { continue };
            prop_assert!(share >= before && share <= 1.0);
            before = share;
        }
        let test = report.groups_test.unwrap();
        prop_assert_eq!(test.p.is_some(), test.chi_square.is_some());
        prop_assert!(test.p.is_none_or(|p| (0.0..=1.0).contains(&p)));
    }

    /// At A over today's record as over the record cut at A.
    #[test]
    fn the_as_of_cuts_the_record(world in world(40), as_of in 20_u64..220, window in 1_i32..90) {
        for by in ["symptom", "supplier"] {
            let query = asked(by, as_of, window);
            let rows = world.rows(None);
            let whole = report(rows.clone(), &query);
            let short = report(cut(rows, day(as_of)), &query);
            prop_assert_eq!(whole.reasons, short.reasons);
            prop_assert_eq!(whole.groups_test, short.groups_test);
            prop_assert_eq!(whole.distance, short.distance);
        }
    }

    /// The order of rows never shows, and a tally of two halves is their sum.
    #[test]
    fn rows_come_in_any_order(world in world(30), as_of in 60_u64..220) {
        let query = asked("lot", as_of, 60);
        let mut rows = world.rows(None);
        let one = report(rows.clone(), &query);
        rows.jobs.reverse();
        rows.returns.reverse();
        rows.parts.reverse();
        prop_assert_eq!(&one, &report(rows.clone(), &query));
        let history = History::new(facts(), rows, 1).unwrap();
        let mut twice = ComebackTally::of(&history, Some(analytics::comeback::By::Lot));
        twice.add(&twice.clone());
        let twice = comebacks_from(&twice, &history, &query);
        for (two, one) in twice.reasons.iter().zip(&one.reasons) {
            prop_assert_eq!(two.share.returns, 2 * one.share.returns);
        }
    }
}

/// Of two links of one day the reason of the first one counts, once.
#[test]
fn a_job_came_back_for_one_reason() {
    let mut shop = Shop::default();
    for _ in 0..10 {
        shop.job("engine.tick", 0);
    }
    shop.comeback(10, "workmanship");
    shop.comeback(10, "misdiagnosis");
    shop.comeback(5, "part");
    shop.rows.returns.last_mut().unwrap().state = LinkState::Proposed;
    let history = shop.history(facts());
    let reasons = comebacks(&history, &until(100)).unwrap().reasons;
    assert_eq!(reasons.len(), 1);
    assert_eq!(reasons[0].reason.as_deref(), Some("workmanship"));
    // By hand 1 of 10.
    near(reasons[0].share.share.unwrap(), 0.1);
    assert_eq!(selected(&history, &reasons[0].share.jobs, day(100)), 1);
}
