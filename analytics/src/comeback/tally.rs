//! Jobs to sums. A tally knows no as-of: it counts what became of each job,
//! by closing day and elapsed days, and the sums of shops add up.

use std::collections::BTreeMap;

use super::By;
use super::answers::earlier_rows;
use super::by::by_group;
use crate::counts::Counts;
use crate::follow::{NEVER, day_number, first_returns};
use crate::history::{History, Holds, NONE};
use crate::words::{JobKind, LinkState, Outcome};

/// What became of one repaired complaint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Fate {
    pub closed_day: i32,
    /// Days to the first return.
    pub elapsed: i32,
    /// That return was told, not seen.
    pub told: bool,
    /// The same where every undecided proposal of the same complaint counts.
    pub possible: i32,
    /// Not itself the repair of a comeback.
    pub first_repair: bool,
}

/// The repaired complaints of one group.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tally {
    pub(super) fates: Counts<Fate>,
    /// Closing day, and since when and how far the vehicle is known of.
    /// Apart from the fates: nearly every job has its own.
    pub(super) known: Counts<(i32, Known)>,
}

impl Tally {
    /// Those closed between two days alone.
    pub(crate) fn closed_between(&self, first: i32, last: i32) -> Self {
        Self {
            fates: self.fates.between(|fate| fate.closed_day, (first, last)),
            known: self.known.between(|(closed_day, _)| *closed_day, (first, last)),
        }
    }

    /// Adds another group's, week's or shop's sums.
    pub fn add(&mut self, other: &Self) {
        self.fates.add(&other.fates);
        self.known.add(&other.known);
    }
}

/// What was known of a vehicle after a hand-over, beside the job's own return, over
/// some days: those of one job follow one another, so that a job is counted once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Known {
    /// Days until it was known.
    pub from: i32,
    /// Days until more was.
    pub until: i32,
    /// How many of the job's first days it speaks of.
    pub reaches: i32,
}

impl Known {
    /// A vehicle seen again for anything, or told not to hold, is known of whatever the
    /// window. Who said that it holds, on so many days in their order, is known of until
    /// that day alone.
    fn add(known: &mut Vec<Self>, seen: i32, holds: impl Iterator<Item = i32>) {
        // Before the hand-over nobody can say so.
        let mut days = holds.filter(|days| (0..seen).contains(days)).peekable();
        while let Some(from) = days.next() {
            let until = days.peek().copied().unwrap_or(seen);
            known.push(Self { from, until, reaches: from });
        }
        if seen != NEVER {
            known.push(Self { from: seen, until: NEVER, reaches: NEVER });
        }
    }

    /// Whether by the as-of this is the last that is known, and speaks of the job's
    /// first `window` days.
    pub fn covers(self, closed_day: i32, window: i32, as_of: i32) -> bool {
        let by = |days: i32| days != NEVER && closed_day.saturating_add(days) <= as_of;
        window <= self.reaches && by(self.from) && !by(self.until)
    }
}

/// All repaired complaints, and the same by one column.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ComebackTally {
    pub(super) by: Option<By>,
    pub(super) all: Tally,
    /// By label; `None` for jobs without a value in the column.
    pub(super) groups: BTreeMap<Option<String>, Tally>,
    /// Closing day and days to the first return of what came back, by the reason
    /// of that return.
    pub(super) reasons: BTreeMap<Option<String>, Times>,
    /// Where jobs may stand in several groups: those that stand in one alone, by
    /// its label, and those that do not.
    pub(super) alone: BTreeMap<Option<String>, Times>,
    pub(super) several: Times,
}

/// Closing day and days to the first return.
pub(super) type Times = Counts<(i32, i32)>;

/// A population job with everything its tallies count.
struct Case {
    fate: Fate,
    /// Places in what is known of all jobs.
    known: std::ops::Range<usize>,
    /// Why it came back first: the code of a text.
    reason: u32,
}

/// The jobs by row; `None` for jobs outside the population.
struct Cases {
    jobs: Vec<Option<Case>>,
    known: Vec<Known>,
}

