//! The standing figures are those of the reports on comebacks, reuse, paths and
//! labor, and those of two shops are the sum of both.

use analytics::comeback::comebacks;
use analytics::figure::{Query, Share};
use analytics::history::{History, JobId, Rows, ShopFacts};
use analytics::labor::{Ratio, labor};
use analytics::path::{MinuteFigures, paths};
use analytics::reuse::reuse;
use analytics::standing::{
    EfficiencyLine, PartShares, ShareLine, Shares, ShopOfStanding, Standing, StandingReport,
    standing,
};
use analytics::words::{Activity, Disposition, PartRole, Payer, Told};
use chrono::NaiveDate;
use proptest::prelude::*;

use crate::planted;
use crate::shop::{Shop, day, facts};
use crate::world::world;

const DAYS: [i32; 3] = [30, 90, 365];

fn of_one(history: &History, as_of: NaiveDate) -> StandingReport<'_> {
    standing(&[ShopOfStanding { history, as_of }])
}

/// Its jobs lie in several shops: no list has them.
fn nowhere(share: &Share) -> Share {
    Share { jobs: String::new(), ..share.clone() }
}

fn by(as_of: NaiveDate, by: &str, window: i32) -> Query {
    Query { as_of, from: None, to: None, window_days: Some(window), by: Some(by.to_owned()) }
}

fn share_of(shares: &Shares, days: i32) -> &Share {
    match days {
        30 => &shares.share_30,
        90 => &shares.share_90,
        _ => &shares.share_365,
    }
}

/// Comebacks by a column as the report has them, by name of the group.
fn reported(history: &History, query: &Query) -> Vec<(Option<String>, Share)> {
    let groups = comebacks(history, query).unwrap().groups;
    let mut lines: Vec<_> =
        groups.into_iter().map(|group| (group.group, nowhere(&group.figures.share))).collect();
    lines.sort_by(|a, b| a.0.cmp(&b.0));
    lines
}

fn same_comebacks(history: &History, as_of: NaiveDate, report: &StandingReport<'_>) {
    let weeks: Vec<_> = report
        .cohorts
        .iter()
        .map(|line| (Some(line.week_from.to_string()), line.share_30.clone()))
        .collect();
    assert_eq!(weeks, reported(history, &by(as_of, "week", 30)));
    let named = |lines: &[ShareLine<'_>], days: i32| {
        let mut lines: Vec<_> = lines
            .iter()
            .map(|line| (line.group.map(str::to_owned), share_of(&line.shares, days).clone()))
            .collect();
        lines.sort_by(|a, b| a.0.cmp(&b.0));
        lines
    };
    for days in DAYS {
        assert_eq!(named(&report.symptoms, days), reported(history, &by(as_of, "symptom", days)));
        let expected = reported(history, &by(as_of, "technician", days));
        assert_eq!(named(&report.technicians, days), expected);
    }
}

fn same_parts(history: &History, as_of: NaiveDate, report: &StandingReport<'_>) {
    let key = |line: &PartShares<'_>| (line.part.to_owned(), line.role, line.disposition);
    for days in DAYS {
        let reuse = reuse(history, &by(as_of, "", days));
        let mut expected: Vec<_> = reuse
            .parts
            .iter()
            .flat_map(|part| part.choices.iter().map(move |line| (part, line)))
            .map(|(part, line)| ((part.part.clone(), part.role, line.choice), nowhere(&line.share)))
            .collect();
        let share = |line: &PartShares<'_>| share_of(&line.shares, days).clone();
        let mut lines: Vec<_> = report.parts.iter().map(|line| (key(line), share(line))).collect();
        expected.sort_by(|a, b| a.0.cmp(&b.0));
        lines.sort_by(|a, b| a.0.cmp(&b.0));
        assert_eq!(lines, expected);
    }
}

