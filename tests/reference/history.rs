//! A history that grew by changes equals one built at once.

use std::collections::BTreeSet;

use analytics::comeback::comebacks;
use analytics::figure::Query;
use analytics::history::{AttendanceRow, History, HistoryError, JobId, Rows};
use analytics::labor::labor;
use analytics::reuse::reuse;
use analytics::standing::{ShopOfStanding, standing};
use analytics::weekly::{WeekQuery, weekly};
use analytics::words::{Disposition, LinkState, PartRole};
use proptest::prelude::*;

use crate::shop::{Shop, day, facts, until};
use crate::world::{World, world};

/// Every frame with its codes written out, row by row: codes follow the order
/// of first sight and may differ, what they stand for may not.
fn plain(history: &History) -> Vec<String> {
    let text = |code: &u32| history.text(*code).map(str::to_owned);
    let jobs = history.jobs();
    let mut lines = Vec::new();
    for row in 0..jobs.vehicle.len() {
        let texts = [
            jobs.vehicle,
            jobs.model,
            jobs.engine,
            jobs.symptom,
            jobs.system,
            jobs.cause,
            jobs.technician,
            jobs.lead,
            jobs.told_reason,
        ];
        let label = history.job_label(u32::try_from(row).unwrap()).unwrap();
        assert_eq!(history.job_row(label.id), Some(u32::try_from(row).unwrap()));
        lines.push(format!(
            "{label:?} {:?} {:?} {:?} {:?}",
            (jobs.failed_proofs[row], jobs.sublet_cost_minor[row], jobs.second_visit_day[row]),
            texts.map(|column| text(&column[row])),
            [jobs.kind, jobs.outcome, jobs.cause_state, jobs.cause_curable, jobs.told]
                .map(|c| c[row]),
            [jobs.opened_day, jobs.opened_minute, jobs.closed_day, jobs.told_day].map(|c| c[row]),
        ));
        lines.push(format!(
            "{:?} {:?} {}",
            [jobs.odometer_in_km, jobs.odometer_out_km].map(|c| c[row]),
            [jobs.odometer_in_series, jobs.odometer_out_series].map(|c| c[row]),
            jobs.odometer_in_miles[row],
        ));
    }
    let (checks, parts) = (history.checks(), history.parts());
    for at in 0..checks.job.len() {
        lines.push(format!(
            "{:?} {:?} {:?} {:?}",
            (checks.job[at], checks.seq[at]),
            text(&checks.check[at]),
            (checks.finding[at], checks.minutes[at], checks.reading[at], text(&checks.unit[at])),
            checks.at_close[at],
        ));
    }
    for at in 0..parts.job.len() {
        let texts =
            [parts.part, parts.name, parts.position, parts.supplier, parts.lot, parts.bench_unit];
        lines.push(format!(
            "{:?} {:?} {:?} {:?} {:?}",
            parts.job[at],
            texts.map(|column| text(&column[at])),
            (parts.disposition[at], parts.role[at], parts.unit_cost_minor[at]),
            parts.quantity_hundredths[at],
            (parts.bench_reading[at], parts.returned_day[at], parts.possibly_returned_day[at]),
        ));
    }
    let (labor, operations, returns) = (history.labor(), history.operations(), history.returns());
    for at in 0..labor.job.len() {
        lines.push(format!(
            "{:?} {:?} {:?}",
            (labor.job[at], labor.minutes[at]),
            text(&labor.technician[at]),
            (labor.activity[at], labor.worked_as[at], labor.started_day[at]),
        ));
    }
    for at in 0..operations.job.len() {
        lines.push(format!(
            "{:?} {:?} {:?}",
            (operations.job[at], operations.payer[at]),
            text(&operations.code[at]),
            (operations.flat_rate_hundredths[at], operations.billed_hundredths[at]),
        ));
    }
    let (holds, readings, answers) = (history.holds(), history.readings(), history.rule_answers());
    lines.push(format!("{holds:?}"));
    for at in 0..readings.job.len() {
        let texts = [readings.line, readings.place, readings.unit].map(|c| text(&c[at]));
        lines.push(format!("{:?} {:?} {texts:?}", readings.job[at], readings.reading[at]));
    }
    for at in 0..answers.job.len() {
        let said = (answers.job[at], answers.kept[at], answers.reasoned[at]);
        lines.push(format!("{said:?} {:?}", text(&answers.rule[at])));
    }
    for at in 0..returns.earlier.len() {
        lines.push(format!(
            "{:?} {:?} {:?} {:?}",
            (returns.earlier[at], returns.later[at], returns.later_opened_day[at]),
            (returns.state[at], returns.same_complaint[at], returns.later_odometer_km[at]),
            text(&returns.reason[at]),
            history.links()[at],
        ));
    }
    lines.push(format!("{:?} {:?}", history.pay_backs(), history.unclosed_labor()));
    lines.push(format!("{:?}", history.attendance()));
    lines
}

