//! Advised orders of checks, made from a record. The numbers are worked by hand
//! beside each test; the rule itself is held against every order in `order.rs`.

use std::collections::{BTreeMap, BTreeSet};

use analytics::figure::Query;
use analytics::history::{History, ShopFacts};
use analytics::path::order::{Check, Problem, ProblemParts, best_order, expected_minutes};
use analytics::path::{
    CheckOrderLine, MinutesFrom, OrderMethod, OrderedCheck, PathTally, Uncounted, WhyFirst,
    check_orders, check_orders_from,
};
use analytics::words::{Access, CauseState, Curable, Finding, JobKind};
use proptest::prelude::*;
use serde_json::json;

use crate::as_of::cut;
use crate::files::{close, tell};
use crate::shop::{Shop, day, facts, selected, until};

const NO_START: &str = "start.no-start";

/// A job whose checks are all normal but the last, with minutes.
fn found_last(shop: &mut Shop, symptom: &str, checks: &[(&str, i32)]) {
    shop.job(symptom, 1);
    shop.cause(Curable::No);
    for (check, minutes) in checks {
        shop.check(check, Some(*minutes));
    }
    shop.rows.checks.last_mut().unwrap().finding = Some(Finding::Abnormal);
}

fn line_of(shop: Shop, first: &[&str]) -> CheckOrderLine {
    let first: Vec<String> = first.iter().map(|check| (*check).to_owned()).collect();
    let mut lines = check_orders(&shop.history(facts()), &until(200), Some(&first)).symptoms;
    assert_eq!(lines.len(), 1);
    lines.remove(0)
}

fn names(line: &CheckOrderLine) -> Vec<(&str, Option<i64>)> {
    line.checks.iter().map(|check| (check.check.as_str(), check.place)).collect()
}

fn check<'a>(line: &'a CheckOrderLine, name: &str) -> &'a OrderedCheck {
    line.checks.iter().find(|check| check.check == name).unwrap()
}

/// Minutes and causes of a hundred: the order that a shop takes by what fails
/// most often, battery, starter, control, fuel, sensor.
const HUNDRED: [(&str, i32, usize); 5] = [
    ("battery", 6, 40),
    ("starter", 30, 20),
    ("control", 12, 15),
    ("fuel", 20, 15),
    ("sensor", 25, 10),
];

fn hundred() -> Shop {
    let order: Vec<(&str, i32)> =
        HUNDRED.iter().map(|(check, minutes, _)| (*check, *minutes)).collect();
    let mut shop = Shop::default();
    for (place, (_, _, causes)) in HUNDRED.iter().enumerate() {
        for _ in 0..*causes {
            found_last(&mut shop, NO_START, &order[..=place]);
        }
    }
    shop
}

/// By hand, in units of 1/102.5, which is a hundred causes and half a one for
/// each of five checks: what is left before each check, times its minutes.
/// Advised: 6 x 102.5 + 12 x 62 + 20 x 46.5 + 30 x 31 + 25 x 10.5 = 3481.5.
/// Habit: 6 x 102.5 + 30 x 62 + 12 x 41.5 + 20 x 26 + 25 x 10.5 = 3755.5.
/// The saving's interval: gains by cause 0, -32, 30, 30, 0, so that
/// (48892/102.5 - (274/102.5)^2)/103.5 is the variance; Python's
/// random.gammavariate, 400,000 draws of the Dirichlet, gives the standard
/// error 2.132 for its root 2.1306. The normal quantile is 1.959963984540054.
#[test]
fn a_hundred_causes_give_the_order_by_chance_over_minutes() {
    let case = json!({ "case": "a hundred causes", "tolerance": { "rel": 1e-12 } });
    let line = line_of(hundred(), &[]);
    assert_eq!((line.count, line.confirmed, line.too_few), (100, 100, false));
    let advised = ["battery", "control", "fuel", "starter", "sensor"];
    assert_eq!(line.advised.checks, advised);
    assert_eq!(line.best.checks, advised);
    assert_eq!(
        (line.advised.method, line.advised.bound_minutes),
        (Some(OrderMethod::RatioRule), None)
    );
    assert!(line.ratio_rule_holds);
    let habit = line.habit.as_ref().unwrap();
    assert_eq!(habit.checks, ["battery", "starter", "control", "fuel", "sensor"]);
    assert_eq!((habit.began.count, habit.began.returns), (100, 100));
    for planned in [&line.advised, &line.best] {
        close(&case, "advised", planned.expected_minutes.unwrap(), 3481.5 / 102.5);
    }
    close(&case, "habit", habit.expected_minutes.unwrap(), 3755.5 / 102.5);
    let saved = line.saved.unwrap();
    close(&case, "saved", saved.minutes, 274.0 / 102.5);
    let interval = saved.interval.unwrap();
    let half =
        1.959_963_984_540_054 * ((48_892.0 / 102.5 - (274.0_f64 / 102.5).powi(2)) / 103.5).sqrt();
    close(&case, "low", interval.low, 274.0 / 102.5 - half);
    close(&case, "high", interval.high, 274.0 / 102.5 + half);
    for (name, minutes, causes) in HUNDRED {
        let known = line.checks.iter().find(|check| check.check == name).unwrap();
        close(&case, name, known.chance, (causes as f64 + 0.5) / 102.5);
        assert_eq!(known.minutes, Some(f64::from(minutes)));
        assert_eq!((known.found.count, known.found.returns), (100, causes as i64));
        assert_eq!(known.minutes_from, Some(MinutesFrom::Symptom));
    }
    tell("checks-a-hundred-causes");
}

