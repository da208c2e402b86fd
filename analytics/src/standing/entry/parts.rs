//! Part uses: which part, as what it was held, what was done with it.

use super::{Back, Entry, since};
use crate::follow::NEVER;
use crate::history::{History, NONE};
use crate::reuse::Choice;
use crate::words::{Disposition, Outcome, PartRole};

/// Uses of one part in one role with one choice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(in crate::standing) struct Cell {
    /// Code of part number, else name.
    pub part: u32,
    pub choice: Choice,
    pub role: Option<PartRole>,
}

impl Entry {
    pub(super) fn bring_parts(&mut self, history: &History, from: usize) {
        let (jobs, parts) = (history.jobs(), history.parts());
        let first = parts.job.partition_point(|job| (*job as usize) < from);
        self.cell.truncate(first);
        let kept = self.part_returns.partition_point(|back| (back.row as usize) < first);
        self.part_returns.truncate(kept);
        let uses = parts.job.iter().zip(parts.part).zip(parts.returned_day);
        let ways = parts.disposition.iter().zip(parts.role);
        for (row, (((&job, &part), &returned), (&disposition, &role))) in
            (0_u32..).zip(uses.zip(ways)).skip(first)
        {
            let outcome = jobs.outcome.get(job as usize).and_then(|code| Outcome::from_code(*code));
            let done = outcome.is_some_and(Outcome::is_done);
            let disposition = Disposition::from_code(disposition).filter(|_| done);
            self.cell.push(disposition.map_or(NONE, |disposition| {
                let choice = Choice::of(disposition);
                self.cells.of(Cell { part, choice, role: PartRole::from_code(role) })
            }));
            let closed = jobs.closed_day.get(job as usize).copied().unwrap_or(NEVER);
            let days = if returned == NEVER { NEVER } else { since(closed, returned) };
            if days != NEVER {
                self.part_returns.push(Back { row, days });
            }
        }
    }
}
