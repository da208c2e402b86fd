//! Attendance, told returns, planned second visits, what failed here, and what
//! was paid back.

use analytics::comeback::{ComebackLine, ComebackReport, comebacks};
use analytics::figure::Query;
use analytics::history::{History, PayBackRow};
use analytics::labor::{LaborLine, LaborReport, labor};
use analytics::outcomes::OutcomeLine;
use analytics::path::paths;
use analytics::select::{Selector, select};
use analytics::slice::slice;
use analytics::weekly::{WeekQuery, weekly};
use analytics::words::{Activity, Curable, Disposition, Outcome, PartRole, Payer, Told};
use proptest::prelude::*;

use crate::shop::{Shop, day, facts, selected, until};
use crate::world::world;

fn near(ours: Option<f64>, theirs: f64) {
    let ours = ours.unwrap();
    assert!((ours - theirs).abs() <= 1e-12, "{ours} against {theirs}");
}

fn labor_by(history: &History, by: &str, query: &Query) -> LaborReport {
    labor(history, &Query { by: Some(by.to_owned()), ..query.clone() }).unwrap()
}

fn line<'a>(report: &'a LaborReport, group: &str) -> &'a LaborLine {
    report.lines.iter().find(|line| line.group.as_deref() == Some(group)).unwrap()
}

/// A technician's week, by hand: there 40 h, on jobs 35 h, flat-rate 42 h;
/// 42/35, 35/40, 42/40.
#[test]
fn a_week_of_one_technician() {
    let mut shop = Shop::default();
    for number in 0..5_u64 {
        shop.job("engine.tick", 4 + number);
        shop.operation("lifters", 840, 840, Payer::Customer);
        shop.labor("Mirela", Activity::Repair, 7 * 60);
        shop.attended("Mirela", 4 + number, 8);
    }
    let history = shop.history(facts());
    let week = Query { from: Some(day(4)), to: Some(day(10)), ..until(30) };
    for (by, group) in [("technician", "Mirela"), ("week", "2026-01-05")] {
        let report = labor_by(&history, by, &week);
        for line in [&report.total, line(&report, group)] {
            assert_eq!(line.attended_hours, Some(40.0), "{by}");
            near(line.efficiency.value, 1.2);
            near(line.productivity, 0.875);
            near(line.overall, 1.05);
        }
    }
    for by in ["operation", "symptom", "payer"] {
        let report = labor_by(&history, by, &week);
        assert!(report.total.productivity.is_some());
        assert!(report.lines.iter().all(|line| {
            (line.attended_hours, line.productivity, line.overall) == (None, None, None)
        }));
    }
}

/// Time on the clock counts where it was started, on open jobs too; flat-rate
/// where the job was closed, on the clock or not; comebacks credit none.
#[test]
fn hours_of_a_period_are_counted_whatever_became_of_the_job() {
    let mut shop = Shop::default();
    let first = shop.job("engine.tick", 10);
    shop.operation("lifters", 300, 300, Payer::Customer);
    shop.labor("Mirela", Activity::Repair, 120);
    shop.job("engine.tick", 11);
    shop.operation("cover", 100, 100, Payer::Customer);
    let back = shop.job("engine.tick", 12);
    shop.operation("lifters", 300, 300, Payer::OwnGuarantee);
    shop.link(first, back, day(12), "workmanship");
    shop.job("engine.tick", 13);
    shop.labor("Mirela", Activity::Diagnosis, 60);
    let open = shop.rows.jobs.pop().unwrap();
    for (technician, on) in [("Mirela", 10), ("Mirela", 13), ("Ilse", 10), ("Mirela", 90)] {
        shop.attended(technician, on, 4);
    }
    let history = shop.history(facts());
    assert_eq!(history.unclosed_labor()[0].job, open.id);
    let report = labor_by(&history, "technician", &until(60));
    let mirela = line(&report, "Mirela");
    assert_eq!((mirela.attended_hours, mirela.started_clock_hours), (Some(8.0), Some(3.0)));
    near(mirela.productivity, 3.0 / 8.0);
    near(mirela.overall, 4.0 / 8.0);
    // Somebody who was there and closed nothing.
    let ilse = line(&report, "Ilse");
    assert_eq!((ilse.count, ilse.attended_hours, ilse.productivity), (0, Some(4.0), Some(0.0)));
    near(report.total.overall, 4.0 / 12.0);
}

#[test]
fn no_attendance_makes_a_dash() {
    let mut shop = Shop::default();
    shop.job("engine.tick", 10);
    shop.labor("Mirela", Activity::Repair, 60);
    let report = labor_by(&shop.history(facts()), "technician", &until(60));
    let mirela = line(&report, "Mirela");
    assert_eq!((mirela.attended_hours, mirela.productivity, mirela.overall), (None, None, None));
    // No flat-rate hours stand on the job: neither quick nor slow.
    assert_eq!((mirela.efficiency.value, mirela.clock_hours), (None, 1.0));
}