/// Without the half cases the same record is the classic example of the rule
/// (Smith 1956; Gluss 1959), every order of which was tried in Python: 33.7
/// minutes by the ratio, 36.3 by the chance alone.
#[test]
fn the_record_s_own_shares_give_the_textbook_minutes() {
    let case = json!({ "case": "shares alone", "tolerance": { "rel": 1e-12 } });
    let line = line_of(hundred(), &[]);
    let problem = Problem::new(&ProblemParts {
        checks: line
            .checks
            .iter()
            .map(|check| Check {
                minutes: check.minutes.unwrap(),
                probability: check.found.returns as f64 / check.found.count as f64,
                sensitivity: 1.0,
                cluster: None,
            })
            .collect(),
        ..ProblemParts::default()
    })
    .unwrap();
    let best = best_order(&problem);
    // The checks stand in the advised order already.
    assert_eq!(best.order, [0, 1, 2, 3, 4]);
    close(&case, "by the ratio", best.expected_minutes, 33.7);
    let habit: Vec<usize> = (1..=5)
        .map(|place| line.checks.iter().position(|check| check.habit_place == Some(place)).unwrap())
        .collect();
    close(&case, "by the chance", expected_minutes(&problem, &habit).unwrap(), 36.3);
    tell("checks-textbook");
}

/// By hand, in units of 1/102.5: sensor first 25 x 102.5 + 6 x 92 + 12 x 51.5 +
/// 20 x 36 + 30 x 20.5 = 5067.5; the habit so 25 x 102.5 + 6 x 92 + 30 x 51.5 +
/// 12 x 31 + 20 x 15.5 = 5341.5. The habit itself stays at 3755.5. What the order
/// saves is against the habit with the sensor first: 5341.5 - 5067.5 = 274. Gains
/// by cause are those without the sensor, 0, -32, 30, 30, 0, and so the interval.
#[test]
fn what_has_to_come_first_stays_there_whatever_it_costs() {
    let case = json!({ "case": "sensor first", "tolerance": { "rel": 1e-12 } });
    let line = line_of(hundred(), &["sensor", "sensor"]);
    assert_eq!(line.advised.checks, ["sensor", "battery", "control", "fuel", "starter"]);
    assert_eq!(line.best.checks, ["battery", "control", "fuel", "starter", "sensor"]);
    close(&case, "advised", line.advised.expected_minutes.unwrap(), 5067.5 / 102.5);
    close(&case, "best", line.best.expected_minutes.unwrap(), 3481.5 / 102.5);
    let habit = line.habit.as_ref().unwrap();
    close(&case, "habit", habit.expected_minutes.unwrap(), 3755.5 / 102.5);
    let moved = habit.expected_minutes_with_first.unwrap();
    close(&case, "habit, sensor moved up", moved, 5341.5 / 102.5);
    let saved = line.saved.as_ref().unwrap();
    close(&case, "saved", saved.minutes, 274.0 / 102.5);
    let half =
        1.959_963_984_540_054 * ((48_892.0 / 102.5 - (274.0_f64 / 102.5).powi(2)) / 103.5).sqrt();
    close(&case, "low", saved.interval.as_ref().unwrap().low, 274.0 / 102.5 - half);
    let first: Vec<&str> = line.first.iter().map(|first| first.check.as_str()).collect();
    assert_eq!((first, line.first[0].why), (vec!["sensor"], WhyFirst::Asked));
    // Those whose cause the sensor found did it.
    assert_eq!((line.first[0].done.count, line.first[0].done.returns), (100, 10));
    assert!(check(&line, "sensor").first && !check(&line, "battery").first);
    tell("checks-sensor-first");
}

