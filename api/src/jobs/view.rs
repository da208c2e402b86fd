//! A job as pages tell it: codes by their labels, people by their names, times
//! by the shop's wall.

use std::collections::HashMap;

use analytics::words::JobKind;

use super::brief::{self, Brief};
use super::checks::Check;
use super::labor::LaborEntry;
use super::operations::Operation;
use super::parts::{MoneyRights, PartUse};
use super::proofs::Proof;
use super::whole::{self, WholeJob};
use crate::codes::lists::Lists;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::decimal::format_hundredths;
use crate::domain::ids::{JobId, PersonId};
use crate::domain::money::Currency;
use crate::people::model as people;
use crate::shops::model::Shop;
use crate::web::words::{self, Shown};

/// What a shop's pages look words up in.
pub struct Words {
    pub lists: Lists,
    pub names: HashMap<PersonId, String>,
    pub shop: Shop,
    pub now: UtcStamp,
}

impl Words {
    /// The shop's lists and the group's names.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn load(conn: &mut Conn, shop: &Shop, now: UtcStamp) -> Answer<Self> {
        Ok(Self {
            lists: Lists::load(conn, shop.id)?,
            names: people::names(conn, &shop.group_id)?,
            shop: shop.clone(),
            now,
        })
    }

    /// A person's name.
    #[must_use]
    pub fn name(&self, id: Option<&PersonId>) -> Option<String> {
        self.names.get(id?).cloned()
    }

    /// A code by its label.
    #[must_use]
    pub fn label(&self, list: &str, code: Option<&str>) -> Option<String> {
        code.map(|code| self.lists.label(list, code))
    }

    /// A moment on the shop's wall.
    #[must_use]
    pub fn moment(&self, at: UtcStamp) -> String {
        words::moment(self.shop.zone(), self.now, at)
    }

    /// A day on the shop's calendar.
    #[must_use]
    pub fn day(&self, day: chrono::NaiveDate) -> String {
        words::day(day, self.shop.zone().day(self.now))
    }
}

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
    fn of(row: &Check, words: &Words) -> Self {
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
}

impl ToldPart {
    fn of(row: &PartUse, money: &Currency) -> Self {
        let amount = |minor: i64| format!("{} {}", money.format_amount(minor), money.code());
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
    fn of(row: &Operation, words: &Words, money: &Currency) -> Self {
        Self {
            id: row.id.to_string(),
            label: words.lists.label("operation", &row.code),
            flat_rate: row.flat_rate_hundredths.map(format_hundredths),
            billed: row.billed_hundredths.map(format_hundredths),
            amount: row
                .labor_amount_minor
                .map(|minor| format!("{} {}", money.format_amount(minor), money.code())),
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
}

impl ToldLabor {
    fn of(row: &LaborEntry, words: &Words, asker: &PersonId) -> Self {
        let until = row.ended_at.unwrap_or(words.now);
        let lead = analytics::words::WorkedAs::Lead;
        Self {
            id: row.id.to_string(),
            who: words.name(Some(&row.person_id)).unwrap_or_default(),
            own: row.person_id == *asker,
            activity: row.activity.map(|word| word.0.shown()),
            worked_as: (row.worked_as.0 != lead).then(|| row.worked_as.0.shown()),
            from: words.moment(row.started_at),
            lasted: words::duration(until.minutes_since(row.started_at).max(0)),
            runs: row.ended_at.is_none(),
        }
    }
}

/// A proof as told.
#[derive(Debug, Clone)]
pub struct ToldProof {
    pub how: String,
    pub passed: bool,
    pub note: Option<String>,
    pub reading: Option<String>,
    pub who: String,
    pub at: String,
}

impl ToldProof {
    fn of(row: &Proof, words: &Words) -> Self {
        Self {
            how: row.how.replace('_', " "),
            passed: row.passed,
            note: row.note.clone(),
            reading: row.reading.map(|value| words::reading(value, row.unit.as_deref())),
            who: words.name(Some(&row.person_id)).unwrap_or_default(),
            at: words.moment(row.proved_at),
        }
    }
}

/// A job as told, with everything on it.
#[derive(Debug, Clone)]
pub struct Told {
    pub id: String,
    pub order_id: String,
    /// Order and job number.
    pub number: String,
    pub order_no: String,
    pub vehicle: String,
    /// Only where it is no complaint.
    pub kind: Option<&'static str>,
    pub opened: String,
    pub handed_over: Option<String>,
    pub complaint: Option<String>,
    pub symptom: Option<String>,
    pub when: Vec<String>,
    pub lead: Option<String>,
    pub bay: Option<String>,
    pub waits_for: Option<String>,
    pub outcome: Option<&'static str>,
    pub cause: Option<String>,
    pub cause_state: Option<&'static str>,
    pub cause_how: Option<String>,
    pub cause_position: Option<String>,
    pub correction: Option<String>,
    pub checks: Vec<ToldCheck>,
    pub parts: Vec<ToldPart>,
    pub operations: Vec<ToldOperation>,
    pub labor: Vec<ToldLabor>,
    pub proofs: Vec<ToldProof>,
}

impl Told {
    /// Tells a job.
    #[must_use]
    pub fn of(whole: &WholeJob, brief: &Brief, words: &Words, asker: &PersonId) -> Self {
        let job = &whole.job;
        let money = words.shop.money();
        let when = job.happens_when.as_deref().unwrap_or_default();
        Self {
            id: job.id.to_string(),
            order_id: job.order_id.to_string(),
            number: brief.number(),
            order_no: brief.order_no.clone(),
            vehicle: brief.vehicle.label(),
            kind: (job.kind.0 != JobKind::Complaint).then(|| job.kind.0.shown()),
            opened: words.day(brief.opened_on),
            handed_over: brief.closed_on.map(|day| words.day(day)),
            complaint: job.complaint.clone(),
            symptom: words.label("symptom", job.symptom.as_deref()),
            when: when.split_whitespace().map(|code| words.lists.label("when", code)).collect(),
            lead: words.name(job.lead_id.as_ref()),
            bay: job.bay.clone(),
            waits_for: job
                .waiting_for
                .as_deref()
                .map(|word| words::label_of(&words::waits(), word)),
            outcome: job.outcome.map(|word| word.0.shown()),
            cause: words.label("cause", job.cause.as_deref()),
            cause_state: job.cause_state.map(|word| word.0.shown()),
            cause_how: job.cause_how.clone(),
            cause_position: job.cause_position.clone(),
            correction: job.correction.clone(),
            checks: whole.checks.iter().map(|row| ToldCheck::of(row, words)).collect(),
            parts: whole.parts.iter().map(|row| ToldPart::of(row, &money)).collect(),
            operations: whole
                .operations
                .iter()
                .map(|row| ToldOperation::of(row, words, &money))
                .collect(),
            labor: whole.labor.iter().map(|row| ToldLabor::of(row, words, asker)).collect(),
            proofs: whole.proofs.iter().map(|row| ToldProof::of(row, words)).collect(),
        }
    }

    /// Reads a job and tells it.
    ///
    /// # Errors
    /// Not found, or the database does not answer.
    pub fn read(
        conn: &mut Conn,
        words: &Words,
        id: &JobId,
        rights: MoneyRights,
        asker: &PersonId,
    ) -> Answer<Self> {
        let whole = whole::read(conn, words.shop.id, id, rights)?;
        let brief = brief::of(conn, words.shop.id, id)?;
        Ok(Self::of(&whole, &brief, words, asker))
    }
}
