//! The links, in the order of their earlier jobs, with their columns.

use std::collections::HashSet;

use super::build::{flag, odometer};
use super::dictionary::Dictionary;
use super::labels::Labels;
use super::splice::{Plan, Splice, fits};
use super::tables::ReturnsColumns;
use super::{HistoryError, JobId, NONE, ReturnRow, Returns};
use crate::hashed::HashMap;

/// Links whose earlier job is closed: of others no share speaks.
#[derive(Debug, Clone, Default)]
pub(super) struct Links {
    rows: Vec<ReturnRow>,
    columns: ReturnsColumns,
    /// The earlier job of every link.
    earlier: HashMap<u128, JobId>,
}

/// A link with the row of its earlier job and the code of its reason.
#[derive(Debug)]
struct Placed {
    earlier: u32,
    reason: u32,
    row: ReturnRow,
}

impl Placed {
    const fn place(&self) -> (u32, chrono::NaiveDate, u128) {
        (self.earlier, self.row.later_opened_on, self.row.id)
    }
}

/// What becomes of the links, ready to be done.
#[derive(Debug)]
pub(super) struct Change {
    /// Links before this one stay in their places.
    pub from: usize,
    /// Places of links that go or are brought anew.
    dropped: HashSet<usize>,
    /// In their order.
    arriving: Vec<Placed>,
}

impl Links {
    pub fn rows(&self) -> &[ReturnRow] {
        &self.rows
    }

    pub fn view(&self) -> Returns<'_> {
        self.columns.view()
    }

    /// Decides what a change of jobs and the links brought with it do. A link
    /// belongs to its earlier job and goes with it; brought are each once.
    ///
    /// # Errors
    /// More links or reasons than 32 bits can number.
    pub fn change(
        &self,
        brought: Vec<ReturnRow>,
        gone: &HashSet<JobId>,
        (plan, labels): (&Plan, &Labels),
        texts: &mut Dictionary,
    ) -> Result<Change, HistoryError> {
        fits("links", self.rows.len(), brought.len())?;
        let mut dropped: HashSet<usize> =
            gone.iter().filter_map(|id| labels.row_of(*id)).flat_map(|row| self.of(row)).collect();
        let (mut seen, mut arriving) = (HashSet::with_capacity(brought.len()), Vec::new());
        for row in brought.into_iter().filter(|row| seen.insert(row.id)) {
            dropped.extend(self.place_of(row.id, labels));
            if let Some(earlier) = row_now(plan, labels, row.earlier) {
                let reason = texts.optional(row.reason.as_deref())?;
                arriving.push(Placed { earlier, reason, row });
            }
        }
        arriving.sort_unstable_by_key(Placed::place);
        let moving = self.columns.earlier.partition_point(|earlier| *earlier < plan.first);
        let lands = arriving.first().map_or(moving, |link| self.landing(link));
        let goes = dropped.iter().copied().min().unwrap_or(moving);
        Ok(Change { from: moving.min(lands).min(goes), dropped, arriving })
    }

    /// The places of the links of an earlier job, by its row.
    fn of(&self, earlier: u32) -> std::ops::Range<usize> {
        let earliers = &self.columns.earlier;
        let first = earliers.partition_point(|row| *row < earlier);
        first..earliers.partition_point(|row| *row <= earlier)
    }

    fn place_of(&self, link: u128, labels: &Labels) -> Option<usize> {
        let earlier = labels.row_of(*self.earlier.get(&link)?)?;
        self.of(earlier).find(|place| self.rows.get(*place).is_some_and(|row| row.id == link))
    }

    /// Before which link an arriving one belongs.
    fn landing(&self, link: &Placed) -> usize {
        let places = self.of(link.earlier);
        let rows = self.rows.get(places.clone()).unwrap_or_default();
        let before = |row: &ReturnRow| {
            (row.later_opened_on, row.id) < (link.row.later_opened_on, link.row.id)
        };
        places.start + rows.partition_point(before)
    }

    /// Does it. `labels` have the new rows, and `gone` is of the old ones.
    pub fn bring(&mut self, change: Change, plan: &Plan, labels: &Labels) {
        let Change { from, dropped, arriving } = change;
        self.follow(from, plan, labels);
        let tail = self.rows.split_off(from.min(self.rows.len()));
        let mut arriving = arriving.into_iter().peekable();
        let columns = std::mem::take(&mut self.columns);
        let olds = columns.earlier.iter().zip(&columns.reason).enumerate().skip(from);
        let mut kept = Vec::with_capacity(tail.len());
        for ((place, (&old, &reason)), row) in olds.zip(tail) {
            match plan.moved(old).filter(|_| !dropped.contains(&place)) {
                Some(earlier) => kept.push(Placed { earlier, reason, row }),
                None => {
                    self.earlier.remove(&row.id);
                }
            }
        }
        self.columns = columns;
        self.columns.splice(&Splice::cutting(from), &ReturnsColumns::default());
        for link in kept {
            while let Some(arrival) = arriving.next_if(|arrival| arrival.place() < link.place()) {
                self.push(arrival, labels);
            }
            self.push(link, labels);
        }
        for arrival in arriving {
            self.push(arrival, labels);
        }
    }

    /// Brings the rows of later jobs up to date in links that stay in their places.
    fn follow(&mut self, until: usize, plan: &Plan, labels: &Labels) {
        let links = self.rows.iter().zip(&mut self.columns.later).take(until);
        // An open later job may have been closed; a closed one may have moved.
        for (link, later) in links.filter(|(_, later)| **later >= plan.first) {
            *later = labels.row_of(link.later).unwrap_or(NONE);
        }
    }

    fn push(&mut self, link: Placed, labels: &Labels) {
        let Placed { earlier, reason, row } = link;
        self.columns.earlier.push(earlier);
        self.columns.later.push(labels.row_of(row.later).unwrap_or(NONE));
        self.columns.later_opened_day.push(row.later_opened_on.to_epoch_days());
        let (series, km) = odometer(row.later_odometer);
        self.columns.later_odometer_series.push(series);
        self.columns.later_odometer_km.push(km);
        self.columns.state.push(row.state.code());
        self.columns.same_complaint.push(flag(row.same_complaint));
        self.columns.reason.push(reason);
        self.earlier.insert(row.id, row.earlier);
        self.rows.push(row);
    }
}

/// The row that a job has after a change.
fn row_now(plan: &Plan, labels: &Labels, job: JobId) -> Option<u32> {
    plan.brought.get(&job).copied().or_else(|| plan.moved(labels.row_of(job)?))
}
