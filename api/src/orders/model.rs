//! A repair order's row, and orders read with what hangs on them.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use super::authorize::{self, Authorization};
use super::charges::Charges;
use super::readings;
use crate::comebacks::model::{self as comebacks, Comeback};
use crate::db::schema::{job, repair_order, vehicle};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{OrderId, VehicleId};
use crate::domain::vin;
use crate::jobs::model::{self as jobs, Job};
use crate::jobs::parts::MoneyRights;
use crate::vehicles::model::{self as vehicles, Vehicle};

pub use super::change::{HandOver, OrderPatch, hand_over, patch};
pub use super::write_up::{NewOrder, append_job, open};

/// A repair order.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = repair_order, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct Order {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: OrderId,
    pub order_no: String,
    pub vehicle_id: VehicleId,
    /// `open`, `closed` (handed over) or `void`.
    pub status: String,
    pub customer_name: Option<String>,
    pub customer_contact: Option<String>,
    pub odometer_in: Option<i64>,
    pub odometer_out: Option<i64>,
    /// `km` or `[mi_i]` (UCUM).
    pub odometer_unit: String,
    pub opened_at: UtcStamp,
    /// Shop-local day.
    pub opened_on: NaiveDate,
    #[serde(skip)]
    pub opened_minute: i32,
    pub promised_at: Option<UtcStamp>,
    /// Minor units of the shop's currency; null for who may not see prices.
    pub authorized_minor: Option<i64>,
    pub authorized_by: Option<String>,
    pub authorized_how: Option<String>,
    pub authorized_at: Option<UtcStamp>,
    pub closed_at: Option<UtcStamp>,
    pub closed_on: Option<NaiveDate>,
    #[serde(skip)]
    pub change_no: i64,
    pub version: i32,
    /// Why it is void; a void order keeps its number.
    pub void_reason: Option<String>,
    pub voided_at: Option<UtcStamp>,
    /// When it was last corrected after the hand-over.
    pub corrected_at: Option<UtcStamp>,
}

impl Order {
    /// Without what the asker may not see.
    #[must_use]
    pub fn for_eyes(mut self, rights: MoneyRights) -> Self {
        if !rights.prices {
            self.authorized_minor = None;
        }
        self
    }
}

/// Another order, by its number.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Serialize, utoipa::ToSchema)]
pub struct OtherOrder {
    pub id: OrderId,
    pub order_no: String,
}

/// An order with its vehicle, its jobs, the comebacks proposed for them, and
/// what was agreed to and is charged.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct WholeOrder {
    #[serde(flatten)]
    pub order: Order,
    pub vehicle: Vehicle,
    /// What is odd about the VIN; never a block.
    pub vin_warning: Option<String>,
    /// What is odd about the reading at the beginning; never a block.
    pub odometer_warning: Option<String>,
    pub jobs: Vec<Job>,
    /// Where a job of this order is the later one.
    pub comebacks: Vec<Comeback>,
    /// Every amount that was agreed to, by time.
    pub authorizations: Vec<Authorization>,
    pub charges: Charges,
    /// Other orders of the same vehicle that are open now: it may have been
    /// written up twice.
    pub open_orders: Vec<OtherOrder>,
}

impl WholeOrder {
    /// Without what the asker may not see.
    #[must_use]
    pub fn for_eyes(mut self, rights: MoneyRights) -> Self {
        if !rights.prices {
            self.charges = self.charges.without_prices();
        }
        self.order = self.order.for_eyes(rights);
        self.authorizations =
            self.authorizations.into_iter().map(|row| row.for_eyes(rights)).collect();
        self
    }
}

/// The open orders of a vehicle, the oldest first.
///
/// # Errors
/// Where the database does not answer.
pub fn open_of_vehicle(
    conn: &mut Conn,
    shop_id: i32,
    vehicle: &VehicleId,
) -> Answer<Vec<OtherOrder>> {
    Ok(repair_order::table
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::vehicle_id.eq(vehicle)))
        .filter(repair_order::status.eq("open"))
        .order((repair_order::opened_at, repair_order::id))
        .select((repair_order::id, repair_order::order_no))
        .load(conn)?)
}

/// One order.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &OrderId) -> Answer<Order> {
    Ok(repair_order::table.find((shop_id, id)).select(Order::as_select()).first(conn)?)
}

