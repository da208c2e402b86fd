//! What becomes of a rule after it was taken: other words, its review, its end.
//! It stays on record whatever happens.

use chrono::NaiveDate;
use serde::Deserialize;

use super::decide;
use super::model::{ShopRule, State, by_id, save};
use crate::db::Answer;
use crate::domain::ids::{PersonId, RuleId};
use crate::domain::refusal::Refusal;
use crate::domain::text;
use crate::jobs::model::{known_person, no_faults, optional};
use crate::shops::write::ShopWrite;
use crate::web::body::given;

/// What a review may come to.
pub const WORDS: [&str; 3] = ["kept", "changed", "withdrawn"];

/// A change to a rule. What it asks for and what it was taken on stay: another
/// rule takes its place.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RulePatch {
    #[serde(default, deserialize_with = "given")]
    pub title: Option<String>,
    #[serde(default, deserialize_with = "given")]
    pub words: Option<String>,
    #[serde(default, deserialize_with = "given")]
    #[schema(value_type = Option<String>, format = Uuid)]
    pub owner_id: Option<PersonId>,
    /// Only before the day is reached; once the rule stands only to a later one.
    #[serde(default, deserialize_with = "given")]
    pub review_on: Option<NaiveDate>,
}

/// What the review came to.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleReview {
    /// `kept`, `changed` (another rule takes its place, or its words change),
    /// `withdrawn`.
    pub word: String,
    pub note: String,
}

/// Why a rule stands no longer.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleWithdrawal {
    pub reason: String,
}

fn conflict(why: &str) -> Refusal {
    Refusal::Conflict(why.to_owned())
}

/// The rule as the writer has seen it, while it stands.
fn standing(write: &mut ShopWrite<'_>, id: &RuleId, seen: i32) -> Answer<ShopRule> {
    let row = by_id(write.conn, write.shop.id, id)?;
    if row.version != seen {
        return Err(Refusal::Stale(row.version).into());
    }
    if row.withdrawn_on.is_some() {
        return Err(conflict("the rule is withdrawn: take a new one").into());
    }
    Ok(row)
}

fn said(field: &str, text: &str, most: usize) -> Answer<String> {
    text::required(field, text, most).map_err(|fault| Refusal::Invalid(vec![fault]).into())
}

/// Changes a rule.
///
/// # Errors
/// Not found, stale, faulty fields; a conflict where it is withdrawn, or its
/// review day is reached.
pub fn change(
    write: &mut ShopWrite<'_>,
    id: &RuleId,
    seen: i32,
    patch: &RulePatch,
) -> Answer<ShopRule> {
    let before = standing(write, id, seen)?;
    let mut row = before.clone();
    if let Some(title) = &patch.title {
        row.title = said("title", title, 200)?;
    }
    if let Some(words) = &patch.words {
        row.words = said("words", words, 2000)?;
    }
    if let Some(owner) = &patch.owner_id {
        known_person(write, "owner_id", Some(owner))?;
        row.owner_id = owner.clone();
    }
    if let Some(day) = patch.review_on.filter(|day| *day != before.review_on) {
        let today = write.shop.zone().day(write.now);
        if before.reviewed_on.is_some() || before.review_on <= today {
            let why = "the review day is reached: one verdict is given on it, and it stays";
            return Err(conflict(why).into());
        }
        let days = (before.starts_on, before.review_on);
        let fault = decide::moved(days, day, today, write.shop.window_days).err();
        no_faults(fault.into_iter().collect())?;
        row.review_on = day;
    }
    save(write, &before, row, "changed")
}

/// Keeps what the review came to.
///
/// # Errors
/// Not found, stale, faulty fields; a conflict before the review day and after a
/// review.
pub fn review(
    write: &mut ShopWrite<'_>,
    id: &RuleId,
    seen: i32,
    review: &RuleReview,
) -> Answer<ShopRule> {
    let before = standing(write, id, seen)?;
    let today = write.shop.zone().day(write.now);
    match before.state(today) {
        State::DueForReview => {}
        State::Reviewed => return Err(conflict("the rule is reviewed already").into()),
        _ => {
            let why = format!("its review is on {}: until then it only counts", before.review_on);
            return Err(conflict(&why).into());
        }
    }
    if !WORDS.contains(&review.word.as_str()) {
        let detail = format!("choose one of: {}", WORDS.join(", "));
        return Err(Refusal::field("word", "word", detail).into());
    }
    let note = said("note", &review.note, 2000)?;
    let mut row = ShopRule {
        reviewed_on: Some(today),
        reviewed_by: Some(write.person.clone()),
        review_word: Some(review.word.clone()),
        review_note: Some(note.clone()),
        ..before.clone()
    };
    if review.word == "withdrawn" {
        row.withdrawn_on = Some(today);
        row.withdrawn_by = Some(write.person.clone());
        row.withdrawn_reason = optional("note", Some(&shortened(&note)), 1000)?;
    }
    save(write, &before, row, "reviewed")
}

/// As much of a note as a reason holds.
fn shortened(note: &str) -> String {
    note.chars().take(1000).collect()
}

/// Withdraws a rule; it stays on record.
///
/// # Errors
/// Not found, stale, no reason; a conflict where it is withdrawn already.
pub fn withdraw(
    write: &mut ShopWrite<'_>,
    id: &RuleId,
    seen: i32,
    withdrawal: &RuleWithdrawal,
) -> Answer<ShopRule> {
    let before = standing(write, id, seen)?;
    let row = ShopRule {
        withdrawn_on: Some(write.shop.zone().day(write.now)),
        withdrawn_by: Some(write.person.clone()),
        withdrawn_reason: Some(said("reason", &withdrawal.reason, 1000)?),
        ..before.clone()
    };
    save(write, &before, row, "withdrawn")
}
