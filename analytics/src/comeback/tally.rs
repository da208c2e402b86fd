//! Jobs to sums. A tally knows no as-of: it counts what became of each job,
//! by closing day and elapsed days, and the sums of shops add up.

use std::collections::BTreeMap;

use super::By;
use super::answers::earlier_rows;
use crate::counts::Counts;
use crate::follow::{FirstReturn, NEVER, day_number, first_returns};
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
    fn of(seen: i32, holds: impl Iterator<Item = i32>) -> Vec<Self> {
        // Before the hand-over nobody can say so.
        let days: Vec<i32> = holds.filter(|days| (0..seen).contains(days)).collect();
        let until = days.iter().skip(1).copied().chain([seen]);
        let mut known: Vec<Self> = days
            .iter()
            .zip(until)
            .map(|(&from, until)| Self { from, until, reaches: from })
            .collect();
        if seen != NEVER {
            known.push(Self { from: seen, until: NEVER, reaches: NEVER });
        }
        known
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
    known: Vec<Known>,
    /// Why it came back first: the code of a text.
    reason: u32,
}

impl ComebackTally {
    /// The jobs of kind complaint with the outcome repaired, closed since the
    /// shop's links are recorded.
    #[must_use]
    pub fn of(history: &History, by: Option<By>) -> Self {
        let cases = cases(history);
        let all = counted(cases.iter().flatten());
        let rows = by.map(|by| by.groups(history)).unwrap_or_default();
        let (alone, several) = apart(history, by, &rows, &cases);
        let mut grouped: Vec<(i64, &Case)> = rows
            .into_iter()
            .filter_map(|(row, group)| Some((group, cases.get(row as usize)?.as_ref()?)))
            .collect();
        grouped.sort_by_key(|(group, _)| *group);
        let groups = by.map(|by| {
            grouped
                .chunk_by(|a, b| a.0 == b.0)
                .filter_map(|chunk| {
                    let (group, _) = chunk.first()?;
                    let label = by.label(history, *group);
                    Some((label, counted(chunk.iter().map(|(_, case)| *case))))
                })
                .collect()
        });
        let reasons = reasons(history, &cases);
        Self { by, all, groups: groups.unwrap_or_default(), reasons, alone, several }
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

fn counted<'a>(cases: impl Iterator<Item = &'a Case> + Clone) -> Tally {
    // Cases come in the order of closing, so those without a return are sorted
    // already; only the few others cost sorting.
    let quiet = |first| move |fate: &Fate| fate.possible == NEVER && fate.first_repair == first;
    let fates = |takes: &dyn Fn(&Fate) -> bool| {
        Counts::of(cases.clone().map(|case| case.fate).filter(|fate| takes(fate)).collect())
    };
    let mut all = fates(&|fate| fate.possible != NEVER);
    all.add(&fates(&quiet(true)));
    all.add(&fates(&quiet(false)));
    let known =
        cases.flat_map(|case| case.known.iter().map(move |known| (case.fate.closed_day, *known)));
    Tally { fates: all, known: Counts::of(known.collect()) }
}

fn times(case: &Case) -> (i32, i32) {
    (case.fate.closed_day, case.fate.elapsed)
}

/// What came back, by the reason of its first return.
fn reasons(history: &History, cases: &[Option<Case>]) -> BTreeMap<Option<String>, Times> {
    let mut by_code: BTreeMap<u32, Vec<(i32, i32)>> = BTreeMap::new();
    for case in cases.iter().flatten().filter(|case| case.fate.elapsed != NEVER) {
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
    cases: &[Option<Case>],
) -> (BTreeMap<Option<String>, Times>, Times) {
    let Some(by) = by.filter(|by| by.overlaps()) else {
        return (BTreeMap::new(), Times::default());
    };
    let (mut alone, mut several) = (BTreeMap::<i64, Vec<(i32, i32)>>::new(), Vec::new());
    // Sorted by row.
    for groups in rows.chunk_by(|a, b| a.0 == b.0) {
        let Some((row, group)) = groups.first() else { continue };
        let Some(case) = cases.get(*row as usize).and_then(Option::as_ref) else { continue };
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

/// By job row; `None` for jobs outside the population.
fn cases(history: &History) -> Vec<Option<Case>> {
    let visits = vehicles_visits(history);
    let returns = first_returns(history);
    fates_of(history, &returns)
        .into_iter()
        .zip(history.jobs().vehicle)
        .zip(&returns)
        .enumerate()
        .map(|(row, ((fate, &vehicle), back))| {
            let fate = fate?;
            // The order of a return may still be open, and is a visit; who told
            // of a return has been heard of.
            let seen = next_visit(&visits, vehicle, fate.closed_day).min(fate.elapsed);
            let holds = held(history.holds(), row).map(|day| day - fate.closed_day);
            let known = Known::of(seen, holds);
            Some(Case { fate, known, reason: back.reason(history, row) })
        })
        .collect()
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
    cases(history)
        .into_iter()
        .map(|case| {
            let case = case?;
            let closed_day = case.fate.closed_day;
            Some(case.known.iter().any(|known| known.covers(closed_day, window, as_of)))
        })
        .collect()
}

/// What became of every job, by row; `None` for jobs outside the population.
pub(crate) fn fates(history: &History) -> Vec<Option<Fate>> {
    fates_of(history, &first_returns(history))
}

fn fates_of(history: &History, returns: &[FirstReturn]) -> Vec<Option<Fate>> {
    let possible = possible_returns(history, returns);
    let first_repair = first_repairs(history);
    let inside = in_population(history);
    let columns = history
        .jobs()
        .closed_day
        .iter()
        .zip(returns.iter().zip(&possible))
        .zip(first_repair.iter().zip(&inside));
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
pub(crate) fn in_population(history: &History) -> Vec<bool> {
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
pub(crate) fn possible_returns(history: &History, first: &[FirstReturn]) -> Vec<i32> {
    let mut possible: Vec<i32> = first.iter().map(|back| back.days).collect();
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
pub(crate) fn first_repairs(history: &History) -> Vec<bool> {
    earlier_rows(history).iter().map(|earlier| *earlier == NONE).collect()
}

/// One visit of a vehicle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Visit {
    vehicle: u32,
    opened_day: i32,
    /// The day from which on the history has this visit or one opened later: it
    /// has an order from its hand-over, that of a link from its opening.
    known_day: i32,
}

/// Every visit, by vehicle and opening day.
fn vehicles_visits(history: &History) -> Vec<Visit> {
    let jobs = history.jobs();
    let days = jobs.opened_day.iter().zip(jobs.closed_day);
    let closed = jobs.vehicle.iter().zip(days).map(|(&vehicle, (&opened_day, &known_day))| Visit {
        vehicle,
        opened_day,
        known_day,
    });
    let returns = history.returns();
    // The order of a link may still be open, and then it is in no job row.
    let linked = returns.earlier.iter().zip(returns.later_opened_day).filter_map(
        |(&earlier, &opened_day)| {
            let vehicle = *jobs.vehicle.get(earlier as usize)?;
            Some(Visit { vehicle, opened_day, known_day: opened_day })
        },
    );
    let mut visits: Vec<Visit> = closed.chain(linked).collect();
    visits.sort_unstable();
    let mut after: Option<Visit> = None;
    for visit in visits.iter_mut().rev() {
        if let Some(after) = after.filter(|after| after.vehicle == visit.vehicle) {
            visit.known_day = visit.known_day.min(after.known_day);
        }
        after = Some(*visit);
    }
    visits
}

/// Days until an order opened after the vehicle's closing day is known of;
/// [`NEVER`] where there is none.
fn next_visit(visits: &[Visit], vehicle: u32, closed_day: i32) -> i32 {
    let at =
        visits.partition_point(|visit| (visit.vehicle, visit.opened_day) <= (vehicle, closed_day));
    match visits.get(at) {
        Some(next) if next.vehicle == vehicle => next.known_day - closed_day,
        _ => NEVER,
    }
}
