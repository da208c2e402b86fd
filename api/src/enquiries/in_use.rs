//! How long and how far a repair held, and how long both repairs took.

use diesel::prelude::*;
use serde::Serialize;

use crate::comebacks::model::Comeback;
use crate::db::schema::{labor_entry, odometer_reset};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::JobId;
use crate::jobs::model as jobs;
use crate::orders::model::{self as orders, Order};

/// What both jobs say of the failure's time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct InUse {
    /// From the hand-over to the return, in shop-local days.
    pub days: Option<i64>,
    /// By the odometer; null where a reading is missing, the units differ, or the
    /// odometer was replaced meanwhile.
    pub distance: Option<i64>,
    /// `km` or `[mi_i]` (UCUM).
    pub distance_unit: Option<String>,
    /// On the clock for the first repair.
    pub first_repair_minutes: i64,
    /// On the clock for the repair of the comeback, so far.
    pub repair_minutes: i64,
}

impl InUse {
    /// Reads it from both jobs.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn read(conn: &mut Conn, shop_id: i32, comeback: &Comeback) -> Answer<Self> {
        let earlier = order_of(conn, shop_id, &comeback.earlier_job_id)?;
        let later = order_of(conn, shop_id, &comeback.later_job_id)?;
        let distance =
            if replaced(conn, &earlier, &later)? { None } else { driven(&earlier, &later) };
        Ok(Self {
            days: earlier.closed_on.map(|closed| (later.opened_on - closed).num_days()),
            distance_unit: distance.map(|_| later.odometer_unit.clone()),
            distance,
            first_repair_minutes: minutes(conn, shop_id, &comeback.earlier_job_id)?,
            repair_minutes: minutes(conn, shop_id, &comeback.later_job_id)?,
        })
    }
}

fn order_of(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Order> {
    let order = jobs::by_id(conn, shop_id, job)?.order_id;
    orders::by_id(conn, shop_id, &order)
}

fn driven(earlier: &Order, later: &Order) -> Option<i64> {
    if earlier.odometer_unit != later.odometer_unit {
        return None;
    }
    let left = earlier.odometer_out.or(earlier.odometer_in)?;
    Some(later.odometer_in? - left).filter(|distance| *distance >= 0)
}

/// Whether the odometer was replaced between the two visits.
fn replaced(conn: &mut Conn, earlier: &Order, later: &Order) -> Answer<bool> {
    let from = earlier.closed_on.unwrap_or(earlier.opened_on);
    let resets: i64 = odometer_reset::table
        .filter(odometer_reset::shop_id.eq(later.shop_id))
        .filter(odometer_reset::vehicle_id.eq(&later.vehicle_id))
        .filter(odometer_reset::reset_on.between(from, later.opened_on))
        .count()
        .get_result(conn)?;
    Ok(resets > 0)
}

fn minutes(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<i64> {
    let stretches: Vec<(UtcStamp, Option<UtcStamp>)> = labor_entry::table
        .filter(labor_entry::shop_id.eq(shop_id).and(labor_entry::job_id.eq(job)))
        .select((labor_entry::started_at, labor_entry::ended_at))
        .load(conn)?;
    Ok(stretches.into_iter().filter_map(|(from, to)| Some(to?.minutes_since(from))).sum())
}
