//! The comebacks themselves, and the chains they form.

use std::collections::{BTreeSet, HashMap};

use chrono::NaiveDate;
use serde::Serialize;

use super::tally::in_population;
use crate::follow::{date_of, first_returns};
use crate::history::{History, JobId, ReturnRow};
use crate::select::hyphenated;
use crate::words::LinkState;

/// A job that a link names.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LinkedJob {
    /// UUID.
    pub job_id: String,
    pub order_no: String,
    pub job_no: i32,
}

/// One confirmed comeback.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComebackLine {
    pub earlier: LinkedJob,
    pub later: LinkedJob,
    pub vehicle: String,
    pub symptom: Option<String>,
    pub system: Option<String>,
    /// Who led the first job of the chain: the comeback is theirs, never of
    /// whoever mends it.
    pub technician: Option<String>,
    pub reason: Option<String>,
    pub same_complaint: bool,
    /// Hand-over of the earlier job.
    pub closed_on: NaiveDate,
    /// Opening of the later order.
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
    /// Complaints that came back at least once.
    pub chains: i64,
    /// Later jobs among them: a vehicle back twice for one complaint is one
    /// chain and two visits.
    pub visits: i64,
    /// Comebacks of the chain that came back most often.
    pub most_visits: i64,
}

/// The confirmed comebacks that `takes` keeps (by row of the earlier job, its
/// closing day and the day of the return), the latest first, with the count of
/// their chains.
pub(crate) fn comeback_lines(
    history: &History,
    as_of: NaiveDate,
    takes: impl Fn(u32, i32, i32) -> bool,
) -> (Vec<ComebackLine>, ChainCount) {
    let chains = Chains::of(history, as_of);
    let first = first_returns(history, |_, _| true);
    let inside = in_population(history);
    let jobs = history.jobs();
    let returns = history.returns();
    let last_day = as_of.to_epoch_days();
    let mut lines = Vec::new();
    let (mut roots, mut laters) = (BTreeSet::new(), BTreeSet::new());
    let columns = history.links().iter().zip(returns.earlier).zip(returns.later_opened_day);
    for ((link, &row), &opened) in columns {
        let at = row as usize;
        let Some(&closed) = jobs.closed_day.get(at) else {
            continue;
        };
        let confirmed = link.state == LinkState::Confirmed && opened <= last_day;
        if !confirmed || !takes(row, closed, opened) {
            continue;
        }
        let days = opened - closed;
        // The first link of a job in frame order is its earliest return.
        let counted = inside.get(at) == Some(&true)
            && first.get(at) == Some(&days)
            && lines.last().is_none_or(|(last, _)| *last != row);
        let line = line(history, &chains, link, row, counted, days);
        roots.insert(chains.root(link.later).0);
        laters.insert(link.later);
        lines.extend(line.map(|line| (row, line)));
    }
    let mut lines: Vec<ComebackLine> = lines.into_iter().map(|(_, line)| line).collect();
    lines.sort_by(|a, b| {
        b.returned_on
            .cmp(&a.returned_on)
            .then_with(|| a.later.order_no.cmp(&b.later.order_no))
            .then_with(|| a.later.job_no.cmp(&b.later.job_no))
    });
    let count = ChainCount {
        chains: roots.len() as i64,
        visits: laters.len() as i64,
        most_visits: lines.iter().map(|line| line.visit).max().unwrap_or(0),
    };
    (lines, count)
}

fn line(
    history: &History,
    chains: &Chains<'_>,
    link: &ReturnRow,
    row: u32,
    counted: bool,
    days: i32,
) -> Option<ComebackLine> {
    let jobs = history.jobs();
    let at = row as usize;
    let text = |column: &[u32], at: usize| {
        column.get(at).and_then(|code| history.text(*code)).map(str::to_owned)
    };
    let (root, visit) = chains.root(link.later);
    // The first job may be one that was closed before the record begins.
    let led = history.job_row(root).map_or(at, |row| row as usize);
    let label = history.job_label(row)?;
    Some(ComebackLine {
        earlier: LinkedJob {
            job_id: hyphenated(label.id),
            order_no: label.order_no.clone(),
            job_no: label.job_no,
        },
        later: LinkedJob {
            job_id: hyphenated(link.later),
            order_no: link.later_order_no.clone(),
            job_no: link.later_job_no,
        },
        vehicle: text(jobs.vehicle, at).unwrap_or_default(),
        symptom: text(jobs.symptom, at),
        system: text(jobs.system, at),
        technician: text(jobs.technician, led),
        reason: link.reason.clone(),
        same_complaint: link.same_complaint,
        closed_on: date_of(jobs.closed_day.get(at).copied()?),
        returned_on: link.later_opened_on,
        days,
        visit,
        counted,
    })
}
