//! Rows to sums, without an as-of but the last closing day looked at. Everything
//! is counted into columns by place of the group, so that the cost follows the rows
//! and not how many groups they fall into.

use std::ops::Range;

use chrono::NaiveDate;

use super::entry::{Back, Entry, UNMEASURED};
use crate::comeback::week_start_of;
use crate::follow::day_number;
use crate::history::{History, Jobs, NONE};
use crate::stats::ratio::RatioSums;
use crate::words::{JobKind, Outcome};

/// Values by place of a group, in the order in which they came.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Grouped<T> {
    /// Where the values of each group end.
    ends: Vec<usize>,
    values: Vec<T>,
}

impl<T: Copy + Default> Grouped<T> {
    /// Reads the values twice: to see how many each group has, and to put each in its
    /// place.
    pub fn of(groups: usize, values: impl Iterator<Item = (u32, T)> + Clone) -> Self {
        let mut next = vec![0_usize; groups];
        for (group, _) in values.clone() {
            if let Some(count) = next.get_mut(group as usize) {
                *count += 1;
            }
        }
        let mut total = 0;
        for count in &mut next {
            (*count, total) = (total, total + *count);
        }
        let mut placed = vec![T::default(); total];
        for (group, value) in values {
            let Some(at) = next.get_mut(group as usize) else { continue };
            if let Some(slot) = placed.get_mut(*at) {
                *slot = value;
            }
            *at += 1;
        }
        // What was the next free place is where the group ends.
        Self { ends: next, values: placed }
    }

    /// The values of a group.
    pub fn get(&self, group: u32) -> &[T] {
        let at = group as usize;
        let start = at.checked_sub(1).map_or(Some(0), |before| self.ends.get(before).copied());
        let range = start.zip(self.ends.get(at).copied()).map(|(start, end)| start..end);
        range.and_then(|range| self.values.get(range)).unwrap_or_default()
    }
}

/// What became of cases, by group.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Cases {
    /// Closing days, ascending in each group.
    pub days: Grouped<i32>,
    /// Of those that came back, closing day and days to the first return.
    pub returns: Grouped<(i32, i32)>,
}

/// The jobs that were done in one order, and what they took.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Orders {
    /// Jobs, by order.
    pub jobs: Vec<i64>,
    /// Minutes where they were measured.
    pub minutes: Grouped<u32>,
}

/// One shop's rows up to a day.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rows<'a> {
    pub history: &'a History,
    pub entry: &'a Entry,
    jobs: Jobs<'a>,
    /// The first job row in shares: closed since links are recorded.
    since: usize,
    /// The end of the job rows closed by the day.
    until: usize,
}

impl<'a> Rows<'a> {
    pub fn of(history: &'a History, last: NaiveDate) -> Self {
        let (jobs, last) = (history.jobs(), day_number(last));
        let from = history.facts().links_from.map_or(i32::MIN, day_number);
        let until = jobs.closed_day.partition_point(|day| *day <= last);
        let since = jobs.closed_day.partition_point(|day| *day < from).min(until);
        Self { history, entry: history.entry(), jobs, since, until }
    }

    /// Jobs closed by the day.
    pub fn jobs(&self) -> i64 {
        self.until as i64
    }

    /// Repaired complaints by symptom.
    pub fn by_symptom(&self) -> Cases {
        self.comebacks(self.entry.symptoms.seen().len(), &self.entry.symptom)
    }

    /// Repaired complaints by who answers for them.
    pub fn by_technician(&self) -> Cases {
        self.comebacks(self.entry.people.seen().len(), &self.entry.answers)
    }

    /// First days of the weeks, and repaired complaints by week.
    pub fn by_week(&self) -> (Vec<i32>, Cases) {
        let first = self.history.facts().week_start;
        let (mut weeks, mut column) = (Vec::new(), vec![NONE; self.since]);
        let mut last = None;
        for &day in part(self.jobs.closed_day, self.since..self.until) {
            // Jobs stand in the order of closing.
            if last.replace(day) != Some(day) {
                let week = week_start_of(day, first);
                if weeks.last() != Some(&week) {
                    weeks.push(week);
                }
            }
            column.push(u32::try_from(weeks.len() - 1).unwrap_or(NONE));
        }
        let cases = self.comebacks(weeks.len(), &column);
        (weeks, cases)
    }

