//! Comebacks as pages tell them.

use analytics::words::Finding;
use chrono::NaiveDate;

use super::decide::NOT_YET_KNOWN;
use super::model::Comeback;
use super::outside::{self, OutsideReturn};
use super::pay_back;
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, PersonId};
use crate::jobs::brief::{self, Brief};
use crate::jobs::parts::MoneyRights;
use crate::jobs::view::{Told, Words};
use crate::jobs::{checks, usual};
use crate::web::words::Shown;

/// A comeback without its two jobs.
#[derive(Debug, Clone)]
pub struct ToldLink {
    pub id: String,
    pub version: i32,
    pub state: &'static str,
    pub undecided: bool,
    pub confirmed: bool,
    /// What the two jobs have in common.
    pub labels: Vec<&'static str>,
    pub proposed: &'static str,
    pub customer_says: Option<bool>,
    pub reason: Option<String>,
    pub note: Option<String>,
    pub decided_by: Option<String>,
    pub decided_at: Option<String>,
    /// Confirmed, and nobody has said why it came back.
    pub owes_reason: bool,
    /// Somebody here decided it: that can be taken back.
    pub can_undo: bool,
}

impl ToldLink {
    pub(super) fn of(row: &Comeback, words: &Words) -> Self {
        use analytics::words::LinkState;
        let labels = [
            (row.same_complaint, "same complaint"),
            (row.same_part, "same part"),
            (row.same_cause, "same cause"),
            (row.same_system, "same system"),
            (row.our_work, "caused by our work"),
        ];
        Self {
            id: row.id.to_string(),
            version: row.version,
            state: row.state.0.shown(),
            undecided: row.state.0 == LinkState::Proposed,
            confirmed: row.state.0 == LinkState::Confirmed,
            labels: labels
                .into_iter()
                .filter_map(|(holds, label)| holds.then_some(label))
                .collect(),
            proposed: match row.proposed_by.as_str() {
                "write_up" => "proposed at write-up",
                "close" => "proposed when the job was closed",
                "import" => "from the files taken in",
                _ => "linked by a person",
            },
            customer_says: row.customer_says,
            reason: words.label("comeback_reason", row.reason.as_deref()),
            note: row.note.clone(),
            decided_by: words.name(row.decided_by.as_ref()),
            decided_at: row.decided_at.map(|at| words.moment(at)),
            can_undo: row.state.0 != LinkState::Proposed && row.decided_by.is_some(),
            owes_reason: row.state.0 == LinkState::Confirmed
                && row.reason.as_deref().is_none_or(|code| code == NOT_YET_KNOWN),
        }
    }
}

/// A job in a list.
#[derive(Debug, Clone)]
pub struct ToldBrief {
    pub id: String,
    pub number: String,
    pub vehicle: String,
    pub handed_over: Option<String>,
    pub complaint: Option<String>,
    pub symptom: Option<String>,
    pub cause: Option<String>,
    pub cause_state: Option<&'static str>,
    pub correction: Option<String>,
    pub lead: Option<String>,
    pub outcome: Option<&'static str>,
}

impl ToldBrief {
    /// Tells a job in brief.
    #[must_use]
    pub fn of(row: &Brief, words: &Words) -> Self {
        let job = &row.job;
        Self {
            id: job.id.to_string(),
            number: row.number(),
            vehicle: row.vehicle.label(),
            handed_over: row.closed_on.map(|day| words.day(day)),
            complaint: job.complaint.clone(),
            symptom: words.label("symptom", job.symptom.as_deref()),
            cause: words.label("cause", job.cause.as_deref()),
            cause_state: job.cause_state.map(|word| word.0.shown()),
            correction: job.correction.clone(),
            lead: words.name(job.lead_id.as_ref()),
            outcome: job.outcome.map(|word| word.0.shown()),
        }
    }
}

/// A comeback in a list.
#[derive(Debug, Clone)]
pub struct ListedComeback {
    pub link: ToldLink,
    pub earlier: ToldBrief,
    pub later: ToldBrief,
    /// From the hand-over of the earlier job to the opening of the later one.
    pub days: i64,
    /// When the vehicle was here again.
    pub returned_on: NaiveDate,
}

/// Tells comebacks with their jobs in brief.
///
/// # Errors
/// Where the database does not answer.
pub fn listed(conn: &mut Conn, words: &Words, rows: &[Comeback]) -> Answer<Vec<ListedComeback>> {
    rows.iter()
        .map(|row| {
            let earlier = brief::of(conn, words.shop.id, &row.earlier_job_id)?;
            let later = brief::of(conn, words.shop.id, &row.later_job_id)?;
            Ok(ListedComeback {
                link: ToldLink::of(row, words),
                days: days(&earlier, &later),
                returned_on: later.opened_on,
                earlier: ToldBrief::of(&earlier, words),
                later: ToldBrief::of(&later, words),
            })
        })
        .collect()
}

pub(super) fn days(earlier: &Brief, later: &Brief) -> i64 {
    earlier.closed_on.map_or(0, |closed| (later.opened_on - closed).num_days())
}