/// Twelve causes: seven found by the look, three by the load test, two by none
/// of the checks. In units of 1/13: look first 5 x 13 + 10 x 5.5 = 120, load
/// test first 10 x 13 + 5 x 9.5 = 177.5.
#[test]
fn causes_found_otherwise_are_the_chance_of_none() {
    let case = json!({ "case": "found otherwise", "tolerance": { "rel": 1e-12 } });
    let mut shop = Shop::default();
    for _ in 0..7 {
        found_last(&mut shop, NO_START, &[("load test", 10), ("look", 5)]);
    }
    for _ in 0..2 {
        found_last(&mut shop, NO_START, &[("load test", 10)]);
    }
    // Typed in at close: one abnormal check is told, of two abnormal ones which
    // came last is not.
    found_last(&mut shop, NO_START, &[("look", 50), ("load test", 90)]);
    shop.rows.checks.iter_mut().rev().take(2).for_each(|row| row.at_close = true);
    found_last(&mut shop, NO_START, &[("look", 50), ("load test", 90)]);
    for row in shop.rows.checks.iter_mut().rev().take(2) {
        row.at_close = true;
        row.finding = Some(Finding::Abnormal);
    }
    // A confirmed cause without any check.
    shop.job(NO_START, 1);
    shop.cause(Curable::No);
    // Turned back to suspected, and no complaint: neither counts.
    found_last(&mut shop, NO_START, &[("load test", 10)]);
    shop.last_job().cause_state = Some(CauseState::Suspected);
    found_last(&mut shop, NO_START, &[("load test", 10)]);
    shop.last_job().kind = JobKind::Maintenance;
    let line = line_of(shop, &[]);
    assert_eq!((line.count, line.confirmed), (13, 12));
    assert_eq!((line.found_otherwise.count, line.found_otherwise.returns), (12, 2));
    let look = check(&line, "look");
    assert_eq!((look.found.returns, look.timed, look.minutes), (7, 7, Some(5.0)));
    let load = check(&line, "load test");
    assert_eq!((load.found.returns, load.timed, load.minutes), (3, 10, Some(10.0)));
    close(&case, "look", look.chance, 7.5 / 13.0);
    close(&case, "load test", load.chance, 3.5 / 13.0);
    assert_eq!(line.advised.checks, ["look", "load test"]);
    close(&case, "advised", line.advised.expected_minutes.unwrap(), 120.0 / 13.0);
    let habit = line.habit.unwrap();
    // Mean places 1 and 2.
    assert_eq!(habit.checks, ["load test", "look"]);
    close(&case, "habit", habit.expected_minutes.unwrap(), 177.5 / 13.0);
    assert_eq!((habit.began.count, habit.began.returns), (10, 10));
    tell("checks-found-otherwise");
}

/// Facts in which these checks lie behind something.
fn behind(access: &[(&str, Access)]) -> ShopFacts {
    let access = access.iter().map(|(check, access)| ((*check).to_owned(), *access));
    ShopFacts { check_access: access.collect(), ..facts() }
}

