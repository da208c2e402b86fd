//! The comebacks themselves, and the chains they form.

use std::collections::HashSet;

use chrono::NaiveDate;
use serde::Serialize;

use super::tally::in_population;
use crate::follow::{FirstReturn, NEVER, date_of, first_returns};
use crate::hashed::HashMap;
use crate::history::{History, JobId, JobLabel, ReturnRow};
use crate::select::hyphenated;
use crate::words::{LinkState, Told};

/// A job that a link names.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LinkedJob {
    /// UUID.
    pub job_id: String,
    pub order_no: String,
    pub job_no: i32,
}

/// One return: a confirmed comeback, or a repair that was told not to have held.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComebackLine {
    pub earlier: LinkedJob,
    /// Absent for a return that was told: the vehicle did not come.
    pub later: Option<LinkedJob>,
    /// What was told; absent for a comeback.
    pub told: Option<Told>,
    pub vehicle: String,
    pub symptom: Option<String>,
    pub system: Option<String>,
    /// Who answers for the first job of the chain: the comeback is theirs, never
    /// of whoever repairs it.
    pub technician: Option<String>,
    pub reason: Option<String>,
    /// What was found the first time: the cause of the earlier job.
    pub earlier_cause: Option<String>,
    /// What was found this time: the cause of the later job, where it was handed
    /// over by the as-of.
    pub later_cause: Option<String>,
    pub same_complaint: bool,
    /// Hand-over of the earlier job.
    pub closed_on: NaiveDate,
    /// Opening of the later order, or the day it was told.
    pub returned_on: NaiveDate,
    pub days: i32,
    /// Which comeback of its chain it is: 1 for the first.
    pub visit: i64,
    /// It is the return that the shares count: the first of a repaired
    /// complaint. A second return of one job, or one of a job outside the
    /// population, is listed but not counted.
    pub counted: bool,
}

/// From every job that came back to the job it came back for, as confirmed by
/// the as-of. A later job links to one earlier job.
pub(crate) struct Chains<'a> {
    earlier: HashMap<JobId, &'a ReturnRow>,
}

impl<'a> Chains<'a> {
    pub fn of(history: &'a History, as_of: NaiveDate) -> Self {
        let confirmed = history
            .links()
            .iter()
            .filter(|link| link.state == LinkState::Confirmed && link.later_opened_on <= as_of);
        Self { earlier: confirmed.map(|link| (link.later, link)).collect() }
    }

    /// The first job of the chain, and how many comebacks led from it to this
    /// job.
    pub fn root(&self, job: JobId) -> (JobId, i64) {
        let (mut root, mut visits) = (job, 0_i64);
        // A ring of links would never end; no chain is longer than its links.
        while let Some(link) = self.earlier.get(&root).filter(|_| visits < self.limit()) {
            root = link.earlier;
            visits += 1;
        }
        (root, visits)
    }

    fn limit(&self) -> i64 {
        i64::try_from(self.earlier.len()).unwrap_or(i64::MAX)
    }
}

/// Chains and visits of a list of comebacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ChainCount {
    /// Complaints that came back, or were told not to be cured, at least once.
    pub chains: i64,
    /// Later jobs among them: a vehicle back twice for one complaint is one
    /// chain and two visits.
    pub visits: i64,
    /// Comebacks of the chain that came back most often.
    pub most_visits: i64,
}

/// The returns that `takes` keeps, by row of the earlier job, its closing day and the
/// day of the return.
pub(crate) struct Returns {
    /// The latest first, no more than were asked for.
    pub lines: Vec<ComebackLine>,
    /// All of them.
    pub count: i64,
    /// Of all of them.
    pub chains: ChainCount,
}

/// The returns that `takes` keeps: the latest `most` as lines, all of them counted.
pub(crate) fn comeback_lines(
    history: &History,
    as_of: NaiveDate,
    most: usize,
    takes: impl Fn(u32, i32, i32) -> bool,
) -> Returns {
    let last_day = as_of.to_epoch_days();
    let sheet = Sheet {
        history,
        last_day,
        chains: Chains::of(history, as_of),
        first: first_returns(history),
        inside: in_population(history),
    };
    let jobs = history.jobs();
    let taken = |row: u32, day: i32| {
        let closed = jobs.closed_day.get(row as usize).copied()?;
        (day <= last_day && takes(row, closed, day)).then_some(day - closed)
    };
    let (mut found, mut roots) = (Vec::new(), HashSet::new());
    let (mut laters, mut counted) = (HashSet::new(), HashSet::new());
    let mut most_visits = 0;
    let returns = history.returns();
    let links = history.links().iter().zip(returns.earlier).zip(returns.later_opened_day);
    for ((link, &row), &opened) in links.filter(|((l, _), _)| l.state == LinkState::Confirmed) {
        let Some(days) = taken(row, opened) else { continue };
        let (root, visit) = sheet.chains.root(link.later);
        roots.insert(root);
        laters.insert(link.later);
        // Of two on one day the first in the order of links is the return.
        let counts = sheet.counts(row, days, false) && counted.insert(row);
        if history.job_label(row).is_some() {
            most_visits = most_visits.max(visit);
            found.push(Return { row, day: opened, days, came: Came::Seen { link, counts } });
        }
    }
    for (row, &day) in (0_u32..).zip(jobs.told_day).filter(|(_, day)| **day != NEVER) {
        let (Some(days), Some(label)) = (taken(row, day), history.job_label(row)) else { continue };
        roots.insert(sheet.chains.root(label.id).0);
        found.push(Return { row, day, days, came: Came::Told(label) });
    }
    found.sort_by(|a, b| b.day.cmp(&a.day).then_with(|| a.place().cmp(&b.place())));
    Returns {
        lines: found.iter().take(most).filter_map(|back| sheet.written(back)).collect(),
        count: found.len() as i64,
        chains: ChainCount { chains: roots.len() as i64, visits: laters.len() as i64, most_visits },
    }
}

