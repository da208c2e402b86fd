//! The way from a figure to the jobs behind it: a selector as a query string,
//! and the jobs it selects.

mod encoding;
mod limits;
mod matching;
mod names;
mod rules;
mod term;
mod values;

use chrono::NaiveDate;
use serde::Serialize;

pub(crate) use encoding::{escape_onto, escaped};
pub use limits::Limits;
pub(crate) use names::{engines_named, models_named};
pub use term::{Selector, SelectorError, Term};
pub use values::{Column, DistanceKnown, Order, PathMatch, Treatment, Visits};

use crate::comeback::{answering, first_repairs, in_population};
use crate::follow::{FirstReturn, NEVER, date_of, day_number, first_returns};
use crate::history::{History, JobId};
use crate::words::{JobKind, Outcome, Told};

/// One selected job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct JobLine {
    /// UUID.
    pub job_id: String,
    pub order_no: String,
    pub job_no: i32,
    pub vehicle: String,
    pub symptom: Option<String>,
    /// The customer's own words.
    pub complaint: Option<String>,
    pub cause: Option<String>,
    /// Who answers for the job: who led it, or a trainee's supervisor.
    pub technician: Option<String>,
    pub outcome: Outcome,
    pub closed_on: NaiveDate,
    /// Day of the first return by the as-of: the opening of a confirmed
    /// comeback's order, or the day it was told that the repair had not held.
    pub returned_on: Option<NaiveDate>,
    pub days_to_return: Option<i32>,
    /// What was told, where that return was not seen.
    pub told: Option<Told>,
}

/// A job's id as a UUID is written.
pub(crate) fn hyphenated(id: JobId) -> String {
    let mut text = format!("{id:032x}");
    for place in [20, 16, 12, 8] {
        text.insert(place, '-');
    }
    text
}

/// The jobs that fit every term, in the order of their closing. Jobs closed
/// after the as-of are not there yet; `window_days` says what `returned` and
/// `part_returned` mean.
#[must_use]
pub fn select(
    history: &History,
    selector: &Selector,
    as_of: NaiveDate,
    window_days: i32,
) -> Vec<JobLine> {
    let last_day = day_number(as_of);
    let returns = first_returns(history);
    let keep = fitting(history, selector, returns, (last_day, window_days));
    (0_u32..)
        .zip(&keep)
        .filter(|(_, keep)| **keep)
        .filter_map(|(row, _)| line(history, row, returns, last_day))
        .collect()
}

/// Which job rows fit every term, of those closed by the as-of.
pub(crate) fn fitting(
    history: &History,
    selector: &Selector,
    returns: &[FirstReturn],
    (as_of, window): (i32, i32),
) -> Vec<bool> {
    let mut keep: Vec<bool> =
        history.jobs().closed_day.iter().map(|closed| *closed <= as_of).collect();
    let seen = matching::Seen {
        as_of,
        window,
        returns,
        first_repair: first_repairs(history),
        inside: in_population(history),
        answers: answering(history),
    };
    matching::narrow(history, selector, &seen, &mut keep);
    keep
}

fn line(history: &History, row: u32, returns: &[FirstReturn], as_of: i32) -> Option<JobLine> {
    let jobs = history.jobs();
    let at = row as usize;
    let text =
        |column: &[u32]| column.get(at).and_then(|code| history.text(*code)).map(str::to_owned);
    let closed = *jobs.closed_day.get(at)?;
    let back = returns
        .get(at)
        .filter(|back| back.days != NEVER && closed.saturating_add(back.days) <= as_of);
    let days = back.map(|back| back.days);
    let label = history.job_label(row)?;
    Some(JobLine {
        job_id: hyphenated(label.id),
        order_no: label.order_no.to_owned(),
        job_no: label.job_no,
        vehicle: text(jobs.vehicle)?,
        symptom: text(jobs.symptom),
        complaint: label.complaint.map(str::to_owned),
        cause: text(jobs.cause),
        technician: text(jobs.technician),
        outcome: Outcome::from_code(*jobs.outcome.get(at)?)?,
        closed_on: date_of(closed),
        returned_on: days.map(|days| date_of(closed + days)),
        days_to_return: days,
        told: back
            .filter(|back| back.told)
            .and_then(|_| jobs.told.get(at))
            .and_then(|code| Told::from_code(*code)),
    })
}

/// Whether a job row is of a kind; the column only holds codes of the list.
fn is_kind(history: &History, row: usize, kind: JobKind) -> bool {
    history.jobs().kind.get(row) == Some(&kind.code())
}