/// Twenty ticks: leak-down, written first, finds fourteen in 20 minutes, the look
/// below the cover finds two in 50, the stethoscope four in 10. By chance per
/// minute leak-down would be first (14.5/20, 4.5/10, 2.5/50). It is not before the
/// cover is off. In units of 1/21.5, by hand: stethoscope, cover, leak-down 10 x
/// 21.5 + 50 x 17 + 20 x 14.5 = 1355; cover, leak-down, stethoscope 50 x 21.5 + 20
/// x 19 + 10 x 4.5 = 1500.
#[test]
fn what_lies_below_a_cover_waits_for_it() {
    let case = json!({ "case": "below a cover", "tolerance": { "rel": 1e-12 } });
    let mut shop = Shop::default();
    let habit = [("leak-down", 20), ("cover off", 50), ("stethoscope", 10)];
    for (place, causes) in [(1, 14), (2, 2), (3, 4)] {
        for _ in 0..causes {
            found_last(&mut shop, "engine.tick", &habit[..place]);
        }
    }
    let deep = [("leak-down", Access::Deep), ("cover off", Access::Cover)];
    let line = |access: &[(&str, Access)], first: &[&str]| {
        let first: Vec<String> = first.iter().map(|check| (*check).to_owned()).collect();
        let history = shop.clone().history(behind(access));
        check_orders(&history, &until(200), Some(&first)).symptoms.remove(0)
    };
    let known = line(&deep, &[]);
    let advised = ["stethoscope", "cover off", "leak-down"];
    assert_eq!(known.advised.checks, advised);
    assert_eq!(known.best.checks, advised);
    assert_eq!(known.advised.method, Some(OrderMethod::EveryOrder));
    close(&case, "advised", known.advised.expected_minutes.unwrap(), 1355.0 / 21.5);
    assert!(known.opening_not_counted && !known.ratio_rule_holds);
    assert_eq!((known.too_few, &known.saved), (false, &None));
    // The habit is out of turn, and is summed up as it was written: 20 x 21.5 +
    // 50 x 7 + 10 x 4.5.
    let habit = known.habit.unwrap();
    assert_eq!(habit.checks, ["leak-down", "cover off", "stethoscope"]);
    close(&case, "habit", habit.expected_minutes.unwrap(), 825.0 / 21.5);
    // Asked for first, the cover is off; asked for itself, it is as was asked.
    assert_eq!(
        line(&deep, &["cover off"]).advised.checks,
        ["cover off", "leak-down", "stethoscope"]
    );
    let asked = line(&deep, &["leak-down"]).advised;
    assert_eq!(asked.checks, ["leak-down", "stethoscope", "cover off"]);
    // Nothing is known, or a cap is all there is to open: by the ratio.
    for shallow in [&[][..], &[("leak-down", Access::Light), ("cover off", Access::Lift)]] {
        let line = line(shallow, &[]);
        assert_eq!(line.advised.checks, ["leak-down", "stethoscope", "cover off"]);
        assert!(!line.opening_not_counted && line.ratio_rule_holds && line.saved.is_some());
    }
    for opened in Access::ALL.iter().filter(|access| access.is_opening()) {
        let line = line(&[("stethoscope", *opened)], &[]);
        assert!(line.opening_not_counted && !line.ratio_rule_holds, "{opened}");
        assert_eq!(line.saved, None, "{opened}");
    }
    tell("checks-below-a-cover");
}

#[test]
fn minutes_are_the_symptom_s_then_the_shop_s_then_the_list_s() {
    let mut shop = Shop::default();
    // Medians of 4, 5, 9 and of 0, 0; the other symptom's 40 is not looked at.
    for minutes in [4, 5, 9] {
        found_last(&mut shop, NO_START, &[("look", minutes)]);
    }
    for _ in 0..2 {
        found_last(&mut shop, NO_START, &[("glance", 0)]);
    }
    shop.job(NO_START, 1);
    for unmeasured in ["elsewhere", "listed", "unknown"] {
        shop.check(unmeasured, None);
    }
    shop.job("engine.tick", 1);
    shop.check("look", Some(40));
    shop.check("elsewhere", Some(20));
    shop.check("elsewhere", Some(30));
    let facts = ShopFacts {
        check_minutes: BTreeMap::from([
            ("listed".to_owned(), 15),
            ("look".to_owned(), 99),
            ("asked".to_owned(), 0),
        ]),
        ..facts()
    };
    let first = ["asked".to_owned(), "unheard".to_owned()];
    let report = check_orders(&shop.history(facts), &until(200), Some(&first));
    let line = report.symptoms.iter().find(|line| line.symptom == NO_START).unwrap();
    let known = |name: &str| {
        let check = check(line, name);
        (check.minutes, check.timed, check.minutes_from)
    };
    assert_eq!(known("look"), (Some(5.0), 3, Some(MinutesFrom::Symptom)));
    assert_eq!(known("glance"), (Some(0.5), 2, Some(MinutesFrom::Symptom)));
    assert_eq!(known("elsewhere"), (Some(25.0), 2, Some(MinutesFrom::Shop)));
    assert_eq!(known("listed"), (Some(15.0), 0, Some(MinutesFrom::List)));
    assert_eq!(known("unknown"), (None, 0, None));
    assert_eq!(known("asked"), (Some(0.5), 0, Some(MinutesFrom::List)));
    // What has to come first does so without known minutes, too; the rest is
    // left out. Chances over minutes: 2.5/.5, 3.5/5, .5/15, .5/25.
    let places = [
        ("asked", Some(1)),
        ("unheard", Some(2)),
        ("glance", Some(3)),
        ("look", Some(4)),
        ("listed", Some(5)),
        ("elsewhere", Some(6)),
        ("unknown", None),
    ];
    assert_eq!(names(line), places);
    for name in ["unheard", "unknown"] {
        assert_eq!(check(line, name).uncounted, Some(Uncounted::NoMinutesKnown));
    }
    assert_eq!(line.best.checks, ["glance", "asked", "look", "listed", "elsewhere"]);
}