fn comeback_report(history: &History, as_of: u64) -> ComebackReport {
    comebacks(history, &Query { by: Some("technician".to_owned()), ..until(as_of) }).unwrap()
}

fn counted(report: &ComebackReport) -> Vec<(&ComebackLine, i32)> {
    let counted = report.returns.iter().filter(|line| line.counted);
    counted.map(|line| (line, line.days)).collect()
}

#[test]
fn a_told_return_is_a_return_and_shown_as_told() {
    let mut shop = Shop::default();
    shop.job("engine.tick", 10);
    shop.told(20, Told::FixedElsewhere, Some("misdiagnosis"));
    for number in 0..9 {
        shop.job("engine.tick", 11 + number);
    }
    let history = shop.history(facts());
    let report = comeback_report(&history, 200);
    let total = &report.total;
    assert_eq!((total.count, total.share.returns, total.told), (10, 1, 1));
    near(total.share.share, 0.1);
    assert_eq!((total.closed_window.returns, total.possible.returns), (1, 1));
    assert_eq!((report.chains.chains, report.chains.visits), (1, 0));
    let back = &report.returns[0];
    assert_eq!((back.told, back.later.as_ref()), (Some(Told::FixedElsewhere), None));
    assert_eq!((back.returned_on, back.days, back.visit, back.counted), (day(30), 20, 1, true));
    assert_eq!(back.reason.as_deref(), Some("misdiagnosis"));
    // Not known yet, and no return yet.
    let before = comeback_report(&history, 29);
    assert_eq!((before.total.share.returns, before.returns.len()), (0, 0));
    let jobs = select(&history, &Selector::parse("told=true").unwrap(), day(200), 60);
    assert_eq!(
        (jobs.len(), jobs[0].told, jobs[0].days_to_return),
        (1, Some(Told::FixedElsewhere), Some(20))
    );
    let sliced = slice(&history, &until(200)).unwrap();
    assert_eq!(sliced.lines[0].closed_window.returns, 1);
    let path = &paths(&history, &until(200)).symptoms[0];
    assert_eq!((path.all.comebacks.returns, path.all.misdiagnosed.returns), (1, 1));
}

/// Seen and told, the first of the two counts, once; on one day the vehicle
/// itself.
#[test]
fn of_told_and_seen_the_first_counts_once() {
    for (told, seen, days, is_told) in
        [(20, 30, 20, true), (30, 20, 20, false), (20, 20, 20, false)]
    {
        let mut shop = Shop::default();
        shop.job("engine.tick", 10);
        shop.told(told, Told::NotFixed, None);
        shop.comeback(seen, "workmanship");
        let report = comeback_report(&shop.history(facts()), 200);
        assert_eq!((report.total.share.returns, report.total.told), (1, i64::from(is_told)));
        let counted = counted(&report);
        assert_eq!((counted.len(), counted[0].1), (1, days));
        assert_eq!(counted[0].0.told.is_some(), is_told);
        assert_eq!((report.returns.len(), report.chains.chains, report.chains.visits), (2, 1, 1));
    }
}

#[test]
fn a_told_return_arrives_in_its_week() {
    let mut shop = Shop::default();
    shop.job("engine.tick", 10);
    shop.told(11, Told::NotFixed, None);
    let history = shop.history(facts());
    let query = WeekQuery { as_of: day(27), week_from: day(21), window_days: None };
    let review = weekly(&history, &query);
    assert_eq!((review.arrivals.observed, review.arrivals.told), (1, 1));
    assert_eq!((review.comebacks.len(), review.comebacks[0].told), (1, Some(Told::NotFixed)));
    let before = weekly(&history, &WeekQuery { week_from: day(14), ..query });
    assert_eq!((before.arrivals.observed, before.comebacks.len()), (0, 0));
}

