//! A history that grew by changes equals one built at once.

use std::collections::BTreeSet;

use analytics::history::{History, HistoryError, JobId};
use analytics::standing::{ShopOfStanding, standing};
use analytics::words::{Disposition, PartRole};
use proptest::prelude::*;

use crate::shop::{Shop, day, facts};
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
            (checks.finding[at], checks.minutes[at]),
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

/// The second world where a job is to change, the first one elsewhere; a link
/// changes with either of its ends.
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
            world.links.insert(*ends, *link);
        }
    }
    world
}

proptest! {
    #[test]
    fn changes_come_to_the_same_as_a_rebuild(
        first in world(24),
        second in world(24),
        touched in proptest::collection::btree_set(1_u128..=24, 0..24),
        split in 0_u128..=24,
    ) {
        let last = changed(&first, &second, &touched);
        let mut grown = History::new(facts(), first.rows(None), 1).unwrap();
        let (early, late): (BTreeSet<_>, BTreeSet<_>) = touched.iter().partition(|id| **id < split);
        for (change, batch) in [(2, early), (3, late)] {
            let ids: Vec<JobId> = batch.iter().copied().collect();
            grown.apply(&ids, last.rows(Some(&batch)), change).unwrap();
            prop_assert_eq!(grown.change_no(), change);
        }
        let built = History::new(facts(), last.rows(None), 3).unwrap();
        prop_assert_eq!(plain(&grown), plain(&built));
        for as_of in [60, 130, 400] {
            let figures = |history| {
                let shop = ShopOfStanding { history, as_of: day(as_of) };
                serde_json::to_string(&standing(&[shop])).unwrap()
            };
            prop_assert_eq!(figures(&grown), figures(&built));
        }
    }
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
