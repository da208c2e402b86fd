//! How often vehicles come back: against published repairs of engines, by hand,
//! and what always holds.

use analytics::figure::Query;
use analytics::history::{History, JobId, PayBackRow, Rows};
use analytics::repeats::{RepeatFigures, RepeatPoint, RepeatTally, repeats, repeats_from};
use analytics::words::{Activity, Disposition, LinkState, PartRole, Told};
use chrono::NaiveDate;
use proptest::prelude::*;

use crate::files::{case, close, table, tell};
use crate::shop::{Shop, day, facts, selected, until};
use crate::world::{cut, world};

fn near(ours: f64, theirs: f64) {
    assert!((ours - theirs).abs() <= 1e-12 * theirs.abs().max(1.0), "{ours} against {theirs}");
}

fn by(word: &str, as_of: u64) -> Query {
    Query { by: Some(word.to_owned()), ..until(as_of) }
}

fn at(figures: &RepeatFigures, days: i32) -> &RepeatPoint {
    figures.points.iter().find(|point| point.days == days).unwrap()
}

/// A vehicle's repair, and comebacks for it some days later whose orders stay
/// open.
fn vehicle(shop: &mut Shop, closed: u64, back: &[u64]) -> JobId {
    let job = shop.job("engine.tick", closed);
    for after in back {
        shop.comeback(*after, "workmanship");
    }
    job
}

/// Replacements of valve seats on 41 engines (Nelson 1995), each engine a
/// vehicle that was repaired when its record begins: numbers of R survival.
#[test]
fn valve_seats() {
    let case = case("o11-mcf-valve-seats");
    let (header, rows) = table(case["input"].as_str().unwrap());
    let column = |name: &str| header.iter().position(|column| column == name).unwrap();
    let (id, time, status) = (column("id"), column("time"), column("status"));
    let mut shop = Shop::default();
    for end in rows.iter().filter(|row| row[status] == "0") {
        let own = rows.iter().filter(|row| row[id] == end[id] && row[status] == "1");
        let back: Vec<u64> = own.map(|row| row[time].parse().unwrap()).collect();
        vehicle(&mut shop, 800 - end[time].parse::<u64>().unwrap(), &back);
    }
    let history = shop.history(facts());
    let report = repeats(&history, &until(800)).unwrap();
    let expected = &case["expected"];
    let values = |key: &str| -> Vec<f64> {
        expected[key].as_array().unwrap().iter().map(|value| value.as_f64().unwrap()).collect()
    };
    assert_eq!(report.total.vehicles, 41);
    let place = values("times").iter().position(|time| *time == 400.0).unwrap();
    let point = &at(&report.total, 400).visits;
    assert_eq!(point.count as f64, values("n_at_risk")[place]);
    close(&case, "mean at 400", point.value.unwrap(), values("mcf")[place]);
    let error = values("var_lawless_nadeau")[place].sqrt();
    close(&case, "error at 400", point.standard_error.unwrap(), error);
    let interval = point.interval.clone().unwrap();
    for (ours, key) in [(interval.low, 0), (interval.high, 1)] {
        let theirs = expected["ci_log"][place][key].as_f64().unwrap();
        close(&case, "interval at 400", ours, theirs);
    }
    let steps = values("jump_times").into_iter().zip(values("jump_mcf"));
    let steps: Vec<(f64, f64)> = steps.filter(|(time, _)| *time <= 400.0).collect();
    assert_eq!(report.curve.len(), steps.len());
    for (ours, (time, mean)) in report.curve.iter().zip(steps) {
        assert_eq!(f64::from(ours.days), time);
        close(&case, "step", ours.mean, mean);
    }
    tell("o11-mcf-valve-seats, as vehicles");
}