/// Some reports, which ask for what is kept beside the columns too.
fn reports(history: &History) -> Vec<String> {
    let by = |word: &str| Query { by: Some(word.to_owned()), ..until(150) };
    let week = WeekQuery { as_of: day(150), week_from: day(144), window_days: Some(20) };
    vec![
        format!("{:?}", comebacks(history, &by("symptom"))),
        format!("{:?}", comebacks(history, &by("technician"))),
        format!("{:?}", labor(history, &by("technician"))),
        format!("{:?}", reuse(history, &until(150))),
        format!("{:?}", weekly(history, &week)),
    ]
}

/// The standing figures of several days.
fn figures(history: &History) -> Vec<String> {
    let as_of = |day_no| {
        let shop = ShopOfStanding { history, as_of: day(day_no) };
        serde_json::to_string(&standing(&[shop])).unwrap()
    };
    [60, 130, 400].map(as_of).into()
}

/// The second world where a job is to change, the first one elsewhere. A link goes or
/// comes with both of its ends, and is decided anew with either.
fn changed(first: &World, second: &World, touched: &BTreeSet<JobId>) -> World {
    let of = |world: &World, inside: bool| World {
        jobs: world
            .jobs
            .iter()
            .filter(|(id, _)| touched.contains(id) == inside)
            .map(|(id, spec)| (*id, spec.clone()))
            .collect(),
        links: world
            .links
            .iter()
            .filter(|((a, b), _)| (touched.contains(a) && touched.contains(b)) == inside)
            .filter(|((a, b), _)| inside || !(touched.contains(a) || touched.contains(b)))
            .map(|(ends, link)| (*ends, *link))
            .collect(),
    };
    let (mut world, new) = (of(first, false), of(second, true));
    world.jobs.extend(new.jobs);
    world.links.extend(new.links);
    // Both ends of a link are stamped when it goes, so both are touched.
    for (ends, link) in &first.links {
        if touched.contains(&ends.0) != touched.contains(&ends.1) {
            world.links.insert(*ends, *second.links.get(ends).unwrap_or(link));
        }
    }
    world
}

/// What a reload of the touched jobs brings: their rows, and the links that lead to
/// them from jobs that are not touched.
fn reloaded(world: &World, touched: &BTreeSet<JobId>) -> Rows {
    let (mut rows, all) = (world.rows(Some(touched)), world.rows(None));
    let leads =
        |earlier: JobId, later: JobId| !touched.contains(&earlier) && touched.contains(&later);
    rows.returns.extend(all.returns.into_iter().filter(|row| leads(row.earlier, row.later)));
    let planned = all.planned_visits.into_iter();
    rows.planned_visits.extend(planned.filter(|row| leads(row.earlier, row.later)));
    rows
}

fn attendance(days: &[(u8, u64, i64)]) -> Vec<AttendanceRow> {
    let row = |&(who, on, minutes): &(u8, u64, i64)| AttendanceRow {
        technician: format!("technician {who}"),
        worked_on: day(on),
        minutes,
    };
    days.iter().map(row).collect()
}

proptest! {
    /// Whatever is new, edited, moved in time, void, linked anew or no longer: after
    /// every step the history is the one that is built at once.
    #[test]
    fn changes_come_to_the_same_as_a_rebuild(
        first in world(24),
        steps in proptest::collection::vec(
            (
                world(24),
                proptest::collection::btree_set(1_u128..=24, 0..10),
                proptest::option::of(proptest::collection::vec((0_u8..3, 0_u64..120, 1_i64..600), 0..4)),
            ),
            1..5,
        ),
    ) {
        let (mut world, mut there) = (first, Vec::new());
        let mut grown = History::new(facts(), world.rows(None), 1).unwrap();
        for (change, (second, touched, attended)) in (2..).zip(steps) {
            world = changed(&world, &second, &touched);
            let ids: Vec<JobId> = touched.iter().copied().collect();
            let mut rows = reloaded(&world, &touched);
            rows.attendance = attended.as_deref().map(attendance);
            there = rows.attendance.clone().unwrap_or(there);
            grown.apply(&ids, rows, change).unwrap();
            let all = Rows { attendance: Some(there.clone()), ..world.rows(None) };
            let built = History::new(facts(), all, change).unwrap();
            prop_assert_eq!(plain(&grown), plain(&built));
            prop_assert_eq!(reports(&grown), reports(&built));
            prop_assert_eq!(figures(&grown), figures(&built));
        }
    }
}

