//! A job as pages tell it: codes by their labels, people by their names, times
//! by the shop's wall.

use std::collections::HashMap;

use analytics::words::JobKind;

use super::brief::{self, Brief};
use super::parts::MoneyRights;
use super::view_lines::{
    ToldCheck, ToldLabor, ToldOperation, ToldPart, ToldPerson, ToldProof, ToldSublet, ToldWait,
};
use super::whole::{self, WholeJob};
use crate::codes::lists::Lists;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, PersonId};
use crate::domain::style::Style;
use crate::people::model as people;
use crate::shops::model::Shop;
use crate::web::words::{self, Shown};

/// What a shop's pages look words up in.
pub struct Words {
    pub lists: Lists,
    pub names: HashMap<PersonId, String>,
    pub shop: Shop,
    pub now: UtcStamp,
    /// On what is kept no day is called today.
    kept: bool,
}

impl Words {
    /// The shop's lists and the group's names.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn load(conn: &mut Conn, shop: &Shop, now: UtcStamp) -> Answer<Self> {
        let (lists, names) = (Lists::load(conn, shop.id)?, people::names(conn, &shop.group_id)?);
        Ok(Self::of(lists, names, shop.clone(), now))
    }

    /// From what is at hand.
    #[must_use]
    pub fn of(lists: Lists, names: HashMap<PersonId, String>, shop: Shop, now: UtcStamp) -> Self {
        Self { lists, names, shop, now, kept: false }
    }

    /// For what is printed and kept: tomorrow its "today" would be another day.
    #[must_use]
    pub fn for_paper(self) -> Self {
        Self { kept: true, ..self }
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
        if self.kept { self.style().moment(at) } else { self.style().seen_moment(at, self.now) }
    }

    /// A day on the shop's calendar.
    #[must_use]
    pub fn day(&self, day: chrono::NaiveDate) -> String {
        let style = self.style();
        if self.kept { style.day(day) } else { style.seen_day(day, style.zone.day(self.now)) }
    }

    /// An amount of money.
    #[must_use]
    pub fn amount(&self, minor: i64) -> String {
        self.style().amount(minor)
    }

    /// How the shop writes.
    #[must_use]
    pub fn style(&self) -> Style {
        self.shop.style()
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
    pub people: Vec<ToldPerson>,
    pub waits: Vec<ToldWait>,
    pub sublets: Vec<ToldSublet>,
    /// When it was last corrected after it had ended.
    pub corrected: Option<String>,
    /// The job whose planned second visit this is.
    pub second_visit_of: Option<String>,
}

impl Told {
    /// Tells a job.
    #[must_use]
    pub fn of(whole: &WholeJob, brief: &Brief, words: &Words, asker: &PersonId) -> Self {
        let job = &whole.job;
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
            parts: whole.parts.iter().map(|part| ToldPart::of(part, words)).collect(),
            operations: whole.operations.iter().map(|row| ToldOperation::of(row, words)).collect(),
            labor: whole.labor.iter().map(|row| ToldLabor::of(row, words, asker)).collect(),
            proofs: whole.proofs.iter().map(|row| ToldProof::of(row, words)).collect(),
            people: whole.people.iter().map(|row| ToldPerson::of(row, words)).collect(),
            waits: whole.waits.iter().map(|row| ToldWait::of(row, words)).collect(),
            sublets: whole.sublets.iter().map(|row| ToldSublet::of(row, words)).collect(),
            corrected: job.corrected_at.map(|at| words.moment(at)),
            second_visit_of: whole.second_visit_of_job_id.as_ref().map(ToString::to_string),
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