/// Four looks of a shop: `codes` on 10 of 20 jobs, `ask` on 20, `bulletins` on 9,
/// `hood` on all but typed in at close. Half is enough; their order is the habit's.
#[test]
fn free_looks_come_first_where_the_shop_does_them() {
    let mut shop = Shop::default();
    for number in 0..20 {
        let mut checks = Vec::new();
        checks.extend((number < 9).then_some(("bulletins", 8)));
        checks.push(("ask", 10));
        checks.extend((number < 10).then_some(("codes", 8)));
        checks.push(("pressure", 20));
        found_last(&mut shop, NO_START, &checks);
        shop.check("hood", Some(8)).at_close = true;
    }
    let looks = ["bulletins", "codes", "ask", "hood"].map(str::to_owned);
    let facts = ShopFacts { free_looks: BTreeSet::from(looks), ..facts() };
    let history = shop.history(facts);
    let first = |asked: Option<&[String]>| {
        let report = check_orders(&history, &until(200), asked);
        let line = report.symptoms.into_iter().next().unwrap();
        (report.first, line)
    };
    let (asked, line) = first(None);
    assert_eq!(asked, None);
    let seen: Vec<(&str, WhyFirst, i64, i64)> = line
        .first
        .iter()
        .map(|one| (one.check.as_str(), one.why, one.done.count, one.done.returns))
        .collect();
    let look = WhyFirst::FreeLook;
    assert_eq!(seen, [("ask", look, 20, 20), ("codes", look, 20, 10)]);
    assert_eq!(line.advised.checks[..3], ["ask", "codes", "pressure"]);
    assert_eq!(selected(&history, &line.first[1].jobs, day(200)), 10);
    assert_eq!(selected(&history, &line.first[1].done.jobs, day(200)), 20);
    // All that is left is to put the bulletins off: no saving is made of that.
    assert!(line.saved.is_none() && !line.too_few);
    // Nothing first, where that is asked for.
    let (asked, line) = first(Some(&[]));
    assert_eq!((asked, line.first.len()), (Some(Vec::new()), 0));
    assert_eq!(line.advised.checks[0], "pressure");
    assert!(line.saved.is_none());
}

/// `isolation` found all causes but is for trained people: in no order, even
/// where it is asked for; what is left is the ten found by `battery`.
#[test]
fn checks_for_trained_people_are_never_ordered() {
    let mut shop = Shop::default();
    for _ in 0..10 {
        found_last(&mut shop, NO_START, &[("look", 5), ("isolation", 30)]);
        found_last(&mut shop, NO_START, &[("look", 5), ("battery", 6)]);
    }
    let trained = BTreeSet::from(["isolation".to_owned()]);
    let facts =
        ShopFacts { free_looks: trained.clone(), trained_checks: trained.clone(), ..facts() };
    let history = shop.history(facts);
    let asked: Vec<String> = trained.into_iter().collect();
    for first in [None, Some(asked.as_slice()), Some(&[])] {
        let report = check_orders(&history, &until(200), first);
        let line = &report.symptoms[0];
        assert!(line.first.is_empty());
        assert_eq!(line.advised.checks, ["battery", "look"]);
        assert_eq!(line.best.checks, ["battery", "look"]);
        let isolation = check(line, "isolation");
        assert_eq!(isolation.place, None);
        assert_eq!(isolation.uncounted, Some(Uncounted::TrainedPeopleOnly));
        assert_eq!((isolation.found.returns, isolation.minutes), (10, Some(30.0)));
        // The shop did it, and the habit says so.
        assert_eq!(line.habit.as_ref().unwrap().checks.len(), 3);
    }
}

