//! Which job rows fit a selector.

use super::names::{engines_named, models_named};
use super::term::{Selector, Term};
use super::values::{Column, DistanceKnown, Order, PathMatch, Visits};
use super::{is_kind, rules};
use crate::comeback::{Driven, driven, seen_again};
use crate::follow::{FirstReturn, LONGEST_WINDOW, NEVER, day_number};
use crate::history::{History, NO_NUMBER, NO_WORD, NONE, Reading};
use crate::path::Abnormal;
use crate::repeats::first_rows;
use crate::words::{
    Activity, CauseState, Curable, Disposition, Finding, JobKind, Outcome, PartRole, Payer,
};

/// What is known of each job by the as-of.
pub(super) struct Seen<'a> {
    pub as_of: i32,
    pub window: i32,
    /// The first return, by job row.
    pub returns: &'a [FirstReturn],
    pub first_repair: &'a [bool],
    /// Repaired complaints, closed since links were recorded.
    pub inside: &'a [bool],
    /// Who answers for the first job of the chain.
    pub answers: &'a [u32],
}

impl Seen<'_> {
    fn came_back(&self, closed: i32, elapsed: i32) -> bool {
        elapsed != NEVER && elapsed <= self.window && closed.saturating_add(elapsed) <= self.as_of
    }

    /// Day of the first return of a repaired complaint, whatever the window.
    fn return_day(&self, row: usize, closed: i32) -> Option<i32> {
        let back = self.returns.get(row).filter(|_| self.inside.get(row) == Some(&true))?;
        let known = (0..=LONGEST_WINDOW).contains(&back.days);
        known.then(|| closed.saturating_add(back.days)).filter(|day| *day <= self.as_of)
    }
}

/// Clears the flags of the job rows that do not fit.
pub(super) fn narrow(history: &History, selector: &Selector, seen: &Seen<'_>, keep: &mut [bool]) {
    let terms = selector.terms();
    for term in terms {
        if let Some(fits) = job_term(history, term, seen) {
            retain(keep, fits);
        }
    }
    for child in [Child::Checks, Child::Parts, Child::Labor, Child::Operations, Child::Readings] {
        let tests: Vec<Fits<'_>> =
            terms.iter().filter_map(|term| child.term(history, term, terms, seen)).collect();
        if !tests.is_empty() {
            let all = |at: usize| tests.iter().all(|fits| fits(at));
            let fitting = kept_with(child.job(history), keep, all);
            let led = child.led(history, terms);
            retain(keep, |row| fitting.get(row) == Some(&true) || led.get(row) == Some(&true));
        }
    }
    for term in terms {
        let fitting = match term {
            Term::Path(kind, checks) => on_path(history, *kind, checks),
            Term::Order(order) => without_order(history, *order),
            Term::Also(other) => fitting(history, other, seen, keep.to_vec()),
            Term::Except(other) => {
                let mut others = fitting(history, other, seen, keep.to_vec());
                others.iter_mut().for_each(|fits| *fits = !*fits);
                others
            }
            Term::Distance(known) => of_distance(history, seen, |driven| known.holds(driven)),
            Term::BackWithinKm(most) => of_distance(
                history,
                seen,
                |driven| matches!(driven, Driven::Back(km) if km <= most),
            ),
            Term::Visits(visits) => first_of_vehicle(history, terms, seen, *visits),
            Term::SeenAgain(yes) => {
                let known = seen_again(history, seen.window, seen.as_of);
                known.into_iter().map(|known| known == Some(*yes)).collect()
            }
            Term::FoundBy(check) => found_by(history, check.as_deref()),
            Term::Clocked(yes) => clocked(history, *yes),
            Term::LeadsWith(check) => leads_with(history, check),
            term => match rules::fitting(history, term) {
                Some(fitting) => fitting,
                None => continue,
            },
        };
        retain(keep, |row| fitting.get(row) == Some(&true));
    }
}

