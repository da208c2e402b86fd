//! The weekly review's chart, movers, costs and what is too recent, on records
//! whose numbers are known by hand.

use analytics::comeback::By;
use analytics::history::{History, PayBackRow, Rows};
use analytics::labor::ComebackCost;
use analytics::weekly::{
    Alarm, AlarmSource, Answer, ChartRule, MoverAnswer, Outside, WeekAnswer, WeekQuery,
    WeeklyReview, weekly,
};
use analytics::words::{Activity, Disposition, LinkState, PartRole, Told};
use chrono::NaiveDate;
use proptest::prelude::*;

use crate::alarms::{Kind, WEEKS, none, written};
use crate::shop::{Shop, day, facts, selected};
use crate::world::world;

fn near(ours: f64, theirs: f64) {
    let room = 1e-9 * theirs.abs().max(1e-3);
    assert!((ours - theirs).abs() <= room, "{ours} against {theirs}");
}

/// On the fourth day of each week so many jobs are handed over, and so many of
/// them come back ten days later.
fn weeks_of(counts: impl IntoIterator<Item = (u64, u64)>) -> Shop {
    let mut shop = Shop::default();
    for (week, (returning, jobs)) in (0_u64..).zip(counts) {
        for number in 0..jobs {
            shop.job("engine.tick", week * 7 + 3);
            if number < returning {
                shop.comeback(10, "workmanship");
            }
        }
    }
    shop
}

/// The review at the end of a week.
fn review(history: &History, week: u64) -> WeeklyReview {
    weekly(
        history,
        &WeekQuery { as_of: day(week * 7 + 6), week_from: day(week * 7), window_days: None },
    )
}

/// The review in which the last of the weeks is new on the chart: with a window
/// of 60 days, the ninth after it.
fn charted(counts: &[(u64, u64)]) -> WeeklyReview {
    review(&weeks_of(counts.iter().copied()).history(facts()), counts.len() as u64 + 8)
}

fn of_sixty(returning: impl IntoIterator<Item = u64>) -> Vec<(u64, u64)> {
    returning.into_iter().map(|returning| (returning, 60)).collect()
}

/// One and three by turns, so that the week after these has a baseline of 52.
fn by_turns(weeks: usize) -> Vec<u64> {
    [1, 3].into_iter().cycle().take(weeks).collect()
}

fn rule<'a>(review: &'a WeeklyReview, name: &str) -> &'a ChartRule {
    review.chart.rules.iter().find(|rule| rule.rule == name).unwrap()
}

const POINT: &str = "one beyond three sigma";
const RUN: &str = "nine in a row on one side";

/// By hand: the center is 104 of 3120; a week of 60 deviates by sqrt(1/30 x
/// 29/30 / 60) = .0231741; one and three lie .7192 of it off, neighbors twice
/// that, so sigma z is 1.4384 / 1.128 = 1.2752. Exact tails by fractions
/// (Python 3).
#[test]
fn the_chart_by_hand() {
    for (returning, z, tail, raised) in [
        (7, 2.82, None, false),
        (8, 3.384, Some(0.000_829_994_066_962_854_8), true),
        (12, 5.64, Some(5.917_005_053_543_852e-7), true),
    ] {
        let review = charted(&of_sixty(by_turns(52).into_iter().chain([returning])));
        let chart = &review.chart;
        assert_eq!((chart.baseline_weeks, chart.baseline.count), (52, 3_120));
        near(chart.baseline.share.unwrap(), 1.0 / 30.0);
        near(chart.sigma_z.unwrap(), 1.275_168_355_014_319_8);
        near(chart.expected_per_week.unwrap(), 2.0);
        let newest = &chart.points[0];
        assert_eq!((newest.week_from, chart.points.len()), (day(52 * 7), 12));
        assert_eq!((newest.share.returns, newest.share.count), (returning as i64, 60));
        near(newest.z.unwrap(), z);
        assert_eq!(newest.low, Some(0.0));
        near(newest.high.unwrap(), 0.121_985_815_602_836_89);
        // Of seven inside the limits the chance is told as well.
        near(newest.probability.unwrap(), tail.unwrap_or(0.003_758_449_753_129_268));
        let outside = raised.then_some(Outside { above: true, by_luck: false });
        assert_eq!(newest.outside(), outside);
        let rule = rule(&review, POINT);
        assert_eq!((rule.armed, rule.met, rule.raised), (true, tail.is_some(), raised));
        assert_eq!(rule.probability.is_some(), tail.is_some());
        if let (Some(ours), Some(theirs)) = (rule.probability, tail) {
            near(ours, theirs);
        }
        let answer = if raised { Answer::MoreThanUsual } else { Answer::WithinTheUsual };
        assert_eq!(chart.answer, answer);
        let alarms: Vec<&Alarm> =
            review.alarms.iter().filter(|alarm| alarm.source == AlarmSource::Chart).collect();
        assert_eq!(alarms.len(), usize::from(raised));
    }
}

