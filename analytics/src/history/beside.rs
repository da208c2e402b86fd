//! What stands beside the columns of closed jobs: who was there for work, time on
//! the clock on jobs that are not closed, and what suppliers paid back.

use std::cmp::Ordering;
use std::collections::{HashMap, HashSet};

use super::{AttendanceRow, History, JobId, LaborRow, PayBackRow};

/// One technician's day, in minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Day<'a> {
    pub technician: &'a str,
    /// From 1970-01-01.
    pub day: i32,
    pub attended: i64,
    /// Labor entries that were started on the day.
    pub clock: i64,
}

/// What no column of closed jobs has.
#[derive(Debug, Clone, Default)]
pub(super) struct Beside {
    attendance: Vec<AttendanceRow>,
    /// Finished labor entries of jobs that are not closed.
    unclosed: Vec<LaborRow>,
    pay_backs: Vec<PayBackRow>,
}

impl Beside {
    /// Replaces the attendance where it is brought, and what belongs to touched
    /// jobs.
    pub fn bring(
        &mut self,
        attendance: Option<Vec<AttendanceRow>>,
        unclosed: Vec<LaborRow>,
        pay_backs: Vec<PayBackRow>,
        gone: &HashSet<JobId>,
    ) {
        if let Some(mut rows) = attendance {
            rows.sort_unstable();
            self.attendance = rows;
        }
        changed(
            &mut self.unclosed,
            unclosed,
            gone,
            |row| row.job,
            |a, b| {
                let key = |row: &LaborRow| {
                    (row.job, row.started_on, row.activity, row.worked_as, row.minutes)
                };
                key(a).cmp(&key(b)).then_with(|| a.technician.cmp(&b.technician))
            },
        );
        changed(
            &mut self.pay_backs,
            pay_backs,
            gone,
            |row| row.job,
            |a, b| {
                let key = |row: &PayBackRow| (row.job, row.paid_on, row.amount_minor);
                key(a).cmp(&key(b))
            },
        );
    }

    pub fn attendance(&self) -> &[AttendanceRow] {
        &self.attendance
    }

    pub fn unclosed_labor(&self) -> &[LaborRow] {
        &self.unclosed
    }

    pub fn pay_backs(&self) -> &[PayBackRow] {
        &self.pay_backs
    }

    /// By technician and day, each once.
    pub fn days<'a>(&'a self, history: &'a History) -> Vec<Day<'a>> {
        let clock = clock_of_closed(history);
        let names = self.technicians(history, clock.keys().copied());
        // Names are compared once a person, not once a day.
        let place = |name: &str| names.partition_point(|known| *known < name);
        let attended = self
            .attendance
            .iter()
            .map(|row| (place(&row.technician), row.worked_on.to_epoch_days(), row.minutes, 0));
        let unclosed = self
            .unclosed
            .iter()
            .map(|row| (place(&row.technician), row.started_on.to_epoch_days(), 0, row.minutes));
        let closed = clock
            .iter()
            .filter_map(|(code, days)| Some((place(history.text(*code)?), days)))
            .flat_map(|(place, days)| days.iter().map(move |(day, sum)| (place, *day, 0, *sum)));
        let mut rows: Vec<(usize, i32, i64, i64)> =
            attended.chain(unclosed).chain(closed).collect();
        // Each person's days of each kind are in order already.
        rows.sort();
        let days = rows.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1));
        days.filter_map(|rows| {
            let (place, day, ..) = rows.first()?;
            Some(Day {
                technician: names.get(*place).copied()?,
                day: *day,
                attended: rows.iter().map(|(_, _, attended, _)| attended).sum(),
                clock: rows.iter().map(|(.., clock)| clock).sum(),
            })
        })
        .collect()
    }

    /// Everybody of whom there are minutes, by name.
    fn technicians<'a>(
        &'a self,
        history: &'a History,
        codes: impl IntoIterator<Item = u32>,
    ) -> Vec<&'a str> {
        let mut names: Vec<&str> = self.attendance.iter().map(|row| &*row.technician).collect();
        // It is in the order of names: few are left to be sorted.
        names.dedup();
        names.extend(self.unclosed.iter().map(|row| &*row.technician));
        names.extend(codes.into_iter().filter_map(|code| history.text(code)));
        names.sort_unstable();
        names.dedup();
        names
    }
}

/// Takes the rows of jobs that are gone out of rows in the order of their jobs, and
/// puts the brought ones in.
fn changed<R>(
    rows: &mut Vec<R>,
    mut brought: Vec<R>,
    gone: &HashSet<JobId>,
    job: impl Fn(&R) -> JobId,
    by: impl Fn(&R, &R) -> Ordering,
) {
    for id in gone {
        let first = rows.partition_point(|row| job(row) < *id);
        let end = rows.partition_point(|row| job(row) <= *id);
        rows.drain(first..end);
    }
    brought.sort_by(&by);
    let Some(first) = brought.first() else { return };
    let at = rows.partition_point(|row| by(row, first).is_le());
    let mut tail = rows.split_off(at).into_iter().peekable();
    for row in brought {
        while let Some(kept) = tail.next_if(|kept| by(kept, &row).is_le()) {
            rows.push(kept);
        }
        rows.push(row);
    }
    rows.extend(tail);
}

/// Minutes on closed jobs by technician's code, and by day: texts are compared once
/// a day, not once an entry. Entries come nearly in the order of days.
fn clock_of_closed(history: &History) -> HashMap<u32, Vec<(i32, i64)>> {
    let labor = history.labor();
    let mut clock: HashMap<u32, Vec<(i32, i64)>> = HashMap::new();
    let entries = labor.technician.iter().zip(labor.started_day).zip(labor.minutes);
    for ((&technician, &day), &minutes) in entries {
        let days = clock.entry(technician).or_default();
        match days.last_mut() {
            Some((last, sum)) if *last == day => *sum += minutes,
            _ => days.push((day, minutes)),
        }
    }
    for days in clock.values_mut() {
        days.sort_unstable();
        days.dedup_by(|(day, minutes), (kept, sum)| {
            let same = day == kept;
            *sum += if same { *minutes } else { 0 };
            same
        });
    }
    clock
}
