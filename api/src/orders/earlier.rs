//! The jobs that a customer may mean who says "I was in before for this".

use super::planned::has_more_to_come;
use crate::jobs::view::Words;
use crate::vehicles::view::ToldUse;
use crate::vehicles::visits::{Visit, VisitJob};
use crate::web::words::{self, Shown};

/// Offered at most.
const MOST: usize = 12;

/// An earlier job with what was done then.
#[derive(Debug, Clone)]
pub struct Earlier {
    pub id: String,
    pub number: String,
    pub handed_over: String,
    /// How long ago that was.
    pub ago: String,
    /// Within the shop's comeback window.
    pub inside: bool,
    /// What it has in common with what is written up, as far as is known.
    pub same: Option<&'static str>,
    pub complaint: Option<String>,
    pub symptom: Option<String>,
    pub outcome: Option<&'static str>,
    pub cause: Option<String>,
    pub parts: Vec<ToldUse>,
    pub lead: Option<String>,
    /// Another visit was to come of it.
    pub more_to_come: bool,
}

/// The jobs of visits that are over; `symptom` is the one that is written up.
#[must_use]
pub fn of(visits: &[Visit], symptom: Option<&str>, words: &Words) -> Vec<Earlier> {
    let over = visits.iter().filter(|visit| visit.is_over());
    let jobs = over.flat_map(|visit| visit.jobs.iter().map(move |job| (visit, job)));
    jobs.take(MOST).filter_map(|(visit, job)| told(visit, job, symptom, words)).collect()
}

fn told(visit: &Visit, row: &VisitJob, symptom: Option<&str>, words: &Words) -> Option<Earlier> {
    let job = &row.job;
    let left = visit.order.closed_on?;
    let days = (words.shop.zone().day(words.now) - left).num_days();
    Some(Earlier {
        id: job.id.to_string(),
        number: format!("{}/{}", visit.order.order_no, job.job_no),
        handed_over: words.day(left),
        ago: ago(days),
        inside: days <= i64::from(words.shop.window_days),
        same: same(symptom, job.symptom.as_deref(), words),
        complaint: job.complaint.clone(),
        symptom: words.label("symptom", job.symptom.as_deref()),
        outcome: job.outcome.map(|word| word.0.shown()),
        cause: words.label("cause", job.cause.as_deref()),
        parts: row.parts.iter().map(ToldUse::of).collect(),
        lead: words.name(job.lead_id.as_ref()),
        more_to_come: job.outcome.is_some_and(|word| has_more_to_come(word.0)),
    })
}

fn ago(days: i64) -> String {
    match days {
        ..=0 => "earlier today".to_owned(),
        days => format!("{} ago", words::counted(days, "day", "days")),
    }
}

fn same(now: Option<&str>, then: Option<&str>, words: &Words) -> Option<&'static str> {
    let (now, then) = (now?, then?);
    let (now, then) = (words.lists.now("symptom", now), words.lists.now("symptom", then));
    if now == then {
        return Some("same symptom");
    }
    (words.lists.system(&now) == words.lists.system(&then)).then_some("same system")
}

/// The last reading of the vehicle's odometer, with its day.
#[must_use]
pub fn last_reading(visits: &[Visit], words: &Words) -> Option<String> {
    let told = |visit: &Visit| {
        let order = &visit.order;
        let (value, day) = match (order.odometer_out, order.closed_on, order.odometer_in) {
            (Some(out), Some(day), _) => (out, day),
            (_, _, read) => (read?, order.opened_on),
        };
        let read = words::odometer(value, &order.odometer_unit);
        Some(format!("{read}, {}", words.day(day)))
    };
    visits.iter().filter(|visit| visit.order.status != "void").find_map(told)
}