/// An order with its vehicle and jobs.
///
/// # Errors
/// As [`by_id`].
pub fn whole(conn: &mut Conn, shop_id: i32, id: &OrderId) -> Answer<WholeOrder> {
    let order = by_id(conn, shop_id, id)?;
    let vehicle = vehicles::by_id(conn, shop_id, &order.vehicle_id)?;
    let jobs = jobs::of_order(conn, shop_id, id)?;
    let mut proposed = Vec::new();
    for job in &jobs {
        let of_job = comebacks::of_job(conn, shop_id, &job.id)?;
        proposed.extend(of_job.into_iter().filter(|c| c.later_job_id == job.id));
    }
    let vin_warning = vehicle.vin.as_deref().and_then(vin::warning).map(|w| w.to_string());
    let charges = authorize::charges(conn, &order, &jobs)?;
    let mut open_orders = open_of_vehicle(conn, shop_id, &vehicle.id)?;
    open_orders.retain(|other| other.id != order.id);
    Ok(WholeOrder {
        odometer_warning: readings::warning(conn, &order)?,
        authorizations: authorize::of_order(conn, shop_id, id)?,
        order,
        vehicle,
        vin_warning,
        jobs,
        comebacks: proposed,
        charges,
        open_orders,
    })
}

/// What a list of orders is narrowed to.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    pub status: Option<String>,
    pub order_no: Option<String>,
    pub vehicle_id: Option<VehicleId>,
    /// Opened at and id of the last one shown.
    pub after: Option<(UtcStamp, OrderId)>,
    pub limit: i64,
}

/// Orders, newest first.
///
/// # Errors
/// Where the database does not answer.
pub fn list(conn: &mut Conn, shop_id: i32, filter: &Filter) -> Answer<Vec<Order>> {
    let mut query = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .order((repair_order::opened_at.desc(), repair_order::id.desc()))
        .limit(filter.limit)
        .select(Order::as_select())
        .into_boxed();
    if let Some(status) = &filter.status {
        query = query.filter(repair_order::status.eq(status.clone()));
    }
    if let Some(number) = &filter.order_no {
        query = query.filter(repair_order::order_no.eq(number.clone()));
    }
    if let Some(vehicle) = &filter.vehicle_id {
        query = query.filter(repair_order::vehicle_id.eq(vehicle.clone()));
    }
    if let Some((at, id)) = &filter.after {
        query = query.filter(
            repair_order::opened_at
                .lt(*at)
                .or(repair_order::opened_at.eq(*at).and(repair_order::id.lt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// An open order as the list of today shows it.
#[derive(Debug, Clone)]
pub struct OpenOrder {
    pub order: Order,
    pub vehicle: Vehicle,
    pub jobs: Vec<Job>,
}

/// Open orders by promised time; those without one last.
///
/// # Errors
/// Where the database does not answer.
pub fn open_by_promise(conn: &mut Conn, shop_id: i32) -> Answer<Vec<OpenOrder>> {
    let mut orders: Vec<Order> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::status.eq("open")))
        .order(repair_order::opened_at)
        .limit(200)
        .select(Order::as_select())
        .load(conn)?;
    orders.sort_by_key(|row| (row.promised_at.is_none(), row.promised_at, row.opened_at));
    let of_orders: Vec<&OrderId> = orders.iter().map(|row| &row.id).collect();
    let mut jobs: HashMap<OrderId, Vec<Job>> = HashMap::new();
    let found: Vec<Job> = job::table
        .filter(job::shop_id.eq(shop_id).and(job::order_id.eq_any(of_orders)))
        .order(job::job_no)
        .select(Job::as_select())
        .load(conn)?;
    for job in found {
        jobs.entry(job.order_id.clone()).or_default().push(job);
    }
    let of_vehicles: Vec<&VehicleId> = orders.iter().map(|row| &row.vehicle_id).collect();
    let vehicles: Vec<Vehicle> = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id).and(vehicle::id.eq_any(of_vehicles)))
        .select(Vehicle::as_select())
        .load(conn)?;
    let vehicles: HashMap<&VehicleId, &Vehicle> =
        vehicles.iter().map(|row| (&row.id, row)).collect();
    let with = |order: Order| {
        let vehicle = (*vehicles.get(&order.vehicle_id)?).clone();
        Some(OpenOrder { vehicle, jobs: jobs.remove(&order.id).unwrap_or_default(), order })
    };
    Ok(orders.into_iter().filter_map(with).collect())
}
