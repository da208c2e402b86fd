//! What stands beside the columns of closed jobs: who was there for work, time on
//! the clock on jobs that are not closed, and what suppliers paid back.

use std::cmp::Ordering;
use std::collections::{BTreeMap, HashSet};

use super::{AttendanceRow, History, JobId, LaborRow, NONE, PayBackRow};

/// One technician's day, in minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Day {
    /// From 1970-01-01.
    pub day: i32,
    pub attended: i64,
    /// Labor entries that were started on the day.
    pub clock: i64,
}

/// The days of one technician of which there are minutes, in their order.
pub(crate) struct Days<'a> {
    pub technician: &'a str,
    pub days: Vec<Day>,
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

    /// By technician, each once, by name.
    pub fn days<'a>(&'a self, history: &'a History) -> Vec<Days<'a>> {
        let labor = history.labor();
        let coded = coded(labor.technician);
        let names = self.technicians(history, &coded);
        let place = |name: &str| names.partition_point(|known| *known < name);
        // Names are compared once a person, not once a day.
        let places: Vec<usize> = (0_u32..)
            .zip(&coded)
            .map(|(code, seen)| {
                let name = history.text(code).filter(|_| *seen);
                name.map_or(usize::MAX, place)
            })
            .collect();
        let attended = self.attendance.chunk_by(|a, b| a.technician == b.technician);
        let attended = attended.flat_map(|rows| {
            let at = rows.first().map_or(usize::MAX, |row| place(&row.technician));
            rows.iter().map(move |row| (at, row.worked_on.to_epoch_days(), row.minutes, 0))
        });
        let unclosed = self
            .unclosed
            .iter()
            .map(|row| (place(&row.technician), row.started_on.to_epoch_days(), 0, row.minutes));
        let closed = labor.technician.iter().zip(labor.started_day).zip(labor.minutes);
        let closed = closed.map(|((&code, &day), &minutes)| {
            (places.get(code as usize).copied().unwrap_or(usize::MAX), day, 0, minutes)
        });
        let mut sheets: Vec<Sheet> = names.iter().map(|_| Sheet::default()).collect();
        for (at, day, attended, clock) in attended.chain(unclosed).chain(closed) {
            if let Some(sheet) = sheets.get_mut(at) {
                sheet.add(day, attended, clock);
            }
        }
        let sheets = names.into_iter().zip(sheets);
        sheets.map(|(technician, sheet)| Days { technician, days: sheet.days() }).collect()
    }

    /// Everybody of whom there are minutes, by name.
    fn technicians<'a>(&'a self, history: &'a History, coded: &[bool]) -> Vec<&'a str> {
        let mut names: Vec<&str> = self.attendance.iter().map(|row| &*row.technician).collect();
        // It is in the order of names: few are left to be sorted.
        names.dedup();
        names.extend(self.unclosed.iter().map(|row| &*row.technician));
        let coded = (0_u32..).zip(coded).filter(|(_, seen)| **seen);
        names.extend(coded.filter_map(|(code, _)| history.text(code)));
        names.sort_unstable();
        names.dedup();
        names
    }
}

/// Which codes a column has.
fn coded(column: &[u32]) -> Vec<bool> {
    let last = column.iter().filter(|code| **code != NONE).max();
    let mut seen = vec![false; last.map_or(0, |last| *last as usize + 1)];
    for code in column {
        if let Some(seen) = seen.get_mut(*code as usize) {
            *seen = true;
        }
    }
    seen
}

/// One technician's minutes, with a place for each day: entries come nearly in the
/// order of days, and close together.
#[derive(Default)]
struct Sheet {
    /// The first place's day.
    first: i32,
    /// Attended and on the clock.
    days: Vec<(i64, i64)>,
    /// Days too far from the others to have a place.
    far: BTreeMap<i32, (i64, i64)>,
}

/// Places that a sheet has at most: a hundred years.
const MOST_DAYS: i64 = 36_525;

impl Sheet {
    fn add(&mut self, day: i32, attended: i64, clock: i64) {
        let sum = self.place(day);
        sum.0 += attended;
        sum.1 += clock;
    }

    fn place(&mut self, day: i32) -> &mut (i64, i64) {
        if self.days.is_empty() {
            self.first = day;
        }
        let from_first = i64::from(day) - i64::from(self.first);
        let end = (from_first + 1).max(self.days.len() as i64);
        let before = (-from_first).max(0);
        if end + before > MOST_DAYS {
            return self.far.entry(day).or_default();
        }
        if before > 0 {
            let added = std::iter::repeat_n((0, 0), before as usize);
            self.days.splice(0..0, added);
            self.first = day;
        } else if end > self.days.len() as i64 {
            self.days.resize(end as usize, (0, 0));
        }
        let at = i64::from(day) - i64::from(self.first);
        match self.days.get_mut(at as usize) {
            Some(sum) => sum,
            None => self.far.entry(day).or_default(),
        }
    }

    fn days(self) -> Vec<Day> {
        let near = (self.first..).zip(self.days);
        let mut days: Vec<Day> = near
            .chain(self.far)
            .filter(|(_, sum)| *sum != (0, 0))
            .map(|(day, (attended, clock))| Day { day, attended, clock })
            .collect();
        days.sort_by_key(|day| day.day);
        days
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

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        /// Held against a tree, for days near each other and far off.
        #[test]
        fn a_sheet_adds_up_its_days(
            rows in proptest::collection::vec(
                (proptest::prop_oneof![-40_i32..40, -90_000_i32..90_000], 0_i64..3, 0_i64..3), 0..40,
            ),
        ) {
            let (mut sheet, mut tree) = (Sheet::default(), BTreeMap::<i32, (i64, i64)>::new());
            for (day, attended, clock) in rows {
                sheet.add(day, attended, clock);
                let sum = tree.entry(day).or_default();
                *sum = (sum.0 + attended, sum.1 + clock);
            }
            tree.retain(|_, sum| *sum != (0, 0));
            let days = sheet.days().into_iter().map(|day| (day.day, (day.attended, day.clock)));
            proptest::prop_assert_eq!(days.collect::<Vec<_>>(), tree.into_iter().collect::<Vec<_>>());
        }
    }
}
