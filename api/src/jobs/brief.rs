//! Jobs in brief: with their order and vehicle, as lists and histories show
//! them.

use chrono::NaiveDate;
use diesel::prelude::*;

use super::model::{Job, of_order};
use crate::db::schema::{job, labor_entry, repair_order, vehicle};
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, OrderId, VehicleId};
use crate::jobs::labor::LaborEntry;
use crate::vehicles::model::Vehicle;

/// A job with its order and vehicle.
#[derive(Debug, Clone, Queryable)]
pub struct Brief {
    pub job: Job,
    pub order_no: String,
    pub opened_on: NaiveDate,
    /// Hand-over.
    pub closed_on: Option<NaiveDate>,
    /// Of the order: `open`, `closed` or `void`.
    pub status: String,
    pub vehicle: Vehicle,
}

impl Brief {
    /// Order and job number, as people say them.
    #[must_use]
    pub fn number(&self) -> String {
        format!("{}/{}", self.order_no, self.job.job_no)
    }
}

/// One job in brief.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn of(conn: &mut Conn, shop_id: i32, id: &JobId) -> Answer<Brief> {
    Ok(job::table
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .inner_join(
            vehicle::table.on(vehicle::shop_id
                .eq(repair_order::shop_id)
                .and(vehicle::id.eq(repair_order::vehicle_id))),
        )
        .filter(job::shop_id.eq(shop_id).and(job::id.eq(id)))
        .select((
            Job::as_select(),
            repair_order::order_no,
            repair_order::opened_on,
            repair_order::closed_on,
            repair_order::status,
            Vehicle::as_select(),
        ))
        .first(conn)?)
}

/// The vehicle's jobs on its latest orders handed over, the latest first.
///
/// # Errors
/// Where the database does not answer.
pub fn of_vehicle(
    conn: &mut Conn,
    shop_id: i32,
    id: &VehicleId,
    orders: i64,
) -> Answer<Vec<Brief>> {
    // In two steps: joined at once, every job of the shop would be looked at.
    let latest: Vec<OrderId> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .filter(repair_order::vehicle_id.eq(id).and(repair_order::status.eq("closed")))
        .order(repair_order::closed_at.desc())
        .limit(orders)
        .select(repair_order::id)
        .load(conn)?;
    let mut jobs = Vec::new();
    for order in &latest {
        for job in of_order(conn, shop_id, order)? {
            jobs.push(of(conn, shop_id, &job.id)?);
        }
    }
    Ok(jobs)
}

/// Labor entries of the shop that run now.
///
/// # Errors
/// Where the database does not answer.
pub fn running(conn: &mut Conn, shop_id: i32) -> Answer<Vec<LaborEntry>> {
    // A person has one that runs, so that there are few in all shops together,
    // and the index of running ones serves them.
    let entries: Vec<LaborEntry> = labor_entry::table
        .filter(labor_entry::ended_at.is_null())
        .order(labor_entry::started_at)
        .select(LaborEntry::as_select())
        .load(conn)?;
    Ok(entries.into_iter().filter(|entry| entry.shop_id == shop_id).collect())
}
