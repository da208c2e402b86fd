//! What stands beside the frames of closed jobs: who was there for work, time on
//! the clock on jobs that are not closed, and what suppliers paid back.

use std::collections::{BTreeMap, HashMap, HashSet};

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

/// What no frame of closed jobs has.
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
        self.unclosed.retain(|row| !gone.contains(&row.job));
        self.unclosed.extend(unclosed);
        self.unclosed.sort_by(|a, b| {
            let key = |row: &LaborRow| {
                (row.job, row.started_on, row.activity, row.worked_as, row.minutes)
            };
            key(a).cmp(&key(b)).then_with(|| a.technician.cmp(&b.technician))
        });
        self.pay_backs.retain(|row| !gone.contains(&row.job));
        self.pay_backs.extend(pay_backs);
        self.pay_backs.sort_by_key(|row| (row.job, row.paid_on, row.amount_minor));
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
        let mut days: BTreeMap<(&str, i32), (i64, i64)> = BTreeMap::new();
        for row in &self.attendance {
            let day = row.worked_on.to_epoch_days();
            days.entry((&row.technician, day)).or_default().0 += row.minutes;
        }
        for row in &self.unclosed {
            let day = row.started_on.to_epoch_days();
            days.entry((&row.technician, day)).or_default().1 += row.minutes;
        }
        for ((technician, day), minutes) in clock_of_closed(history) {
            if let Some(technician) = history.text(technician) {
                days.entry((technician, day)).or_default().1 += minutes;
            }
        }
        days.into_iter()
            .map(|((technician, day), (attended, clock))| Day { technician, day, attended, clock })
            .collect()
    }
}

/// Minutes on closed jobs by technician's code and day: texts are compared once
/// a day, not once an entry.
fn clock_of_closed(history: &History) -> HashMap<(u32, i32), i64> {
    let labor = history.labor();
    let mut clock = HashMap::new();
    let entries = labor.technician.iter().zip(labor.started_day).zip(labor.minutes);
    for ((&technician, &day), &minutes) in entries {
        *clock.entry((technician, day)).or_default() += minutes;
    }
    clock
}