/// Half a year of none, half a year of one in twenty: neighbors hardly differ,
/// but the limits are never narrower than chance: sigma z is 1, and the upper
/// limit .025 + 3 sqrt(.025 x .975 / 20) = .1297. Three are beyond it; by chance
/// three or more of 20 at 2.5 % are 1.3 % of weeks (fractions, Python 3).
#[test]
fn what_chance_does_often_is_no_alarm() {
    let counts: Vec<(u64, u64)> =
        [0; 26].into_iter().chain([1; 26]).chain([3]).map(|back| (back, 20)).collect();
    let review = charted(&counts);
    let point = rule(&review, POINT);
    assert_eq!((point.met, point.raised), (true, false));
    near(review.chart.sigma_z.unwrap(), 1.0);
    near(review.chart.points[0].high.unwrap(), 0.129_731_800_328_267_06);
    near(point.probability.unwrap(), 0.012_955_285_058_659_321);
    let newest = &review.chart.points[0];
    near(newest.probability.unwrap(), 0.012_955_285_058_659_321);
    assert_eq!(newest.outside(), Some(Outside { above: true, by_luck: true }));
    // Half a comeback a week is too little to look for runs.
    assert_eq!((rule(&review, RUN).armed, rule(&review, RUN).met), (false, false));
    assert_eq!(review.chart.answer, Answer::WithinTheUsual);
}

/// Nine weeks of one kind after weeks by turns. The chance of each week to lie
/// on that side, to the ninth power (fractions, Python 3): the middle of few
/// comebacks lies off the mean, so nine are not always enough.
#[test]
fn a_run_counts_where_chance_seldom_makes_it() {
    for (turns, last, center, chance, answer) in [
        ([1, 3], 3, (112, 3_120), 0.000_116_759_238_234_780_82, Answer::MoreThanUsual),
        ([4, 2], 2, (148, 3_120), 0.000_814_283_933_572_739_8, Answer::FewerThanUsual),
        ([4, 1], 1, (118, 3_120), 0.010_516_672_115_281_345, Answer::WithinTheUsual),
    ] {
        let before = turns.into_iter().cycle().take(91);
        let mut review = charted(&of_sixty(before.chain([last; 9])));
        assert_eq!((review.chart.baseline.returns, review.chart.baseline.count), center);
        let run = rule(&review, RUN);
        assert_eq!((run.armed, run.met, run.count), (true, true, 540));
        near(run.probability.unwrap(), chance);
        assert_eq!((run.raised, review.chart.answer), (answer != Answer::WithinTheUsual, answer));
        // Eight make no run.
        review = charted(&of_sixty(turns.into_iter().cycle().take(91).chain([last; 8])));
        assert_eq!((rule(&review, RUN).met, rule(&review, RUN).probability), (false, None));
    }
    // 96 in 52 weeks are fewer than two a week.
    let before = [3, 1].into_iter().cycle().take(91);
    let review = charted(&of_sixty(before.chain([1; 9])));
    assert_eq!((rule(&review, RUN).armed, review.chart.answer), (false, Answer::WithinTheUsual));
}

