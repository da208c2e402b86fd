//! A vehicle's visits with what was done on each: a few queries, however many
//! visits there were.

use std::collections::HashMap;

use diesel::prelude::*;

use crate::comebacks::model::Comeback;
use crate::db::schema::{comeback, job, part_use, repair_order};
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, OrderId, VehicleId};
use crate::jobs::model::Job;
use crate::jobs::parts::PartUse;
use crate::orders::model::Order;

/// A visit.
#[derive(Debug, Clone)]
pub struct Visit {
    pub order: Order,
    /// By number.
    pub jobs: Vec<VisitJob>,
}

/// A job of a visit.
#[derive(Debug, Clone)]
pub struct VisitJob {
    pub job: Job,
    pub parts: Vec<PartUse>,
    /// Links in which it is the earlier or the later one.
    pub comebacks: Vec<Comeback>,
}

impl Visit {
    /// Whether the vehicle was handed over.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.order.status == "closed"
    }
}

/// The latest visits of a vehicle, the latest first; the open ones are among
/// them.
///
/// # Errors
/// Where the database does not answer.
pub fn of_vehicle(
    conn: &mut Conn,
    shop_id: i32,
    vehicle: &VehicleId,
    most: i64,
) -> Answer<Vec<Visit>> {
    let orders: Vec<Order> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::vehicle_id.eq(vehicle)))
        .order((repair_order::opened_at.desc(), repair_order::id.desc()))
        .limit(most)
        .select(Order::as_select())
        .load(conn)?;
    let ids: Vec<&OrderId> = orders.iter().map(|row| &row.id).collect();
    let jobs: Vec<Job> = job::table
        .filter(job::shop_id.eq(shop_id).and(job::order_id.eq_any(ids)))
        .order((job::order_id, job::job_no))
        .select(Job::as_select())
        .load(conn)?;
    let mut parts = parts_of(conn, shop_id, &jobs)?;
    let links = links_of(conn, shop_id, &jobs)?;
    let mut of_order: HashMap<OrderId, Vec<VisitJob>> = HashMap::new();
    for job in jobs {
        let own = |link: &&Comeback| link.earlier_job_id == job.id || link.later_job_id == job.id;
        of_order.entry(job.order_id.clone()).or_default().push(VisitJob {
            parts: parts.remove(&job.id).unwrap_or_default(),
            comebacks: links.iter().filter(own).cloned().collect(),
            job,
        });
    }
    Ok(orders
        .into_iter()
        .map(|order| Visit { jobs: of_order.remove(&order.id).unwrap_or_default(), order })
        .collect())
}

fn parts_of(conn: &mut Conn, shop_id: i32, jobs: &[Job]) -> Answer<HashMap<JobId, Vec<PartUse>>> {
    let ids: Vec<&JobId> = jobs.iter().map(|job| &job.id).collect();
    let rows: Vec<PartUse> = part_use::table
        .filter(part_use::shop_id.eq(shop_id).and(part_use::job_id.eq_any(ids)))
        .order((part_use::job_id, part_use::line))
        .select(PartUse::as_select())
        .load(conn)?;
    let mut of_job: HashMap<JobId, Vec<PartUse>> = HashMap::new();
    for row in rows {
        of_job.entry(row.job_id.clone()).or_default().push(row);
    }
    Ok(of_job)
}

fn links_of(conn: &mut Conn, shop_id: i32, jobs: &[Job]) -> Answer<Vec<Comeback>> {
    // A link belongs to one vehicle: by its later job all are found.
    let ids: Vec<&JobId> = jobs.iter().map(|job| &job.id).collect();
    Ok(comeback::table
        .filter(comeback::shop_id.eq(shop_id).and(comeback::later_job_id.eq_any(ids)))
        .order(comeback::id)
        .select(Comeback::as_select())
        .load(conn)?)
}