#[test]
fn the_habit_is_by_mean_place_and_equals_by_name() {
    let mut shop = Shop::default();
    // Places: a 1, 3; b 2, 2; c 3, 1, 1; d typed in at close only.
    for order in [["a", "b", "c"], ["c", "b", "a"]] {
        shop.job(NO_START, 1);
        for name in order {
            shop.check(name, Some(5));
        }
        shop.check("d", Some(5)).at_close = true;
    }
    shop.job(NO_START, 1);
    // Done twice: where it was done first counts.
    shop.check("c", Some(5));
    shop.check("c", Some(5));
    let line = line_of(shop, &[]);
    let habit = line.habit.as_ref().unwrap();
    assert_eq!(habit.checks, ["c", "a", "b", "d"]);
    let mean = |name: &str| check(&line, name).mean_place;
    assert_eq!((mean("a"), mean("b"), mean("c")), (Some(2.0), Some(2.0), Some(5.0 / 3.0)));
    assert_eq!(mean("d"), None);
    assert_eq!((habit.began.count, habit.began.returns), (3, 2));
    assert_eq!(check(&line, "c").uncounted, None);
    // Never measured: no minutes of its own, none on the list.
    assert_eq!(check(&line, "d").uncounted, Some(Uncounted::NoMinutesKnown));
}

#[test]
fn without_a_measured_order_there_is_no_habit() {
    let mut shop = Shop::default();
    for _ in 0..20 {
        found_last(&mut shop, NO_START, &[("look", 5)]);
        shop.rows.checks.last_mut().unwrap().at_close = true;
    }
    shop.job("engine.tick", 1);
    shop.check("look", Some(8));
    let report = check_orders(&shop.history(facts()), &until(200), Some(&[]));
    let line = &report.symptoms[0];
    assert_eq!((line.confirmed, line.habit.as_ref(), line.saved.as_ref()), (20, None, None));
    assert_eq!(line.advised.checks, ["look"]);
    assert_eq!(line.advised.expected_minutes, Some(8.0));
}

#[test]
fn no_saving_is_claimed_under_ten_causes() {
    let causes = |count: usize, by_fuel: usize| {
        let mut shop = Shop::default();
        for number in 0..count {
            let order = [("fuel", 20), ("battery", 6)];
            let done = if number < by_fuel { &order[..1] } else { &order[..] };
            found_last(&mut shop, NO_START, done);
        }
        line_of(shop, &[])
    };
    let few = causes(9, 1);
    assert!(few.too_few && few.saved.is_none());
    assert_eq!(few.advised.checks, ["battery", "fuel"]);
    let enough = causes(10, 1);
    assert!(!enough.too_few && enough.saved.is_some());
    // Fuel found none: the order only puts it off, whatever that seems to save.
    let put_off = causes(10, 0);
    assert_eq!(put_off.advised.checks, ["battery", "fuel"]);
    let usual = put_off.habit.as_ref().unwrap().expected_minutes.unwrap();
    assert!(usual > put_off.advised.expected_minutes.unwrap() && put_off.saved.is_none());
}

#[test]
fn more_checks_than_an_order_takes_leave_out_what_found_least() {
    let mut shop = Shop::default();
    for number in 0..130 {
        for _ in 0..=usize::from(number != 7 && number != 9) {
            found_last(&mut shop, NO_START, &[(&format!("check {number:03}"), 5)]);
        }
    }
    let line = line_of(shop, &["check 009"]);
    assert_eq!(line.advised.checks.len(), 128);
    assert_eq!(line.advised.checks[0], "check 009");
    let out: Vec<&str> = line
        .checks
        .iter()
        .filter(|check| check.uncounted == Some(Uncounted::TooManyChecks))
        .map(|check| check.check.as_str())
        .collect();
    // Of those that found two, the last by name.
    assert_eq!(out, ["check 007", "check 129"]);
    assert!(line.advised.expected_minutes.unwrap().is_finite());
}

