//! What the record says of earlier cleanings of a vehicle's parts.

use analytics::words::Disposition;
use chrono::NaiveDate;
use diesel::prelude::*;

use super::cleaned::{self, Before, Treated};
use super::model::Job;
use super::parts::{PartOnJob, PartUse};
use crate::db::schema::{job, part_use, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, PartUseId, VehicleId};
use crate::domain::refusal::Refusal;

/// What decides whether a part counts as the same: a new one begins anew.
const TOLD_BY: &[Disposition] = &[
    Disposition::CleanedReused,
    Disposition::ReplacedNew,
    Disposition::ReplacedRebuilt,
    Disposition::ReplacedUsed,
];

/// A part of the vehicle, and the visit it was treated on.
struct Past {
    id: PartUseId,
    job: JobId,
    order: OrderId,
    opened_at: UtcStamp,
    treated: Treated,
}

/// The vehicle's parts that were cleaned or replaced, in order of time.
fn of_vehicle(conn: &mut Conn, shop_id: i32, vehicle: &VehicleId) -> Answer<Vec<Past>> {
    let told_by: Vec<Word<Disposition>> = TOLD_BY.iter().copied().map(Word).collect();
    let rows: Vec<(PartUse, OrderId, UtcStamp, NaiveDate, String)> = part_use::table
        .inner_join(
            job::table.on(job::shop_id.eq(part_use::shop_id).and(job::id.eq(part_use::job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::vehicle_id.eq(vehicle)))
        .filter(repair_order::status.ne("void").and(part_use::disposition.eq_any(told_by)))
        .order((repair_order::opened_at, part_use::id))
        .select((
            PartUse::as_select(),
            repair_order::id,
            repair_order::opened_at,
            repair_order::opened_on,
            repair_order::order_no,
        ))
        .load(conn)?;
    Ok(rows
        .into_iter()
        .map(|(row, order, opened_at, on, order_no)| Past {
            treated: Treated {
                part: row.key().to_owned(),
                disposition: row.disposition.0,
                position: row.position,
                on,
                order_no,
            },
            id: row.id,
            job: row.job_id,
            order,
            opened_at,
        })
        .collect())
}

fn past(conn: &mut Conn, job: &Job) -> Answer<(UtcStamp, Vec<Past>)> {
    let (vehicle, opened_at): (VehicleId, UtcStamp) = repair_order::table
        .find((job.shop_id, &job.order_id))
        .select((repair_order::vehicle_id, repair_order::opened_at))
        .first(conn)?;
    Ok((opened_at, of_vehicle(conn, job.shop_id, &vehicle)?))
}

/// What came before a part use: earlier visits, and on the same visit what
/// other jobs recorded earlier.
fn earlier(job: &Job, opened_at: UtcStamp, row: &PartUse, past: &[Past]) -> Vec<Treated> {
    past.iter()
        .filter(|seen| {
            seen.job != job.id
                && (seen.opened_at < opened_at || (seen.order == job.order_id && seen.id < row.id))
        })
        .map(|seen| seen.treated.clone())
        .collect()
}

fn before(conn: &mut Conn, job: &Job, row: &PartUse) -> Answer<Before> {
    let (opened_at, past) = past(conn, job)?;
    let earlier = earlier(job, opened_at, row, &past);
    Ok(cleaned::before(row.key(), row.position.as_deref(), &earlier))
}

/// How often the part was cleaned before.
///
/// # Errors
/// Where the database does not answer.
pub fn times(conn: &mut Conn, job: &Job, row: &PartUse) -> Answer<u32> {
    Ok(before(conn, job, row)?.times)
}

/// As [`times`]; refuses a further cleaning that does not say why.
///
/// # Errors
/// The missing reason.
pub fn owed(conn: &mut Conn, job: &Job, row: &PartUse) -> Answer<u32> {
    let before = before(conn, job, row)?;
    match cleaned::owed(row.disposition.0, row.again_reason.as_deref(), &before) {
        Some(fault) => Err(Refusal::Invalid(vec![fault]).into()),
        None => Ok(before.times),
    }
}

/// A job's part uses, each with how often the part was cleaned before.
///
/// # Errors
/// Where the database does not answer.
pub fn told(conn: &mut Conn, job: &Job, parts: Vec<PartUse>) -> Answer<Vec<PartOnJob>> {
    if parts.is_empty() {
        return Ok(Vec::new());
    }
    let (opened_at, past) = past(conn, job)?;
    let told = parts.into_iter().map(|part| {
        let earlier = earlier(job, opened_at, &part, &past);
        let before = cleaned::before(part.key(), part.position.as_deref(), &earlier);
        PartOnJob { times_cleaned_before: before.times, part }
    });
    Ok(told.collect())
}
