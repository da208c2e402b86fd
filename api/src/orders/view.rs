//! Orders as pages tell them.

use super::authorize::Authorization;
use super::charges::Charges;
use super::model::Order;
use crate::comebacks::view::amount;
use crate::domain::ids::JobId;
use crate::jobs::labor::LaborEntry;
use crate::jobs::model::Job;
use crate::jobs::view::Words;
use crate::vehicles::model::Vehicle;
use crate::web::words::{self, Shown};

/// A job of an open order, in a line.
pub struct JobLine {
    pub id: String,
    pub job_no: i32,
    pub kind: Option<&'static str>,
    pub complaint: Option<String>,
    pub symptom: Option<String>,
    pub lead: Option<String>,
    /// Who works on it now, on what.
    pub at_work: Vec<String>,
    pub waits_for: Option<String>,
    /// How it ended.
    pub outcome: Option<&'static str>,
    pub cause: Option<String>,
    /// It was planned when an earlier visit ended.
    pub planned: bool,
}

impl JobLine {
    pub(super) fn of(job: &Job, words: &Words, running: &[LaborEntry]) -> Self {
        let complaint = analytics::words::JobKind::Complaint;
        Self {
            id: job.id.to_string(),
            job_no: job.job_no,
            kind: (job.kind.0 != complaint).then(|| job.kind.0.shown()),
            complaint: job.complaint.clone(),
            symptom: words.label("symptom", job.symptom.as_deref()),
            lead: words.name(job.lead_id.as_ref()),
            at_work: running
                .iter()
                .filter(|entry| entry.job_id == job.id)
                .filter_map(|entry| {
                    let who = words.name(Some(&entry.person_id))?;
                    let on = entry.activity.map_or("work", |activity| activity.0.shown());
                    Some(format!("{who}, {on} since {}", words.moment(entry.started_at)))
                })
                .collect(),
            waits_for: job
                .waiting_for
                .as_deref()
                .map(|word| words::label_of(&words::waits(), word)),
            outcome: job.outcome.map(|word| word.0.shown()),
            cause: words.label("cause", job.cause.as_deref()),
            planned: false,
        }
    }
}

/// An order as lists and its own page show it.
pub struct ToldOrder {
    pub id: String,
    pub order_no: String,
    pub status: String,
    pub version: i32,
    pub vehicle: String,
    pub customer_name: Option<String>,
    pub customer_contact: Option<String>,
    pub opened: String,
    pub promised: Option<String>,
    /// Promised for a time that is over.
    pub late: bool,
    pub handed_over: Option<String>,
    pub odometer_in: Option<String>,
    pub odometer_out: Option<String>,
    pub authorized: Option<String>,
    pub jobs: Vec<JobLine>,
    /// Every job has ended.
    pub ended: bool,
    pub vehicle_id: String,
    /// When and why it was voided.
    pub voided: Option<String>,
    pub corrected: Option<String>,
    /// Since when the vehicle is another owner's.
    pub sold: Option<String>,
}

impl ToldOrder {
    /// Tells an order with its vehicle and jobs.
    #[must_use]
    pub fn of(
        order: &Order,
        vehicle: &Vehicle,
        jobs: &[Job],
        words: &Words,
        running: &[LaborEntry],
    ) -> Self {
        let read = |value: i64| words::odometer(value, &order.odometer_unit);
        let voided = order.void_reason.as_ref().zip(order.voided_at);
        Self {
            id: order.id.to_string(),
            order_no: order.order_no.clone(),
            status: order.status.clone(),
            version: order.version,
            vehicle: vehicle.label(),
            customer_name: order.customer_name.clone(),
            customer_contact: order.customer_contact.clone(),
            opened: words.moment(order.opened_at),
            promised: order.promised_at.map(|at| words.moment(at)),
            late: order.promised_at.is_some_and(|at| at < words.now),
            handed_over: order.closed_at.map(|at| words.moment(at)),
            odometer_in: order.odometer_in.map(read),
            odometer_out: order.odometer_out.map(read),
            authorized: authorized(order, words),
            jobs: jobs.iter().map(|job| JobLine::of(job, words, running)).collect(),
            ended: !jobs.is_empty() && jobs.iter().all(|job| job.outcome.is_some()),
            vehicle_id: vehicle.id.to_string(),
            voided: voided.map(|(why, at)| format!("{}: {why}", words.moment(at))),
            corrected: order.corrected_at.map(|at| words.moment(at)),
            sold: vehicle.sold_on.map(|day| words.day(day)),
        }
    }

    /// Marks the jobs that were planned when an earlier visit ended.
    pub fn mark_planned(&mut self, jobs: &[JobId]) {
        for line in &mut self.jobs {
            line.planned = jobs.iter().any(|job| job.as_str() == line.id);
        }
    }
}

fn authorized(order: &Order, words: &Words) -> Option<String> {
    let mut told = amount(order.authorized_minor?, words);
    if let Some(by) = &order.authorized_by {
        told.push_str(&format!(" by {by}"));
    }
    if let Some(how) = &order.authorized_how {
        told.push_str(&format!(", {how}"));
    }
    if let Some(at) = order.authorized_at {
        told.push_str(&format!(", {}", words.moment(at)));
    }
    Some(told)
}

/// An amount that was agreed to, as told.
pub struct ToldAuthorization {
    /// Absent where it may not be seen.
    pub amount: Option<String>,
    pub by: String,
    pub how: String,
    pub at: String,
    pub note: Option<String>,
}

impl ToldAuthorization {
    /// Tells an amount.
    #[must_use]
    pub fn of(row: &Authorization, words: &Words) -> Self {
        Self {
            amount: row.amount_minor.map(|minor| amount(minor, words)),
            by: row.authorized_by.clone(),
            how: row.authorized_how.clone(),
            at: words.moment(row.authorized_at),
            note: row.note.clone(),
        }
    }
}

/// What is charged, as told to who may see prices.
pub struct ToldCharges {
    pub charged: String,
    /// By how much it exceeds what was agreed to.
    pub over: Option<String>,
    /// Something is charged, and nothing was agreed to.
    pub unagreed: bool,
}

impl ToldCharges {
    /// Tells the charges; nothing where they may not be seen.
    #[must_use]
    pub fn of(charges: &Charges, words: &Words) -> Option<Self> {
        let charged = charges.charged_minor?;
        let over = charges.over_minor.filter(|minor| *minor > 0);
        Some(Self {
            charged: amount(charged, words),
            over: over.map(|minor| amount(minor, words)),
            unagreed: charged > 0 && charges.authorized_minor.is_none(),
        })
    }
}
