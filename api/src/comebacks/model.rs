//! Comeback rows: one, lists, those of a job.

use analytics::words::LinkState;
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use crate::db::schema::{comeback, job, part_return, part_use, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{ComebackId, JobId, PartUseId, PersonId};
use crate::shops::write::About;

pub use super::link::NewComeback;
pub use super::refine::{propose, propose_on};

/// A later job that came back for an earlier one, proposed or decided.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = comeback)]
pub struct Comeback {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: ComebackId,
    pub earlier_job_id: JobId,
    pub later_job_id: JobId,
    #[schema(value_type = LinkState)]
    pub state: Word<LinkState>,
    pub same_complaint: bool,
    pub same_system: bool,
    pub same_cause: bool,
    pub same_part: bool,
    /// Caused by our work, by the reason decided on.
    pub our_work: bool,
    /// `write_up`, `close`, `person` or `import`.
    pub proposed_by: String,
    /// Whether the customer says that it was in before for this.
    pub customer_says: Option<bool>,
    /// A code of the shop's comeback reasons.
    pub reason: Option<String>,
    pub note: Option<String>,
    pub decided_by: Option<PersonId>,
    pub decided_at: Option<UtcStamp>,
    #[serde(skip)]
    pub change_no: i64,
    pub version: i32,
}

impl Comeback {
    /// What a note is about.
    #[must_use]
    pub fn about(&self) -> About<'_> {
        About::new("comeback", &self.id).job(&self.later_job_id)
    }
}

/// A part that came back with a later job.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize)]
#[diesel(table_name = part_return)]
pub struct PartReturn {
    #[serde(skip)]
    pub shop_id: i32,
    pub part_use_id: PartUseId,
    pub later_job_id: JobId,
    pub state: Word<LinkState>,
    #[serde(skip)]
    pub change_no: i64,
}

impl PartReturn {
    /// What a note is about.
    #[must_use]
    pub fn about(&self) -> About<'_> {
        About::new("part_return", format!("{}/{}", self.part_use_id, self.later_job_id))
            .job(&self.later_job_id)
    }
}

/// One comeback.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &ComebackId) -> Answer<Comeback> {
    Ok(comeback::table.find((shop_id, id)).select(Comeback::as_select()).first(conn)?)
}

/// One comeback, where the shop has it.
///
/// # Errors
/// Where the database does not answer.
pub fn find(conn: &mut Conn, shop_id: i32, id: &ComebackId) -> Answer<Option<Comeback>> {
    let one = comeback::table.find((shop_id, id)).select(Comeback::as_select());
    Ok(one.first(conn).optional()?)
}

/// Comebacks by id, newest first, of one state or all.
///
/// # Errors
/// Where the database does not answer.
pub fn list(
    conn: &mut Conn,
    shop_id: i32,
    state: Option<LinkState>,
    before: Option<&ComebackId>,
    limit: i64,
) -> Answer<Vec<Comeback>> {
    let mut query = comeback::table
        .filter(comeback::shop_id.eq(shop_id))
        .order(comeback::id.desc())
        .limit(limit)
        .select(Comeback::as_select())
        .into_boxed();
    if let Some(state) = state {
        query = query.filter(comeback::state.eq(Word(state)));
    }
    if let Some(before) = before {
        query = query.filter(comeback::id.lt(before.clone()));
    }
    Ok(query.load(conn)?)
}

/// Decided comebacks, confirmed or rejected or both, by the day the vehicle was
/// here again, the latest first.
///
/// # Errors
/// Where the database does not answer.
pub fn decided(
    conn: &mut Conn,
    shop_id: i32,
    state: Option<LinkState>,
    before: Option<&ComebackId>,
    limit: i64,
) -> Answer<Vec<Comeback>> {
    let since = before.map(|id| Ok::<_, Fault>((opened_on(conn, shop_id, id)?, id))).transpose()?;
    let mut query = comeback::table
        .inner_join(
            job::table
                .on(job::shop_id.eq(comeback::shop_id).and(job::id.eq(comeback::later_job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(comeback::shop_id.eq(shop_id).and(comeback::state.ne(Word(LinkState::Proposed))))
        .order((repair_order::opened_on.desc(), comeback::id.desc()))
        .limit(limit)
        .select(Comeback::as_select())
        .into_boxed();
    if let Some(state) = state {
        query = query.filter(comeback::state.eq(Word(state)));
    }
    if let Some((day, id)) = since {
        let same_day = repair_order::opened_on.eq(day).and(comeback::id.lt(id.clone()));
        query = query.filter(repair_order::opened_on.lt(day).or(same_day));
    }
    Ok(query.load(conn)?)
}

/// When the vehicle was here again.
fn opened_on(conn: &mut Conn, shop_id: i32, id: &ComebackId) -> Answer<NaiveDate> {
    let later = by_id(conn, shop_id, id)?.later_job_id;
    Ok(job::table
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(job::shop_id.eq(shop_id).and(job::id.eq(later)))
        .select(repair_order::opened_on)
        .first(conn)?)
}

/// What people decided from an instant on and before another, the latest first.
/// Links that came decided with files are no decision of anybody here.
///
/// # Errors
/// Where the database does not answer.
pub fn decided_between(
    conn: &mut Conn,
    shop_id: i32,
    (from, before): (UtcStamp, UtcStamp),
    limit: i64,
) -> Answer<Vec<Comeback>> {
    Ok(comeback::table
        .filter(comeback::shop_id.eq(shop_id))
        .filter(comeback::decided_at.ge(from).and(comeback::decided_at.lt(before)))
        .order((comeback::decided_at.desc(), comeback::id.desc()))
        .limit(limit)
        .select(Comeback::as_select())
        .load(conn)?)
}

/// The comebacks that a job is part of, on either side.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, id: &JobId) -> Answer<Vec<Comeback>> {
    Ok(comeback::table
        .filter(comeback::shop_id.eq(shop_id))
        .filter(comeback::earlier_job_id.eq(id).or(comeback::later_job_id.eq(id)))
        .order(comeback::id)
        .select(Comeback::as_select())
        .load(conn)?)
}

/// The part returns of a later job for parts of an earlier one.
///
/// # Errors
/// Where the database does not answer.
pub fn returned_parts(
    conn: &mut Conn,
    shop_id: i32,
    earlier: &JobId,
    later: &JobId,
) -> Answer<Vec<PartReturn>> {
    Ok(part_return::table
        .inner_join(
            part_use::table.on(part_use::shop_id
                .eq(part_return::shop_id)
                .and(part_use::id.eq(part_return::part_use_id))),
        )
        .filter(part_return::shop_id.eq(shop_id).and(part_return::later_job_id.eq(later)))
        .filter(part_use::job_id.eq(earlier))
        .select(PartReturn::as_select())
        .load(conn)?)
}
