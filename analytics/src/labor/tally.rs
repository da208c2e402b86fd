//! Jobs to labor sums, without an as-of.

use std::collections::{BTreeMap, HashMap};

use super::by::By;
use super::job::{Job, Reader};
use super::sums::{ByKind, ComebackSums, HoursSums, Kind, Piece, add_sums};
use crate::comeback::week_start_of;
use crate::follow::{date_of, day_number};
use crate::history::{History, Jobs, NO_NUMBER, NONE};
use crate::outcomes::OutcomeTally;
use crate::words::{Disposition, LinkState, Payer};

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
    /// By technician and day.
    pub(super) hours: BTreeMap<(String, i32), HoursSums>,
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
        let comeback = comeback_rows(history);
        let diagnosis = history.code_of(DIAGNOSIS).unwrap_or(NONE);
        let mut total = ByKind::new();
        let mut groups: HashMap<GroupKey, ByKind> = HashMap::new();
        let mut reader = Reader::new(history);
        let mut job = Job::default();
        for (row, (&closed_day, &comeback)) in jobs.closed_day.iter().zip(&comeback).enumerate() {
            reader.read(row, &mut job);
            let whole = job.whole();
            let kind = Kind { closed_day, comeback, clocked: whole.clock > 0 };
            *total.entry(kind).or_default() += whole.sums();
            let pieces = pieces(&jobs, (by, week_start), row, &job, diagnosis);
            for (key, piece) in pieces {
                *groups.entry(key).or_default().entry(kind).or_default() += piece.sums();
            }
        }
        let mut tally = Self {
            by,
            total,
            groups: BTreeMap::new(),
            comebacks: comebacks(history, &comeback),
            paid_back: paid_back(history, &comeback),
            hours: hours(history),
            outcomes: OutcomeTally::of(history),
        };
        for (key, sums) in groups {
            add_sums(tally.groups.entry(key.text(history)).or_default(), &sums);
        }
        tally
    }

    /// Adds another shop's tally by the same column; one by another column
    /// has no common groups and is refused.
    pub fn add(&mut self, other: &Self) -> Result<(), By> {
        if self.by != other.by {
            return Err(other.by);
        }
        add_sums(&mut self.total, &other.total);
        for (group, sums) in &other.groups {
            add_sums(self.groups.entry(group.clone()).or_default(), sums);
        }
        for (day, sums) in &other.comebacks {
            *self.comebacks.entry(*day).or_default() += *sums;
        }
        for (days, amount) in &other.paid_back {
            *self.paid_back.entry(*days).or_default() += amount;
        }
        for (key, sums) in &other.hours {
            *self.hours.entry(key.clone()).or_default() += *sums;
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
    job: &Job,
    diagnosis: u32,
) -> Vec<(GroupKey, Piece)> {
    let text = |column: &[u32]| column.get(row).copied().unwrap_or(NONE);
    let operations = || job.by_operation(diagnosis);
    match by {
        By::Symptom => vec![(GroupKey::Text(text(jobs.symptom)), job.whole())],
        By::Week => {
            let closed_day = jobs.closed_day.get(row).copied().unwrap_or_default();
            let first = week_start_of(closed_day, week_start);
            vec![(GroupKey::Week(first), job.whole())]
        }
        By::Technician => job
            .by_technician(text(jobs.lead))
            .into_iter()
            .map(|(technician, piece)| (GroupKey::Text(technician), piece))
            .collect(),
        By::Operation => merged(operations().map(|(op, piece)| (GroupKey::Text(op.code), piece))),
        By::Payer => merged(operations().map(|(op, piece)| (GroupKey::Payer(op.payer), piece))),
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

/// Rows of jobs that are the later job of a confirmed comeback.
fn comeback_rows(history: &History) -> Vec<bool> {
    let returns = history.returns();
    let mut rows = vec![false; history.jobs().closed_day.len()];
    for (&later, &state) in returns.later.iter().zip(returns.state) {
        if state == LinkState::Confirmed.code()
            && let Some(row) = rows.get_mut(later as usize)
        {
            *row = true;
        }
    }
    rows
}

/// What comebacks took, by the day they were closed.
fn comebacks(history: &History, comeback: &[bool]) -> BTreeMap<i32, ComebackSums> {
    let closed = history.jobs().closed_day;
    let mut sums: BTreeMap<i32, ComebackSums> = BTreeMap::new();
    let is_comeback = |job: u32| comeback.get(job as usize).copied().unwrap_or(false);
    let mut add = |job: u32, more: ComebackSums| {
        if let Some(&day) = closed.get(job as usize).filter(|_| is_comeback(job)) {
            *sums.entry(day).or_default() += more;
        }
    };
    for (row, &sublet_minor) in (0_u32..).zip(history.jobs().sublet_cost_minor) {
        add(row, ComebackSums { jobs: 1, sublet_minor, ..ComebackSums::default() });
    }
    let labor = history.labor();
    for (&job, &minutes) in labor.job.iter().zip(labor.minutes) {
        add(job, ComebackSums { clock_minutes: minutes, ..ComebackSums::default() });
    }
    let parts = history.parts();
    let costs = parts.quantity_hundredths.iter().zip(parts.unit_cost_minor);
    for ((&job, (&quantity, &cost)), &disposition) in
        parts.job.iter().zip(costs).zip(parts.disposition)
    {
        let replaced = Disposition::from_code(disposition).is_some_and(Disposition::is_replaced);
        if replaced && cost != NO_NUMBER {
            let parts_minor = line_cost(quantity, cost);
            add(job, ComebackSums { parts_minor, ..ComebackSums::default() });
        }
    }
    let operations = history.operations();
    for ((&job, &amount), &payer) in
        operations.job.iter().zip(operations.labor_amount_minor).zip(operations.payer)
    {
        if payer == Payer::Supplier.code() && amount != NO_NUMBER {
            add(job, ComebackSums { paid_back_minor: amount, ..ComebackSums::default() });
        }
    }
    sums
}

/// Cost of so many hundredths of a part; half a minor unit is rounded up, once
/// for the line.
fn line_cost(quantity_hundredths: i64, unit_minor: i64) -> i64 {
    let whole = (i128::from(quantity_hundredths) * i128::from(unit_minor) + 50).div_euclid(100);
    i64::try_from(whole).unwrap_or(i64::MAX)
}

/// What suppliers paid back on comebacks, by closing day and day of payment.
fn paid_back(history: &History, comeback: &[bool]) -> BTreeMap<(i32, i32), i64> {
    let closed = history.jobs().closed_day;
    let mut sums = BTreeMap::new();
    for paid in history.pay_backs() {
        let Some(at) = history.job_row(paid.job).map(|row| row as usize) else { continue };
        if let (Some(&closed), Some(true)) = (closed.get(at), comeback.get(at)) {
            *sums.entry((closed, day_number(paid.paid_on))).or_default() += paid.amount_minor;
        }
    }
    sums
}

/// Minutes attended and on the clock by technician and day.
fn hours(history: &History) -> BTreeMap<(String, i32), HoursSums> {
    let days = history.days().into_iter().map(|day| {
        let sums = HoursSums { attended: day.attended, clock: day.clock };
        ((day.technician.to_owned(), day.day), sums)
    });
    days.collect()
}

#[cfg(test)]
mod tests {
    use super::line_cost;

    /// By hand: 2.5 x 1.99 is 4.975, half up 4.98; 0.33 x 10.00 is 3.30.
    #[test]
    fn a_line_is_rounded_once() {
        assert_eq!(
            (line_cost(250, 199), line_cost(33, 1_000), line_cost(400, 650)),
            (498, 330, 2_600)
        );
    }
}