#[test]
fn limits_take_half_a_year_of_closed_weeks() {
    let early = charted(&of_sixty(by_turns(26)));
    assert_eq!((early.chart.baseline_weeks, early.chart.answer), (25, Answer::NotYet));
    assert!(early.chart.points.iter().all(|point| point.z.is_none() && point.high.is_none()));
    let known = charted(&of_sixty(by_turns(27)));
    assert_eq!((known.chart.baseline_weeks, known.chart.answer), (26, Answer::WithinTheUsual));
    // Weeks without jobs are left out, and make no limits.
    let gaps = charted(
        &[by_turns(26), vec![0; 4], by_turns(1)]
            .concat()
            .iter()
            .map(|back| (*back, if *back == 0 { 0 } else { 60 }))
            .collect::<Vec<_>>(),
    );
    assert_eq!((gaps.chart.baseline_weeks, gaps.chart.answer), (26, Answer::WithinTheUsual));
    // Nothing ever came back: nothing to draw limits from.
    let none = charted(&of_sixty([0; 53]));
    assert_eq!((none.chart.sigma_z, none.chart.answer), (None, Answer::NotYet));
}

/// A week is new on the chart once: in the middle of the next week, before
/// its successor's window has ended, it is not raised again.
#[test]
fn a_point_is_raised_once() {
    let counts = of_sixty(by_turns(52).into_iter().chain([12, 2]));
    let history = weeks_of(counts).history(facts());
    let at = |as_of: u64, week: u64| {
        let query = WeekQuery { as_of: day(as_of), week_from: day(week * 7), window_days: None };
        rule(&weekly(&history, &query), POINT).clone()
    };
    assert!(at(61 * 7 + 6, 61).raised);
    // Closed up to day 6 of week 52, its last window ends on day 3 of week 61.
    assert_eq!((at(61 * 7 + 2, 61).met, at(61 * 7 + 3, 61).raised), (false, true));
    let next = at(62 * 7 + 2, 62);
    assert_eq!((next.met, next.raised), (true, false));
}

/// A quarter of so many, of which so many came back, after a year of so many.
fn moved(recent: (u64, u64), before: (u64, u64)) -> WeeklyReview {
    let spread = |(returning, jobs): (u64, u64), weeks: u64| {
        let part = move |count: u64, week: u64| count * (week + 1) / weeks - count * week / weeks;
        (0..weeks).map(move |week| (part(returning, week), part(jobs, week)))
    };
    let counts: Vec<(u64, u64)> = spread(before, 52).chain(spread(recent, 13)).collect();
    charted(&counts)
}

/// The week that looks bad and is not: 7 of 95 after 33 of 805. Fisher's exact
/// p = .1804 (fractions, Python 3) and Newcombe's interval by his formula.
#[test]
fn a_move_that_chance_makes_is_no_evidence() {
    let review = moved((7, 95), (33, 805));
    let movers = &review.movers;
    // Symptom, system and technician are the same jobs.
    assert_eq!((movers.tested, movers.too_few, movers.groups.len()), (3, 0, 3));
    let columns: Vec<By> = movers.groups.iter().map(|mover| mover.column).collect();
    assert_eq!(columns, [By::Symptom, By::System, By::Technician]);
    assert_eq!((movers.before_to, movers.recent_from), (Some(day(363)), Some(day(364))));
    assert_eq!(movers.recent_to, Some(day(364 + 90)));
    for mover in &movers.groups {
        assert_eq!((mover.recent.returns, mover.recent.count), (7, 95));
        assert_eq!((mover.before.returns, mover.before.count), (33, 805));
        near(mover.p, 0.180_350_206_709_229_2);
        near(mover.q, mover.p);
        near(mover.difference, 7.0 / 95.0 - 33.0 / 805.0);
        let interval = mover.interval.as_ref().unwrap();
        near(interval.low, -0.008_119_378_260_531_121);
        near(interval.high, 0.104_318_000_800_299_9);
        assert_eq!(mover.answer, MoverAnswer::NoEvidence);
    }
    assert!(review.alarms.iter().all(|alarm| alarm.source != AlarmSource::Mover));
}