/// Which of the job rows that are kept so far fit a selector.
fn fitting(
    history: &History,
    selector: &Selector,
    seen: &Seen<'_>,
    mut keep: Vec<bool>,
) -> Vec<bool> {
    narrow(history, selector, seen, &mut keep);
    keep
}

/// Jobs on which time was clocked, or was not.
fn clocked(history: &History, yes: bool) -> Vec<bool> {
    let labor = history.labor();
    let mut minutes = vec![0_i64; history.jobs().closed_day.len()];
    for (job, more) in labor.job.iter().zip(labor.minutes) {
        if let Some(sum) = minutes.get_mut(*job as usize) {
            *sum = sum.saturating_add(*more);
        }
    }
    minutes.iter().map(|minutes| (*minutes > 0) == yes).collect()
}

/// Repaired complaints by how far their vehicles were driven.
fn of_distance(history: &History, seen: &Seen<'_>, fits: impl Fn(&Driven) -> bool) -> Vec<bool> {
    driven(history, seen.as_of).iter().map(|driven| driven.as_ref().is_some_and(&fits)).collect()
}

impl DistanceKnown {
    fn holds(self, driven: &Driven) -> bool {
        self == match driven {
            Driven::Back(_) | Driven::On(_) => Self::Known,
            Driven::BackUnread => Self::ReturnedUnread,
            Driven::NoLaterReading => Self::NoLaterReading,
        }
    }
}

/// The first repaired complaint of each vehicle between the closing days that
/// the other terms name, where the vehicle came back so often.
fn first_of_vehicle(
    history: &History,
    terms: &[Term],
    seen: &Seen<'_>,
    visits: Visits,
) -> Vec<bool> {
    let (mut first, mut last) = (i32::MIN, seen.as_of);
    for term in terms {
        match term {
            Term::ClosedFrom(day) => first = first.max(day_number(*day)),
            Term::ClosedTo(day) => last = last.min(day_number(*day)),
            _ => {}
        }
    }
    let mut rows = vec![false; history.jobs().closed_day.len()];
    for (row, count) in first_rows(history, (first, last), seen.as_of) {
        if let Some(slot) = rows.get_mut(row as usize) {
            *slot = visits.holds(count);
        }
    }
    rows
}

fn retain(keep: &mut [bool], fits: impl Fn(usize) -> bool) {
    for (row, keep) in keep.iter_mut().enumerate() {
        *keep = *keep && fits(row);
    }
}

/// Job rows with at least one child row that fits.
fn jobs_with(history: &History, job: &[u32], fits: impl Fn(usize) -> bool) -> Vec<bool> {
    let mut rows = vec![false; history.jobs().closed_day.len()];
    for (at, job) in job.iter().enumerate() {
        if let Some(row) = rows.get_mut(*job as usize) {
            *row = *row || fits(at);
        }
    }
    rows
}

/// Of the job rows that are kept so far, those with a child row that fits.
fn kept_with(job: &[u32], keep: &[bool], fits: impl Fn(usize) -> bool) -> Vec<bool> {
    let mut rows = vec![false; keep.len()];
    for (at, job) in job.iter().enumerate() {
        let kept = keep.get(*job as usize) == Some(&true);
        if let Some(row) = rows.get_mut(*job as usize).filter(|row| kept && !**row) {
            *row = fits(at);
        }
    }
    rows
}

/// The code a text stands under. A text the record never had gets a code that
/// no column holds.
pub(super) fn code_of(history: &History, text: Option<&str>) -> u32 {
    const NOWHERE: u32 = NONE - 1;
    text.map_or(NONE, |text| history.code_of(text).unwrap_or(NOWHERE))
}

type Fits<'a> = Box<dyn Fn(usize) -> bool + 'a>;