fn same_orders(history: &History, as_of: NaiveDate, report: &StandingReport<'_>) {
    let mut expected: Vec<(String, Vec<String>, i64, MinuteFigures)> = Vec::new();
    for symptom in paths(history, &by(as_of, "", 60)).symptoms {
        expected.extend(symptom.paths.into_iter().map(|line| {
            (symptom.symptom.clone(), line.checks, line.figures.count, line.figures.minutes)
        }));
    }
    let texts = |checks: &[&str]| checks.iter().map(|check| (*check).to_owned()).collect();
    let mut lines: Vec<(String, Vec<String>, i64, MinuteFigures)> = report
        .orders
        .iter()
        .map(|line| {
            (line.symptom.to_owned(), texts(&line.checks), line.count, line.minutes.clone())
        })
        .collect();
    let order =
        |a: &(String, Vec<String>, i64, MinuteFigures),
         b: &(String, Vec<String>, i64, MinuteFigures)| { (&a.0, &a.1).cmp(&(&b.0, &b.1)) };
    expected.sort_by(order);
    lines.sort_by(order);
    assert_eq!(lines, expected);
}

fn same_efficiency(
    history: &History,
    as_of: NaiveDate,
    (column, lines): (&str, &[EfficiencyLine<'_>]),
) {
    let nowhere = |ratio: &Ratio| Ratio { jobs: String::new(), ..ratio.clone() };
    let report = labor(history, &by(as_of, column, 60)).unwrap();
    let clocked = report.lines.iter().filter(|line| line.efficiency.count > 0);
    let mut expected: Vec<_> = clocked
        .map(|line| {
            let hours = (line.flat_rate_hours, line.clock_hours);
            (line.group.clone(), hours, nowhere(&line.efficiency))
        })
        .collect();
    let mut lines: Vec<_> = lines
        .iter()
        .map(|line| {
            let hours =
                (line.flat_rate_hundredths as f64 / 100.0, line.clock_minutes as f64 / 60.0);
            (line.group.map(str::to_owned), hours, line.efficiency.clone())
        })
        .collect();
    expected.sort_by(|a, b| a.0.cmp(&b.0));
    lines.sort_by(|a, b| a.0.cmp(&b.0));
    assert_eq!(lines, expected, "by {column}");
}

/// Every figure is that of the report that a shop asks for.
fn agrees(history: &History, as_of: NaiveDate) {
    let report = of_one(history, as_of);
    same_comebacks(history, as_of, &report);
    same_parts(history, as_of, &report);
    same_orders(history, as_of, &report);
    same_efficiency(history, as_of, ("technician", &report.efficiency_by_technician));
    same_efficiency(history, as_of, ("symptom", &report.efficiency_by_symptom));
}

/// Two shops in one, with nothing between them.
fn together(mut rows: Rows, other: Rows) -> Rows {
    let far: JobId = 1_000_000;
    let moved = |id: &mut JobId| *id += far;
    let Rows { jobs, checks, parts, labor, operations, returns, .. } = other;
    rows.jobs.extend(jobs.into_iter().map(|mut row| {
        moved(&mut row.id);
        row
    }));
    rows.checks.extend(checks.into_iter().map(|mut row| {
        moved(&mut row.job);
        row
    }));
    rows.parts.extend(parts.into_iter().map(|mut row| {
        [&mut row.id, &mut row.job].into_iter().for_each(moved);
        row
    }));
    rows.labor.extend(labor.into_iter().map(|mut row| {
        moved(&mut row.job);
        row
    }));
    rows.operations.extend(operations.into_iter().map(|mut row| {
        moved(&mut row.job);
        row
    }));
    rows.returns.extend(returns.into_iter().map(|mut row| {
        [&mut row.id, &mut row.earlier, &mut row.later].into_iter().for_each(moved);
        row
    }));
    rows.planned_visits.extend(other.planned_visits.into_iter().map(|mut row| {
        [&mut row.earlier, &mut row.later].into_iter().for_each(moved);
        row
    }));
    rows.part_returns.extend(other.part_returns.into_iter().map(|mut row| {
        [&mut row.part_use, &mut row.later].into_iter().for_each(moved);
        row
    }));
    rows
}

/// The lines without the head: texts may have been seen in another order.
fn lines(report: &StandingReport<'_>) -> serde_json::Value {
    let mut lines = serde_json::to_value(report).unwrap();
    lines.as_object_mut().unwrap().remove("head");
    lines
}

#[test]
fn nothing_has_no_lines() {
    assert!(standing(&[]).cohorts.is_empty());
    let empty = Shop::default().history(facts());
    let report = of_one(&empty, day(10));
    assert_eq!(report.head.shops[0].jobs, 0);
    assert!(report.parts.is_empty() && report.orders.is_empty());
    assert!(report.efficiency_by_symptom.is_empty());
    agrees(&empty, day(10));
}

/// By hand: of four jobs one came back after 20 days and one was told of after 40; the
/// last was closed ten days ago. 1 - 2/3 by day 30, 1 - 2/3 x 1/2 by day 90.
#[test]
fn a_small_shop_by_hand() {
    let mut shop = Shop::default();
    shop.job("engine.tick", 0);
    shop.comeback(20, "workmanship");
    shop.check("oil level", Some(10));
    shop.check("listen", Some(25));
    shop.job("engine.tick", 1);
    shop.told(40, Told::NotFixed, None);
    shop.check("oil level", Some(20));
    shop.check("listen", None);
    shop.job("engine.tick", 2);
    shop.operation("lifters", 100, 100, Payer::Customer);
    shop.labor("Tomas", Activity::Repair, 30);
    shop.labor("Adeyo", Activity::Repair, 60);
    shop.job("engine.tick", 100);
    shop.part("LFT-1", PartRole::Suspect, Disposition::ReplacedUsed);
    let history = shop.history(facts());
    let report = of_one(&history, day(110));
    let shares = &report.symptoms[0].shares;
    assert_eq!((report.symptoms.len(), shares.share_30.count), (1, 4));
    assert_eq!(shares.share_30.returns, 1);
    assert!((shares.share_30.share.unwrap() - 1.0 / 3.0).abs() < 1e-12);
    assert!((shares.share_90.share.unwrap() - 2.0 / 3.0).abs() < 1e-12);
    assert_eq!(shares.share_365.share, None);
    let order = &report.orders[0];
    assert_eq!((order.symptom, order.count), ("engine.tick", 2));
    assert_eq!(order.checks, ["oil level", "listen"]);
    assert_eq!((order.minutes.timed, order.minutes.median), (2, Some(27.5)));
    // 66.67 and 33.33 hundredths: the larger remainder gets the last one.
    let hours: Vec<_> = report
        .efficiency_by_technician
        .iter()
        .map(|line| (line.group.unwrap(), line.flat_rate_hundredths, line.clock_minutes))
        .collect();
    assert_eq!(hours, [("Adeyo", 67, 60), ("Tomas", 33, 30)]);
    assert_eq!(report.parts[0].disposition.as_str(), "replaced");
    agrees(&history, day(110));
}

/// A hundred thousand jobs with planted effects.
#[test]
fn a_large_record_agrees() {
    let history = planted::record();
    let days = history.jobs().closed_day;
    let last = NaiveDate::default() + chrono::Days::new(days[days.len() - 1] as u64);
    for back in [0, 400] {
        agrees(&history, last - chrono::Days::new(back));
    }
}

/// The figures of a group, asked one by one, are those asked together.
#[test]
fn one_by_one_they_are_the_same() {
    let history = planted::record();
    let shop = ShopOfStanding { history: &history, as_of: day(3_000) };
    let (all, each) = (standing(&[shop]), Standing::of(&[shop]));
    assert_eq!((all.cohorts, all.symptoms), (each.cohorts(), each.symptoms()));
    assert_eq!((all.technicians, all.parts), (each.technicians(), each.parts()));
    assert_eq!(all.orders, each.orders());
    assert_eq!(all.efficiency_by_symptom, each.efficiency_by_symptom());
    assert_eq!(all.efficiency_by_technician, each.efficiency_by_technician());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn any_record_agrees(
        world in world(40), as_of in 0_u64..300, linked in proptest::option::of(0_u64..60), week_start in 1_u8..=7,
    ) {
        let facts = ShopFacts { links_from: linked.map(day), week_start, ..facts() };
        agrees(&History::new(facts, world.rows(None), 1).unwrap(), day(as_of));
    }

    #[test]
    fn two_shops_are_the_sum_of_both(a in world(24), b in world(24), as_of in 0_u64..300) {
        let history = |rows| History::new(facts(), rows, 1).unwrap();
        let (north, south) = (history(a.rows(None)), history(b.rows(None)));
        let both = history(together(a.rows(None), b.rows(None)));
        let as_of = day(as_of);
        let shops = [&north, &south].map(|history| ShopOfStanding { history, as_of });
        prop_assert_eq!(lines(&standing(&shops)), lines(&of_one(&both, as_of)));
    }
}
