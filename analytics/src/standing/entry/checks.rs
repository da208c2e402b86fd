//! The order of a job's checks, and the minutes that finding the cause took.

use super::{Places, UNMEASURED};
use crate::history::{Checks, History, Jobs, NO_NUMBER, NONE};
use crate::words::{Finding, JobKind};

/// The checks frame read along with the jobs: both are in job order.
pub(super) struct OrderReader<'a> {
    jobs: Jobs<'a>,
    checks: Checks<'a>,
    at: usize,
    /// Place of the symptom, then of the checks.
    key: Vec<u32>,
}

/// What a job's checks say while they are read.
#[derive(Default)]
struct Walk {
    /// Of the checks that were done: any, and any in a measured order.
    done: bool,
    measured: bool,
    /// Of those that were not: any, while the work ran.
    declined: bool,
    minutes: Option<i64>,
}

impl<'a> OrderReader<'a> {
    pub fn from(history: &'a History, from: usize) -> Self {
        let checks = history.checks();
        let at = checks.job.partition_point(|job| (*job as usize) < from);
        Self { jobs: history.jobs(), checks, at, key: Vec::new() }
    }

    /// Symptom and checks of the job in the next row, where it is a complaint with a
    /// symptom and an order was measured; and its minutes. Given are the place of its
    /// symptom and its labor on diagnosis.
    pub fn read(
        &mut self,
        row: u32,
        (symptom, diagnosis): (u32, i64),
        places: &mut Places<u32>,
    ) -> (Option<&[u32]>, u32) {
        let at = row as usize;
        let complaint = self.jobs.kind.get(at) == Some(&JobKind::Complaint.code())
            && self.jobs.symptom.get(at).is_some_and(|symptom| *symptom != NONE);
        self.key.clear();
        self.key.push(symptom);
        let walk = self.walk(row, complaint.then_some(places));
        // Why a check was not done, said while the work ran, gives checks typed in at
        // close no order.
        if !complaint || !(walk.measured || (walk.declined && !walk.done)) {
            return (None, UNMEASURED);
        }
        let minutes = walk.minutes.or((diagnosis > 0).then_some(diagnosis));
        (Some(&self.key), minutes.map_or(UNMEASURED, short))
    }

    /// Reads the job's checks, and takes down the places of those of its order.
    fn walk(&mut self, row: u32, mut places: Option<&mut Places<u32>>) -> Walk {
        let mut walk = Walk::default();
        while let (Some(&check), Some(&finding), Some(&minutes), Some(&at_close)) = (
            self.checks
                .job
                .get(self.at)
                .filter(|job| **job <= row)
                .and(self.checks.check.get(self.at)),
            self.checks.finding.get(self.at),
            self.checks.minutes.get(self.at),
            self.checks.at_close.get(self.at),
        ) {
            self.at += 1;
            let measured = at_close == 0;
            if finding == Finding::NotDone.code() {
                walk.declined |= measured;
                continue;
            }
            walk.done = true;
            if !measured {
                continue;
            }
            walk.measured = true;
            if let Some(places) = &mut places {
                self.key.push(places.of(check));
            }
            if minutes != NO_NUMBER {
                walk.minutes = Some(walk.minutes.unwrap_or(0) + minutes);
            }
        }
        walk
    }
}

/// Minutes as a column holds them. No job takes eight thousand years.
pub(super) fn short(minutes: i64) -> u32 {
    u32::try_from(minutes.max(0)).unwrap_or(UNMEASURED).min(UNMEASURED - 1)
}