/// The test of a term that a job row alone decides.
fn job_term<'a>(history: &'a History, term: &Term, seen: &'a Seen<'_>) -> Option<Fits<'a>> {
    let jobs = history.jobs();
    Some(match term {
        Term::Kind(kind) => {
            let kind = *kind;
            Box::new(move |row| is_kind(history, row, kind))
        }
        Term::Outcome(outcome) => {
            let code = outcome.code();
            Box::new(move |row| jobs.outcome.get(row) == Some(&code))
        }
        Term::Text(column, text) => {
            let column = job_column(history, *column, seen)?;
            let code = code_of(history, text.as_deref());
            Box::new(move |row| column.get(row) == Some(&code))
        }
        Term::Done(yes) => {
            let yes = *yes;
            Box::new(move |row| {
                let outcome = jobs.outcome.get(row).and_then(|code| Outcome::from_code(*code));
                outcome.is_some_and(|outcome| outcome.is_done() == yes)
            })
        }
        Term::FailedProof(yes) => {
            let yes = *yes;
            Box::new(move |row| {
                jobs.failed_proofs.get(row).is_some_and(|failed| (*failed > 0) == yes)
            })
        }
        Term::Systems(systems) => {
            let codes: Vec<u32> =
                systems.iter().map(|system| code_of(history, Some(system))).collect();
            Box::new(move |row| jobs.system.get(row).is_some_and(|code| codes.contains(code)))
        }
        Term::CauseState(state) => {
            let code = state.map_or(NO_WORD, CauseState::code);
            Box::new(move |row| jobs.cause_state.get(row) == Some(&code))
        }
        Term::Curable(curable) => {
            let code = curable.map_or(NO_WORD, Curable::code);
            Box::new(move |row| jobs.cause_curable.get(row) == Some(&code))
        }
        Term::ModelYear(year) => {
            let year = year.unwrap_or(NO_NUMBER);
            Box::new(move |row| jobs.model_year.get(row) == Some(&year))
        }
        Term::ModelNamed(name) => {
            let codes = models_named(history, name);
            Box::new(move |row| jobs.model.get(row).is_some_and(|code| codes.contains(code)))
        }
        Term::EngineNamed(name) => {
            let codes = engines_named(history, name);
            Box::new(move |row| jobs.engine.get(row).is_some_and(|code| codes.contains(code)))
        }
        _ => return return_term(history, term, seen).or_else(|| day_term(history, term)),
    })
}

/// The test of a term on the days of the visit.
fn day_term<'a>(history: &'a History, term: &Term) -> Option<Fits<'a>> {
    let jobs = history.jobs();
    let closed = move |row: usize| jobs.closed_day.get(row).copied().unwrap_or(NEVER);
    Some(match term {
        Term::ClosedFrom(day) => {
            let day = day_number(*day);
            Box::new(move |row| closed(row) >= day)
        }
        Term::ClosedTo(day) => {
            let day = day_number(*day);
            Box::new(move |row| closed(row) <= day)
        }
        Term::OpenedFrom(day) => {
            let day = day_number(*day);
            Box::new(move |row| jobs.opened_day.get(row).is_some_and(|opened| *opened >= day))
        }
        Term::OpenedTo(day) => {
            let day = day_number(*day);
            Box::new(move |row| jobs.opened_day.get(row).is_some_and(|opened| *opened <= day))
        }
        _ => return None,
    })
}

