//! The manager's decision on a proposed comeback.

use analytics::words::{CauseState, LinkState};
use diesel::prelude::*;
use serde::Deserialize;

use super::model::{Comeback, PartReturn, by_id, returned_parts};
use crate::codes::model as codes;
use crate::db::Answer;
use crate::db::schema::{comeback, job, part_return};
use crate::db::types::Word;
use crate::domain::ids::{ComebackId, JobId};
use crate::domain::refusal::Refusal;
use crate::enquiries::reason as enquired;
use crate::jobs::model::{self as jobs, optional};
use crate::orders::change::not_void;
use crate::shops::write::{About, ShopWrite};

/// Confirm or reject, with a reason.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Decision {
    pub confirm: bool,
    /// A code of the shop's comeback reasons.
    pub reason: String,
    pub note: Option<String>,
    /// Whether the parts that came back count as part returns; absent: as the
    /// comeback itself.
    pub part_returned: Option<bool>,
}

/// The reason that doubts the earlier job's cause.
pub(super) const MISDIAGNOSIS: &str = "misdiagnosis";

/// The reason of a comeback that is one, while nobody knows why.
pub const NOT_YET_KNOWN: &str = "not-yet-known";

/// Attribution of reasons that put a comeback down to our own hands.
const OUR_WORK: &str = "shop_work";

fn state(confirm: bool) -> LinkState {
    if confirm { LinkState::Confirmed } else { LinkState::Rejected }
}

/// Decides, or decides again. A later job keeps one confirmed link: confirming
/// another refuses until the first is rejected. A confirmed misdiagnosis turns
/// the earlier job's cause back to suspected.
///
/// # Errors
/// Not found, stale, faulty fields, a second confirmed link, a void order.
pub fn decide(
    write: &mut ShopWrite<'_>,
    id: &ComebackId,
    seen: i32,
    decision: &Decision,
) -> Answer<Comeback> {
    let shop_id = write.shop.id;
    let row = by_id(write.conn, shop_id, id)?;
    if row.version != seen {
        return Err(Refusal::Stale(row.version).into());
    }
    let code = decision.reason.trim();
    // Deciding again may keep the reason that stands.
    let reason = match codes::find(write.conn, shop_id, "comeback_reason", code)? {
        Some(held) if row.reason.as_deref() == Some(code) => held,
        _ => codes::usable(write.conn, shop_id, "comeback_reason", "reason", code)?,
    };
    for job in [&row.earlier_job_id, &row.later_job_id] {
        let order = jobs::by_id(write.conn, shop_id, job)?.order_id;
        not_void(write, &order)?;
    }
    if decision.confirm {
        refuse_second(write, &row)?;
    }
    let note = optional("note", decision.note.as_deref(), 2000)?;
    diesel::update(comeback::table.find((shop_id, id)))
        .set((
            comeback::state.eq(Word(state(decision.confirm))),
            comeback::our_work.eq(decision.confirm && reason.kind.as_deref() == Some(OUR_WORK)),
            comeback::reason.eq(&reason.code),
            comeback::note.eq(note.or(row.note.clone())),
            comeback::decided_by.eq(write.person),
            comeback::decided_at.eq(write.now),
            comeback::change_no.eq(write.change_no),
            comeback::version.eq(row.version + 1),
        ))
        .execute(write.conn)?;
    let after = by_id(write.conn, shop_id, id)?;
    write.note(&row.about(), "decided", Some(&row), Some(&after))?;
    enquired::follow(write, id, after.reason.as_deref())?;
    decide_parts(write, &row, state(decision.part_returned.unwrap_or(decision.confirm)))?;
    if decision.confirm && reason.code == MISDIAGNOSIS {
        doubt_cause(write, &row.earlier_job_id)?;
    }
    write.stamp_job(&row.earlier_job_id)?;
    write.stamp_job(&row.later_job_id)?;
    Ok(after)
}

/// Part returns of the pair are decided with it.
pub(super) fn decide_parts(
    write: &mut ShopWrite<'_>,
    row: &Comeback,
    state: LinkState,
) -> Answer<()> {
    let shop_id = write.shop.id;
    for before in returned_parts(write.conn, shop_id, &row.earlier_job_id, &row.later_job_id)? {
        let after = PartReturn { state: Word(state), change_no: write.change_no, ..before.clone() };
        let place = (shop_id, &before.part_use_id, &before.later_job_id);
        diesel::update(part_return::table.find(place))
            .set((part_return::state.eq(after.state), part_return::change_no.eq(after.change_no)))
            .execute(write.conn)?;
        write.note(&before.about(), "decided", Some(&before), Some(&after))?;
    }
    Ok(())
}

/// What was taken for the cause was not it.
fn doubt_cause(write: &mut ShopWrite<'_>, id: &JobId) -> Answer<()> {
    let shop_id = write.shop.id;
    let before = jobs::by_id(write.conn, shop_id, id)?;
    let suspected = Some(Word(CauseState::Suspected));
    if before.cause.is_none() || before.cause_state == suspected {
        return Ok(());
    }
    diesel::update(job::table.find((shop_id, id)))
        .set(job::cause_state.eq(suspected))
        .execute(write.conn)?;
    let after = jobs::Job { cause_state: suspected, ..before.clone() };
    let about = About::new("job", id).order(&before.order_id).job(id);
    write.note(&about, "changed", Some(&before), Some(&after))
}

fn refuse_second(write: &mut ShopWrite<'_>, row: &Comeback) -> Answer<()> {
    let others: i64 = comeback::table
        .filter(comeback::shop_id.eq(write.shop.id))
        .filter(comeback::later_job_id.eq(&row.later_job_id))
        .filter(comeback::state.eq(Word(LinkState::Confirmed)).and(comeback::id.ne(&row.id)))
        .count()
        .get_result(write.conn)?;
    if others > 0 {
        return Err(Refusal::Conflict(
            "this job is confirmed as the comeback of another one; reject that first".into(),
        )
        .into());
    }
    Ok(())
}
