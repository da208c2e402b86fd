//! What was said of a rule on a job: why it was not followed, or, where the
//! record cannot tell, whether it was.

use analytics::words::RuleKind;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::model::{ShopRule, by_id};
use crate::db::schema::rule_answer;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, PersonId, RuleId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::jobs::model::{self as jobs, no_faults, optional};
use crate::orders::change::not_void;
use crate::shops::write::{About, ShopWrite};

/// What was said of a rule on a job.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = rule_answer, primary_key(shop_id, rule_id, job_id), treat_none_as_null = true)]
pub struct RuleAnswer {
    #[serde(skip)]
    pub shop_id: i32,
    pub rule_id: RuleId,
    pub job_id: JobId,
    /// Whether it was followed; null where the record tells.
    pub kept: Option<bool>,
    /// Why it was not.
    pub reason: Option<String>,
    pub person_id: PersonId,
    pub answered_at: UtcStamp,
    pub version: i32,
}

/// An answer as given.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewRuleAnswer {
    /// Of a rule in words: whether it was followed. Of others the record tells.
    pub kept: Option<bool>,
    /// Why it was not followed.
    pub reason: Option<String>,
}

/// The answers on a job.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<RuleAnswer>> {
    Ok(rule_answer::table
        .filter(rule_answer::shop_id.eq(shop_id).and(rule_answer::job_id.eq(job)))
        .order(rule_answer::rule_id)
        .select(RuleAnswer::as_select())
        .load(conn)?)
}

fn of(write: &mut ShopWrite<'_>, (rule, job): (&RuleId, &JobId)) -> Answer<Option<RuleAnswer>> {
    Ok(rule_answer::table
        .find((write.shop.id, rule, job))
        .select(RuleAnswer::as_select())
        .first(write.conn)
        .optional()?)
}

fn faults(rule: &ShopRule, new: &NewRuleAnswer) -> Vec<FieldFault> {
    let reason = new.reason.as_deref().is_some_and(|reason| !reason.trim().is_empty());
    match (rule.kind.0, new.kept) {
        (RuleKind::FreeText, None) => {
            vec![FieldFault::new("kept", "required", "say whether the rule was followed")]
        }
        (RuleKind::FreeText, Some(_)) => Vec::new(),
        (_, Some(_)) => {
            let detail = "the record tells whether this rule was followed: say only why not";
            vec![FieldFault::new("kept", "not_here", detail)]
        }
        (_, None) if reason => Vec::new(),
        (_, None) => vec![FieldFault::new("reason", "required", "say why it was not followed")],
    }
}

/// Writes what is said of a rule on a job, over what was said before. It may be
/// said as long as the order is not void: the reason is often known only later.
///
/// # Errors
/// Not found; faulty fields; a conflict where the order is void, or the rule
/// stands no longer or not yet.
pub fn set(
    write: &mut ShopWrite<'_>,
    (job, rule): (&JobId, &RuleId),
    new: &NewRuleAnswer,
) -> Answer<RuleAnswer> {
    let of_job = jobs::by_id(write.conn, write.shop.id, job)?;
    let rule = by_id(write.conn, write.shop.id, rule)?;
    not_void(write, &of_job.order_id)?;
    if !rule.binds(write.shop.zone().day(write.now)) {
        return Err(Refusal::Conflict("the rule does not stand now".to_owned()).into());
    }
    no_faults(faults(&rule, new))?;
    let before = of(write, (&rule.id, job))?;
    let row = RuleAnswer {
        shop_id: write.shop.id,
        rule_id: rule.id.clone(),
        job_id: job.clone(),
        kept: new.kept,
        reason: optional("reason", new.reason.as_deref(), 1000)?,
        person_id: write.person.clone(),
        answered_at: write.now,
        version: before.as_ref().map_or(1, |row| row.version + 1),
    };
    let action = if before.is_some() {
        diesel::update(rule_answer::table.find((row.shop_id, &row.rule_id, &row.job_id)))
            .set(&row)
            .execute(write.conn)?;
        "changed"
    } else {
        diesel::insert_into(rule_answer::table).values(&row).execute(write.conn)?;
        "added"
    };
    let about = About::new("rule_answer", &row.rule_id).order(&of_job.order_id).job(job);
    write.note(&about, action, before.as_ref(), Some(&row))?;
    write.stamp_job(job)?;
    Ok(row)
}

/// Takes back what was said.
///
/// # Errors
/// Not found; a conflict where the order is void.
pub fn remove(write: &mut ShopWrite<'_>, (job, rule): (&JobId, &RuleId)) -> Answer<()> {
    let of_job = jobs::by_id(write.conn, write.shop.id, job)?;
    not_void(write, &of_job.order_id)?;
    let Some(row) = of(write, (rule, job))? else { return Err(Refusal::NotFound.into()) };
    diesel::delete(rule_answer::table.find((write.shop.id, rule, job))).execute(write.conn)?;
    let about = About::new("rule_answer", rule).order(&of_job.order_id).job(job);
    write.note(&about, "removed", Some(&row), None)?;
    write.stamp_job(job)
}
