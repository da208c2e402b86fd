//! A job's hours, and what of them falls to each technician.

use super::Hours;
use super::checks::short;
use crate::history::{History, Labor, NO_NUMBER, Operations};
use crate::labor::split;
use crate::words::Activity;

/// Operations and labor read along with the jobs: all are in job order.
pub(super) struct Work<'a> {
    operations: Operations<'a>,
    labor: Labor<'a>,
    operation: usize,
    entry: usize,
    /// Of the job read last: flat-rate hundredths, and technicians with their
    /// minutes, in the order of their first entries.
    flat: i64,
    worked: Vec<(u32, i64)>,
}

impl<'a> Work<'a> {
    pub fn from(history: &'a History, from: usize) -> Self {
        let (operations, labor) = (history.operations(), history.labor());
        let first = |jobs: &[u32]| jobs.partition_point(|job| (*job as usize) < from);
        Self {
            operation: first(operations.job),
            entry: first(labor.job),
            operations,
            labor,
            flat: 0,
            worked: Vec::new(),
        }
    }

    /// Reads the job in the next row; back come its minutes of diagnosis.
    pub fn read(&mut self, row: u32) -> i64 {
        self.flat = 0;
        while self.operations.job.get(self.operation).is_some_and(|job| *job <= row) {
            let flat = self.operations.flat_rate_hundredths.get(self.operation);
            self.flat += flat.copied().filter(|flat| *flat != NO_NUMBER).unwrap_or(0);
            self.operation += 1;
        }
        self.worked.clear();
        let mut diagnosis = 0;
        while self.labor.job.get(self.entry).is_some_and(|job| *job <= row) {
            let minutes = self.labor.minutes.get(self.entry).copied().unwrap_or(0);
            if self.labor.activity.get(self.entry) == Some(&Activity::Diagnosis.code()) {
                diagnosis += minutes;
            }
            if let Some(&technician) = self.labor.technician.get(self.entry) {
                match self.worked.iter_mut().find(|(known, _)| *known == technician) {
                    Some((_, known)) => *known += minutes,
                    None => self.worked.push((technician, minutes)),
                }
            }
            self.entry += 1;
        }
        diagnosis
    }

    /// Hours of the job, and of each technician by clock share. A comeback credits no
    /// flat-rate hours; where nothing was clocked nothing is in any efficiency.
    pub fn hours(&self, comeback: bool) -> (Hours, impl Iterator<Item = (u32, Hours)> + '_) {
        let clock: i64 = self.worked.iter().map(|(_, minutes)| minutes).sum();
        let flat = if comeback || clock == 0 { 0 } else { self.flat };
        let shares = match self.worked.as_slice() {
            [] | [_] => vec![flat],
            several => {
                let weights: Vec<i64> = several.iter().map(|(_, minutes)| *minutes).collect();
                split(flat, &weights)
            }
        };
        let pieces = self.worked.iter().zip(shares).filter(move |_| clock > 0);
        let pieces = pieces.map(|(&(technician, minutes), flat)| {
            (technician, Hours { flat: short(flat), clock: short(minutes) })
        });
        (Hours { flat: short(flat), clock: short(clock) }, pieces)
    }
}