/// 9 of 38 after 4 of 96: Fisher's exact p = .00155 (fractions, Python 3).
#[test]
fn a_move_beyond_chance_is_raised() {
    let review = moved((9, 38), (4, 96));
    for mover in &review.movers.groups {
        near(mover.p, 0.001_554_923_565_049_753_2);
        assert_eq!(mover.answer, MoverAnswer::MoreThanBefore);
    }
    assert_eq!(review.answer, WeekAnswer::LookIntoIt);
    let raised = review.alarms.iter().filter(|alarm| alarm.source == AlarmSource::Mover);
    assert_eq!(raised.map(|alarm| alarm.count).collect::<Vec<_>>(), [38, 38, 38]);
    // Nine jobs in the quarter say nothing.
    let few = moved((9, 9), (4, 96)).movers;
    assert_eq!((few.tested, few.too_few, few.groups.len()), (0, 3, 0));
}

/// Fisher's exact p of .009998 is a move, one of .010090 is none (fractions,
/// Python 3): the bound is .01.
#[test]
fn a_move_is_one_below_one_in_a_hundred() {
    for (recent, before, p, answer) in [
        ((9, 60), (3, 100), 0.009_998_303_536_501_298, MoverAnswer::MoreThanBefore),
        ((6, 30), (4, 100), 0.010_089_843_284_102_307, MoverAnswer::NoEvidence),
    ] {
        let review = moved(recent, before);
        assert_eq!(review.movers.groups.len(), 3);
        for mover in &review.movers.groups {
            near(mover.p, p);
            near(mover.q, p);
            assert_eq!(mover.answer, answer);
        }
    }
}

/// A week's arrivals at a Poisson p of .01999956 are fewer than usual, at
/// .02067210 they are not (twice the smaller tail, 50 digits, Python 3): the bound
/// is .02.
#[test]
fn a_week_differs_below_one_in_fifty() {
    for (usual, seen, p, answer) in [
        (16, 7, 0.019_999_561_906_209_583, Answer::FewerThanUsual),
        (10, 3, 0.020_672_101_351_851_44, Answer::WithinTheUsual),
    ] {
        // Each week's comebacks are of the week before.
        let mut shop = weeks_of((0..56).map(|_| (usual, 40)));
        let mut left = seen;
        shop.rows.returns.retain(|link| {
            let in_week = (day(55 * 7)..day(56 * 7)).contains(&link.later_opened_on);
            left -= i64::from(in_week);
            !in_week || left >= 0
        });
        let arrivals = review(&shop.history(facts()), 55).arrivals;
        assert_eq!(arrivals.observed, seen);
        near(arrivals.expected.unwrap(), usual as f64);
        near(arrivals.probability.unwrap(), p);
        assert_eq!(arrivals.answer, answer);
    }
}

/// A quarter is held against the 364 days before it, no day more.
#[test]
fn a_quarter_is_held_against_the_year_before_it() {
    let mut shop = weeks_of((0..66).map(|_| (0, 10)));
    // The quarter begins on day 371.
    for closed in [6, 7] {
        shop.job("engine.tick", closed);
    }
    let movers = review(&shop.history(facts()), 66 + 8).movers;
    assert_eq!((movers.recent_from, movers.before_from), (Some(day(371)), Some(day(7))));
    for mover in &movers.groups {
        assert_eq!((mover.recent.count, mover.before.count), (130, 521));
    }
    assert_eq!(movers.groups.len(), 3);
}

