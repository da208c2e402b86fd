//! Part uses with a bench reading to sums, without an as-of.

use std::collections::BTreeMap;

use crate::counts::Counts;
use crate::follow::{NEVER, day_number};
use crate::history::{History, Reading};
use crate::words::{Disposition, Outcome, PartRole};

/// A part that was read and put back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct PutBack {
    pub role: Option<PartRole>,
    pub closed_day: i32,
    pub reading: Reading,
    /// Days to the first confirmed part return.
    pub elapsed: i32,
    /// The same if every undecided proposal were confirmed.
    pub possibly: i32,
}

/// A part that was read and replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Rejected {
    pub role: Option<PartRole>,
    pub closed_day: i32,
}

/// All readings of one part in one unit.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Readings {
    /// What it is called, smallest name first.
    pub names: BTreeMap<String, i64>,
    pub put_back: Counts<PutBack>,
    pub rejected: Counts<Rejected>,
}

/// Readings by part (number, else name) and unit, so that tallies of several
/// shops add up. A reading is a key here; sums are counts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BenchTally {
    pub(super) parts: BTreeMap<(String, Option<String>), Readings>,
}

#[derive(Default)]
struct Facts {
    names: BTreeMap<u32, i64>,
    put_back: Vec<PutBack>,
    rejected: Vec<Rejected>,
}

impl BenchTally {
    /// Every use of a part with a reading that was put back (cleaned, adjusted
    /// or repaired) or replaced, on a job on which something was done and that
    /// closed since links are recorded.
    #[must_use]
    pub fn of(history: &History) -> Self {
        let parts = history.parts();
        let mut facts: BTreeMap<(u32, u32), Facts> = BTreeMap::new();
        let days = parts.returned_day.iter().zip(parts.possibly_returned_day);
        let keys = parts.part.iter().zip(parts.bench_unit).zip(parts.name);
        let held = parts.role.iter().zip(parts.disposition).zip(parts.bench_reading);
        for ((&job, ((&part, &unit), &name)), (((&role, &done), &reading), (&back, &maybe))) in
            parts.job.iter().zip(keys).zip(held.zip(days))
        {
            let (Some(reading), Some(closed_day), Some(done)) =
                (Reading::new(reading), closed_day(history, job), Disposition::from_code(done))
            else {
                continue;
            };
            let role = PartRole::from_code(role);
            let of_part = facts.entry((part, unit)).or_default();
            if done.is_put_back() {
                of_part.put_back.push(PutBack {
                    role,
                    closed_day,
                    reading,
                    elapsed: elapsed(closed_day, back),
                    possibly: elapsed(closed_day, maybe),
                });
            } else if done.is_replaced() {
                of_part.rejected.push(Rejected { role, closed_day });
            } else {
                continue;
            }
            *of_part.names.entry(name).or_default() += 1;
        }
        let text = |code| history.text(code).map(str::to_owned);
        let counted = facts.into_iter().filter_map(|((part, unit), facts)| {
            let names = facts.names.into_iter();
            let readings = Readings {
                names: names.map(|(name, n)| (text(name).unwrap_or_default(), n)).collect(),
                put_back: Counts::of(facts.put_back),
                rejected: Counts::of(facts.rejected),
            };
            (!readings.names.is_empty()).then_some(((text(part)?, text(unit)), readings))
        });
        Self { parts: counted.collect() }
    }

    /// Adds another shop's tally.
    pub fn add(&mut self, other: &Self) {
        for (key, theirs) in &other.parts {
            let ours = self.parts.entry(key.clone()).or_default();
            for (name, count) in &theirs.names {
                *ours.names.entry(name.clone()).or_default() += count;
            }
            ours.put_back.add(&theirs.put_back);
            ours.rejected.add(&theirs.rejected);
        }
    }
}

/// Closing day of a job whose part uses count.
fn closed_day(history: &History, row: u32) -> Option<i32> {
    let (jobs, at) = (history.jobs(), row as usize);
    let day = *jobs.closed_day.get(at)?;
    let linked = history.facts().links_from.map_or(i32::MIN, day_number);
    let done = Outcome::from_code(*jobs.outcome.get(at)?)?.is_done();
    (done && day >= linked).then_some(day)
}

/// Days from the hand-over to the return; a day before it is no return.
fn elapsed(closed_day: i32, returned_day: i32) -> i32 {
    if returned_day == NEVER || returned_day < closed_day {
        NEVER
    } else {
        returned_day - closed_day
    }
}
