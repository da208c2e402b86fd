//! The lines of a job as pages tell them.

use analytics::words::WorkedAs;

use super::checks::Check;
use super::labor::LaborEntry;
use super::operations::Operation;
use super::parts::PartOnJob;
use super::people::JobPerson;
use super::proofs::Proof;
use super::stretch;
use super::sublets::Sublet;
use super::view::Words;
use super::waits::Wait;
use crate::domain::clock::UtcStamp;
use crate::domain::decimal::format_hundredths;
use crate::domain::ids::PersonId;
use crate::web::words::{self, Shown};

/// A check as told.
#[derive(Debug, Clone)]
pub struct ToldCheck {
    pub id: String,
    pub label: String,
    pub position: Option<String>,
    pub finding: Option<&'static str>,
    pub not_done_reason: Option<String>,
    pub minutes: Option<i32>,
    pub reading: Option<String>,
    pub limits: Option<String>,
    pub typed_at_close: bool,
}

impl ToldCheck {
    pub(super) fn of(row: &Check, words: &Words) -> Self {
        Self {
            id: row.id.to_string(),
            label: words.lists.label("check", &row.code),
            position: row.position.clone(),
            finding: row.finding.map(|word| word.0.shown()),
            not_done_reason: row.not_done_reason.clone(),
            minutes: row.minutes,
            reading: row.reading.map(|value| words::reading(value, row.unit.as_deref())),
            limits: limits(row),
            typed_at_close: row.typed_at_close,
        }
    }
}

fn limits(row: &Check) -> Option<String> {
    let unit = row.unit.as_deref();
    let range = match (row.low_limit, row.high_limit) {
        (None, None) => return None,
        (Some(low), None) => format!("at least {}", words::reading(low, unit)),
        (None, Some(high)) => format!("at most {}", words::reading(high, unit)),
        (Some(low), Some(high)) => format!("{low} to {}", words::reading(high, unit)),
    };
    Some(match &row.limit_source {
        Some(source) => format!("{range}, by {source}"),
        None => range,
    })
}

/// A part use as told.
#[derive(Debug, Clone)]
pub struct ToldPart {
    pub id: String,
    pub name: String,
    pub part_no: Option<String>,
    pub position: Option<String>,
    /// Only where it is not one piece.
    pub quantity: Option<String>,
    pub done: &'static str,
    pub held_as: Option<&'static str>,
    pub supplier: Option<String>,
    pub lot: Option<String>,
    pub reading: Option<String>,
    pub cost: Option<String>,
    pub price: Option<String>,
    /// How often it was cleaned before.
    pub cleaned_before: Option<String>,
    pub again_reason: Option<String>,
}

impl ToldPart {
    pub(super) fn of(on_job: &PartOnJob, words: &Words) -> Self {
        let row = &on_job.part;
        let amount = |minor: i64| words.amount(minor);
        Self {
            id: row.id.to_string(),
            name: row.name.clone(),
            part_no: row.part_no.clone(),
            position: row.position.clone(),
            quantity: (row.quantity_hundredths != 100)
                .then(|| format_hundredths(row.quantity_hundredths)),
            done: row.disposition.0.shown(),
            held_as: row.role.map(|word| word.0.shown()),
            supplier: row.supplier.clone(),
            lot: row.lot.clone(),
            reading: row
                .bench_reading
                .map(|value| words::reading(value, row.bench_unit.as_deref())),
            cost: row.unit_cost_minor.map(amount),
            price: row.unit_price_minor.map(amount),
            cleaned_before: times_cleaned(on_job.times_cleaned_before),
            again_reason: row.again_reason.clone(),
        }
    }
}

/// An operation as told.
#[derive(Debug, Clone)]
pub struct ToldOperation {
    pub id: String,
    pub label: String,
    pub flat_rate: Option<String>,
    pub billed: Option<String>,
    pub amount: Option<String>,
    pub payer: Option<&'static str>,
}

impl ToldOperation {
    pub(super) fn of(row: &Operation, words: &Words) -> Self {
        Self {
            id: row.id.to_string(),
            label: words.lists.label("operation", &row.code),
            flat_rate: row.flat_rate_hundredths.map(format_hundredths),
            billed: row.billed_hundredths.map(format_hundredths),
            amount: row.labor_amount_minor.map(|minor| words.amount(minor)),
            payer: row.payer.map(|word| word.0.shown()),
        }
    }
}

/// A labor entry as told.
#[derive(Debug, Clone)]
pub struct ToldLabor {
    pub id: String,
    pub who: String,
    pub own: bool,
    pub activity: Option<&'static str>,
    /// Only where it is not the lead.
    pub worked_as: Option<&'static str>,
    pub from: String,
    /// Until now where it runs.
    pub lasted: String,
    pub runs: bool,
    /// Whom a trainee worked under.
    pub under: Option<String>,
    /// As the form for its times shows them.
    pub times: Times,
    /// The viewer's own, and young enough to be changed.
    pub own_recent: bool,
}

