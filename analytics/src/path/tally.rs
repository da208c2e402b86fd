//! Complaint jobs and their checks to sums, without an as-of.

use std::collections::BTreeMap;

use super::found::Abnormal;
use crate::comeback::in_population;
use crate::counts::Counts;
use crate::follow::{first_returns, first_returns_because};
use crate::hashed::HashMap;
use crate::history::{History, NO_NUMBER, NONE};
use crate::outcomes::{Ended, OutcomeTally, ended};
use crate::words::{Activity, CauseState, Finding, JobKind};

/// The reason of a comeback that says the first diagnosis was wrong.
const MISDIAGNOSIS: &str = "misdiagnosis";

/// One complaint job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct JobFact {
    pub closed_day: i32,
    /// Days to the first confirmed comeback, and to the first one whose reason
    /// is a misdiagnosis.
    pub elapsed: i32,
    pub misdiagnosed: i32,
    /// Hands-on minutes of diagnosis.
    pub minutes: Option<i64>,
    /// The cause was confirmed.
    pub found: bool,
    /// Repaired, and closed since links were recorded: it enters shares.
    pub followed: bool,
}

/// One check that was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct CheckFact {
    pub closed_day: i32,
    /// Absent where not measured.
    pub minutes: Option<i64>,
    pub finding: Option<Finding>,
}

/// The jobs of one symptom.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct SymptomTally {
    /// By the checks done, in order. Jobs on which no recorded check was done
    /// have the empty path.
    pub paths: BTreeMap<Vec<String>, Counts<JobFact>>,
    /// Order not measured: all checks were typed in at close.
    pub unordered: Counts<JobFact>,
    /// No check recorded at all.
    pub unrecorded: Counts<JobFact>,
    pub checks: BTreeMap<String, Counts<CheckFact>>,
    /// Closing days of the jobs with a confirmed cause, by the check that found
    /// it; `None` where no recorded one did.
    pub found_by: BTreeMap<Option<String>, Counts<i32>>,
    pub outcomes: OutcomeTally,
}

impl SymptomTally {
    /// All its jobs, in groups.
    pub fn all(&self) -> impl Iterator<Item = &Counts<JobFact>> {
        self.paths.values().chain([&self.unordered, &self.unrecorded])
    }
}

/// All complaint jobs by symptom; tallies of several shops add up.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PathTally {
    pub(super) symptoms: BTreeMap<String, SymptomTally>,
    /// Of complaints without a symptom too.
    pub(super) outcomes: OutcomeTally,
}

/// Single facts of one symptom while rows are read.
#[derive(Default)]
struct Facts {
    paths: HashMap<Vec<u32>, Vec<JobFact>>,
    unordered: Vec<JobFact>,
    unrecorded: Vec<JobFact>,
    checks: HashMap<u32, Vec<CheckFact>>,
    found_by: HashMap<Option<u32>, Vec<i32>>,
    outcomes: Vec<Ended>,
}

/// How a job's checks were recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Recorded {
    Nothing,
    AtClose,
    InOrder,
}

/// A job's checks while its rows are read.
#[derive(Default)]
struct Walk {
    path: Vec<u32>,
    any: bool,
    /// Of the checks that were done: any, and any in a measured order.
    done: bool,
    measured: bool,
    /// Of those that were not: any, while the work ran.
    declined: bool,
    minutes: Option<i64>,
    abnormal: Abnormal,
}

impl PathTally {
    /// Every complaint job with a symptom.
    #[must_use]
    pub fn of(history: &History) -> Self {
        let symptoms = Self::symptoms_of(history, |_| true);
        Self { symptoms, outcomes: OutcomeTally::of(history) }
    }

    /// The complaint jobs of the rows that are kept, by symptom.
    pub(super) fn symptoms_of(
        history: &History,
        keeps: impl Fn(usize) -> bool,
    ) -> BTreeMap<String, SymptomTally> {
        let jobs = history.jobs();
        let misdiagnosed = first_returns_because(history, MISDIAGNOSIS);
        let (diagnosis, inside) = (diagnosis_minutes(history), in_population(history));
        let mut symptoms: HashMap<u32, Facts> = HashMap::default();
        let mut checks = ChecksByJob::new(history);
        let mut walk = Walk::default();
        let columns =
            jobs.symptom.iter().zip(first_returns(history)).zip(&misdiagnosed).zip(&diagnosis);
        for (row, (((&symptom, first), &misdiagnosed), &diagnosis)) in columns.enumerate() {
            let complaint = jobs.kind.get(row) == Some(&JobKind::Complaint.code());
            let closed_day = jobs.closed_day.get(row).copied();
            let taken = complaint && symptom != NONE && keeps(row);
            let (Some(closed_day), true) = (closed_day, taken) else {
                checks.skip(row);
                continue;
            };
            let facts = symptoms.entry(symptom).or_default();
            facts.outcomes.extend(ended(history, row));
            let recorded = checks.walk(row, closed_day, facts, &mut walk);
            let found = jobs.cause_state.get(row) == Some(&CauseState::Confirmed.code());
            if found {
                facts.found_by.entry(walk.abnormal.finder()).or_default().push(closed_day);
            }
            facts.take(
                &walk,
                recorded,
                JobFact {
                    closed_day,
                    elapsed: first.days,
                    misdiagnosed: misdiagnosed.days,
                    minutes: walk.minutes.or((diagnosis > 0).then_some(diagnosis)),
                    found,
                    followed: inside.get(row).copied().unwrap_or(false),
                },
            );
        }
        symptoms
            .into_iter()
            .filter_map(|(code, facts)| {
                Some((history.text(code)?.to_owned(), facts.counted(history)))
            })
            .collect()
    }