impl Cases {
    fn get(&self, row: u32) -> Option<&Case> {
        self.jobs.get(row as usize)?.as_ref()
    }

    fn known(&self, case: &Case) -> &[Known] {
        self.known.get(case.known.clone()).unwrap_or_default()
    }

    fn counted<'a>(&'a self, cases: impl Iterator<Item = &'a Case> + Clone) -> Tally {
        let fates = Counts::of(cases.clone().map(|case| case.fate).collect());
        let known = cases.flat_map(|case| {
            self.known(case).iter().map(move |known| (case.fate.closed_day, *known))
        });
        Tally { fates, known: Counts::of(known.collect()) }
    }
}

impl ComebackTally {
    /// The jobs of kind complaint with the outcome repaired, closed since the
    /// shop's links are recorded.
    #[must_use]
    pub fn of(history: &History, by: Option<By>) -> Self {
        let cases = cases(history);
        let all = cases.counted(cases.jobs.iter().flatten());
        let rows = by.map(|by| by.groups(history)).unwrap_or_default();
        let (alone, several) = apart(history, by, &rows, &cases);
        let groups = by.into_iter().flat_map(|by| {
            let rows: Vec<(u32, i64)> =
                rows.iter().filter(|(row, _)| cases.get(*row).is_some()).copied().collect();
            let groups = by_group(&rows).into_iter();
            groups.map(move |(group, rows)| (by.label(history, group), rows))
        });
        let groups = groups
            .map(|(label, rows)| {
                (label, cases.counted(rows.iter().filter_map(|row| cases.get(*row))))
            })
            .collect();
        let reasons = reasons(history, &cases);
        Self { by, all, groups, reasons, alone, several }
    }

    /// The groups of the column, by label.
    pub(crate) fn groups(&self) -> impl Iterator<Item = (Option<&str>, &Tally)> {
        self.groups.iter().map(|(label, tally)| (label.as_deref(), tally))
    }

    /// The jobs of all groups, each once.
    pub(crate) fn all(&self) -> &Tally {
        &self.all
    }

    /// Adds another shop's tally by the same column.
    pub fn add(&mut self, other: &Self) {
        self.all.add(&other.all);
        for (label, theirs) in &other.groups {
            self.groups.entry(label.clone()).or_default().add(theirs);
        }
        for (ours, theirs) in [(&mut self.reasons, &other.reasons), (&mut self.alone, &other.alone)]
        {
            for (label, times) in theirs {
                ours.entry(label.clone()).or_default().add(times);
            }
        }
        self.several.add(&other.several);
    }
}

fn times(case: &Case) -> (i32, i32) {
    (case.fate.closed_day, case.fate.elapsed)
}

/// What came back, by the reason of its first return.
fn reasons(history: &History, cases: &Cases) -> BTreeMap<Option<String>, Times> {
    let mut by_code: BTreeMap<u32, Vec<(i32, i32)>> = BTreeMap::new();
    for case in cases.jobs.iter().flatten().filter(|case| case.fate.elapsed != NEVER) {
        by_code.entry(case.reason).or_default().push(times(case));
    }
    by_code
        .into_iter()
        .map(|(code, times)| (history.text(code).map(str::to_owned), Counts::of(times)))
        .collect()
}

/// The jobs that stand in one group alone, by its label, and those that stand in
/// several; nothing where the column has each job once.
fn apart(
    history: &History,
    by: Option<By>,
    rows: &[(u32, i64)],
    cases: &Cases,
) -> (BTreeMap<Option<String>, Times>, Times) {
    let Some(by) = by.filter(|by| by.overlaps()) else {
        return (BTreeMap::new(), Times::default());
    };
    let (mut alone, mut several) = (BTreeMap::<i64, Vec<(i32, i32)>>::new(), Vec::new());
    // Sorted by row.
    for groups in rows.chunk_by(|a, b| a.0 == b.0) {
        let Some((row, group)) = groups.first() else { continue };
        let Some(case) = cases.get(*row) else { continue };
        if groups.len() == 1 {
            alone.entry(*group).or_default().push(times(case));
        } else {
            several.push(times(case));
        }
    }
    let alone =
        alone.into_iter().map(|(group, times)| (by.label(history, group), Counts::of(times)));
    (alone.collect(), Counts::of(several))
}

