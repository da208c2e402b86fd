//! Readings before the hand-over and what came back, to sums without an as-of.

use std::collections::BTreeMap;

use crate::comeback::fates;
use crate::counts::Counts;
use crate::history::{History, NONE, Reading};

/// A repaired complaint that left with a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Left {
    pub closed_day: i32,
    pub reading: Reading,
    /// Days to the first return.
    pub elapsed: i32,
    /// The same where every undecided proposal of the same complaint counts.
    pub possible: i32,
}

/// Repaired complaints by line and unit of their readings, so that tallies of
/// several shops add up.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct HandOverTally {
    pub(super) lines: BTreeMap<(String, Option<String>), Counts<Left>>,
}

impl HandOverTally {
    /// Every repaired complaint with a reading before the hand-over: that of the
    /// line, of cells their mean.
    #[must_use]
    pub fn of(history: &History) -> Self {
        let (readings, fates) = (history.readings(), fates(history));
        let mut facts: BTreeMap<(u32, u32), Vec<Left>> = BTreeMap::new();
        let keys = readings.line.iter().zip(readings.unit).zip(readings.place);
        for ((&job, &value), ((&line, &unit), &place)) in
            readings.job.iter().zip(readings.reading).zip(keys)
        {
            let fate = fates.get(job as usize).and_then(Option::as_ref);
            // A yes or no has no unit, and is no reading to cut off at.
            let (Some(fate), Some(reading), NONE) = (fate, Reading::new(value), place) else {
                continue;
            };
            if unit == NONE {
                continue;
            }
            facts.entry((line, unit)).or_default().push(Left {
                closed_day: fate.closed_day,
                reading,
                elapsed: fate.elapsed,
                possible: fate.possible,
            });
        }
        let text = |code| history.text(code).map(str::to_owned);
        let counted = facts.into_iter().filter_map(|((line, unit), facts)| {
            Some(((text(line)?, text(unit)), Counts::of(facts)))
        });
        Self { lines: counted.collect() }
    }

    /// Adds another shop's tally.
    pub fn add(&mut self, other: &Self) {
        for (key, theirs) in &other.lines {
            self.lines.entry(key.clone()).or_default().add(theirs);
        }
    }
}