/// Closing day, symptom, cause (none, suspected, confirmed), checks: number,
/// finding, typed in at close, minutes.
type JobNumbers = (u64, u8, u8, Vec<(u8, u8, bool, i32)>);

fn some_jobs() -> impl Strategy<Value = Vec<JobNumbers>> {
    let check = (0_u8..5, 0_u8..5, proptest::bool::weighted(0.2), 0_i32..60);
    let checks = proptest::collection::vec(check, 0..5);
    proptest::collection::vec((0_u64..150, 0_u8..2, 0_u8..5, checks), 0..60)
}

fn random_shop(jobs: &[JobNumbers], first_id: u128, scale: i32) -> Shop {
    let mut shop = Shop::starting_at(first_id);
    for (closed, symptom, cause, checks) in jobs {
        shop.job(&format!("engine.symptom-{symptom}"), *closed);
        match cause {
            0 => {}
            1 => shop.last_job().cause_state = Some(CauseState::Suspected),
            _ => shop.cause(Curable::No),
        }
        for (number, finding, at_close, minutes) in checks {
            let row = shop.check(&format!("check {number}"), Some(minutes * scale));
            row.at_close = *at_close;
            row.finding = [
                None,
                Some(Finding::NotDone),
                Some(Finding::Normal),
                Some(Finding::Abnormal),
                Some(Finding::Abnormal),
            ][usize::from(*finding)];
        }
    }
    shop
}

/// Expected minutes by the definition, over the checks in the order given.
fn by_definition(order: &[&OrderedCheck]) -> f64 {
    let mut left = 1.0;
    order.iter().fold(0.0, |sum, check| {
        let before = left;
        left -= check.chance;
        sum + before * check.minutes.unwrap()
    })
}

/// The least over every order.
fn least(order: &mut Vec<&OrderedCheck>, from: usize) -> f64 {
    if from == order.len() {
        return by_definition(order);
    }
    let mut best = f64::INFINITY;
    for at in from..order.len() {
        order.swap(from, at);
        best = best.min(least(order, from + 1));
        order.swap(from, at);
    }
    best
}

