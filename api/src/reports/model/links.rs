//! Which later job belongs to which earlier one.

use analytics::history::{PartReturnRow, PlannedVisitRow, ReturnRow};
use analytics::words::LinkState;
use chrono::NaiveDate;
use diesel::prelude::*;

use super::lists::Lists;
use super::odometers::Resets;
use super::scope::{Scope, each, scoped};
use super::{VOID, bits};
use crate::db::schema::{comeback, job, part_return, part_use, planned_visit, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn};

type ReturnTuple = (
    (String, String, String),
    (String, i32, NaiveDate),
    (String, Option<i64>, String),
    (Word<LinkState>, bool, Option<String>),
);

/// Links by their earlier job. The later order may be open, not void.
pub(super) fn returns(
    conn: &mut Conn,
    shop_id: i32,
    (lists, resets): (&Lists, &Resets),
    scope: Scope<'_>,
) -> Answer<Vec<ReturnRow>> {
    let query = comeback::table
        .inner_join(
            job::table
                .on(job::shop_id.eq(comeback::shop_id).and(job::id.eq(comeback::later_job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(comeback::shop_id.eq(shop_id).and(repair_order::status.ne(VOID)))
        .order((comeback::earlier_job_id, comeback::later_job_id))
        .select((
            (comeback::id, comeback::earlier_job_id, comeback::later_job_id),
            (repair_order::order_no, job::job_no, repair_order::opened_on),
            (repair_order::vehicle_id, repair_order::odometer_in, repair_order::odometer_unit),
            (comeback::state, comeback::same_complaint, comeback::reason),
        ))
        .into_boxed();
    let query = scoped!(query, comeback::earlier_job_id, scope);
    each(query, conn, |(ids, later, read, (state, same, reason)): ReturnTuple| {
        let (later_order_no, later_job_no, later_opened_on) = later;
        let (vehicle, odometer, unit) = read;
        Ok(Some(ReturnRow {
            id: bits(&ids.0)?,
            earlier: bits(&ids.1)?,
            later: bits(&ids.2)?,
            later_order_no,
            later_job_no,
            later_opened_on,
            later_odometer: resets.reading(&vehicle, later_opened_on, odometer, &unit),
            state: state.0,
            same_complaint: same,
            reason: reason.map(|reason| lists.now("comeback_reason", reason)),
        }))
    })
}

/// Part returns by the job that touched the part first.
pub(super) fn part_returns(
    conn: &mut Conn,
    shop_id: i32,
    scope: Scope<'_>,
) -> Answer<Vec<PartReturnRow>> {
    type Tuple = (String, String, NaiveDate, Word<LinkState>);
    let query = part_return::table
        .inner_join(
            part_use::table.on(part_use::shop_id
                .eq(part_return::shop_id)
                .and(part_use::id.eq(part_return::part_use_id))),
        )
        .inner_join(
            job::table.on(job::shop_id
                .eq(part_return::shop_id)
                .and(job::id.eq(part_return::later_job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(part_return::shop_id.eq(shop_id).and(repair_order::status.ne(VOID)))
        .order((part_return::part_use_id, part_return::later_job_id))
        .select((
            part_return::part_use_id,
            part_return::later_job_id,
            repair_order::opened_on,
            part_return::state,
        ))
        .into_boxed();
    let query = scoped!(query, part_use::job_id, scope);
    each(query, conn, |(part_use, later, later_opened_on, state): Tuple| {
        Ok(Some(PartReturnRow {
            part_use: bits(&part_use)?,
            later: bits(&later)?,
            later_opened_on,
            state: state.0,
        }))
    })
}

/// Second visits by the job that planned them. The later order may be open,
/// not void.
pub(super) fn planned_visits(
    conn: &mut Conn,
    shop_id: i32,
    scope: Scope<'_>,
) -> Answer<Vec<PlannedVisitRow>> {
    let query = planned_visit::table
        .inner_join(job::table.on(
            job::shop_id.eq(planned_visit::shop_id).and(job::id.eq(planned_visit::later_job_id)),
        ))
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(planned_visit::shop_id.eq(shop_id).and(repair_order::status.ne(VOID)))
        .order((planned_visit::earlier_job_id, planned_visit::later_job_id))
        .select((
            planned_visit::earlier_job_id,
            planned_visit::later_job_id,
            repair_order::opened_on,
        ))
        .into_boxed();
    let query = scoped!(query, planned_visit::earlier_job_id, scope);
    each(query, conn, |(earlier, later, later_opened_on): (String, String, NaiveDate)| {
        let (earlier, later) = (bits(&earlier)?, bits(&later)?);
        Ok(Some(PlannedVisitRow { earlier, later, later_opened_on }))
    })
}
