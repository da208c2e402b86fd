//! Jobs to sums, by group and by what is compared, without an as-of.

use std::collections::BTreeMap;

use crate::comeback::{By, Fate, fates};
use crate::counts::Counts;
use crate::history::{History, NONE};

/// Jobs by what they are compared within: by symptom, those of suppliers and
/// lots by part; `None` for those without one.
pub(super) type Strata = BTreeMap<Option<String>, Counts<Fate>>;

/// Compared jobs by stratum, and the same of each group.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CompareTally {
    pub(super) by: By,
    /// Compared jobs, each once.
    pub(super) whole: Counts<Fate>,
    /// The same by stratum; a job with several parts stands in several.
    pub(super) all: Strata,
    /// By label; `None` for jobs without a value in the column.
    pub(super) groups: BTreeMap<Option<String>, Strata>,
}

/// Whether only first repairs are compared: a person answers for a chain, and
/// would answer for each of its jobs again.
pub(super) fn first_only(by: By) -> bool {
    by == By::Technician
}

/// Whether jobs are compared with those on which the same part was used: what a
/// supplier or a lot stands for is its part, and jobs without it are other work.
pub(super) fn within_parts(by: By) -> bool {
    matches!(by, By::Supplier | By::Lot)
}

/// A job row in a stratum of a group.
type Placed = (i64, u32, u32);

impl CompareTally {
    /// Repaired complaints by one column; of people's, only first repairs.
    #[must_use]
    pub fn of(history: &History, by: By) -> Self {
        let mut fates = fates(history).to_vec();
        for slot in fates.iter_mut().filter(|_| first_only(by)) {
            *slot = slot.filter(|fate| fate.first_repair);
        }
        let (mut grouped, mut every) = match by {
            By::Supplier => (by_part(history, history.parts().supplier), parts(history)),
            By::Lot => (by_part(history, history.parts().lot), parts(history)),
            _ => (by_symptom(history, by.groups(history)), symptoms(history)),
        };
        grouped.sort_unstable();
        every.sort_unstable();
        let groups = grouped.chunk_by(|a, b| a.0 == b.0).filter_map(|chunk| {
            let (group, ..) = chunk.first()?;
            let strata = strata(history, &fates, chunk);
            (!strata.is_empty()).then(|| (by.label(history, *group), strata))
        });
        Self {
            by,
            groups: groups.collect(),
            all: strata(history, &fates, &every),
            whole: Counts::of(fates.iter().copied().flatten().collect()),
        }
    }

    /// Adds another shop's tally by the same column.
    pub fn add(&mut self, other: &Self) {
        self.whole.add(&other.whole);
        add(&mut self.all, &other.all);
        for (label, theirs) in &other.groups {
            add(self.groups.entry(label.clone()).or_default(), theirs);
        }
    }
}

fn symptoms(history: &History) -> Vec<Placed> {
    let symptoms = history.jobs().symptom;
    (0_u32..).zip(symptoms).map(|(row, symptom)| (0, *symptom, row)).collect()
}

fn by_symptom(history: &History, groups: Vec<(u32, i64)>) -> Vec<Placed> {
    let symptoms = history.jobs().symptom;
    let placed = groups.into_iter().filter_map(|(row, group)| {
        symptoms.get(row as usize).map(|symptom| (group, *symptom, row))
    });
    placed.collect()
}

/// Every part of every job, once.
fn parts(history: &History) -> Vec<Placed> {
    let parts = history.parts();
    let mut placed: Vec<Placed> =
        parts.job.iter().zip(parts.part).map(|(job, part)| (0, *part, *job)).collect();
    placed.sort_unstable();
    placed.dedup();
    placed
}

/// Every job of a group of parts, once: with the first of its parts by name,
/// where it used several of one group's.
fn by_part(history: &History, groups: &[u32]) -> Vec<Placed> {
    let parts = history.parts();
    let named = parts.job.iter().zip(groups).zip(parts.part);
    let mut uses: Vec<(u32, u32, u32)> = named
        .filter(|((_, group), _)| **group != NONE)
        .map(|((job, group), part)| (*job, *group, *part))
        .collect();
    uses.sort_by(|a, b| (a.0, a.1, history.text(a.2)).cmp(&(b.0, b.1, history.text(b.2))));
    uses.dedup_by_key(|(job, group, _)| (*job, *group));
    uses.into_iter().map(|(job, group, part)| (i64::from(group), part, job)).collect()
}

/// Rows of one group, in the order of their strata's codes.
fn strata(history: &History, fates: &[Option<Fate>], rows: &[Placed]) -> Strata {
    let chunks = rows.chunk_by(|a, b| a.1 == b.1).filter_map(|chunk| {
        let (_, stratum, _) = chunk.first()?;
        let of_row = |(.., row): &Placed| fates.get(*row as usize).copied().flatten();
        let fates: Vec<Fate> = chunk.iter().filter_map(of_row).collect();
        let label = history.text(*stratum).map(str::to_owned);
        (!fates.is_empty()).then(|| (label, Counts::of(fates)))
    });
    chunks.collect()
}

fn add(ours: &mut Strata, theirs: &Strata) {
    for (stratum, counts) in theirs {
        ours.entry(stratum.clone()).or_default().add(counts);
    }
}