/// The test of a term on what became of the job by the as-of.
fn return_term<'a>(history: &'a History, term: &Term, seen: &'a Seen<'_>) -> Option<Fits<'a>> {
    let jobs = history.jobs();
    let closed = move |row: usize| jobs.closed_day.get(row).copied().unwrap_or(NEVER);
    Some(match term {
        Term::Returned(yes) => {
            let yes = *yes;
            Box::new(move |row| {
                let elapsed = seen.returns.get(row).map_or(NEVER, |back| back.days);
                seen.inside.get(row) == Some(&true) && seen.came_back(closed(row), elapsed) == yes
            })
        }
        Term::ReturnedFrom(day) => {
            let day = day_number(*day);
            Box::new(move |row| seen.return_day(row, closed(row)).is_some_and(|back| back >= day))
        }
        Term::ReturnedTo(day) => {
            let day = day_number(*day);
            Box::new(move |row| seen.return_day(row, closed(row)).is_some_and(|back| back <= day))
        }
        Term::Told(yes) => {
            let yes = *yes;
            Box::new(move |row| {
                let told = seen
                    .returns
                    .get(row)
                    .is_some_and(|back| back.told && seen.came_back(closed(row), back.days));
                seen.inside.get(row) == Some(&true) && told == yes
            })
        }
        Term::ReturnReason(reason) => {
            let code = code_of(history, reason.as_deref());
            Box::new(move |row| {
                seen.inside.get(row) == Some(&true)
                    && seen.returns.get(row).is_some_and(|back| {
                        seen.came_back(closed(row), back.days) && back.reason(history, row) == code
                    })
            })
        }
        Term::SecondVisit(yes) => {
            let yes = *yes;
            Box::new(move |row| {
                jobs.second_visit_day.get(row).is_some_and(|day| (*day <= seen.as_of) == yes)
            })
        }
        Term::FirstRepair(yes) => {
            let yes = *yes;
            Box::new(move |row| seen.first_repair.get(row) == Some(&yes))
        }
        _ => return None,
    })
}

fn job_column<'a>(history: &'a History, column: Column, seen: &Seen<'a>) -> Option<&'a [u32]> {
    let jobs = history.jobs();
    match column {
        Column::Symptom => Some(jobs.symptom),
        Column::System => Some(jobs.system),
        Column::Cause => Some(jobs.cause),
        Column::Technician => Some(jobs.technician),
        Column::Answers => Some(seen.answers),
        Column::Vehicle => Some(jobs.vehicle),
        Column::Model => Some(jobs.model),
        Column::Engine => Some(jobs.engine),
        Column::Worked
        | Column::Credited
        | Column::Part
        | Column::Position
        | Column::Supplier
        | Column::Lot
        | Column::BenchUnit
        | Column::HandOverLine
        | Column::HandOverUnit
        | Column::Operation
        | Column::Check => None,
    }
}

/// Rows that belong to jobs.
#[derive(Clone, Copy)]
enum Child {
    Checks,
    Parts,
    Labor,
    Operations,
    Readings,
}

fn is<T: PartialEq + 'static>(column: &[T], value: T) -> Option<Fits<'_>> {
    Some(Box::new(move |at| column.get(at) == Some(&value)))
}

impl Child {
    /// Jobs that nobody clocked: they count to who led them, as in the labor
    /// report. None where an entry of some kind is asked for.
    fn led(self, history: &History, terms: &[Term]) -> Vec<bool> {
        let of_an_entry = |term: &Term| matches!(term, Term::Activity(_) | Term::WorkedAs(_));
        let named = terms.iter().find_map(|term| match term {
            Term::Text(Column::Credited, name) => Some(name.as_deref()),
            _ => None,
        });
        let (Self::Labor, Some(name), false) = (self, named, terms.iter().any(of_an_entry)) else {
            return Vec::new();
        };
        let code = code_of(history, name);
        let clocked = jobs_with(history, history.labor().job, |_| true);
        let leads = history.jobs().lead.iter().zip(clocked);
        leads.map(|(lead, clocked)| *lead == code && !clocked).collect()
    }

    fn job(self, history: &History) -> &[u32] {
        match self {
            Self::Checks => history.checks().job,
            Self::Parts => history.parts().job,
            Self::Labor => history.labor().job,
            Self::Operations => history.operations().job,
            Self::Readings => history.readings().job,
        }
    }

