//! A report as of a day says what a record would say that ends with that day.

use std::collections::{HashMap, HashSet};

use analytics::history::{History, JobId, PartUseId, Rows};
use chrono::NaiveDate;
use proptest::prelude::*;

use crate::every::{Asked, every_report};
use crate::shop::{day, facts};
use crate::world::world;

/// The record without anything that happened after a day.
pub fn cut(rows: &Rows, last: NaiveDate) -> Rows {
    let mut rows = rows.clone();
    rows.jobs.retain(|row| row.closed_on <= last);
    for job in &mut rows.jobs {
        job.told = job.told.take().filter(|told| told.told_on <= last);
        job.holds_on.retain(|on| *on <= last);
    }
    let closed: HashSet<JobId> = rows.jobs.iter().map(|row| row.id).collect();
    rows.checks.retain(|row| closed.contains(&row.job));
    rows.parts.retain(|row| closed.contains(&row.job));
    rows.operations.retain(|row| closed.contains(&row.job));
    rows.labor.retain(|row| row.started_on <= last);
    rows.returns.retain(|row| row.later_opened_on <= last && closed.contains(&row.earlier));
    let uses: HashSet<PartUseId> = rows.parts.iter().map(|row| row.id).collect();
    rows.part_returns.retain(|row| row.later_opened_on <= last && uses.contains(&row.part_use));
    rows.planned_visits.retain(|row| row.later_opened_on <= last && closed.contains(&row.earlier));
    rows.pay_backs.retain(|row| row.paid_on <= last);
    for attendance in rows.attendance.iter_mut() {
        attendance.retain(|row| row.worked_on <= last);
    }
    rows
}

/// Links and planned visits begin on the day on which their later job's order was
/// opened, as in every record; at random they begin on any.
fn consistent(mut rows: Rows) -> Rows {
    let opened: HashMap<JobId, NaiveDate> =
        rows.jobs.iter().map(|row| (row.id, row.opened_on)).collect();
    for link in &mut rows.returns {
        link.later_opened_on = opened.get(&link.later).copied().unwrap_or(link.later_opened_on);
    }
    // Nothing comes back before it was handed over.
    let closed: HashMap<JobId, NaiveDate> =
        rows.jobs.iter().map(|row| (row.id, row.closed_on)).collect();
    let handed_over =
        |earlier: &JobId, on: NaiveDate| closed.get(earlier).is_some_and(|closed| *closed <= on);
    rows.returns.retain(|link| handed_over(&link.earlier, link.later_opened_on));
    for visit in &mut rows.planned_visits {
        visit.later_opened_on = opened.get(&visit.later).copied().unwrap_or(visit.later_opened_on);
    }
    rows
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn every_report_is_that_of_the_record_cut_there(
        world in world(30),
        last in 40_u64..150,
        window in 1_i32..90,
    ) {
        let rows = consistent(world.rows(None));
        let asked =
            Asked { as_of: day(last), from: None, window_days: Some(window) };
        let whole = History::new(facts(), rows.clone(), 7).unwrap();
        let ended = History::new(facts(), cut(&rows, day(last)), 7).unwrap();
        let (whole, ended) = (every_report(&whole, asked), every_report(&ended, asked));
        prop_assert_eq!(whole.len(), ended.len());
        for ((name, whole), (_, ended)) in whole.iter().zip(&ended) {
            prop_assert_eq!(whole, ended, "{}", name);
        }
    }

    #[test]
    fn the_order_of_rows_never_matters(world in world(24), seed in any::<u64>()) {
        let rows = world.rows(None);
        let mut other = rows.clone();
        shuffle(&mut other.jobs, seed);
        shuffle(&mut other.checks, seed);
        shuffle(&mut other.parts, seed);
        shuffle(&mut other.labor, seed);
        shuffle(&mut other.operations, seed);
        shuffle(&mut other.returns, seed);
        shuffle(&mut other.part_returns, seed);
        let asked = Asked { as_of: day(130), from: Some(day(5)), window_days: Some(30) };
        let one = every_report(&History::new(facts(), rows, 7).unwrap(), asked);
        let two = every_report(&History::new(facts(), other, 7).unwrap(), asked);
        for ((name, one), (_, two)) in one.iter().zip(&two) {
            prop_assert_eq!(one, two, "{}", name);
        }
    }
}

/// Another order of the same rows.
fn shuffle<T>(rows: &mut [T], seed: u64) {
    let mut state = seed | 1;
    for at in (1..rows.len()).rev() {
        // Knuth's MMIX generator, TAOCP volume 2, section 3.3.4.
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        rows.swap(at, (state >> 33) as usize % (at + 1));
    }
}