/// Twelve vehicles, all followed for 400 days: one came back twice, one once, one
/// was told of and came two days later, one was told of alone.
fn twelve() -> Shop {
    let mut shop = Shop::default();
    vehicle(&mut shop, 0, &[20, 50]);
    vehicle(&mut shop, 0, &[40]);
    vehicle(&mut shop, 0, &[27]);
    shop.told(25, Told::NotFixed, None);
    vehicle(&mut shop, 0, &[]);
    shop.told(200, Told::FixedElsewhere, None);
    for _ in 0..8 {
        vehicle(&mut shop, 0, &[]);
    }
    shop
}

/// By hand: 2, 4, 4, 4, 5, 5 visits of 12 vehicles. Without censoring the robust
/// variance is sum((x - mean)^2) / n^2: at 60 days 6 - 12/9 over 144, so the
/// error is 0.1800205749557739; the interval mean x exp(+-1.959963984540054
/// error / mean) with Python 3.
#[test]
fn means_by_hand() {
    let history = twelve().history(facts());
    let total = repeats(&history, &until(410)).unwrap().total;
    assert_eq!((total.vehicles, total.visits), (12, 5));
    let means = total.points.iter().map(|point| point.visits.value.unwrap() * 12.0);
    for (ours, theirs) in means.zip([2.0, 4.0, 4.0, 4.0, 5.0, 5.0]) {
        near(ours, theirs);
    }
    let sixty = &at(&total, 60).visits;
    near(sixty.standard_error.unwrap(), 0.180_020_574_955_773_87);
    let interval = sixty.interval.clone().unwrap();
    near(interval.low, 0.115_658_451_024_040_49);
    near(interval.high, 0.960_683_029_448_629);
    let vehicles: Vec<(i64, bool, i64)> =
        total.by_visits.iter().map(|line| (line.visits, line.or_more, line.vehicles)).collect();
    assert_eq!(vehicles, [(0, false, 8), (1, false, 3), (2, false, 1), (3, true, 0)]);
    assert_eq!(total.by_visits[3].jobs, "visits=3_or_more&closed_to=2027-02-15");
}

/// As long as the vehicle has not come, it counts on the day it was told.
#[test]
fn a_told_return_counts_once() {
    let mut shop = twelve();
    for (before, more) in [(26, 1), (27, 1), (30, 1)] {
        let total = repeats(&shop.clone().history(facts()), &until(before)).unwrap().total;
        assert_eq!(total.visits, 1 + more, "day {before}");
    }
    // Two jobs of one order are one visit.
    let earlier = shop.rows.jobs[1].id;
    let visit = shop.rows.returns.iter().find(|link| link.earlier == earlier).unwrap().clone();
    let next = 900_000;
    shop.rows.returns.push(analytics::history::ReturnRow {
        id: next,
        later: next + 1,
        later_job_no: 2,
        ..visit
    });
    assert_eq!(repeats(&shop.history(facts()), &until(410)).unwrap().total.visits, 5);
}

/// By hand: thirty vehicles, ten of them followed for 100 days only. Three come
/// back on day 20, two on day 150 of the twenty still followed: 3/30, then
/// 3/30 + 2/20. With nine followed to day 365 nothing is said there.
#[test]
fn newer_vehicles_are_followed_as_far_as_they_can_be() {
    let mut shop = Shop::default();
    for number in 0..30 {
        let closed = match number {
            0..9 => 0,
            9..20 => 100,
            _ => 300,
        };
        let back: &[u64] = match number {
            0..3 => &[20],
            3..5 => &[150],
            _ => &[],
        };
        vehicle(&mut shop, closed, back);
    }
    let history = shop.history(facts());
    let total = repeats(&history, &until(400)).unwrap().total;
    for (days, followed, mean) in
        [(30, 30, Some(0.1)), (90, 30, Some(0.1)), (180, 20, Some(0.2)), (365, 9, None)]
    {
        let point = &at(&total, days).visits;
        assert_eq!((point.count, point.too_few), (followed, mean.is_none()), "day {days}");
        assert_eq!(point.value.is_some(), mean.is_some(), "day {days}");
        near(point.value.unwrap_or_default(), mean.unwrap_or_default());
        assert_eq!(selected(&history, &point.jobs, day(400)), followed, "{}", point.jobs);
    }
}