    /// Adds another shop's tally.
    pub fn add(&mut self, other: &Self) {
        self.outcomes.add(&other.outcomes);
        for (symptom, theirs) in &other.symptoms {
            let ours = self.symptoms.entry(symptom.clone()).or_default();
            for (path, counts) in &theirs.paths {
                ours.paths.entry(path.clone()).or_default().add(counts);
            }
            ours.outcomes.add(&theirs.outcomes);
            ours.unordered.add(&theirs.unordered);
            ours.unrecorded.add(&theirs.unrecorded);
            for (check, counts) in &theirs.checks {
                ours.checks.entry(check.clone()).or_default().add(counts);
            }
            for (check, counts) in &theirs.found_by {
                ours.found_by.entry(check.clone()).or_default().add(counts);
            }
        }
    }
}

impl Facts {
    fn take(&mut self, walk: &Walk, recorded: Recorded, fact: JobFact) {
        match recorded {
            Recorded::Nothing => self.unrecorded.push(fact),
            // Time was not measured either.
            Recorded::AtClose => self.unordered.push(JobFact { minutes: None, ..fact }),
            Recorded::InOrder => match self.paths.get_mut(walk.path.as_slice()) {
                Some(facts) => facts.push(fact),
                None => {
                    self.paths.insert(walk.path.clone(), vec![fact]);
                }
            },
        }
    }

    fn counted(self, history: &History) -> SymptomTally {
        let text = |code: u32| history.text(code).unwrap_or_default().to_owned();
        SymptomTally {
            paths: self
                .paths
                .into_iter()
                .map(|(path, facts)| (path.into_iter().map(text).collect(), Counts::of(facts)))
                .collect(),
            outcomes: OutcomeTally::counted(self.outcomes),
            unordered: Counts::of(self.unordered),
            unrecorded: Counts::of(self.unrecorded),
            checks: self
                .checks
                .into_iter()
                .map(|(check, facts)| (text(check), Counts::of(facts)))
                .collect(),
            found_by: self
                .found_by
                .into_iter()
                .map(|(check, days)| (check.map(text), Counts::of(days)))
                .collect(),
        }
    }
}

/// The checks read along with the jobs: both are in job order.
struct ChecksByJob<'a> {
    checks: crate::history::Checks<'a>,
    at: usize,
}

impl<'a> ChecksByJob<'a> {
    fn new(history: &'a History) -> Self {
        Self { checks: history.checks(), at: 0 }
    }

    fn skip(&mut self, row: usize) {
        while self.checks.job.get(self.at).is_some_and(|&job| job as usize <= row) {
            self.at += 1;
        }
    }

    fn walk(
        &mut self,
        row: usize,
        closed_day: i32,
        facts: &mut Facts,
        walk: &mut Walk,
    ) -> Recorded {
        walk.path.clear();
        *walk = Walk { path: std::mem::take(&mut walk.path), ..Walk::default() };
        while let (Some(&job), Some(&check), Some(&finding), Some(&minutes), Some(&at_close)) = (
            self.checks.job.get(self.at),
            self.checks.check.get(self.at),
            self.checks.finding.get(self.at),
            self.checks.minutes.get(self.at),
            self.checks.at_close.get(self.at),
        ) {
            if job as usize > row {
                break;
            }
            self.at += 1;
            walk.any = true;
            let measured = at_close == 0;
            let finding = Finding::from_code(finding);
            if finding == Some(Finding::NotDone) {
                walk.declined |= measured;
                continue;
            }
            walk.done = true;
            walk.measured |= measured;
            walk.abnormal.see(check, finding, measured);
            let minutes = Some(minutes).filter(|&m| measured && m != NO_NUMBER);
            facts.checks.entry(check).or_default().push(CheckFact { closed_day, minutes, finding });
            if measured {
                walk.path.push(check);
                walk.minutes = match (walk.minutes, minutes) {
                    (Some(sum), Some(minutes)) => Some(sum + minutes),
                    (sum, minutes) => sum.or(minutes),
                };
            }
        }
        // Why a check was not done, said while the work ran, gives checks typed
        // in at close no order.
        let measured = walk.measured || (walk.declined && !walk.done);
        match (walk.any, measured) {
            (false, _) => Recorded::Nothing,
            (true, false) => Recorded::AtClose,
            (true, true) => Recorded::InOrder,
        }
    }
}

/// Minutes of diagnosis by job row.
fn diagnosis_minutes(history: &History) -> Vec<i64> {
    let labor = history.labor();
    let mut sums = vec![0; history.jobs().closed_day.len()];
    for ((&job, &activity), &minutes) in labor.job.iter().zip(labor.activity).zip(labor.minutes) {
        let diagnosis = activity == Activity::Diagnosis.code();
        if let Some(sum) = sums.get_mut(job as usize).filter(|_| diagnosis) {
            *sum += minutes;
        }
    }
    sums
}