/// Comebacks of the technician's own repairs of comebacks are no first repairs.
#[test]
fn a_technician_s_move_counts_first_repairs() {
    let mut shop = weeks_of((0..65).map(|_| (0, 2)));
    let first = shop.job("engine.tick", 64 * 7 + 3);
    let again = shop.job("engine.tick", 64 * 7 + 3);
    shop.link(first, again, day(64 * 7 + 3), "workmanship");
    let review = review(&shop.history(facts()), 73);
    let recent = |column: By| {
        let movers = review.movers.groups.iter();
        movers.filter(|mover| mover.column == column).map(|mover| mover.recent.count).next()
    };
    assert_eq!((recent(By::Symptom), recent(By::Technician)), (Some(28), Some(27)));
}

/// Every week's ten jobs lose one at an age of ten days. Of the last 60 days
/// nine weeks are too recent; the newest, three days old, still has its one to
/// lose (five engine jobs at 52 of 260). The expected of the week is one, from
/// 52 returns: its variance is 25 x 52 / 260^2, the inverse of 52.
#[test]
fn what_is_too_recent_is_counted_with_what_will_come() {
    let mut shop = Shop::default();
    for week in 0..60_u64 {
        for number in 0..10 {
            let symptom = if number % 2 == 1 { "brakes.noise" } else { "engine.tick" };
            shop.job(symptom, week * 7 + 3);
            if number == 0 {
                shop.comeback(10, "workmanship");
            }
        }
    }
    let history = shop.history(facts());
    let review = review(&history, 55);
    let recent = &review.too_recent;
    assert_eq!((recent.count, recent.returns, recent.weeks.len()), (90, 8, 9));
    near(recent.expected.unwrap(), 1.0);
    let newest = &recent.weeks[0];
    assert_eq!((newest.week_from, newest.count, newest.returns), (day(385), 10, 0));
    near(newest.expected.unwrap(), 1.0);
    near(recent.weeks[1].expected.unwrap() + 1.0, 1.0);
    let as_of = review.head.as_of;
    assert_eq!(selected(&history, &recent.jobs, as_of), 90);
    assert_eq!(selected(&history, &format!("{}&returned=true", recent.jobs), as_of), 8);
    for line in &recent.weeks {
        assert_eq!(selected(&history, &line.jobs, as_of), line.count);
    }
    near(review.arrivals.expected_standard_error.unwrap(), (1.0_f64 / 52.0).sqrt());
    // Garwood's limits of one event: 1 - exp(-m) = .025 below, (1 + m) exp(-m) =
    // .025 above, solved by halving (Python 3); published tables have .0253 and
    // 5.572.
    let interval = review.arrivals.observed_interval.as_ref().unwrap();
    near(interval.low, 0.025_317_807_984_289_897);
    assert!((interval.high - 5.571_643_390_938_899).abs() < 1e-6);
}

/// By hand, in minor units: an hour at 90.00, parts 4 x 6.50 and 2.5 x 1.99
/// (30.98), 45.00 sent out, 60.00 besides, less 25.00 paid back by day 60 and
/// 10.00 more by day 90.
#[test]
fn the_week_s_comebacks_have_their_price() {
    let mut shop = Shop::default();
    let first = shop.job("engine.tick", 10);
    let other = shop.job("engine.tick", 11);
    shop.job("engine.tick", 12);
    shop.told(26, Told::NotFixed, None);
    let back = shop.job("engine.tick", 40);
    shop.last_job().opened_on = day(38);
    shop.last_job().sublet_cost_minor = 4_500;
    shop.labor("Mirela", Activity::Repair, 60);
    for (quantity, cost) in [(400, 650), (250, 199)] {
        let part = shop.part("LFT-1", PartRole::Suspect, Disposition::ReplacedNew);
        (part.quantity_hundredths, part.unit_cost_minor) = (quantity, Some(cost));
    }
    shop.link(first, back, day(38), "parts failure");
    shop.link(other, 900_000, day(39), "workmanship");
    for (on, amount_minor) in [(60, 2_500), (90, 1_000)] {
        shop.rows.pay_backs.push(PayBackRow { job: back, paid_on: day(on), amount_minor });
    }
    let history = shop.history(facts());
    let cost = |as_of: u64| {
        weekly(&history, &WeekQuery { as_of: day(as_of), week_from: day(35), window_days: None })
            .cost
    };
    let amounts = |cost: &ComebackCost| {
        [cost.labor_minor, cost.parts_minor, cost.sublet_minor, cost.extra_minor, cost.total_minor]
            .map(Option::unwrap)
    };
    let early = cost(60);
    assert_eq!((early.total.count, early.open, early.lines.len()), (1, 1, 2));
    assert_eq!(amounts(&early.total), [9_000, 3_098, 4_500, 6_000, 20_098]);
    // The latest comeback first: the one whose order is open has no cost yet.
    assert_eq!(early.lines[0].cost, None);
    assert_eq!(early.lines[1].cost.as_ref(), Some(&early.total));
    assert_eq!(selected(&history, &early.jobs, day(60)), 1);
    assert_eq!(cost(90).total.total_minor, Some(19_098));
    // On day 39 it is not handed over.
    let open = cost(39);
    assert_eq!((open.total.count, open.open, open.total.total_minor), (0, 2, Some(0)));
}

