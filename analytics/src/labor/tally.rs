//! Jobs to labor sums, without an as-of.

use std::collections::BTreeMap;

use super::by::By;
use super::costs::{ComebackCosts, comeback_costs};
use super::job::{Job, Reader};
use super::sums::{ByDay, ByKind, ComebackSums, HoursSums, Kind, Piece, add_sums};
use crate::comeback::{first_repairs, week_start_of};
use crate::follow::date_of;
use crate::hashed::HashMap;
use crate::history::{History, Jobs, NONE};
use crate::outcomes::OutcomeTally;
use crate::words::Payer;

/// The operation that diagnosis is charged on.
const DIAGNOSIS: &str = "diagnosis";

/// Labor sums by one column. Groups are texts, so tallies of several shops
/// add up; `None` is what has no value in the column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LaborTally {
    pub(super) by: By,
    pub(super) total: ByKind,
    pub(super) groups: BTreeMap<Option<String>, ByKind>,
    pub(super) comebacks: BTreeMap<i32, ComebackSums>,
    /// What suppliers paid back on comebacks, by closing day and day of payment.
    pub(super) paid_back: BTreeMap<(i32, i32), i64>,
    /// By technician, each day once and in order.
    pub(super) hours: BTreeMap<String, Vec<(i32, HoursSums)>>,
    pub(super) outcomes: OutcomeTally,
}

/// A group while rows are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum GroupKey {
    Text(u32),
    Payer(Option<Payer>),
    Week(i32),
}

impl LaborTally {
    /// Every closed job by one column.
    #[must_use]
    pub fn of(history: &History, by: By) -> Self {
        let (jobs, week_start) = (history.jobs(), history.facts().week_start);
        let costs = comeback_costs(history);
        let diagnosis = history.code_of(DIAGNOSIS).unwrap_or(NONE);
        let mut total = ByDay::default();
        let mut groups: HashMap<GroupKey, ByDay> = HashMap::default();
        let mut reader = Reader::new(history);
        let mut job = Job::default();
        let first = first_repairs(history);
        for (row, (&closed_day, first)) in jobs.closed_day.iter().zip(first).enumerate() {
            reader.read(row, &mut job);
            let whole = job.whole();
            let kind = Kind { closed_day, comeback: !first, clocked: whole.clock > 0 };
            total.add(kind, whole.sums());
            let add = |key, piece: Piece| groups.entry(key).or_default().add(kind, piece.sums());
            pieces(&jobs, (by, week_start), row, (&job, whole), diagnosis, add);
        }
        let (comebacks, paid_back) = by_day(&jobs, &costs);
        let mut tally = Self {
            by,
            total: total.finish(),
            groups: BTreeMap::new(),
            comebacks,
            paid_back,
            hours: hours(history),
            outcomes: OutcomeTally::of(history),
        };
        for (key, sums) in groups {
            add_sums(tally.groups.entry(key.text(history)).or_default(), sums.finish());
        }
        tally
    }

    /// Adds another shop's tally by the same column; one by another column
    /// has no common groups and is refused.
    pub fn add(&mut self, other: &Self) -> Result<(), By> {
        if self.by != other.by {
            return Err(other.by);
        }
        add_sums(&mut self.total, other.total.clone());
        for (group, sums) in &other.groups {
            add_sums(self.groups.entry(group.clone()).or_default(), sums.clone());
        }
        for (day, sums) in &other.comebacks {
            *self.comebacks.entry(*day).or_default() += *sums;
        }
        for (days, amount) in &other.paid_back {
            *self.paid_back.entry(*days).or_default() += amount;
        }
        for (technician, days) in &other.hours {
            add_days(self.hours.entry(technician.clone()).or_default(), days);
        }
        self.outcomes.add(&other.outcomes);
        Ok(())
    }
}

impl GroupKey {
    fn text(self, history: &History) -> Option<String> {
        match self {
            Self::Text(code) => history.text(code).map(ToOwned::to_owned),
            Self::Payer(payer) => payer.map(|payer| payer.as_str().to_owned()),
            Self::Week(first_day) => Some(date_of(first_day).to_string()),
        }
    }
}

/// What of a job falls to which group.
fn pieces(
    jobs: &Jobs<'_>,
    (by, week_start): (By, u8),
    row: usize,
    (job, whole): (&Job, Piece),
    diagnosis: u32,
    mut add: impl FnMut(GroupKey, Piece),
) {
    let text = |column: &[u32]| column.get(row).copied().unwrap_or(NONE);
    let operations = || job.by_operation(diagnosis);
    match by {
        By::Symptom => add(GroupKey::Text(text(jobs.symptom)), whole),
        By::Week => {
            let closed_day = jobs.closed_day.get(row).copied().unwrap_or_default();
            add(GroupKey::Week(week_start_of(closed_day, week_start)), whole);
        }
        By::Technician => match job.worked.as_slice() {
            [] => add(GroupKey::Text(text(jobs.lead)), whole),
            [only] => add(GroupKey::Text(only.technician), whole),
            _ => {
                for (technician, piece) in job.by_technician(text(jobs.lead)) {
                    add(GroupKey::Text(technician), piece);
                }
            }
        },
        By::Operation => merged(operations().map(|(op, piece)| (GroupKey::Text(op.code), piece)))
            .into_iter()
            .for_each(|(key, piece)| add(key, piece)),
        By::Payer => merged(operations().map(|(op, piece)| (GroupKey::Payer(op.payer), piece)))
            .into_iter()
            .for_each(|(key, piece)| add(key, piece)),
    }
}

/// Pieces of one job that fall to the same group become one case.
fn merged(pieces: impl Iterator<Item = (GroupKey, Piece)>) -> Vec<(GroupKey, Piece)> {
    let mut merged: Vec<(GroupKey, Piece)> = Vec::new();
    for (key, piece) in pieces {
        match merged.iter_mut().find(|(known, _)| *known == key) {
            Some((_, sum)) => *sum += piece,
            None => merged.push((key, piece)),
        }
    }
    merged
}

/// What comebacks took, by the day they were closed, and what suppliers paid
/// back on them, by that day and the day of payment.
fn by_day(
    jobs: &Jobs<'_>,
    costs: &ComebackCosts,
) -> (BTreeMap<i32, ComebackSums>, BTreeMap<(i32, i32), i64>) {
    let (mut sums, mut paid_back) = (BTreeMap::<i32, ComebackSums>::new(), BTreeMap::new());
    for (row, job) in costs {
        let Some(&closed) = jobs.closed_day.get(*row as usize) else { continue };
        *sums.entry(closed).or_default() += job.sums;
        for (paid, amount) in &job.pay_backs {
            *paid_back.entry((closed, *paid)).or_default() += amount;
        }
    }
    (sums, paid_back)
}

/// Minutes attended and on the clock by technician and day.
fn hours(history: &History) -> BTreeMap<String, Vec<(i32, HoursSums)>> {
    let technicians = history.days().into_iter().map(|of| {
        let days = of.days.iter().map(|day| {
            let sums = HoursSums { attended: day.attended, clock: day.clock };
            (day.day, sums)
        });
        (of.technician.to_owned(), days.collect())
    });
    technicians.collect()
}

/// Adds the days of somebody who works in two shops.
fn add_days(ours: &mut Vec<(i32, HoursSums)>, theirs: &[(i32, HoursSums)]) {
    ours.extend_from_slice(theirs);
    ours.sort_by_key(|(day, _)| *day);
    ours.dedup_by(|(day, sums), (kept, sum)| {
        let same = day == kept;
        if same {
            *sum += *sums;
        }
        same
    });
}