    /// The test of a term that such a row decides.
    fn term<'a>(
        self,
        history: &'a History,
        term: &Term,
        terms: &[Term],
        seen: &'a Seen<'_>,
    ) -> Option<Fits<'a>> {
        let code = |text: &Option<String>| code_of(history, text.as_deref());
        let (checks, labor) = (history.checks(), history.labor());
        let operations = history.operations();
        match (self, term) {
            (Self::Checks, Term::Text(Column::Check, check)) => {
                let code = code(check);
                let any_finding = terms.iter().any(|term| matches!(term, Term::Finding(_)));
                let skipped = Finding::NotDone.code();
                Some(Box::new(move |at| {
                    checks.check.get(at) == Some(&code)
                        && (any_finding || checks.finding.get(at) != Some(&skipped))
                }))
            }
            (Self::Checks, Term::Finding(finding)) => {
                is(checks.finding, finding.map_or(NO_WORD, Finding::code))
            }
            (Self::Labor, Term::Text(Column::Worked | Column::Credited, name)) => {
                is(labor.technician, code(name))
            }
            (Self::Labor, Term::Activity(work)) => {
                is(labor.activity, work.map_or(NO_WORD, Activity::code))
            }
            (Self::Labor, Term::WorkedAs(worked)) => is(labor.worked_as, worked.code()),
            (Self::Operations, Term::Text(Column::Operation, name)) => {
                is(operations.code, code(name))
            }
            (Self::Operations, Term::Payer(payer)) => {
                is(operations.payer, payer.map_or(NO_WORD, Payer::code))
            }
            (Self::Parts, term) => part_term(history, term, seen),
            (Self::Readings, term) => reading_term(history, term),
            _ => None,
        }
    }
}

/// Whether a reading stands that fits, as asked.
fn reads<'a>(
    column: &'a [f64],
    yes: bool,
    fits: impl Fn(Reading) -> bool + 'a,
) -> Option<Fits<'a>> {
    Some(Box::new(move |at| {
        column.get(at).copied().and_then(Reading::new).is_some_and(&fits) == yes
    }))
}

fn part_term<'a>(history: &'a History, term: &Term, seen: &'a Seen<'_>) -> Option<Fits<'a>> {
    let parts = history.parts();
    let code = |text: &Option<String>| code_of(history, text.as_deref());
    match term {
        Term::Text(Column::Part, name) => is(parts.part, code(name)),
        Term::Text(Column::Position, position) => is(parts.position, code(position)),
        Term::Text(Column::Supplier, supplier) => is(parts.supplier, code(supplier)),
        Term::Text(Column::Lot, lot) => is(parts.lot, code(lot)),
        Term::Text(Column::BenchUnit, unit) => is(parts.bench_unit, code(unit)),
        Term::Role(role) => is(parts.role, role.map_or(NO_WORD, PartRole::code)),
        Term::Treatment(treatment) => {
            let treatment = *treatment;
            Some(Box::new(move |at| {
                let code = parts.disposition.get(at).copied().unwrap_or(NO_WORD);
                Disposition::from_code(code).is_some_and(|one| treatment.holds(one))
            }))
        }
        Term::BenchRead(yes) => reads(parts.bench_reading, *yes, |_| true),
        Term::ReadingFrom(low) => {
            let low = *low;
            reads(parts.bench_reading, true, move |reading| reading >= low)
        }
        Term::ReadingTo(high) => {
            let high = *high;
            reads(parts.bench_reading, true, move |reading| reading <= high)
        }
        Term::PartReturned(yes) => {
            let yes = *yes;
            Some(Box::new(move |at| {
                let job = parts.job.get(at).map_or(usize::MAX, |job| *job as usize);
                let closed = history.jobs().closed_day.get(job).copied().unwrap_or(NEVER);
                let returned = parts.returned_day.get(at).copied().unwrap_or(NEVER);
                let back = returned != NEVER
                    && returned >= closed
                    && seen.came_back(closed, returned - closed);
                back == yes
            }))
        }
        _ => None,
    }
}