/// A stretch as browsers want times on a wall.
#[derive(Debug, Clone)]
pub struct Times {
    pub from: String,
    pub to: String,
}

impl ToldLabor {
    pub(super) fn of(row: &LaborEntry, words: &Words, asker: &PersonId) -> Self {
        let until = row.ended_at.unwrap_or(words.now);
        let lead = WorkedAs::Lead;
        Self {
            id: row.id.to_string(),
            who: words.name(Some(&row.person_id)).unwrap_or_default(),
            own: row.person_id == *asker,
            activity: row.activity.map(|word| word.0.shown()),
            worked_as: (row.worked_as.0 != lead).then(|| row.worked_as.0.shown()),
            from: words.moment(row.started_at),
            lasted: words::duration(until.minutes_since(row.started_at).max(0)),
            runs: row.ended_at.is_none(),
            under: words.name(row.supervisor_id.as_ref()),
            times: Times {
                from: on_wall(words, row.started_at),
                to: row.ended_at.map(|at| on_wall(words, at)).unwrap_or_default(),
            },
            own_recent: row.person_id == *asker && stretch::is_recent(row.started_at, words.now),
        }
    }
}

/// A proof as told.
#[derive(Debug, Clone)]
pub struct ToldProof {
    pub id: String,
    pub how: String,
    pub passed: bool,
    pub note: Option<String>,
    pub reading: Option<String>,
    pub who: String,
    pub at: String,
}

impl ToldProof {
    pub(super) fn of(row: &Proof, words: &Words) -> Self {
        Self {
            id: row.id.to_string(),
            how: row.how.replace('_', " "),
            passed: row.passed,
            note: row.note.clone(),
            reading: row.reading.map(|value| words::reading(value, row.unit.as_deref())),
            who: words.name(Some(&row.person_id)).unwrap_or_default(),
            at: words.moment(row.proved_at),
        }
    }
}

/// How often a part was cleaned before, where it was.
#[must_use]
pub fn times_cleaned(times: u32) -> Option<String> {
    match times {
        0 => None,
        1 => Some("cleaned and put back once before".to_owned()),
        2 => Some("cleaned and put back twice before".to_owned()),
        more => Some(format!("cleaned and put back {more} times before")),
    }
}

/// A time on the shop's wall, as browsers want it: to the minute.
fn on_wall(words: &Words, at: UtcStamp) -> String {
    words.shop.zone().show(at).replace(' ', "T")
}

/// A person on the job as told.
#[derive(Debug, Clone)]
pub struct ToldPerson {
    pub id: String,
    pub name: String,
    pub worked_as: &'static str,
    pub under: Option<String>,
}

impl ToldPerson {
    pub(super) fn of(row: &JobPerson, words: &Words) -> Self {
        Self {
            id: row.person_id.to_string(),
            name: words.name(Some(&row.person_id)).unwrap_or_default(),
            worked_as: row.worked_as.0.shown(),
            under: words.name(row.supervisor_id.as_ref()),
        }
    }
}

/// A wait as told.
#[derive(Debug, Clone)]
pub struct ToldWait {
    pub id: String,
    pub waiting_for: String,
    pub note: Option<String>,
    pub expected: Option<String>,
    pub since: String,
    /// Until now where it runs.
    pub lasted: String,
    pub runs: bool,
}

impl ToldWait {
    #[must_use]
    pub fn of(row: &Wait, words: &Words) -> Self {
        let until = row.to_at.unwrap_or(words.now);
        Self {
            id: row.id.to_string(),
            waiting_for: words::label_of(&words::waits(), &row.waiting_for),
            note: row.note.clone(),
            expected: row.expected_on.map(|day| words.day(day)),
            since: words.moment(row.from_at),
            lasted: words::duration(until.minutes_since(row.from_at).max(0)),
            runs: row.to_at.is_none(),
        }
    }
}

/// A sublet as told.
#[derive(Debug, Clone)]
pub struct ToldSublet {
    pub id: String,
    pub business: String,
    pub work: String,
    pub sent: Option<String>,
    pub due: Option<String>,
    pub back: Option<String>,
    pub cost: Option<String>,
    pub price: Option<String>,
    pub payer: Option<&'static str>,
}

impl ToldSublet {
    pub(super) fn of(row: &Sublet, words: &Words) -> Self {
        let amount = |minor: i64| words.amount(minor);
        let day = |day: Option<chrono::NaiveDate>| day.map(|day| words.day(day));
        Self {
            id: row.id.to_string(),
            business: row.business.clone(),
            work: row.work.clone(),
            sent: day(row.sent_on),
            due: day(row.due_on),
            back: day(row.back_on),
            cost: row.cost_minor.map(amount),
            price: row.price_minor.map(amount),
            payer: row.payer.map(|word| word.0.shown()),
        }
    }
}