/// The record as it was at the end of a day: what was closed, opened, told and
/// paid by then.
fn cut(mut rows: Rows, as_of: NaiveDate) -> Rows {
    rows.jobs.retain(|job| job.closed_on <= as_of);
    for job in &mut rows.jobs {
        job.told = job.told.take().filter(|told| told.told_on <= as_of);
    }
    rows.returns.retain(|link| link.later_opened_on <= as_of);
    rows.planned_visits.retain(|visit| visit.later_opened_on <= as_of);
    rows.part_returns.retain(|back| back.later_opened_on <= as_of);
    rows.pay_backs.retain(|paid| paid.paid_on <= as_of);
    rows
}

fn small() -> Shop {
    written(Kind { per_week: 40, share: 0.08, seasonal: true, lots: 8 }, 7, none)
}

/// A review at A of today's record is the review of the record cut at A, on
/// the last day of a week and inside one.
#[test]
fn a_review_at_a_day_is_the_review_of_the_record_of_that_day() {
    let shop = small();
    let whole = shop.clone().history(facts());
    for as_of in [20 * 7 + 6, 40 * 7 + 2, 70 * 7 + 6, 99 * 7 + 4] {
        let then = History::new(facts(), cut(shop.rows.clone(), day(as_of)), 7).unwrap();
        for week_from in [as_of - as_of % 7, as_of - as_of % 7 - 35] {
            let query =
                WeekQuery { as_of: day(as_of), week_from: day(week_from), window_days: None };
            let review = weekly(&whole, &query);
            let cut = weekly(&then, &query);
            assert!(review == cut, "{:?} against {:?}", review.arrivals, cut.arrivals);
            let known = review.chart.answer != Answer::NotYet;
            assert_eq!(known, as_of > 200, "{as_of}");
        }
    }
}

/// Days at the ends of the calendar are answered, and at once.
#[test]
fn any_day_may_be_asked_for() {
    let history = small().history(facts());
    let days = [NaiveDate::MIN, day(0), day(500), NaiveDate::MAX];
    for (as_of, week_from) in days.iter().flat_map(|one| days.map(|other| (*one, other))) {
        let review = weekly(&history, &WeekQuery { as_of, week_from, window_days: None });
        if as_of < week_from {
            assert_eq!((review.answer, review.alarms.len()), (WeekAnswer::NotYet, 0));
        }
        let closed: i64 = review.too_recent.weeks.iter().map(|line| line.count).sum();
        assert_eq!(closed, review.too_recent.count);
    }
    let empty = Shop::default().history(facts());
    let query = WeekQuery { as_of: day(500), week_from: day(497), window_days: None };
    assert_eq!(weekly(&empty, &query).answer, WeekAnswer::NotYet);
}