/// Readings before the hand-over: that of a line as a whole, not of one cell.
fn reading_term<'a>(history: &'a History, term: &Term) -> Option<Fits<'a>> {
    let readings = history.readings();
    let whole = move |at: usize| readings.place.get(at) == Some(&NONE);
    let code = |text: &Option<String>| code_of(history, text.as_deref());
    let reads = |fits: Box<dyn Fn(Reading) -> bool + 'a>| -> Option<Fits<'a>> {
        Some(Box::new(move |at| {
            whole(at) && readings.reading.get(at).copied().and_then(Reading::new).is_some_and(&fits)
        }))
    };
    match term {
        Term::Text(Column::HandOverLine, line) => {
            let code = code(line);
            Some(Box::new(move |at| whole(at) && readings.line.get(at) == Some(&code)))
        }
        Term::Text(Column::HandOverUnit, unit) => {
            let code = code(unit);
            Some(Box::new(move |at| whole(at) && readings.unit.get(at) == Some(&code)))
        }
        Term::HandOverFrom(low) => {
            let low = *low;
            reads(Box::new(move |reading| reading >= low))
        }
        Term::HandOverTo(high) => {
            let high = *high;
            reads(Box::new(move |reading| reading <= high))
        }
        _ => None,
    }
}

/// The checks of a complaint job.
#[derive(Default, Clone)]
struct Checked {
    /// Those done in a measured order.
    path: Vec<u32>,
    any: bool,
    /// Of the checks that were done: any, and any in a measured order.
    done: bool,
    ordered: bool,
    /// Of those that were not: any, while the work ran.
    declined: bool,
    abnormal: Abnormal,
}

impl Checked {
    /// Whether the order was measured. Why a check was not done, said while the
    /// work ran, gives checks typed in at close none.
    fn measured(&self) -> bool {
        self.ordered || (self.declined && !self.done)
    }
}

fn checked(history: &History) -> Vec<Checked> {
    let checks = history.checks();
    let mut rows = vec![Checked::default(); history.jobs().closed_day.len()];
    let columns =
        checks.job.iter().zip(checks.check).zip(checks.finding.iter().zip(checks.at_close));
    for ((&job, &check), (&finding, &at_close)) in columns {
        let Some(row) = rows.get_mut(job as usize) else {
            continue;
        };
        row.any = true;
        row.abnormal.see(check, Finding::from_code(finding), at_close == 0);
        if finding == Finding::NotDone.code() {
            row.declined |= at_close == 0;
            continue;
        }
        row.done = true;
        row.ordered |= at_close == 0;
        if at_close == 0 {
            row.path.push(check);
        }
    }
    rows
}

/// Paths and orders are of complaint jobs: only they are diagnosed.
fn by_checks(history: &History, fits: impl Fn(&Checked) -> bool) -> Vec<bool> {
    checked(history)
        .iter()
        .enumerate()
        .map(|(row, checked)| is_kind(history, row, JobKind::Complaint) && fits(checked))
        .collect()
}

fn on_path(history: &History, kind: PathMatch, checks: &[String]) -> Vec<bool> {
    let wanted: Vec<u32> = checks.iter().map(|check| code_of(history, Some(check))).collect();
    let one = wanted.first().copied().unwrap_or(NONE);
    by_checks(history, |checked| {
        let path = &checked.path;
        checked.measured()
            && match kind {
                PathMatch::Whole => *path == wanted,
                PathMatch::Starts => path.starts_with(&wanted),
                PathMatch::First => path.first() == Some(&one),
                PathMatch::Later => path.first() != Some(&one) && path.contains(&one),
                PathMatch::Skipped => !path.contains(&one),
            }
    })
}

/// What stands before the check but the shop's free looks is out of turn.
fn leads_with(history: &History, check: &str) -> Vec<bool> {
    let wanted = code_of(history, Some(check));
    let free: Vec<u32> =
        history.facts().free_looks.iter().filter_map(|look| history.code_of(look)).collect();
    by_checks(history, |checked| {
        let led = checked.path.iter().find(|made| **made == wanted || !free.contains(made));
        led == Some(&wanted)
    })
}

fn without_order(history: &History, order: Order) -> Vec<bool> {
    by_checks(history, |checked| match order {
        Order::NotMeasured => checked.any && !checked.measured(),
        Order::NoChecks => !checked.any,
    })
}

fn found_by(history: &History, check: Option<&str>) -> Vec<bool> {
    let wanted = check.map(|check| code_of(history, Some(check)));
    by_checks(history, |checked| checked.abnormal.finder() == wanted)
}