/// A comeback with the job it came back for, whole.
#[derive(Debug, Clone)]
pub struct ToldComeback {
    pub link: ToldLink,
    pub earlier: Told,
    pub days: i64,
    /// Of the checks that are usual for the earlier complaint, those that were
    /// not made then.
    pub not_checked: Vec<String>,
}

/// Tells a comeback with the job it came back for.
///
/// # Errors
/// Where the database does not answer.
pub fn told(
    conn: &mut Conn,
    words: &Words,
    row: &Comeback,
    rights: MoneyRights,
    asker: &PersonId,
) -> Answer<ToldComeback> {
    let earlier = brief::of(conn, words.shop.id, &row.earlier_job_id)?;
    let later = brief::of(conn, words.shop.id, &row.later_job_id)?;
    Ok(ToldComeback {
        not_checked: not_checked(conn, words, &earlier)?,
        link: ToldLink::of(row, words),
        days: days(&earlier, &later),
        earlier: Told::read(conn, words, &row.earlier_job_id, rights, asker)?,
    })
}

/// A check counts as usual where it was made at least a quarter as often as the
/// one made most often.
const USUAL_PART: i64 = 4;

fn not_checked(conn: &mut Conn, words: &Words, earlier: &Brief) -> Answer<Vec<String>> {
    let Some(symptom) = &earlier.job.symptom else { return Ok(Vec::new()) };
    let usual = usual::checks(conn, words.shop.id, symptom)?;
    missing(conn, words, &earlier.job.id, &usual)
}

/// Of the checks made for a complaint, with how often, those that are usual and
/// were not made on the job; one that was entered as not done was not made.
pub(super) fn missing(
    conn: &mut Conn,
    words: &Words,
    job: &JobId,
    usual: &[(String, i64)],
) -> Answer<Vec<String>> {
    let not_done = |check: &checks::Check| check.finding.is_some_and(|is| is.0 == Finding::NotDone);
    let made: Vec<String> = checks::of_job(conn, words.shop.id, job)?
        .iter()
        .filter(|check| !not_done(check))
        .map(|check| words.lists.now("check", &check.code))
        .collect();
    let most = usual.first().map_or(0, |(_, count)| *count);
    let mut missing: Vec<String> = Vec::new();
    for (code, _) in usual.iter().filter(|(_, count)| count * USUAL_PART >= most) {
        let code = words.lists.now("check", code);
        let label = words.lists.label("check", &code);
        if !made.contains(&code) && !missing.contains(&label) {
            missing.push(label);
        }
    }
    Ok(missing)
}

/// What a customer told, as people say it.
#[must_use]
pub fn told_words(told: &str) -> &'static str {
    if told == "fixed_elsewhere" { "fixed by somebody else" } else { "not fixed" }
}

/// An amount with its currency.
#[must_use]
pub fn amount(minor: i64, words: &Words) -> String {
    words.amount(minor)
}

/// A return without a visit, as told.
#[derive(Debug, Clone)]
pub struct ToldOutside {
    pub job: String,
    pub number: String,
    pub vehicle: String,
    pub told: &'static str,
    pub day: String,
    pub reason: Option<String>,
    pub note: Option<String>,
    pub who: Option<String>,
}

impl ToldOutside {
    /// Tells it with its job.
    #[must_use]
    pub fn of(row: &OutsideReturn, job: &Brief, words: &Words) -> Self {
        Self {
            job: row.job_id.to_string(),
            number: job.number(),
            vehicle: job.vehicle.label(),
            told: told_words(&row.told),
            day: words.day(row.told_on),
            reason: words.label("comeback_reason", row.reason.as_deref()),
            note: row.note.clone(),
            who: words.name(Some(&row.person_id)),
        }
    }
}

/// What became of a job after the hand-over, in lines.
#[derive(Debug, Clone)]
pub struct ToldAfter {
    pub id: String,
    pub number: String,
    pub told: Vec<String>,
}

impl ToldAfter {
    /// Reads what was told and paid back; nothing before the hand-over.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn read(
        conn: &mut Conn,
        words: &Words,
        id: &JobId,
        rights: MoneyRights,
    ) -> Answer<Option<Self>> {
        let job = brief::of(conn, words.shop.id, id)?;
        if job.closed_on.is_none() {
            return Ok(None);
        }
        let mut told = Vec::new();
        if let Some(row) = outside::of_job(conn, words.shop.id, id)? {
            told.push(format!("{}, told {}", told_words(&row.told), words.day(row.told_on)));
        }
        for row in pay_back::of_job(conn, words.shop.id, id)? {
            let row = row.for_eyes(rights);
            let paid = row.amount_minor.map(|minor| format!(" {}", amount(minor, words)));
            let paid = paid.unwrap_or_default();
            told.push(format!("{} paid back{paid}, {}", row.supplier, words.day(row.paid_on)));
        }
        Ok(Some(Self { id: id.to_string(), number: job.number(), told }))
    }
}