fn cases(history: &History) -> Cases {
    let mut known = Vec::new();
    let columns = fates(history).iter().zip(first_returns(history)).zip(next_visits(history));
    let jobs = columns.enumerate().map(|(row, ((fate, back), &visit))| {
        let fate = (*fate)?;
        // The order of a return may still be open, and is a visit; who told
        // of a return has been heard of.
        let seen = visit.min(fate.elapsed);
        let holds = held(history.holds(), row).map(|day| day - fate.closed_day);
        let first = known.len();
        Known::add(&mut known, seen, holds);
        Some(Case { fate, known: first..known.len(), reason: back.reason(history, row) })
    });
    let jobs = jobs.collect();
    Cases { jobs, known }
}

/// The days on which the customer said that a job's repair holds, in their order.
fn held(holds: Holds<'_>, row: usize) -> impl Iterator<Item = i32> {
    let first = holds.job.partition_point(|job| (*job as usize) < row);
    let jobs = holds.job.get(first..).unwrap_or_default();
    let days = holds.day.get(first..).unwrap_or_default();
    let of_job = jobs.iter().zip(days).take_while(move |(job, _)| **job as usize == row);
    of_job.map(|(_, day)| *day)
}

/// Whether a job's window was known of by a day, since its vehicle was seen again
/// or its customer heard of, by row; `None` for jobs outside the population.
pub(crate) fn seen_again(history: &History, window: i32, as_of: i32) -> Vec<Option<bool>> {
    let cases = cases(history);
    let known = |case: &Case| {
        let closed_day = case.fate.closed_day;
        cases.known(case).iter().any(|known| known.covers(closed_day, window, as_of))
    };
    cases.jobs.iter().map(|case| case.as_ref().map(known)).collect()
}

/// What became of every job, by row; `None` for jobs outside the population.
pub(crate) fn fates(history: &History) -> &[Option<Fate>] {
    history.derived().fates.get_or_init(|| fates_of(history))
}

fn fates_of(history: &History) -> Vec<Option<Fate>> {
    let (returns, possible) = (first_returns(history), possible_returns(history));
    let (first_repair, inside) = (first_repairs(history), in_population(history));
    let columns = history
        .jobs()
        .closed_day
        .iter()
        .zip(returns.iter().zip(possible))
        .zip(first_repair.iter().zip(inside));
    columns
        .map(|((&closed_day, (back, &possible)), (&first_repair, &inside))| {
            inside.then_some(Fate {
                closed_day,
                elapsed: back.days,
                told: back.told,
                possible,
                first_repair,
            })
        })
        .collect()
}

/// Which job rows every comeback share speaks of: complaints that were
/// repaired, closed since links were recorded.
pub(crate) fn in_population(history: &History) -> &[bool] {
    history.derived().in_population.get_or_init(|| population_of(history))
}

fn population_of(history: &History) -> Vec<bool> {
    let jobs = history.jobs();
    let from = history.facts().links_from.map_or(i32::MIN, day_number);
    jobs.kind
        .iter()
        .zip(jobs.outcome)
        .zip(jobs.closed_day)
        .map(|((&kind, &outcome), &closed_day)| {
            kind == JobKind::Complaint.code()
                && outcome == Outcome::Repaired.code()
                && closed_day >= from
        })
        .collect()
}

/// Elapsed days to the first return by job row, where every undecided
/// proposal of the same complaint counts beside what is known.
pub(crate) fn possible_returns(history: &History) -> &[i32] {
    history.derived().possible_returns.get_or_init(|| possible_returns_of(history))
}

