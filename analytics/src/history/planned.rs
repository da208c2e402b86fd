//! Second visits that were planned when the earlier one ended.

use std::collections::HashSet;

use super::{JobId, PlannedVisitRow, Rows};
use crate::hashed::HashMap;

/// What was planned, by earlier job.
#[derive(Debug, Default)]
pub(super) struct Planned {
    pairs: HashSet<(JobId, JobId)>,
    /// Day of the first planned visit that came about.
    days: HashMap<JobId, i32>,
}

impl Planned {
    fn of(rows: &[PlannedVisitRow]) -> Self {
        let mut planned = Self::default();
        for row in rows {
            planned.pairs.insert((row.earlier, row.later));
            let day = planned.days.entry(row.earlier).or_insert(i32::MAX);
            *day = row.later_opened_on.to_epoch_days().min(*day);
        }
        planned
    }

    /// Takes the plans out of the rows, and with them the links and part
    /// returns between a job and its own planned visit.
    pub fn taken(rows: &mut Rows) -> Self {
        let planned = Self::of(&std::mem::take(&mut rows.planned_visits));
        if planned.pairs.is_empty() {
            return planned;
        }
        rows.returns.retain(|row| !planned.pairs.contains(&(row.earlier, row.later)));
        let jobs: HashMap<_, _> = rows.parts.iter().map(|part| (part.id, part.job)).collect();
        rows.part_returns.retain(|row| {
            jobs.get(&row.part_use).is_none_or(|job| !planned.pairs.contains(&(*job, row.later)))
        });
        planned
    }

    /// Day of the job's planned visit; `i32::MAX` where there was none.
    pub fn day_of(&self, job: JobId) -> i32 {
        self.days.get(&job).copied().unwrap_or(i32::MAX)
    }
}
