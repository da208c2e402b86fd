//! A vehicle's visits as pages tell them.

use std::collections::HashMap;

use analytics::words::{JobKind, LinkState};
use chrono::NaiveDate;

use super::odometer_reset::OdometerReset;
use super::visits::{Visit, VisitJob};
use crate::domain::ids::JobId;
use crate::jobs::parts::PartUse;
use crate::jobs::view::Words;
use crate::web::words::{self, Shown};

/// A visit as told.
#[derive(Debug, Clone)]
pub struct ToldVisit {
    pub id: String,
    pub order_no: String,
    pub open: bool,
    pub void: bool,
    pub opened: String,
    pub handed_over: Option<String>,
    pub odometer: Option<String>,
    /// How far apart from the visit before, in days and by the odometer.
    pub since: Option<String>,
    /// Between the visit before and this one the odometer was replaced.
    pub replaced: bool,
    pub jobs: Vec<ToldVisitJob>,
}

/// A job of a visit as told.
#[derive(Debug, Clone)]
pub struct ToldVisitJob {
    pub id: String,
    pub number: String,
    /// Only where it is no complaint.
    pub kind: Option<&'static str>,
    pub complaint: Option<String>,
    pub symptom: Option<String>,
    pub outcome: Option<&'static str>,
    pub cause: Option<String>,
    pub cause_state: Option<&'static str>,
    pub correction: Option<String>,
    pub lead: Option<String>,
    pub parts: Vec<ToldUse>,
    /// Earlier jobs that it came back for.
    pub back_for: Vec<ToldReturn>,
    /// Later jobs that came back for it.
    pub came_back: Vec<ToldReturn>,
}

/// A part and what was done with it.
#[derive(Debug, Clone)]
pub struct ToldUse {
    pub name: String,
    pub position: Option<String>,
    pub done: &'static str,
    pub held_as: Option<&'static str>,
}

impl ToldUse {
    /// Tells it.
    #[must_use]
    pub fn of(row: &PartUse) -> Self {
        Self {
            name: row.name.clone(),
            position: row.position.clone(),
            done: row.disposition.0.shown(),
            held_as: row.role.map(|word| word.0.shown()),
        }
    }
}

/// The other job of a comeback.
#[derive(Debug, Clone)]
pub struct ToldReturn {
    /// The link's.
    pub id: String,
    /// Of the other job.
    pub number: String,
    /// Else nobody has decided.
    pub confirmed: bool,
}

fn number(visit: &Visit, job: &VisitJob) -> String {
    format!("{}/{}", visit.order.order_no, job.job.job_no)
}

/// Tells visits; they stand the latest first.
#[must_use]
pub fn told(visits: &[Visit], resets: &[OdometerReset], words: &Words) -> Vec<ToldVisit> {
    let numbers: HashMap<&JobId, String> = visits
        .iter()
        .flat_map(|visit| visit.jobs.iter().map(|job| (&job.job.id, number(visit, job))))
        .collect();
    visits
        .iter()
        .enumerate()
        .map(|(place, visit)| {
            // A void visit was none: nothing is counted from it.
            let before = visits.iter().skip(place + 1).find(|visit| visit.order.status != "void");
            let replaced =
                before.is_some_and(|before| replaced(resets, before, visit.order.opened_on));
            ToldVisit {
                id: visit.order.id.to_string(),
                order_no: visit.order.order_no.clone(),
                open: visit.order.status == "open",
                void: visit.order.status == "void",
                opened: words.day(visit.order.opened_on),
                handed_over: visit.order.closed_on.map(|day| words.day(day)),
                odometer: visit
                    .order
                    .odometer_in
                    .map(|value| words::odometer(value, &visit.order.odometer_unit)),
                since: before.map(|before| since(before, visit, replaced)),
                replaced,
                jobs: visit.jobs.iter().map(|job| told_job(visit, job, &numbers, words)).collect(),
            }
        })
        .collect()
}

fn replaced(resets: &[OdometerReset], before: &Visit, until: NaiveDate) -> bool {
    resets.iter().any(|reset| reset.reset_on >= before.order.opened_on && reset.reset_on <= until)
}

/// `94 days and 3,120 mi`: by the odometer only where both were read on the
/// same one.
fn since(before: &Visit, visit: &Visit, replaced: bool) -> String {
    let (was, is) = (&before.order, &visit.order);
    let left = was.closed_on.unwrap_or(was.opened_on);
    let days = words::counted((is.opened_on - left).num_days().max(0), "day", "days");
    let read = was.odometer_out.or(was.odometer_in).zip(is.odometer_in);
    match read {
        Some((then, now)) if !replaced && was.odometer_unit == is.odometer_unit && now >= then => {
            format!("{days} and {}", words::odometer(now - then, &is.odometer_unit))
        }
        _ => days,
    }
}

fn told_job(
    visit: &Visit,
    row: &VisitJob,
    numbers: &HashMap<&JobId, String>,
    words: &Words,
) -> ToldVisitJob {
    let job = &row.job;
    let other = |id: &JobId| numbers.get(id).cloned();
    let linked = |later: bool| {
        row.comebacks
            .iter()
            .filter(move |link| (link.later_job_id == job.id) == later)
            // What was rejected is no return of this job.
            .filter(|link| link.state.0 != LinkState::Rejected)
            .filter_map(|link| {
                let to = if later { &link.earlier_job_id } else { &link.later_job_id };
                Some(ToldReturn {
                    id: link.id.to_string(),
                    number: other(to)?,
                    confirmed: link.state.0 == LinkState::Confirmed,
                })
            })
            .collect()
    };
    ToldVisitJob {
        id: job.id.to_string(),
        number: number(visit, row),
        kind: (job.kind.0 != JobKind::Complaint).then(|| job.kind.0.shown()),
        complaint: job.complaint.clone(),
        symptom: words.label("symptom", job.symptom.as_deref()),
        outcome: job.outcome.map(|word| word.0.shown()),
        cause: words.label("cause", job.cause.as_deref()),
        cause_state: job.cause_state.map(|word| word.0.shown()),
        correction: job.correction.clone(),
        lead: words.name(job.lead_id.as_ref()),
        parts: row.parts.iter().map(ToldUse::of).collect(),
        back_for: linked(true),
        came_back: linked(false),
    }
}
