//! What is added up over jobs: whole numbers, so that the order of adding never
//! shows.

use std::collections::BTreeMap;
use std::ops::AddAssign;

use crate::stats::ratio::RatioSums;

/// Which jobs a sum is over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Kind {
    pub closed_day: i32,
    /// The later job of a confirmed comeback: it credits no flat-rate hours.
    pub comeback: bool,
    /// Some clock time was recorded.
    pub clocked: bool,
}

/// Sums over jobs (of a job's part that falls to the group).
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Sums {
    /// Hundredths of a flat-rate hour over clock minutes.
    pub efficiency: RatioSums,
    /// Labor amount in minor units over billed hundredths of an hour.
    pub rate: RatioSums,
    pub diagnosis_minutes: i64,
}

impl AddAssign for Sums {
    fn add_assign(&mut self, other: Self) {
        self.efficiency += other.efficiency;
        self.rate += other.rate;
        self.diagnosis_minutes += other.diagnosis_minutes;
    }
}

/// What comebacks took: one, or all that were closed on one day.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct ComebackSums {
    pub jobs: i64,
    pub clock_minutes: i64,
    /// Cost of the parts fitted, in minor units.
    pub parts_minor: i64,
    /// Cost of work sent to other businesses, in minor units.
    pub sublet_minor: i64,
    /// Labor amounts a supplier paid for, in minor units.
    pub paid_back_minor: i64,
}

pub(super) type ByKind = BTreeMap<Kind, Sums>;

pub(super) fn add_sums(ours: &mut ByKind, theirs: ByKind) {
    if ours.is_empty() {
        *ours = theirs;
        return;
    }
    for (kind, sums) in theirs {
        *ours.entry(kind).or_default() += sums;
    }
}

/// Sums of jobs that come in the order of closing: only those of the last day can
/// still change.
#[derive(Debug, Default)]
pub(super) struct ByDay {
    day: i32,
    /// By whether the jobs were comebacks, and whether their time was clocked.
    open: [[Option<Sums>; 2]; 2],
    done: Vec<(Kind, Sums)>,
}

impl ByDay {
    pub fn add(&mut self, kind: Kind, sums: Sums) {
        if kind.closed_day != self.day {
            self.close();
            self.day = kind.closed_day;
        }
        let slots = self.open.get_mut(usize::from(kind.comeback));
        if let Some(slot) = slots.and_then(|slots| slots.get_mut(usize::from(kind.clocked))) {
            *slot.get_or_insert_default() += sums;
        }
    }

    fn close(&mut self) {
        let closed_day = self.day;
        for (comeback, slots) in [false, true].into_iter().zip(&mut self.open) {
            for (clocked, slot) in [false, true].into_iter().zip(slots) {
                let kind = Kind { closed_day, comeback, clocked };
                self.done.extend(slot.take().map(|sums| (kind, sums)));
            }
        }
    }

    pub fn finish(mut self) -> ByKind {
        self.close();
        self.done.into_iter().collect()
    }
}

impl AddAssign for ComebackSums {
    fn add_assign(&mut self, other: Self) {
        let sums = [
            (&mut self.jobs, other.jobs),
            (&mut self.clock_minutes, other.clock_minutes),
            (&mut self.parts_minor, other.parts_minor),
            (&mut self.sublet_minor, other.sublet_minor),
            (&mut self.paid_back_minor, other.paid_back_minor),
        ];
        for (sum, more) in sums {
            *sum = sum.saturating_add(more);
        }
    }
}

/// What one person's (or the shop's) day came to, in minutes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct HoursSums {
    pub attended: i64,
    /// Labor entries started on the day, whatever became of their jobs.
    pub clock: i64,
}

impl AddAssign for HoursSums {
    fn add_assign(&mut self, other: Self) {
        self.attended += other.attended;
        self.clock += other.clock;
    }
}

/// A part of a job's labor.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Piece {
    pub flat: i64,
    pub clock: i64,
    pub diagnosis: i64,
    pub billed: i64,
    pub amount: i64,
}

impl AddAssign for Piece {
    fn add_assign(&mut self, other: Self) {
        self.flat += other.flat;
        self.clock += other.clock;
        self.diagnosis += other.diagnosis;
        self.billed += other.billed;
        self.amount += other.amount;
    }
}

impl Piece {
    pub fn sums(&self) -> Sums {
        Sums {
            efficiency: RatioSums::of(self.flat, self.clock),
            // What was not billed by the hour says nothing about the rate.
            rate: if self.billed == 0 && self.amount == 0 {
                RatioSums::default()
            } else {
                RatioSums::of(self.amount, self.billed)
            },
            diagnosis_minutes: self.diagnosis,
        }
    }
}