#[test]
fn a_planned_second_visit_is_never_a_return() {
    let mut shop = Shop::default();
    let first = shop.job("engine.tick", 10);
    shop.last_job().outcome = Outcome::PlannedSecondVisit;
    shop.part("LFT-1", PartRole::Suspect, Disposition::CleanedReused);
    let waits = shop.job("engine.tick", 11);
    shop.last_job().outcome = Outcome::PlannedSecondVisit;
    let repaired = shop.job("engine.tick", 12);
    let (second, third) = (shop.job("engine.tick", 20), shop.job("engine.tick", 21));
    shop.link(first, second, day(20), "parts failure");
    shop.link(repaired, third, day(21), "parts failure");
    shop.planned(first, second, day(20));
    shop.planned(repaired, third, day(21));
    let history = shop.history(facts());
    assert_ne!(first, waits);
    let report = comeback_report(&history, 200);
    assert_eq!((report.total.share.returns, report.returns.len()), (0, 0));
    let planned = |lines: &[OutcomeLine]| {
        let line = lines.iter().find(|line| line.outcome == Outcome::PlannedSecondVisit).unwrap();
        (line.count, line.second_visits)
    };
    assert_eq!(planned(&report.outcomes), (2, Some(1)));
    assert_eq!(planned(&comeback_report(&history, 19).outcomes), (2, Some(0)));
    assert_eq!(planned(&paths(&history, &until(200)).outcomes), (2, Some(1)));
    assert_eq!(planned(&paths(&history, &until(200)).symptoms[0].outcomes), (2, Some(1)));
    let labor = labor_by(&history, "technician", &until(200));
    assert_eq!((planned(&labor.outcomes), labor.comebacks.count), ((2, Some(1)), 0));
    for line in &report.outcomes {
        assert_eq!(selected(&history, &line.jobs, day(200)), line.count);
    }
    let made = "outcome=planned_second_visit&second_visit=true";
    assert_eq!(selected(&history, made, day(200)), 1);
    let query = WeekQuery { as_of: day(200), week_from: day(7), window_days: None };
    let closed = weekly(&history, &query).closed;
    let seconds: Vec<_> = closed.iter().map(|line| (line.count, line.second_visits)).collect();
    assert_eq!(seconds, [(1, None), (2, Some(1))]);
}

#[test]
fn what_failed_before_the_hand_over_is_caught_here() {
    let mut shop = Shop::default();
    for (number, failed) in (0..).zip([0, 2, 1]) {
        shop.job("engine.tick", 10 + number);
        shop.last_job().failed_proofs = failed;
    }
    let history = shop.history(facts());
    let caught = comeback_report(&history, 200).caught_here;
    assert_eq!((caught.count, caught.failed_proofs), (2, 3));
    assert_eq!(selected(&history, &caught.jobs, day(200)), 2);
    let query = WeekQuery { as_of: day(200), week_from: day(6), window_days: None };
    let review = weekly(&history, &query);
    assert_eq!((review.caught_here.count, review.caught_here.failed_proofs), (2, 3));
    assert_eq!(review.overall.figures.share.returns, 0);
}

#[test]
fn a_trainee_s_comebacks_are_the_supervisor_s_and_the_hours_the_trainee_s() {
    let mut shop = Shop::default();
    let first = shop.job("engine.tick", 10);
    shop.last_job().technician = Some("Kofi".to_owned());
    shop.last_job().supervisor = Some("Ilse".to_owned());
    shop.operation("lifters", 300, 300, Payer::Customer);
    let back = shop.job("engine.tick", 40);
    shop.labor("Mirela", Activity::Repair, 60);
    shop.link(first, back, day(40), "workmanship");
    let history = shop.history(facts());
    let report = comeback_report(&history, 200);
    let groups: Vec<(&str, i64, i64)> = report
        .groups
        .iter()
        .map(|group| {
            (group.group.as_deref().unwrap(), group.figures.count, group.figures.share.returns)
        })
        .collect();
    // What Mirela mended is Ilse's too.
    assert_eq!(groups, [("Ilse", 2, 1)]);
    assert_eq!(report.returns[0].technician.as_deref(), Some("Ilse"));
    // No clock on the job: its flat-rate stays with who led it.
    let labor = labor_by(&history, "technician", &until(200));
    assert_eq!(line(&labor, "Kofi").unclocked, 1);
    assert!(labor.lines.iter().all(|line| line.group.as_deref() != Some("Ilse")));
}

/// What was found this time is known from the hand-over of the later job on.
#[test]
fn a_comeback_tells_both_causes() {
    let mut shop = Shop::default();
    let first = shop.job("engine.tick", 10);
    shop.cause(Curable::No);
    let back = shop.job("engine.tick", 40);
    shop.last_job().cause = Some("belt-worn".to_owned());
    shop.link(first, back, day(38), "misdiagnosis");
    let history = shop.history(facts());
    for (as_of, found) in [(39, None), (40, Some("belt-worn"))] {
        let report = comeback_report(&history, as_of);
        let line = &report.returns[0];
        assert_eq!(line.earlier_cause.as_deref(), Some("lifter-worn"));
        assert_eq!(line.later_cause.as_deref(), found);
    }
}

