//! How columns change: rows up to the first change stay where they lie, and what
//! comes after them is merged from what stood there and what is brought. The cost
//! is that of the rows behind the first change, not of all.

use std::collections::HashSet;

use super::labels::Labels;
use super::{HistoryError, JobId, NONE};
use crate::hashed::HashMap;

/// Where a row behind the first change comes from.
#[derive(Debug, Clone, Copy)]
enum Pick {
    /// Counted from the first change.
    Kept(u32),
    Brought(u32),
}

/// The new rows from the first change on.
#[derive(Debug)]
pub(super) struct Splice {
    from: usize,
    picks: Vec<Pick>,
}

impl Splice {
    /// Nothing comes after the rows that stay.
    pub const fn cutting(from: usize) -> Self {
        Self { from, picks: Vec::new() }
    }

    /// Rows before this one stay.
    pub const fn from(&self) -> usize {
        self.from
    }

    /// Changes one column. What is kept is copied once.
    pub fn column<T: Copy>(&self, column: &mut Vec<T>, brought: &[T]) {
        let tail = column.split_off(self.from.min(column.len()));
        room(column, self.picks.len());
        column.extend(self.picked(&tail, brought));
    }

    /// The rows from the first change on, of what stood there and what is brought.
    pub fn picked<'a, T: Copy>(
        &'a self,
        tail: &'a [T],
        brought: &'a [T],
    ) -> impl Iterator<Item = T> + 'a {
        self.picks.iter().filter_map(|pick| match *pick {
            Pick::Kept(row) => tail.get(row as usize).copied(),
            Pick::Brought(row) => brought.get(row as usize).copied(),
        })
    }
}

/// The new order of jobs.
#[derive(Debug)]
pub(super) struct Plan {
    pub jobs: Splice,
    /// The first row that changes.
    pub first: u32,
    /// New row of every old row from the first change on; `NONE` where the job is
    /// gone or replaced.
    moved: Vec<u32>,
    /// New row of every brought job.
    pub brought: HashMap<JobId, u32>,
}

impl Plan {
    /// Merges the kept jobs with the brought ones, both in order.
    ///
    /// # Errors
    /// More jobs than 32 bits can number.
    pub fn of(
        old: (&Labels, &[i32]),
        new: (&Labels, &[i32]),
        gone: &HashSet<JobId>,
    ) -> Result<Self, HistoryError> {
        let (labels, days) = old;
        fits("jobs", days.len(), new.1.len())?;
        let from = first_change(old, new, gone);
        let mut plan = Self {
            jobs: Splice { from, picks: Vec::with_capacity(days.len() - from + new.1.len()) },
            first: number(from),
            moved: Vec::with_capacity(days.len() - from),
            brought: HashMap::with_capacity_and_hasher(
                new.1.len(),
                crate::hashed::Hasher::default(),
            ),
        };
        let mut arriving = new.1.iter().enumerate().peekable();
        for (row, day) in days.iter().enumerate().skip(from) {
            let Some(label) = labels.get(row) else { continue };
            if gone.contains(&label.id) {
                plan.moved.push(NONE);
                continue;
            }
            let place = label.place(*day);
            while let Some((arrival, _)) = arriving.next_if(|(arrival, day)| {
                new.0.get(*arrival).is_some_and(|label| label.place(**day) < place)
            }) {
                plan.take(new.0, arrival);
            }
            let row_now = plan.next();
            plan.moved.push(row_now);
            plan.jobs.picks.push(Pick::Kept(number(row - from)));
        }
        for (arrival, _) in arriving {
            plan.take(new.0, arrival);
        }
        Ok(plan)
    }

    fn next(&self) -> u32 {
        number(self.jobs.from + self.jobs.picks.len())
    }

    fn take(&mut self, labels: &Labels, arrival: usize) {
        let row = self.next();
        self.brought.extend(labels.get(arrival).map(|label| (label.id, row)));
        self.jobs.picks.push(Pick::Brought(number(arrival)));
    }

    /// The new row of an old one; `None` where its job is gone or replaced.
    pub fn moved(&self, old: u32) -> Option<u32> {
        match old.checked_sub(self.first) {
            None => Some(old),
            Some(at) => self.moved.get(at as usize).copied().filter(|row| *row != NONE),
        }
    }

    /// What becomes of rows that belong to jobs: those of kept jobs at their job's
    /// new row, merged with the brought ones. A job's rows are all kept or all
    /// brought. With the new `job` column from the first change on.
    pub fn children(&self, kept: &[u32], brought: &[u32]) -> (Splice, Vec<u32>) {
        let from = kept.partition_point(|job| *job < self.first);
        let tail = kept.get(from..).unwrap_or_default();
        let mut picks = Vec::with_capacity(tail.len() + brought.len());
        let mut jobs = Vec::with_capacity(tail.len() + brought.len());
        let mut arriving = (0_u32..).zip(brought.iter().copied()).peekable();
        for (row, old_job) in (0_u32..).zip(tail) {
            let Some(job) = self.moved(*old_job) else { continue };
            while let Some((arrival, arrival_job)) = arriving.next_if(|(_, at)| *at < job) {
                picks.push(Pick::Brought(arrival));
                jobs.push(arrival_job);
            }
            picks.push(Pick::Kept(row));
            jobs.push(job);
        }
        for (arrival, arrival_job) in arriving {
            picks.push(Pick::Brought(arrival));
            jobs.push(arrival_job);
        }
        (Splice { from, picks }, jobs)
    }
}

/// The first row whose job goes, or before which one arrives.
fn first_change(
    (labels, days): (&Labels, &[i32]),
    (arriving, arriving_days): (&Labels, &[i32]),
    gone: &HashSet<JobId>,
) -> usize {
    let first_gone = gone.iter().filter_map(|id| labels.row_of(*id)).min();
    let arrival = arriving.get(0).zip(arriving_days.first());
    let lands = arrival.map(|(arrival, day)| {
        let place = arrival.place(*day);
        // Most close today, behind everything that has been.
        partition(days.len(), |row| {
            labels.get(row).zip(days.get(row)).is_some_and(|(label, day)| label.place(*day) < place)
        })
    });
    let first_gone = first_gone.map_or(days.len(), |row| row as usize);
    lands.unwrap_or(days.len()).min(first_gone)
}

/// Makes room in small steps: a column is as long as the shop is old, and doubling
/// it for one job would be half of it for nothing.
pub(super) fn room<T>(column: &mut Vec<T>, more: usize) {
    if column.capacity() - column.len() < more {
        column.reserve_exact(more + column.len() / 16);
    }
}

/// The first of `len` places where what holds at first no longer does.
fn partition(len: usize, holds: impl Fn(usize) -> bool) -> usize {
    let (mut low, mut high) = (0, len);
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) { low = middle + 1 } else { high = middle }
    }
    low
}

/// Whether rows can be numbered when all that are brought come beside those there.
///
/// # Errors
/// They cannot.
pub(super) fn fits(what: &'static str, rows: usize, brought: usize) -> Result<(), HistoryError> {
    match u32::try_from(rows + brought) {
        Ok(last) if last != NONE => Ok(()),
        _ => Err(HistoryError::TooMany(what)),
    }
}

/// A row's number, which [`fits`].
fn number(row: usize) -> u32 {
    u32::try_from(row).unwrap_or(NONE)
}