/// One comeback, handed over on day 21: by hand 1 h at 90.00, two parts at 20.00,
/// 35.00 of work sent out and 60.00 besides, 225.00 in all, of which a supplier
/// pays back 75.00 on day 70: over ten vehicles 22.50, then 15.00.
#[test]
fn what_a_vehicle_costs() {
    let mut shop = Shop::default();
    let first = shop.job("engine.tick", 0);
    let vehicle = shop.last_job().vehicle.clone();
    let second = shop.job("engine.tick", 21);
    let job = shop.last_job();
    (job.vehicle, job.sublet_cost_minor) = (vehicle, 3_500);
    shop.labor("Mirela", Activity::Repair, 60);
    let part = shop.part("LFT-1", PartRole::Suspect, Disposition::ReplacedNew);
    (part.unit_cost_minor, part.quantity_hundredths) = (Some(2_000), 200);
    shop.link(first, second, day(20), "workmanship");
    shop.rows.pay_backs.push(PayBackRow { job: second, paid_on: day(70), amount_minor: 7_500 });
    for _ in 0..9 {
        shop.job("engine.tick", 0);
    }
    let history = shop.history(facts());
    let mut report = repeats(&history, &until(410)).unwrap();
    let total = &report.total;
    assert_eq!((total.vehicles, total.visits), (10, 1));
    let cost = |days| at(total, days).cost_minor.as_ref().unwrap().value.unwrap();
    near(cost(30), 2_250.0);
    near(cost(60), 2_250.0);
    near(cost(90), 1_500.0);
    let sum = total.cost.as_ref().unwrap();
    assert_eq!((sum.count, sum.paid_back_minor, sum.total_minor), (1, Some(7_500), Some(15_000)));
    // The day it came it was not done: it costs nothing yet.
    let early = repeats(&history, &until(20)).unwrap().total;
    assert_eq!((early.visits, early.cost.unwrap().total_minor), (1, Some(0)));
    report.withhold_costs();
    assert!(report.total.cost.is_none() && report.total.points[0].cost_minor.is_none());
}

/// A comeback of a repair before the period is not the period's.
#[test]
fn the_period_begins_with_its_own_repairs() {
    let mut shop = Shop::default();
    vehicle(&mut shop, 10, &[30]);
    let wheels = shop.last_job().vehicle.clone();
    vehicle(&mut shop, 20, &[30]);
    shop.last_job().vehicle = wheels;
    shop.last_job().model = Some("Model T-2".to_owned());
    let history = shop.history(facts());
    let visits = |from: u64| {
        let query = Query { from: Some(day(from)), ..by("model", 200) };
        let report = repeats(&history, &query).unwrap();
        (report.total.vehicles, report.total.visits, report.groups[0].group.clone())
    };
    assert_eq!(visits(0), (1, 2, None));
    assert_eq!(visits(15), (1, 1, Some("Model T-2".to_owned())));
    assert_eq!(repeats(&history, &by("color", 200)), Err("color".to_owned()));
}