fn possible_returns_of(history: &History) -> Vec<i32> {
    let mut possible: Vec<i32> = first_returns(history).iter().map(|back| back.days).collect();
    let closed = history.jobs().closed_day;
    let returns = history.returns();
    let links = returns
        .earlier
        .iter()
        .zip(returns.later_opened_day)
        .zip(returns.state.iter().zip(returns.same_complaint));
    for ((&earlier, &opened), (&state, &same)) in links {
        let row = earlier as usize;
        let (Some(slot), Some(&closed)) = (possible.get_mut(row), closed.get(row)) else {
            continue;
        };
        let undecided = state == LinkState::Proposed.code() && same != 0;
        // Before the hand-over it would be rework, not a return.
        if undecided && opened >= closed {
            *slot = (*slot).min(opened - closed);
        }
    }
    possible
}

/// Which job rows are not themselves the later job of a confirmed link.
pub(crate) fn first_repairs(history: &History) -> &[bool] {
    let earlier = || earlier_rows(history).iter();
    history
        .derived()
        .first_repairs
        .get_or_init(|| earlier().map(|earlier| *earlier == NONE).collect())
}

/// By job row, the days until an order opened after the vehicle's closing day is
/// known of; [`NEVER`] where there is none.
fn next_visits(history: &History) -> &[i32] {
    history.derived().next_visits.get_or_init(|| {
        let (jobs, visits) = (history.jobs(), Visits::of(history));
        let rows = jobs.vehicle.iter().zip(jobs.closed_day);
        rows.map(|(&vehicle, &closed_day)| {
            let next = visits.after(vehicle, closed_day);
            next.map_or(NEVER, |next| next.known_day - closed_day)
        })
        .collect()
    })
}

/// One visit of a vehicle.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Visit {
    opened_day: i32,
    /// The day from which on the history has this visit or one opened later: it
    /// has an order from its hand-over, that of a link from its opening.
    known_day: i32,
}

/// Every visit, by vehicle and opening day.
struct Visits {
    /// Where the visits of each vehicle begin, by its code.
    starts: Vec<usize>,
    visits: Vec<Visit>,
}

impl Visits {
    fn of(history: &History) -> Self {
        let (jobs, returns) = (history.jobs(), history.returns());
        let each = || {
            let days = jobs.opened_day.iter().zip(jobs.closed_day);
            let closed = jobs.vehicle.iter().zip(days);
            let closed = closed.map(|(&vehicle, (&opened_day, &known_day))| {
                (vehicle as usize, Visit { opened_day, known_day })
            });
            // The order of a link may still be open, and then it is in no job row.
            let linked = returns.earlier.iter().zip(returns.later_opened_day);
            closed.chain(linked.filter_map(|(&earlier, &opened_day)| {
                let vehicle = *jobs.vehicle.get(earlier as usize)?;
                Some((vehicle as usize, Visit { opened_day, known_day: opened_day }))
            }))
        };
        let vehicles = jobs.vehicle.iter().max().map_or(0, |last| *last as usize + 1);
        let mut starts = vec![0; vehicles + 1];
        for (vehicle, _) in each() {
            starts.get_mut(vehicle + 1).into_iter().for_each(|count: &mut usize| *count += 1);
        }
        let mut sum = 0;
        for start in &mut starts {
            sum += *start;
            *start = sum;
        }
        let mut next = starts.clone();
        let mut visits = vec![Visit::default(); sum];
        for (vehicle, visit) in each() {
            let Some(place) = next.get_mut(vehicle) else { continue };
            visits.get_mut(*place).into_iter().for_each(|slot| *slot = visit);
            *place += 1;
        }
        for ends in starts.windows(2) {
            let &[first, end] = ends else { continue };
            order(visits.get_mut(first..end).unwrap_or_default());
        }
        Self { starts, visits }
    }

    /// The vehicle's first visit opened after a day.
    fn after(&self, vehicle: u32, day: i32) -> Option<Visit> {
        let first = *self.starts.get(vehicle as usize)?;
        let visits = self.visits.get(first..*self.starts.get(vehicle as usize + 1)?)?;
        visits.get(visits.partition_point(|visit| visit.opened_day <= day)).copied()
    }
}

/// One vehicle's visits in order, each with what is known by those after it.
fn order(visits: &mut [Visit]) {
    visits.sort_unstable();
    let mut known_day = NEVER;
    for visit in visits.iter_mut().rev() {
        known_day = known_day.min(visit.known_day);
        visit.known_day = known_day;
    }
}
