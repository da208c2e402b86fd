//! Jobs in brief: with their order and vehicle, as lists and histories show
//! them, and what is usual for a complaint.

use chrono::NaiveDate;
use diesel::prelude::*;

use super::model::{Job, of_order};
use crate::db::schema::{job, job_check, labor_entry, repair_order, vehicle};
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, OrderId, VehicleId};
use crate::jobs::labor::LaborEntry;
use crate::vehicles::model::Vehicle;

/// How many usual checks or causes are worth offering first.
const USUAL: i64 = 8;
/// Only the latest jobs say what is usual: a page must not read a decade.
const LATEST: i64 = 5000;

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

/// The checks most often made for a symptom in the shop's latest jobs, and the
/// causes most often found, by code, most frequent first.
///
/// # Errors
/// Where the database does not answer.
pub fn usual(conn: &mut Conn, shop_id: i32, symptom: &str) -> Answer<(Vec<String>, Vec<String>)> {
    use diesel::dsl::count_star;
    let before: Option<JobId> = job::table
        .filter(job::shop_id.eq(shop_id))
        .order(job::id.desc())
        .offset(LATEST)
        .select(job::id)
        .first(conn)
        .optional()?;
    let latest = before.as_ref().map_or("", JobId::as_str);
    let checks: Vec<(String, i64)> = job_check::table
        .inner_join(
            job::table.on(job::shop_id.eq(job_check::shop_id).and(job::id.eq(job_check::job_id))),
        )
        .filter(job::shop_id.eq(shop_id).and(job::id.gt(latest)).and(job::symptom.eq(symptom)))
        .group_by(job_check::code)
        .order((count_star().desc(), job_check::code))
        .limit(USUAL)
        .select((job_check::code, count_star()))
        .load(conn)?;
    let causes: Vec<(Option<String>, i64)> = job::table
        .filter(job::shop_id.eq(shop_id).and(job::id.gt(latest)).and(job::symptom.eq(symptom)))
        .filter(job::cause.is_not_null())
        .group_by(job::cause)
        .order((count_star().desc(), job::cause))
        .limit(USUAL)
        .select((job::cause, count_star()))
        .load(conn)?;
    let checks = checks.into_iter().map(|(code, _)| code).collect();
    Ok((checks, causes.into_iter().filter_map(|(code, _)| code).collect()))
}