/// By hand: 4 x 6.50 and 2.5 x 1.99 (4.975, half up) are 30.98; sublet 45.00;
/// 60.00 besides; 25.00 paid back by day 60, 10.00 more by day 90.
#[test]
fn a_comeback_s_cost_is_its_own() {
    let mut shop = Shop::default();
    let first = shop.job("engine.tick", 10);
    shop.last_job().sublet_cost_minor = 9_999;
    let back = shop.job("engine.tick", 40);
    shop.last_job().sublet_cost_minor = 4_500;
    for (quantity, cost) in [(400, 650), (250, 199)] {
        let part = shop.part("LFT-1", PartRole::Suspect, Disposition::ReplacedNew);
        (part.quantity_hundredths, part.unit_cost_minor) = (quantity, Some(cost));
    }
    shop.link(first, back, day(40), "parts failure");
    for (job, on, amount_minor) in [(back, 60, 2_500), (back, 90, 1_000), (first, 50, 700)] {
        shop.rows.pay_backs.push(PayBackRow { job, paid_on: day(on), amount_minor });
    }
    let history = shop.history(facts());
    let cost = |as_of: u64| labor_by(&history, "technician", &until(as_of)).comebacks;
    let early = cost(89);
    assert_eq!((early.parts_minor, early.sublet_minor), (Some(3_098), Some(4_500)));
    assert_eq!((early.paid_back_minor, early.total_minor), (Some(2_500), Some(11_098)));
    assert_eq!((cost(90).paid_back_minor, cost(90).total_minor), (Some(3_500), Some(10_098)));
}

/// A line without what attendance adds.
fn without_attendance(mut line: LaborLine) -> LaborLine {
    (line.attended_hours, line.productivity, line.overall) = (None, None, None);
    line
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn a_told_return_never_lowers_a_share(any in world(20), which in 0_usize..20, after in 0_u64..90) {
        let rows = any.rows(None);
        let before = History::new(facts(), rows.clone(), 1).unwrap();
        let mut told = rows;
        let Some(at) = told.jobs.iter().enumerate().map(|(at, _)| at).nth(which) else {
            return Ok(());
        };
        let id = told.jobs[at].id;
        prop_assume!(told.jobs[at].told.is_none());
        prop_assume!(!told.returns.iter().any(|link| link.earlier == id));
        let closed_on = told.jobs[at].closed_on;
        told.jobs[at].told = Some(analytics::history::ToldReturn {
            told: Told::NotFixed,
            told_on: closed_on + chrono::Days::new(after),
            reason: None,
        });
        let after = History::new(facts(), told, 1).unwrap();
        let (old, new) = (comeback_report(&before, 150).total, comeback_report(&after, 150).total);
        // Not the worst case: it takes an unseen vehicle for returned at once, and
        // being told says that it held for so long.
        let pairs = [
            (&old.share, &new.share),
            (&old.possible, &new.possible),
            (&old.closed_window, &new.closed_window),
        ];
        for (old, new) in pairs {
            prop_assert_eq!(old.count, new.count);
            prop_assert!(old.returns <= new.returns);
            if let (Some(old), Some(new)) = (old.share, new.share) {
                prop_assert!(old <= new + 1e-12, "{} then {}", old, new);
            }
        }
        // The free slice counts the same.
        let sliced = slice(&after, &until(150)).unwrap();
        prop_assert_eq!(sliced.lines.first().map_or(0, |line| line.closed_window.returns), new.closed_window.returns);
    }

    #[test]
    fn attendance_changes_nothing_else(
        any in world(20),
        days in proptest::collection::vec((0_u8..5, 0_u64..150, 1_i64..12), 0..12),
    ) {
        let rows = any.rows(None);
        let before = History::new(facts(), rows.clone(), 1).unwrap();
        let mut shop = Shop { rows, ..Shop::default() };
        for (technician, on, hours) in &days {
            shop.attended(&format!("technician {technician}"), *on, *hours);
        }
        let after = shop.history(facts());
        for by in ["technician", "week", "operation", "symptom", "payer"] {
            let (old, new) = (labor_by(&before, by, &until(150)), labor_by(&after, by, &until(150)));
            prop_assert_eq!(without_attendance(new.total.clone()), old.total);
            prop_assert_eq!(&old.comebacks, &new.comebacks);
            for line in new.lines {
                let known = old.lines.iter().find(|known| known.group == line.group);
                match known {
                    Some(known) => prop_assert_eq!(&without_attendance(line), known),
                    None => prop_assert_eq!((line.count, line.attended_hours.is_some()), (0, true)),
                }
            }
            prop_assert!(old.lines.iter().all(|line| line.attended_hours.is_none()));
        }
        let attended: i64 = days.iter().map(|(_, _, hours)| hours).sum();
        let total = labor_by(&after, "technician", &until(150)).total.attended_hours;
        prop_assert_eq!(total.unwrap_or(0.0), attended as f64);
        prop_assert_eq!(comeback_report(&after, 150).total, comeback_report(&before, 150).total);
    }
}