#[test]
fn the_order_of_rows_never_matters() {
    let shop = small();
    let mut turned = shop.rows.clone();
    turned.jobs.reverse();
    turned.parts.reverse();
    turned.returns.reverse();
    let (one, other) = (shop.history(facts()), History::new(facts(), turned, 7).unwrap());
    for week in [30, 80, WEEKS - 1] {
        assert_eq!(review(&one, week), review(&other, week));
    }
}

#[test]
fn every_figure_opens_to_its_jobs() {
    let history = small().history(facts());
    for week in [45, 80, WEEKS - 1] {
        let review = review(&history, week);
        let as_of = review.head.as_of;
        let count = |jobs: &str| selected(&history, jobs, as_of);
        let arrivals = &review.arrivals;
        assert_eq!(count(&arrivals.jobs), arrivals.observed);
        for line in &arrivals.systems {
            assert_eq!(count(&line.jobs), line.observed, "{:?}", line.system);
        }
        let movers = review.movers.groups.iter().flat_map(|mover| [&mover.recent, &mover.before]);
        let points = review.chart.points.iter().map(|point| &point.share);
        let shares: Vec<_> = movers.chain(points).chain([&review.chart.baseline]).collect();
        assert!(shares.len() > 12);
        for share in shares {
            assert_eq!(count(&share.jobs), share.count);
            assert_eq!(count(&format!("{}&returned=true", share.jobs)), share.returns);
        }
        assert_eq!(count(&review.cost.jobs), review.cost.total.count);
        assert_eq!(review.cost.total.count + review.cost.open, review.cost.lines.len() as i64);
        for alarm in &review.alarms {
            assert_eq!(count(&alarm.jobs), alarm.count);
        }
        let systems: i64 = arrivals.systems.iter().map(|line| line.observed).sum();
        assert_eq!(systems, arrivals.observed);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Any record at all, at any day, is reviewed without a panic; it is the
    /// review of the record cut there. Orders are opened and handed over on one
    /// day, so that an order open at the cut is nowhere in either.
    #[test]
    fn any_record_is_cut_at_the_as_of(
        any in world(24), week in 0_u64..24, into in 0_u64..30, window in -5_i32..90,
    ) {
        let mut rows = any.rows(None);
        let closed: std::collections::BTreeMap<_, _> =
            rows.jobs.iter().map(|job| (job.id, job.closed_on)).collect();
        rows.jobs.iter_mut().for_each(|job| job.opened_on = job.closed_on);
        for link in &mut rows.returns {
            link.later_opened_on = closed.get(&link.later).copied().unwrap_or(link.later_opened_on);
        }
        // Nothing comes back before it was handed over.
        rows.returns.retain(|link| {
            closed.get(&link.earlier).is_none_or(|handed_over| link.later_opened_on >= *handed_over)
        });
        for visit in &mut rows.planned_visits {
            visit.later_opened_on =
                closed.get(&visit.later).copied().unwrap_or(visit.later_opened_on);
        }
        let query = WeekQuery {
            as_of: day(week * 7 + into),
            week_from: day(week * 7),
            window_days: Some(window),
        };
        let whole = History::new(facts(), rows.clone(), 7).unwrap();
        let then = History::new(facts(), cut(rows, query.as_of), 7).unwrap();
        prop_assert!(weekly(&whole, &query) == weekly(&then, &query));
    }
}

/// Six a week as ever, and then a week whose six nobody has decided: confirmed
/// they are the usual, left out they are six too few. No answer until then.
#[test]
fn what_nobody_decided_turns_no_answer() {
    let answer = |state: LinkState| {
        let mut shop = weeks_of(std::iter::repeat_n((6, 60), 60));
        for link in &mut shop.rows.returns {
            if link.later_opened_on > day(59 * 7 - 1) {
                link.state = state;
            }
        }
        review(&shop.history(facts()), 59).answer
    };
    assert_eq!(answer(LinkState::Confirmed), WeekAnswer::WithinTheUsual);
    assert_eq!(answer(LinkState::Rejected), WeekAnswer::LookIntoIt);
    assert_eq!(answer(LinkState::Proposed), WeekAnswer::UndecidedProposals);
}
