//! Corrective actions: what the shop changes, who does it by when, and whether
//! it kept the trouble away.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use super::closure::State;
use crate::db::schema::corrective_action;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{ActionId, CheckPlanId, EnquiryId, PersonId, RuleId};
use crate::domain::refusal::Refusal;
use crate::shops::write::{About, ShopWrite};

/// What the shop changes.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = corrective_action, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct CorrectiveAction {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: ActionId,
    /// The enquiry it came from; absent: from nothing but good sense.
    pub enquiry_id: Option<EnquiryId>,
    /// `rule`, `check_plan`, `training`, `supplier`, `other`.
    pub kind: String,
    pub words: String,
    /// Who sees to it.
    pub owner_id: PersonId,
    pub due_on: Option<NaiveDate>,
    /// `open`, `done`, `dropped`.
    pub state: String,
    pub done_on: Option<NaiveDate>,
    pub done_note: Option<String>,
    /// The shop rule that it became.
    pub rule_id: Option<RuleId>,
    /// The check plan that it changed.
    pub plan_id: Option<CheckPlanId>,
    /// When somebody looked whether it keeps the trouble away, and how.
    pub verified_on: Option<NaiveDate>,
    pub verified_by: Option<PersonId>,
    pub verified_how: Option<String>,
    /// Whether it does.
    pub held: Option<bool>,
    pub made_by: PersonId,
    pub made_at: UtcStamp,
    pub version: i32,
}

/// One action.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &ActionId) -> Answer<CorrectiveAction> {
    let row = corrective_action::table
        .find((shop_id, id))
        .select(CorrectiveAction::as_select())
        .first(conn)
        .optional()?;
    row.ok_or_else(|| Refusal::NotFound.into())
}

/// The actions that came of an enquiry, in the order they were agreed on.
///
/// # Errors
/// Where the database does not answer.
pub fn of_enquiry(conn: &mut Conn, shop_id: i32, id: &EnquiryId) -> Answer<Vec<CorrectiveAction>> {
    Ok(corrective_action::table
        .filter(corrective_action::shop_id.eq(shop_id).and(corrective_action::enquiry_id.eq(id)))
        .order(corrective_action::id)
        .select(CorrectiveAction::as_select())
        .load(conn)?)
}

/// Actions by id, newest first, of one state or all.
///
/// # Errors
/// Where the database does not answer.
pub fn list(
    conn: &mut Conn,
    shop_id: i32,
    state: Option<State>,
    before: Option<&ActionId>,
    limit: i64,
) -> Answer<Vec<CorrectiveAction>> {
    let mut query = corrective_action::table
        .filter(corrective_action::shop_id.eq(shop_id))
        .order(corrective_action::id.desc())
        .limit(limit)
        .select(CorrectiveAction::as_select())
        .into_boxed();
    if let Some(state) = state {
        query = query.filter(corrective_action::state.eq(state.as_str()));
    }
    if let Some(before) = before {
        query = query.filter(corrective_action::id.lt(before.clone()));
    }
    Ok(query.load(conn)?)
}

/// What answers an action: it is done then.
#[derive(Debug, Clone)]
pub enum Answered {
    Rule(RuleId),
    Plan(CheckPlanId),
}

/// Marks an open action as done by what the shop has taken or changed for it.
///
/// # Errors
/// Not found; a conflict where it is no longer open.
pub fn answered(write: &mut ShopWrite<'_>, id: &ActionId, by: Answered) -> Answer<()> {
    let before = by_id(write.conn, write.shop.id, id)?;
    if before.state != "open" {
        return Err(Refusal::Conflict("the corrective action is no longer open".into()).into());
    }
    let mut row = before.clone();
    match by {
        Answered::Rule(rule) => row.rule_id = Some(rule),
        Answered::Plan(plan) => row.plan_id = Some(plan),
    }
    row.state = "done".to_owned();
    row.done_on = Some(write.shop.zone().day(write.now));
    row.version += 1;
    diesel::update(corrective_action::table.find((write.shop.id, id)))
        .set(&row)
        .execute(write.conn)?;
    write.note(&About::new("corrective_action", id), "done", Some(&before), Some(&row))
}