fn query() -> Query {
    Query { from: Some(day(20)), to: Some(day(120)), ..until(180) }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn halves_add_and_every_number_opens_to_its_jobs(a in some_jobs(), b in some_jobs()) {
        let mut both = random_shop(&a, 0, 1);
        both.absorb(random_shop(&b, 1_000_000, 1));
        let history = both.history(facts());
        let whole = PathTally::of(&history);
        let mut sum = PathTally::of(&random_shop(&a, 0, 1).history(facts()));
        sum.add(&PathTally::of(&random_shop(&b, 1_000_000, 1).history(facts())));
        prop_assert_eq!(&sum, &whole);
        let first = ["check 4".to_owned(), "check 0".to_owned()];
        let report = check_orders_from(&whole, &facts(), 1, &query(), Some(&first));
        let opened = |selector: &str| selected(&history, selector, day(180));
        for line in &report.symptoms {
            prop_assert_eq!(opened(&line.jobs), line.confirmed);
            prop_assert_eq!(opened(&line.otherwise_jobs), line.found_otherwise.returns);
            prop_assert_eq!(opened(&line.found_otherwise.jobs), line.confirmed);
            let mut found = line.found_otherwise.returns;
            for one in &line.first {
                prop_assert_eq!(opened(&one.jobs), one.done.returns);
                prop_assert_eq!(opened(&one.done.jobs), one.done.count);
            }
            for check in &line.checks {
                prop_assert_eq!(opened(&check.jobs), check.found.returns);
                prop_assert_eq!(opened(&check.found.jobs), check.found.count);
                found += check.found.returns;
            }
            prop_assert_eq!(found, line.confirmed);
            let weight = line.confirmed as f64 + line.checks.len() as f64 / 2.0;
            let chances: f64 = line.checks.iter().map(|check| check.chance).sum();
            let none = line.found_otherwise.returns as f64 / weight;
            prop_assert!((chances + none - 1.0).abs() < 1e-12);
            if let Some(habit) = &line.habit {
                prop_assert_eq!(opened(&habit.jobs), habit.began.returns);
                prop_assert_eq!(opened(&habit.began.jobs), habit.began.count);
            }
        }
    }

    #[test]
    fn no_order_takes_less_than_the_best(
        jobs in some_jobs(),
        first in proptest::sample::subsequence(vec![0_u8, 1, 2, 3, 4, 5], 0..3),
    ) {
        let first: Vec<String> = first.iter().map(|number| format!("check {number}")).collect();
        let history = random_shop(&jobs, 0, 1).history(facts());
        for line in check_orders(&history, &query(), Some(&first)).symptoms {
            prop_assert_eq!(&line.advised.checks[..first.len()], &first[..]);
            let named = |order: &[String]| -> Vec<&OrderedCheck> {
                let every = order.iter().map(|name| check(&line, name));
                every.filter(|check| check.minutes.is_some()).collect()
            };
            let Some(advised) = line.advised.expected_minutes else { continue };
            let mut order = named(&line.advised.checks);
            let same = |a: f64, b: f64| (a - b).abs() <= 1e-9 * b.max(1.0);
            prop_assert!(same(by_definition(&order), advised));
            let held = order.iter().filter(|check| check.first).count();
            prop_assert!(same(least(&mut order, held), advised));
            let best = line.best.expected_minutes.unwrap();
            prop_assert!(same(by_definition(&named(&line.best.checks)), best));
            prop_assert!(same(least(&mut order, 0), best));
            if let Some(habit) = &line.habit {
                let usual = habit.expected_minutes.unwrap();
                prop_assert!(same(by_definition(&named(&habit.checks)), usual));
                prop_assert!(best <= usual + 1e-9);
                let moved = habit.expected_minutes_with_first.unwrap();
                prop_assert!(advised <= moved + 1e-9);
                if let Some(saved) = &line.saved {
                    prop_assert!((moved - advised - saved.minutes).abs() <= 1e-9 * moved.max(1.0));
                    prop_assert!(saved.minutes >= -1e-9);
                    if let Some(interval) = &saved.interval {
                        prop_assert!(interval.low <= saved.minutes);
                        prop_assert!(saved.minutes <= interval.high);
                    }
                }
            }
        }
    }

    #[test]
    fn a_report_is_that_of_the_record_cut_there(jobs in some_jobs(), last in 30_u64..150) {
        let rows = random_shop(&jobs, 0, 1).rows;
        let ended = History::new(facts(), cut(&rows, day(last)), 7).unwrap();
        let whole = History::new(facts(), rows, 7).unwrap();
        let first = ["check 3".to_owned()];
        let report = |history| check_orders(history, &until(last), Some(&first));
        prop_assert_eq!(report(&whole), report(&ended));
    }

    #[test]
    fn longer_minutes_change_no_order(jobs in some_jobs(), scale in 2_i32..9) {
        // No median below half a minute: that is where minutes are cut off.
        let mut jobs = jobs;
        jobs.iter_mut().flat_map(|job| &mut job.3).for_each(|check| check.3 += 1);
        let report = |scale| {
            check_orders(&random_shop(&jobs, 0, scale).history(facts()), &query(), Some(&[])).symptoms
        };
        for (one, more) in report(1).iter().zip(&report(scale)) {
            prop_assert_eq!(&one.symptom, &more.symptom);
            let placed = |line: &CheckOrderLine| -> Vec<(i64, i64)> {
                let placed = line.checks.iter().filter(|check| check.place.is_some());
                placed
                    .map(|check| {
                        let halves = (check.minutes.unwrap() * 2.0) as i64;
                        (2 * check.found.returns + 1, halves)
                    })
                    .collect()
            };
            // Equal chances per minute may change places: rounding decides.
            for (a, b) in placed(one).iter().zip(&placed(more)) {
                prop_assert_eq!(a.0 * b.1, b.0 * a.1 * i64::from(scale));
            }
            prop_assert_eq!(one.checks.len(), more.checks.len());
            let (Some(short), Some(long)) =
                (one.advised.expected_minutes, more.advised.expected_minutes)
            else {
                continue;
            };
            prop_assert!((short * f64::from(scale) - long).abs() <= 1e-9 * long);
        }
    }
}
