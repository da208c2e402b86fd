//! Part uses to sums, without an as-of.

use std::collections::BTreeMap;

use super::choice::Choice;
use crate::comeback::in_population;
use crate::counts::Counts;
use crate::follow::{NEVER, day_number, first_returns};
use crate::hashed::HashMap;
use crate::history::{History, Jobs, NO_NUMBER};
use crate::words::{Activity, CauseState, Curable, Disposition, Outcome, PartRole};

/// One part use, as far as its return is concerned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Use {
    pub closed_day: i32,
    /// Days to the first confirmed part return.
    pub elapsed: i32,
    /// The same if every undecided proposal were confirmed.
    pub possibly: i32,
}

/// The uses of one part in one role with one choice.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Cell {
    pub uses: Counts<Use>,
    /// Closing day and days to the comeback of each repaired complaint job.
    pub jobs: Counts<(i32, i32)>,
    /// Closing days of uses with a bench reading.
    pub tested: Counts<i32>,
}

/// All uses of one part.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct PartTally {
    /// What it is called, smallest name first.
    pub names: BTreeMap<String, i64>,
    pub cells: BTreeMap<(Option<PartRole>, Choice), Cell>,
    /// Closing day and cost, in minor units, of replaced parts.
    pub costs: Counts<(i32, i64)>,
    /// Closing day and minutes of access and reassembly of each job.
    pub access: Counts<(i32, i64)>,
    /// Closing day and curability of the confirmed cause, where a suspect.
    pub causes: Counts<(i32, Curable)>,
}

/// What became of every part, by part, role and choice. Part numbers (else
/// names) are the keys, so tallies of several shops add up.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ReuseTally {
    pub(super) parts: BTreeMap<String, PartTally>,
}

/// Single facts of one part while rows are read.
#[derive(Default)]
struct Facts {
    names: BTreeMap<u32, i64>,
    cells: HashMap<(Option<PartRole>, Choice), CellFacts>,
    costs: Vec<(i32, i64)>,
    access: Vec<(i32, i64)>,
    causes: Vec<(i32, Curable)>,
    last_access: Option<u32>,
    last_cause: Option<u32>,
}

#[derive(Default)]
struct CellFacts {
    uses: Vec<Use>,
    jobs: Vec<(i32, i32)>,
    tested: Vec<i32>,
    last_job: Option<u32>,
}

/// A job as its part uses see it.
struct JobFacts {
    row: u32,
    closed_day: i32,
    comeback: Option<i32>,
    access: i64,
    confirmed: Option<Curable>,
}

/// One part use.
struct UseRow {
    name: u32,
    role: Option<PartRole>,
    disposition: Disposition,
    cost: i64,
    tested: bool,
    returned_day: i32,
    possibly_day: i32,
}

impl ReuseTally {
    /// Every part use on a job that was handed over as done: not declined, not
    /// "not reproduced", and not closed before links were recorded.
    #[must_use]
    pub fn of(history: &History) -> Self {
        let comebacks: Vec<Option<i32>> = in_population(history)
            .iter()
            .zip(first_returns(history))
            .map(|(inside, first)| inside.then_some(first.days))
            .collect();
        let access = access_minutes(history);
        let (jobs, parts) = (history.jobs(), history.parts());
        let links_from = history.facts().links_from.map_or(i32::MIN, day_number);
        let mut facts: HashMap<u32, Facts> = HashMap::default();
        let rows = use_rows(history);
        for ((&job, &part), row) in parts.job.iter().zip(parts.part).zip(rows) {
            let job = job_facts(&jobs, job, &comebacks, &access)
                .filter(|job| job.closed_day >= links_from);
            let (Some(job), Some(row)) = (job, row) else { continue };
            facts.entry(part).or_default().take(&job, &row);
        }
        let parts = facts
            .into_iter()
            .filter_map(|(part, facts)| {
                Some((history.text(part)?.to_owned(), facts.counted(history)))
            })
            .collect();
        Self { parts }
    }

    /// Adds another shop's tally.
    pub fn add(&mut self, other: &Self) {
        for (part, theirs) in &other.parts {
            let ours = self.parts.entry(part.clone()).or_default();
            for (name, count) in &theirs.names {
                *ours.names.entry(name.clone()).or_default() += count;
            }
            for (key, cell) in &theirs.cells {
                let own = ours.cells.entry(*key).or_default();
                own.uses.add(&cell.uses);
                own.jobs.add(&cell.jobs);
                own.tested.add(&cell.tested);
            }
            ours.costs.add(&theirs.costs);
            ours.access.add(&theirs.access);
            ours.causes.add(&theirs.causes);
        }
    }
}

