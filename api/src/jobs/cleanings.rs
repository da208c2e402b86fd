//! What the record says of earlier cleanings of a vehicle's parts.

use analytics::words::Disposition;
use chrono::NaiveDate;
use diesel::prelude::*;

use super::cleaned::{self, Before, Treated};
use super::model::Job;
use super::parts::{PartOnJob, PartUse};
use super::writable::Visit;
use crate::db::schema::{job, part_use, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, PartUseId, VehicleId};
use crate::domain::refusal::Refusal;

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
    // A cleaning, or a new part, which begins anew. Written out, so that the
    // statement is prepared once.
    let told_by = |disposition| part_use::disposition.eq(Word(disposition));
    let rows: Vec<(PartUse, OrderId, UtcStamp, NaiveDate, String)> = part_use::table
        .inner_join(
            job::table.on(job::shop_id.eq(part_use::shop_id).and(job::id.eq(part_use::job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::vehicle_id.eq(vehicle)))
        .filter(repair_order::status.ne("void"))
        .filter(
            told_by(Disposition::CleanedReused)
                .or(told_by(Disposition::ReplacedNew))
                .or(told_by(Disposition::ReplacedRebuilt))
                .or(told_by(Disposition::ReplacedUsed)),
        )
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

/// What the record holds of the parts of a vehicle, as the parts of a job are
/// judged by it.
pub struct Known {
    opened_at: UtcStamp,
    past: Vec<Past>,
}

impl Known {
    /// Reads it for a job's visit.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn read(conn: &mut Conn, shop_id: i32, visit: &Visit) -> Answer<Self> {
        let past = of_vehicle(conn, shop_id, &visit.vehicle)?;
        Ok(Self { opened_at: visit.opened_at, past })
    }

    fn of_job(conn: &mut Conn, job: &Job) -> Answer<Self> {
        let (vehicle, opened_at): (VehicleId, UtcStamp) = repair_order::table
            .find((job.shop_id, &job.order_id))
            .select((repair_order::vehicle_id, repair_order::opened_at))
            .first(conn)?;
        Ok(Self { opened_at, past: of_vehicle(conn, job.shop_id, &vehicle)? })
    }

    /// What came before a part use: earlier visits, and on the same visit what
    /// other jobs recorded earlier.
    fn before(&self, job: &Job, row: &PartUse) -> Before {
        let earlier: Vec<Treated> = self
            .past
            .iter()
            .filter(|seen| {
                seen.job != job.id
                    && (seen.opened_at < self.opened_at
                        || (seen.order == job.order_id && seen.id < row.id))
            })
            .map(|seen| seen.treated.clone())
            .collect();
        cleaned::before(row.key(), row.position.as_deref(), &earlier)
    }

    /// How often the part was cleaned before; refuses a further cleaning that
    /// does not say why.
    ///
    /// # Errors
    /// The missing reason.
    pub fn owed(&self, job: &Job, row: &PartUse) -> Answer<u32> {
        let before = self.before(job, row);
        match cleaned::owed(row.disposition.0, row.again_reason.as_deref(), &before) {
            Some(fault) => Err(Refusal::Invalid(vec![fault]).into()),
            None => Ok(before.times),
        }
    }

    /// A job's part uses, each with how often the part was cleaned before.
    #[must_use]
    pub fn told(&self, job: &Job, parts: Vec<PartUse>) -> Vec<PartOnJob> {
        let told = parts
            .into_iter()
            .map(|part| PartOnJob { times_cleaned_before: self.before(job, &part).times, part });
        told.collect()
    }
}

/// How often the part was cleaned before.
///
/// # Errors
/// Where the database does not answer.
pub fn times(conn: &mut Conn, job: &Job, row: &PartUse) -> Answer<u32> {
    Ok(Known::of_job(conn, job)?.before(job, row).times)
}

/// As [`times`]; refuses a further cleaning that does not say why.
///
/// # Errors
/// The missing reason.
pub fn owed(conn: &mut Conn, job: &Job, row: &PartUse) -> Answer<u32> {
    Known::of_job(conn, job)?.owed(job, row)
}

/// A job's part uses, each with how often the part was cleaned before.
///
/// # Errors
/// Where the database does not answer.
pub fn told(conn: &mut Conn, job: &Job, parts: Vec<PartUse>) -> Answer<Vec<PartOnJob>> {
    if parts.is_empty() {
        return Ok(Vec::new());
    }
    Ok(Known::of_job(conn, job)?.told(job, parts))
}