fn report(rows: Rows, query: &Query) -> analytics::repeats::RepeatReport {
    repeats(&History::new(facts(), rows, 1).unwrap(), query).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn counts_open_to_their_jobs_and_hang_together(
        world in world(40), as_of in 30_u64..260, from in 0_u64..60,
    ) {
        let history = History::new(facts(), world.rows(None), 1).unwrap();
        for word in ["model", "engine"] {
            let query = Query { from: Some(day(from)), ..by(word, as_of) };
            let report = repeats(&history, &query).unwrap();
            let groups: Vec<&RepeatFigures> = report.groups.iter().map(|g| &g.figures).collect();
            let sum = |pick: fn(&RepeatFigures) -> i64| -> i64 { groups.iter().map(|g| pick(g)).sum() };
            prop_assert_eq!(sum(|f| f.vehicles), report.total.vehicles);
            prop_assert_eq!(sum(|f| f.visits), report.total.visits);
            let cost = |f: &RepeatFigures| f.cost.as_ref().unwrap().count;
            prop_assert_eq!(sum(cost), cost(&report.total));
            for figures in groups.into_iter().chain([&report.total]) {
                let count = |jobs: &str| selected(&history, jobs, day(as_of));
                prop_assert_eq!(count(&figures.jobs), figures.vehicles, "{}", &figures.jobs);
                let lines = figures.by_visits.iter();
                prop_assert_eq!(lines.map(|line| line.vehicles).sum::<i64>(), figures.vehicles);
                for line in &figures.by_visits {
                    prop_assert_eq!(count(&line.jobs), line.vehicles, "{}", &line.jobs);
                }
                let mut before = 0.0;
                for point in &figures.points {
                    prop_assert_eq!(count(&point.visits.jobs), point.visits.count);
                    let Some(mean) = point.visits.value else { continue };
                    prop_assert!(mean >= before);
                    before = mean;
                    for mean in [&point.visits, point.cost_minor.as_ref().unwrap()] {
                        let (Some(value), Some(i)) = (mean.value, &mean.interval) else { continue };
                        prop_assert!(i.low <= value && value <= i.high);
                    }
                }
            }
        }
    }

    /// At A over today's record as over the record cut at A.
    #[test]
    fn the_as_of_cuts_the_record(world in world(40), as_of in 20_u64..220) {
        let query = by("model", as_of);
        let rows = world.rows(None);
        let (whole, short) = (report(rows.clone(), &query), report(cut(rows, day(as_of)), &query));
        prop_assert_eq!(whole, short);
    }

    /// The order of rows never shows.
    #[test]
    fn rows_come_in_any_order(world in world(30), as_of in 60_u64..220) {
        let query = by("engine", as_of);
        let mut rows = world.rows(None);
        let one = report(rows.clone(), &query);
        rows.jobs.reverse();
        rows.returns.reverse();
        rows.pay_backs.reverse();
        prop_assert_eq!(one, report(rows, &query));
    }

    /// Two shops' vehicles are the vehicles of both.
    #[test]
    fn tallies_of_two_shops_add(first in world(25), second in world(25)) {
        let tally = |rows: Rows| RepeatTally::of(&History::new(facts(), rows, 1).unwrap(), None);
        let (first, second) = (first.rows(None), second.rows(None));
        let mut both = tally(first.clone());
        both.add(&tally(second.clone()));
        let of = |tally: &RepeatTally| repeats_from(tally, &facts(), 1, &until(300)).total;
        let whole = of(&both);
        let halves = [of(&tally(first)), of(&tally(second))];
        for pick in [|f: &RepeatFigures| f.vehicles, |f: &RepeatFigures| f.visits] {
            prop_assert_eq!(pick(&whole), halves.iter().map(pick).sum::<i64>());
        }
        let followed = |f: &RepeatFigures| at(f, 180).visits.count;
        prop_assert_eq!(followed(&whole), halves.iter().map(followed).sum::<i64>());
    }
}

#[test]
fn nothing_is_no_report_to_fall_over() {
    let empty = Shop::default().history(facts());
    let far = Query { as_of: NaiveDate::MAX, from: Some(NaiveDate::MIN), ..by("model", 0) };
    for query in [until(0), far.clone()] {
        let report = repeats(&empty, &query).unwrap();
        assert_eq!((report.total.vehicles, report.groups.len()), (0, 0));
    }
    let report = repeats(&twelve().history(facts()), &far).unwrap();
    assert_eq!((report.total.vehicles, report.total.visits), (12, 5));
    let mut rejected = twelve();
    rejected.rows.returns.iter_mut().for_each(|link| link.state = LinkState::Rejected);
    assert_eq!(repeats(&rejected.history(facts()), &until(410)).unwrap().total.visits, 2);
}