    fn comebacks(&self, groups: usize, column: &[u32]) -> Cases {
        let rows = self.since..self.until;
        let groups_and_days =
            part(column, rows.clone()).iter().zip(part(self.jobs.closed_day, rows.clone()));
        let words =
            part(self.jobs.kind, rows.clone()).iter().zip(part(self.jobs.outcome, rows.clone()));
        let inside = groups_and_days.zip(words).filter(|(_, (kind, outcome))| {
            **kind == JobKind::Complaint.code() && **outcome == Outcome::Repaired.code()
        });
        let returns = within(&self.entry.returns, rows).iter().filter_map(|back| {
            let at = back.row as usize;
            let inside = self.jobs.kind.get(at) == Some(&JobKind::Complaint.code())
                && self.jobs.outcome.get(at) == Some(&Outcome::Repaired.code());
            let (group, day) = (column.get(at)?, self.jobs.closed_day.get(at)?);
            inside.then_some((*group, (*day, back.days)))
        });
        Cases {
            days: Grouped::of(groups, inside.map(|((group, day), _)| (*group, *day))),
            returns: Grouped::of(groups, returns),
        }
    }

    /// Part uses by part, choice and role.
    pub fn by_cell(&self) -> Cases {
        let groups = self.entry.cells.seen().len();
        let jobs = self.history.parts().job;
        let row = |job: usize| jobs.partition_point(|of| (*of as usize) < job);
        let rows = row(self.since)..row(self.until);
        let day = |job: u32| self.jobs.closed_day.get(job as usize).copied();
        let uses = part(jobs, rows.clone()).iter().zip(part(&self.entry.cell, rows.clone()));
        let days = uses
            .filter(|(_, cell)| **cell != NONE)
            .filter_map(|(job, cell)| Some((*cell, day(*job)?)));
        let returns = within(&self.entry.part_returns, rows).iter().filter_map(|back| {
            let at = back.row as usize;
            let cell = self.entry.cell.get(at).filter(|cell| **cell != NONE)?;
            Some((*cell, (day(*jobs.get(at)?)?, back.days)))
        });
        Cases { days: Grouped::of(groups, days), returns: Grouped::of(groups, returns) }
    }

    /// Complaints by symptom and order of checks.
    pub fn by_order(&self) -> Orders {
        let groups = self.entry.orders.len();
        let rows = 0..self.until;
        let orders = part(&self.entry.order, rows.clone());
        let mut jobs = vec![0_i64; groups];
        for order in orders {
            if let Some(count) = jobs.get_mut(*order as usize) {
                *count += 1;
            }
        }
        let minutes = orders.iter().zip(part(&self.entry.minutes, rows));
        let minutes = minutes.filter(|(order, minutes)| **order != NONE && **minutes != UNMEASURED);
        let minutes = Grouped::of(groups, minutes.map(|(order, minutes)| (*order, *minutes)));
        Orders { jobs, minutes }
    }

    /// Flat-rate hundredths over clock minutes of clocked jobs, by symptom.
    pub fn efficiency_by_symptom(&self) -> Vec<RatioSums> {
        let rows = 0..self.until;
        let jobs =
            part(&self.entry.symptom, rows.clone()).iter().zip(part(&self.entry.hours, rows));
        let clocked = jobs.filter(|(_, hours)| hours.clock > 0);
        summed(
            self.entry.symptoms.seen().len(),
            clocked.map(|(symptom, hours)| (*symptom, hours.flat, hours.clock)),
        )
    }

    /// The same by technician.
    pub fn efficiency_by_technician(&self) -> Vec<RatioSums> {
        let pieces = &self.entry.pieces;
        let end = pieces.partition_point(|piece| (piece.job as usize) < self.until);
        let pieces = part(pieces, 0..end).iter();
        summed(
            self.entry.people.seen().len(),
            pieces.map(|piece| (piece.person, piece.flat, piece.clock)),
        )
    }
}

fn summed(groups: usize, cases: impl Iterator<Item = (u32, u32, u32)>) -> Vec<RatioSums> {
    let mut sums = vec![RatioSums::default(); groups];
    for (group, flat, clock) in cases {
        if let Some(sum) = sums.get_mut(group as usize) {
            *sum += RatioSums::of(i64::from(flat), i64::from(clock));
        }
    }
    sums
}

fn part<T>(column: &[T], rows: Range<usize>) -> &[T] {
    column.get(rows).unwrap_or_default()
}

/// What came back of these rows.
fn within(backs: &[Back], rows: Range<usize>) -> &[Back] {
    let at = |row: usize| backs.partition_point(|back| (back.row as usize) < row);
    part(backs, at(rows.start)..at(rows.end))
}
