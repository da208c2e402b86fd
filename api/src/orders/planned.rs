//! Planned second visits: what was planned when the earlier visit ended is no
//! comeback.

use analytics::words::Outcome;
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use super::model::by_id;
use crate::db::schema::{job, planned_visit, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::JobId;
use crate::domain::refusal::Refusal;
use crate::jobs::model::{self as jobs, Job};
use crate::shops::write::{About, ShopWrite};

/// A job that was planned when an earlier one ended.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize)]
#[diesel(table_name = planned_visit)]
struct PlannedVisit {
    #[serde(skip)]
    shop_id: i32,
    later_job_id: JobId,
    earlier_job_id: JobId,
}

/// Whether a job that ended so has more to come.
#[must_use]
pub const fn has_more_to_come(outcome: Outcome) -> bool {
    matches!(outcome, Outcome::PlannedSecondVisit | Outcome::TemporaryRepair | Outcome::Sublet)
}

/// The earlier job that a job is the planned second visit of.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Option<JobId>> {
    Ok(planned_visit::table
        .find((shop_id, job))
        .select(planned_visit::earlier_job_id)
        .first(conn)
        .optional()?)
}

/// Jobs handed over on the days from one to another that have more to come, and
/// whose planned visit nobody has written up: those that wait longest first.
///
/// # Errors
/// Where the database does not answer.
pub fn still_to_come(
    conn: &mut Conn,
    shop_id: i32,
    (from, to): (NaiveDate, NaiveDate),
    limit: i64,
) -> Answer<Vec<JobId>> {
    let more = |outcome: Outcome| job::outcome.eq(Some(Word(outcome)));
    Ok(job::table
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .left_join(planned_visit::table.on(
            planned_visit::shop_id.eq(job::shop_id).and(planned_visit::earlier_job_id.eq(job::id)),
        ))
        .filter(job::shop_id.eq(shop_id).and(repair_order::status.eq("closed")))
        .filter(repair_order::closed_on.ge(from).and(repair_order::closed_on.le(to)))
        .filter(
            more(Outcome::PlannedSecondVisit)
                .or(more(Outcome::TemporaryRepair))
                .or(more(Outcome::Sublet)),
        )
        .filter(planned_visit::later_job_id.nullable().is_null())
        .order((repair_order::closed_on, job::id))
        .limit(limit)
        .select(job::id)
        .load(conn)?)
}

/// Keeps that a job was planned when the earlier one ended.
///
/// # Errors
/// A fault at `field`: no such job, another vehicle, not handed over before,
/// nothing more was to come of it.
pub fn plan(write: &mut ShopWrite<'_>, later: &Job, earlier: &JobId, field: &str) -> Answer<()> {
    let shop_id = write.shop.id;
    let fault = |code: &'static str, detail: &str| Refusal::field(field, code, detail);
    let before = jobs::by_id(write.conn, shop_id, earlier)
        .map_err(|_| fault("unknown_job", "no job of this shop has that id"))?;
    let order = by_id(write.conn, shop_id, &later.order_id)?;
    let visit = by_id(write.conn, shop_id, &before.order_id)?;
    if visit.vehicle_id != order.vehicle_id {
        return Err(fault("other_vehicle", "choose a job of the same vehicle").into());
    }
    if visit.id == order.id || visit.closed_at.is_none_or(|at| at > order.opened_at) {
        return Err(fault("not_earlier", "choose a job that was handed over before").into());
    }
    if !before.outcome.is_some_and(|word| has_more_to_come(word.0)) {
        return Err(fault(
            "not_planned",
            "choose a job that ended as a temporary repair, sublet, or waiting for this visit",
        )
        .into());
    }
    let row =
        PlannedVisit { shop_id, later_job_id: later.id.clone(), earlier_job_id: earlier.clone() };
    diesel::insert_into(planned_visit::table).values(&row).execute(write.conn)?;
    let about = About::new("planned_visit", &later.id).order(&later.order_id).job(&later.id);
    write.note(&about, "added", None, Some(&row))?;
    write.stamp_job(earlier)
}

/// Forgets the plans that a job is part of, on either side.
///
/// # Errors
/// Where the database does not answer.
pub fn forget(write: &mut ShopWrite<'_>, job: &Job) -> Answer<()> {
    let shop_id = write.shop.id;
    let rows: Vec<PlannedVisit> = planned_visit::table
        .filter(planned_visit::shop_id.eq(shop_id))
        .filter(
            planned_visit::later_job_id.eq(&job.id).or(planned_visit::earlier_job_id.eq(&job.id)),
        )
        .select(PlannedVisit::as_select())
        .load(write.conn)?;
    for row in rows {
        diesel::delete(planned_visit::table.find((shop_id, &row.later_job_id)))
            .execute(write.conn)?;
        let about = About::new("planned_visit", &row.later_job_id).job(&row.later_job_id);
        write.note(&about, "removed", Some(&row), None)?;
        let other =
            if row.later_job_id == job.id { &row.earlier_job_id } else { &row.later_job_id };
        write.stamp_job(other)?;
    }
    Ok(())
}
