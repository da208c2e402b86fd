//! Jobs to sums: touched by the rule or not, kept or not, without an as-of.

use std::collections::BTreeSet;

use crate::comeback::{Fate, fates};
use crate::counts::Counts;
use crate::history::{History, NONE};

/// Closing days, both included; none where the last is before the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Span {
    pub first: i32,
    pub last: i32,
}

impl Span {
    pub fn holds(&self, day: i32) -> bool {
        (self.first..=self.last).contains(&day)
    }
}

/// Which job rows a rule is about; `kept` where something says who kept it.
pub(super) struct Rows {
    pub touched: Vec<bool>,
    pub kept: Option<Vec<bool>>,
    pub not_known: Option<Vec<bool>>,
}

/// The repaired complaints by what the rule has to do with them.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct EffectTally {
    pub touched: Counts<Fate>,
    pub kept: Counts<Fate>,
    pub not_kept: Counts<Fate>,
    /// Touched, and nobody knows whether they kept it.
    pub not_known: Counts<Fate>,
    pub untouched: Counts<Fate>,
    /// Codes of the systems that the untouched jobs are of; none where they are
    /// all others.
    pub systems: BTreeSet<u32>,
}

impl EffectTally {
    /// The untouched jobs are those of the systems of the touched jobs closed in
    /// a span; where there are none of these in any span, all others.
    pub fn of(history: &History, rows: &Rows, spans: &[Span]) -> Self {
        let fates = fates(history);
        let systems = history.jobs().system;
        let looked_at = |day: i32| spans.iter().any(|span| span.holds(day));
        let cases = || {
            let columns = fates.iter().zip(systems).zip(&rows.touched).enumerate();
            columns.filter_map(|(row, ((fate, system), touched))| {
                fate.map(|fate| (row, fate, *system, *touched))
            })
        };
        let near = |of_touched: bool| {
            cases().filter(move |(_, fate, _, touched)| {
                *touched == of_touched && looked_at(fate.closed_day)
            })
        };
        let mut same: BTreeSet<u32> =
            near(true).map(|(_, _, system, _)| system).filter(|system| *system != NONE).collect();
        if !near(false).any(|(_, _, system, _)| same.contains(&system)) {
            same.clear();
        }
        let counted = |takes: &dyn Fn(usize, u32, bool) -> bool| {
            let taken = cases().filter(|(row, _, system, touched)| takes(*row, *system, *touched));
            Counts::of(taken.map(|(_, fate, ..)| fate).collect())
        };
        let open = |row: usize| {
            rows.not_known.as_ref().is_some_and(|not_known| not_known.get(row) == Some(&true))
        };
        let keeps = |row: usize| {
            let kept = rows.kept.as_ref().filter(|_| !open(row));
            kept.map(|kept| kept.get(row) == Some(&true))
        };
        Self {
            touched: counted(&|_, _, touched| touched),
            kept: counted(&|row, _, touched| touched && keeps(row) == Some(true)),
            not_kept: counted(&|row, _, touched| touched && keeps(row) == Some(false)),
            not_known: counted(&|row, _, touched| touched && rows.kept.is_some() && open(row)),
            untouched: counted(&|_, system, touched| {
                !touched && (same.is_empty() || same.contains(&system))
            }),
            systems: same,
        }
    }
}