/// A return before it is written as a line.
struct Return<'a> {
    /// Of the earlier job.
    row: u32,
    day: i32,
    /// Since the hand-over.
    days: i32,
    came: Came<'a>,
}

enum Came<'a> {
    Seen { link: &'a ReturnRow, counts: bool },
    Told(JobLabel<'a>),
}

impl Return<'_> {
    /// Where it stands among those of its day: comebacks by the later job, told
    /// returns after them by the earlier.
    fn place(&self) -> (bool, &str, i32) {
        match &self.came {
            Came::Seen { link, .. } => (false, &link.later_order_no, link.later_job_no),
            Came::Told(label) => (true, label.order_no, label.job_no),
        }
    }
}

/// What every line is written from.
struct Sheet<'a> {
    history: &'a History,
    chains: Chains<'a>,
    first: &'a [FirstReturn],
    inside: &'a [bool],
    /// The as-of.
    last_day: i32,
}

impl Sheet<'_> {
    /// It is the return that the shares count.
    fn counts(&self, row: u32, days: i32, told: bool) -> bool {
        let at = row as usize;
        self.inside.get(at) == Some(&true)
            && self.first.get(at).is_some_and(|first| (first.days, first.told) == (days, told))
    }

    fn written(&self, back: &Return<'_>) -> Option<ComebackLine> {
        match back.came {
            Came::Seen { link, counts } => self.seen(back.row, link, back.days, counts),
            Came::Told(_) => self.told(back.row, back.day, back.days),
        }
    }

    /// A comeback.
    fn seen(&self, row: u32, link: &ReturnRow, days: i32, counted: bool) -> Option<ComebackLine> {
        let (root, visit) = self.chains.root(link.later);
        let line = self.line(row, root)?;
        Some(ComebackLine {
            later: Some(LinkedJob {
                job_id: hyphenated(link.later),
                order_no: link.later_order_no.clone(),
                job_no: link.later_job_no,
            }),
            reason: link.reason.clone(),
            later_cause: self.found(link.later),
            same_complaint: link.same_complaint,
            returned_on: link.later_opened_on,
            days,
            visit,
            counted,
            ..line
        })
    }

    /// A return that was told.
    fn told(&self, row: u32, told_on: i32, days: i32) -> Option<ComebackLine> {
        let jobs = self.history.jobs();
        let at = row as usize;
        let (root, visits) = self.chains.root(self.history.job_label(row)?.id);
        let line = self.line(row, root)?;
        Some(ComebackLine {
            told: Told::from_code(*jobs.told.get(at)?),
            reason: self.text(jobs.told_reason, at),
            returned_on: date_of(told_on),
            days,
            visit: visits + 1,
            counted: self.counts(row, days, true),
            ..line
        })
    }

    /// What the earlier job says, with the first job of its chain.
    fn line(&self, row: u32, root: JobId) -> Option<ComebackLine> {
        let jobs = self.history.jobs();
        let at = row as usize;
        // The first job may be one that was closed before the record begins.
        let first = self.history.job_row(root).map_or(at, |row| row as usize);
        let label = self.history.job_label(row)?;
        let closed_on = date_of(jobs.closed_day.get(at).copied()?);
        Some(ComebackLine {
            earlier: LinkedJob {
                job_id: hyphenated(label.id),
                order_no: label.order_no.to_owned(),
                job_no: label.job_no,
            },
            later: None,
            told: None,
            vehicle: self.text(jobs.vehicle, at).unwrap_or_default(),
            symptom: self.text(jobs.symptom, at),
            system: self.text(jobs.system, at),
            technician: self.text(jobs.technician, first),
            reason: None,
            earlier_cause: self.text(jobs.cause, at),
            later_cause: None,
            // It was told of this complaint.
            same_complaint: true,
            closed_on,
            returned_on: closed_on,
            days: 0,
            visit: 0,
            counted: false,
        })
    }

    /// The cause of a job that was handed over by the as-of.
    fn found(&self, job: JobId) -> Option<String> {
        let jobs = self.history.jobs();
        let at = self.history.job_row(job)? as usize;
        let closed = jobs.closed_day.get(at).is_some_and(|day| *day <= self.last_day);
        self.text(jobs.cause, at).filter(|_| closed)
    }

    fn text(&self, column: &[u32], at: usize) -> Option<String> {
        column.get(at).and_then(|code| self.history.text(*code)).map(str::to_owned)
    }
}