/// What is kept beside the columns follows the shop's settings, too.
#[test]
fn settings_change_what_counts() {
    let mut shop = Shop::default();
    shop.job("engine.tick", 5);
    shop.job("engine.tick", 30);
    let mut history = shop.history(facts());
    let counted = |history: &History| comebacks(history, &until(40)).unwrap().total.count;
    assert_eq!(counted(&history), 2);
    let mut later = facts();
    later.links_from = Some(day(10));
    history.set_facts(later);
    assert_eq!(counted(&history), 1);
}

/// A row out of all bounds is refused before anything is changed.
#[test]
fn a_row_out_of_bounds_changes_nothing() {
    let mut shop = Shop::default();
    let id = shop.job("engine.tick", 5);
    shop.comeback(3, "workmanship");
    let mut wrong = shop.rows.clone();
    wrong.returns[0].state = LinkState::Rejected;
    wrong.jobs[0].sublet_cost_minor = i64::MAX;
    let mut history = shop.history(facts());
    let before = plain(&history);
    assert_eq!(
        history.apply(&[id], wrong, 9).unwrap_err(),
        HistoryError::OutOfBounds("sublet cost")
    );
    assert_eq!((plain(&history), history.change_no()), (before, 7));
}

#[test]
fn two_rows_of_one_job_are_refused_and_change_nothing() {
    let mut shop = Shop::default();
    let id = shop.job("engine.tick", 5);
    let mut twice = shop.rows.clone();
    twice.jobs.push(twice.jobs[0].clone());
    assert_eq!(
        History::new(facts(), twice.clone(), 1).unwrap_err(),
        HistoryError::DuplicateJob(id)
    );
    let mut history = shop.history(facts());
    let before = plain(&history);
    assert!(history.apply(&[id], twice, 9).is_err());
    assert_eq!((plain(&history), history.change_no()), (before, 7));
}

#[test]
fn rows_of_open_jobs_wait_for_their_closing() {
    let mut shop = Shop::default();
    let first = shop.job("engine.tick", 5);
    let open = shop.job("engine.tick", 30);
    shop.check("oil level", Some(2));
    shop.link(first, open, day(29), "workmanship");
    let closed = shop.rows.clone();
    shop.rows.jobs.retain(|job| job.id != open);
    let mut history = shop.history(facts());
    assert_eq!((history.jobs().kind.len(), history.checks().job.len()), (1, 0));
    assert_eq!(history.returns().later, [analytics::history::NONE]);
    let mut later = closed;
    later.jobs.retain(|job| job.id == open);
    later.returns.clear();
    history.apply(&[open], later, 8).unwrap();
    assert_eq!((history.jobs().kind.len(), history.checks().job.len()), (2, 1));
    assert_eq!(history.returns().later, [1]);
}

#[test]
fn a_reading_is_kept_to_the_bit_with_its_unit() {
    let readings = [
        (Some(11.5), Some(11.5)),
        (Some(0.1 + 0.2), Some(0.1 + 0.2)),
        (Some(-0.0), Some(0.0)),
        (Some(f64::MIN_POSITIVE), Some(f64::MIN_POSITIVE)),
        (None, None),
    ];
    let mut shop = Shop::default();
    shop.job("engine.tick", 5);
    for (reading, _) in readings {
        let part = shop.part("P-1", PartRole::Suspect, Disposition::CleanedReused);
        (part.bench_reading, part.bench_unit) = (reading, Some("Ohm".to_owned()));
    }
    let history = shop.history(facts());
    let parts = history.parts();
    for (at, (_, kept)) in readings.iter().enumerate() {
        let (reading, unit) = (parts.bench_reading[at], history.text(parts.bench_unit[at]));
        assert_eq!((!reading.is_nan()).then(|| reading.to_bits()), kept.map(f64::to_bits));
        assert_eq!(unit, kept.map(|_| "Ohm"));
    }
}
