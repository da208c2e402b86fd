//! Taking a decision back: the pair waits for one again.

use analytics::words::{CauseState, LinkState};
use diesel::prelude::*;
use serde_json::Value;

use super::decide::{MISDIAGNOSIS, decide_parts};
use super::model::{Comeback, by_id};
use crate::db::Answer;
use crate::db::schema::{comeback, job, record_change};
use crate::db::types::Word;
use crate::domain::ids::ComebackId;
use crate::domain::refusal::Refusal;
use crate::enquiries::reason as enquired;
use crate::jobs::model as jobs;
use crate::orders::change::not_void;
use crate::shops::write::{About, ShopWrite};

/// Takes the decision back, with what it changed: the parts wait again, too, and
/// the cause it had put in doubt stands as before. The note stays: somebody
/// wrote it about the pair.
///
/// # Errors
/// Not found, stale, a void order; a conflict where nothing is decided, or where
/// the link came with files and was decided elsewhere.
pub fn take_back(write: &mut ShopWrite<'_>, id: &ComebackId, seen: i32) -> Answer<Comeback> {
    let shop_id = write.shop.id;
    let row = by_id(write.conn, shop_id, id)?;
    if row.version != seen {
        return Err(Refusal::Stale(row.version).into());
    }
    if row.state.0 == LinkState::Proposed {
        return Err(Refusal::Conflict("nothing is decided here".into()).into());
    }
    if row.decided_by.is_none() {
        let said = "it was taken in from files as it is: decide it again instead";
        return Err(Refusal::Conflict(said.into()).into());
    }
    for job in [&row.earlier_job_id, &row.later_job_id] {
        let order = jobs::by_id(write.conn, shop_id, job)?.order_id;
        not_void(write, &order)?;
    }
    diesel::update(comeback::table.find((shop_id, id)))
        .set((
            comeback::state.eq(Word(LinkState::Proposed)),
            comeback::our_work.eq(false),
            comeback::reason.eq(None::<String>),
            comeback::decided_by.eq(None::<String>),
            comeback::decided_at.eq(None::<crate::domain::clock::UtcStamp>),
            comeback::change_no.eq(write.change_no),
            comeback::version.eq(row.version + 1),
        ))
        .execute(write.conn)?;
    let after = by_id(write.conn, shop_id, id)?;
    write.note(&row.about(), "taken_back", Some(&row), Some(&after))?;
    enquired::follow(write, id, None)?;
    decide_parts(write, &row, LinkState::Proposed)?;
    trust_cause(write, &row)?;
    write.stamp_job(&row.earlier_job_id)?;
    write.stamp_job(&row.later_job_id)?;
    Ok(after)
}

/// The earlier job's cause is confirmed again where this decision had doubted
/// it, nobody has named another since, and no other comeback doubts it too.
fn trust_cause(write: &mut ShopWrite<'_>, row: &Comeback) -> Answer<()> {
    let shop_id = write.shop.id;
    let before = jobs::by_id(write.conn, shop_id, &row.earlier_job_id)?;
    let doubted = before.cause_state == Some(Word(CauseState::Suspected));
    if !doubted || doubted_cause(write, row)?.is_none_or(|cause| before.cause != Some(cause)) {
        return Ok(());
    }
    let others: i64 = comeback::table
        .filter(comeback::shop_id.eq(shop_id).and(comeback::earlier_job_id.eq(&before.id)))
        .filter(comeback::state.eq(Word(LinkState::Confirmed)))
        .filter(comeback::reason.eq(MISDIAGNOSIS).and(comeback::id.ne(&row.id)))
        .count()
        .get_result(write.conn)?;
    if others > 0 {
        return Ok(());
    }
    let confirmed = Some(Word(CauseState::Confirmed));
    diesel::update(job::table.find((shop_id, &before.id)))
        .set(job::cause_state.eq(confirmed))
        .execute(write.conn)?;
    let after = jobs::Job { cause_state: confirmed, ..before.clone() };
    let about = About::new("job", &before.id).order(&before.order_id).job(&before.id);
    write.note(&about, "changed", Some(&before), Some(&after))
}

/// The cause that the latest decision found confirmed and left in doubt.
fn doubted_cause(write: &mut ShopWrite<'_>, row: &Comeback) -> Answer<Option<String>> {
    let shop_id = write.shop.id;
    let decided: Option<i64> = record_change::table
        .filter(record_change::shop_id.eq(shop_id).and(record_change::record.eq("comeback")))
        .filter(record_change::record_id.eq(row.id.as_str()))
        .filter(record_change::action.eq("decided"))
        .order(record_change::change_no.desc())
        .select(record_change::change_no)
        .first(write.conn)
        .optional()?;
    let Some(decided) = decided else { return Ok(None) };
    let before: Option<Option<String>> = record_change::table
        .filter(record_change::shop_id.eq(shop_id).and(record_change::change_no.eq(decided)))
        .filter(record_change::record.eq("job"))
        .filter(record_change::record_id.eq(row.earlier_job_id.as_str()))
        .select(record_change::before_json)
        .first(write.conn)
        .optional()?;
    let Some(job) = before.flatten().and_then(|text| serde_json::from_str::<Value>(&text).ok())
    else {
        return Ok(None);
    };
    let word = |field: &str| job.get(field).and_then(Value::as_str).map(str::to_owned);
    let confirmed = word("cause_state").as_deref() == Some(CauseState::Confirmed.as_str());
    Ok(word("cause").filter(|_| confirmed))
}