impl Facts {
    fn take(&mut self, job: &JobFacts, row: &UseRow) {
        let choice = Choice::of(row.disposition);
        *self.names.entry(row.name).or_default() += 1;
        if row.disposition.is_replaced() && row.cost != NO_NUMBER {
            self.costs.push((job.closed_day, row.cost));
        }
        // A job with the part at two positions was opened up once.
        if job.access > 0 && self.last_access.replace(job.row) != Some(job.row) {
            self.access.push((job.closed_day, job.access));
        }
        if let (Some(PartRole::Suspect), Some(curable)) = (row.role, job.confirmed)
            && self.last_cause.replace(job.row) != Some(job.row)
        {
            self.causes.push((job.closed_day, curable));
        }
        let cell = self.cells.entry((row.role, choice)).or_default();
        cell.uses.push(Use {
            closed_day: job.closed_day,
            elapsed: elapsed(job.closed_day, row.returned_day),
            possibly: elapsed(job.closed_day, row.possibly_day),
        });
        if row.tested {
            cell.tested.push(job.closed_day);
        }
        if let Some(comeback) = job.comeback
            && cell.last_job.replace(job.row) != Some(job.row)
        {
            cell.jobs.push((job.closed_day, comeback));
        }
    }

    fn counted(self, history: &History) -> PartTally {
        let name = |code| history.text(code).unwrap_or_default().to_owned();
        PartTally {
            names: self.names.into_iter().map(|(code, n)| (name(code), n)).collect(),
            cells: self
                .cells
                .into_iter()
                .map(|(key, cell)| {
                    let counted = Cell {
                        uses: Counts::of(cell.uses),
                        jobs: Counts::of(cell.jobs),
                        tested: Counts::of(cell.tested),
                    };
                    (key, counted)
                })
                .collect(),
            costs: Counts::of(self.costs),
            access: Counts::of(self.access),
            causes: Counts::of(self.causes),
        }
    }
}

/// Days from the hand-over to the return; a day before it is no return.
fn elapsed(closed_day: i32, returned_day: i32) -> i32 {
    if returned_day == NEVER || returned_day < closed_day {
        NEVER
    } else {
        returned_day - closed_day
    }
}

/// Minutes of access and reassembly by job row.
fn access_minutes(history: &History) -> Vec<i64> {
    let labor = history.labor();
    let mut sums = vec![0; history.jobs().closed_day.len()];
    for ((&job, &activity), &minutes) in labor.job.iter().zip(labor.activity).zip(labor.minutes) {
        let opening_up = [Activity::Access.code(), Activity::Reassembly.code()].contains(&activity);
        if let Some(sum) = sums.get_mut(job as usize).filter(|_| opening_up) {
            *sum += minutes;
        }
    }
    sums
}

/// The job of a part use, where its uses count.
fn job_facts(
    jobs: &Jobs<'_>,
    row: u32,
    comebacks: &[Option<i32>],
    access: &[i64],
) -> Option<JobFacts> {
    let at = row as usize;
    let closed_day = *jobs.closed_day.get(at)?;
    let outcome = Outcome::from_code(*jobs.outcome.get(at)?)?;
    if !outcome.is_done() {
        return None;
    }
    let confirmed = *jobs.cause_state.get(at)? == CauseState::Confirmed.code();
    Some(JobFacts {
        row,
        closed_day,
        comeback: comebacks.get(at).copied().flatten(),
        access: access.get(at).copied()?,
        confirmed: jobs
            .cause_curable
            .get(at)
            .and_then(|&code| Curable::from_code(code))
            .filter(|_| confirmed),
    })
}

/// The part uses, parsed; `None` for a disposition no list has.
fn use_rows(history: &History) -> impl Iterator<Item = Option<UseRow>> {
    let parts = history.parts();
    let days = parts.returned_day.iter().zip(parts.possibly_returned_day);
    let costs = parts.unit_cost_minor.iter().zip(parts.bench_reading);
    parts.name.iter().zip(parts.role).zip(parts.disposition).zip(costs).zip(days).map(
        |((((&name, &role), &disposition), (&cost, &bench)), (&returned, &possibly))| {
            Some(UseRow {
                name,
                role: PartRole::from_code(role),
                disposition: Disposition::from_code(disposition)?,
                cost,
                tested: !bench.is_nan(),
                returned_day: returned,
                possibly_day: possibly,
            })
        },
    )
}
