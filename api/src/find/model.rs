//! What the record holds for a line of text. Every query has a bound.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{Nullable, Text};

use super::asked::{Asked, holds, inside};
use crate::db::schema::{job, repair_order, vehicle};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, VehicleId};
use crate::orders::model::{Order, OtherOrder};
use crate::vehicles::model::Vehicle;

/// Shown at most of each kind.
pub const MOST: usize = 50;
/// So many are read: one more than shown tells that there are more.
const READ: i64 = 51;
/// Names are looked for among the latest orders, since no index serves them: a
/// search must not read a decade.
pub const LATEST: i64 = 20_000;

#[diesel::declare_sql_function]
extern "SQL" {
    fn lower(text: Nullable<Text>) -> Nullable<Text>;
}

/// An order with what people know it by.
#[derive(Debug, Clone)]
pub struct FoundOrder {
    pub order: Order,
    pub vehicle: Vehicle,
    /// What its jobs are about, by number: the complaint, else the symptom's
    /// code.
    pub about: Vec<String>,
}

/// A vehicle with its last visit.
#[derive(Debug, Clone)]
pub struct FoundVehicle {
    pub vehicle: Vehicle,
    pub last_visit: Option<NaiveDate>,
    pub open: Option<OtherOrder>,
}

/// Everything found.
#[derive(Debug, Clone, Default)]
pub struct Found {
    /// The job with that number.
    pub job: Option<JobId>,
    /// The order with that number.
    pub numbered: Option<OrderId>,
    /// The vehicles with that VIN or plate.
    pub known: Vec<VehicleId>,
    /// The one vehicle whose VIN or plate ends so, where so long an end tells.
    pub told: Option<VehicleId>,
    pub orders: Vec<FoundOrder>,
    pub vehicles: Vec<FoundVehicle>,
    pub more_orders: bool,
    pub more_vehicles: bool,
}

/// Vehicles by VIN and plate: those that are exactly so, and those that end so.
#[derive(Debug, Clone, Default)]
pub struct ByNumber {
    pub exact: Vec<Vehicle>,
    pub ending: Vec<Vehicle>,
}

impl ByNumber {
    /// The one vehicle that has the number; of several that bore a plate the one
    /// that was not sold.
    #[must_use]
    pub fn exactly(&self) -> Option<&Vehicle> {
        if let [only] = self.exact.as_slice() {
            return Some(only);
        }
        let mut kept = self.exact.iter().filter(|row| row.sold_on.is_none());
        let first = kept.next()?;
        kept.next().is_none().then_some(first)
    }

    /// The one vehicle that was meant, where that is beyond doubt.
    #[must_use]
    pub fn one(&self, asked: &Asked) -> Option<&Vehicle> {
        match (self.exact.as_slice(), self.ending.as_slice()) {
            ([], [only]) if asked.tells() => Some(only),
            _ => self.exactly(),
        }
    }

    /// All of them, those that are exactly so first.
    #[must_use]
    pub fn all(self) -> Vec<Vehicle> {
        self.exact.into_iter().chain(self.ending).collect()
    }
}

/// Looks a VIN or plate up, or the end of one.
///
/// # Errors
/// Where the database does not answer.
pub fn by_number(conn: &mut Conn, shop_id: i32, asked: &Asked) -> Answer<ByNumber> {
    if asked.is_empty() {
        return Ok(ByNumber::default());
    }
    let exact: Vec<Vehicle> = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id))
        .filter(vehicle::vin.eq(&asked.vin).or(vehicle::plate_key.eq(&asked.plate)))
        .order(vehicle::id.desc())
        .limit(READ)
        .select(Vehicle::as_select())
        .load(conn)?;
    let (Some(vin), Some(plate)) = (asked.vin_end(), asked.plate_end()) else {
        return Ok(ByNumber { exact, ending: Vec::new() });
    };
    let mut ending: Vec<Vehicle> = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id))
        .filter(vehicle::vin.like(vin).or(vehicle::plate_key.like(plate)))
        .order(vehicle::id.desc())
        .limit(READ)
        .select(Vehicle::as_select())
        .load(conn)?;
    ending.retain(|row| exact.iter().all(|other| other.id != row.id));
    Ok(ByNumber { exact, ending })
}

/// Vehicles whose make, model, engine or year have all the words.
fn by_words(conn: &mut Conn, shop_id: i32, words: &[String]) -> Answer<Vec<Vehicle>> {
    if words.is_empty() {
        return Ok(Vec::new());
    }
    let oldest: Option<VehicleId> = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id))
        .order(vehicle::id.desc())
        .offset(LATEST)
        .select(vehicle::id)
        .first(conn)
        .optional()?;
    let mut query = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id))
        .filter(vehicle::id.gt(oldest.as_ref().map_or("", VehicleId::as_str)))
        .order(vehicle::id.desc())
        .limit(READ)
        .select(Vehicle::as_select())
        .into_boxed();
    for word in words {
        // A year that no vehicle has where the word is none.
        let year = word.parse().unwrap_or(0);
        query = query.filter(
            lower(vehicle::make)
                .like(inside(word))
                .or(lower(vehicle::model).like(inside(word)))
                .or(lower(vehicle::engine).like(inside(word)))
                .or(vehicle::model_year.eq(year)),
        );
    }
    let mut rows: Vec<Vehicle> = query.load(conn)?;
    rows.retain(|row| {
        let year = row.model_year.map(|year| year.to_string());
        let texts =
            [row.make.as_deref(), row.model.as_deref(), row.engine.as_deref(), year.as_deref()];
        words.iter().all(|word| holds(&texts, word))
    });
    Ok(rows)
}

/// The order of that number.
fn numbered(conn: &mut Conn, shop_id: i32, number: &str) -> Answer<Option<Order>> {
    Ok(repair_order::table
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::order_no.eq(number)))
        .select(Order::as_select())
        .first(conn)
        .optional()?)
}

fn numbered_job(conn: &mut Conn, shop_id: i32, asked: &Asked) -> Answer<Option<JobId>> {
    let Some((number, job_no)) = &asked.job else { return Ok(None) };
    let Some(order) = numbered(conn, shop_id, number)? else { return Ok(None) };
    Ok(job::table
        .filter(job::shop_id.eq(shop_id).and(job::order_id.eq(&order.id)))
        .filter(job::job_no.eq(job_no))
        .select(job::id)
        .first(conn)
        .optional()?)
}

/// The latest orders of customers whose names have all the words.
fn of_customers(conn: &mut Conn, shop_id: i32, words: &[String]) -> Answer<Vec<Order>> {
    if words.is_empty() {
        return Ok(Vec::new());
    }
    let oldest: Option<UtcStamp> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .order((repair_order::opened_at.desc(), repair_order::id.desc()))
        .offset(LATEST)
        .select(repair_order::opened_at)
        .first(conn)
        .optional()?;
    let mut query = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .order((repair_order::opened_at.desc(), repair_order::id.desc()))
        .limit(READ)
        .select(Order::as_select())
        .into_boxed();
    if let Some(oldest) = oldest {
        query = query.filter(repair_order::opened_at.gt(oldest));
    }
    for word in words {
        query = query.filter(lower(repair_order::customer_name).like(inside(word)));
    }
    let mut rows: Vec<Order> = query.load(conn)?;
    rows.retain(|row| words.iter().all(|word| holds(&[row.customer_name.as_deref()], word)));
    Ok(rows)
}

fn vehicles_of(
    conn: &mut Conn,
    shop_id: i32,
    orders: &[Order],
) -> Answer<HashMap<VehicleId, Vehicle>> {
    let ids: Vec<&VehicleId> = orders.iter().map(|row| &row.vehicle_id).collect();
    let rows: Vec<Vehicle> = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id).and(vehicle::id.eq_any(ids)))
        .select(Vehicle::as_select())
        .load(conn)?;
    Ok(rows.into_iter().map(|row| (row.id.clone(), row)).collect())
}

fn told_orders(conn: &mut Conn, shop_id: i32, orders: Vec<Order>) -> Answer<Vec<FoundOrder>> {
    let vehicles = vehicles_of(conn, shop_id, &orders)?;
    let ids: Vec<&OrderId> = orders.iter().map(|row| &row.id).collect();
    type Row = (OrderId, Option<String>, Option<String>);
    let jobs: Vec<Row> = job::table
        .filter(job::shop_id.eq(shop_id).and(job::order_id.eq_any(ids)))
        .order((job::order_id, job::job_no))
        .select((job::order_id, job::complaint, job::symptom))
        .load(conn)?;
    let about = |order: &Order| {
        let own = jobs.iter().filter(|(of, ..)| *of == order.id);
        own.filter_map(|(_, complaint, symptom)| complaint.clone().or_else(|| symptom.clone()))
            .collect()
    };
    Ok(orders
        .into_iter()
        .filter_map(|order| {
            let vehicle = vehicles.get(&order.vehicle_id)?.clone();
            Some(FoundOrder { about: about(&order), vehicle, order })
        })
        .collect())
}

/// With their last visits, the latest first.
fn told_vehicles(
    conn: &mut Conn,
    shop_id: i32,
    vehicles: Vec<Vehicle>,
) -> Answer<Vec<FoundVehicle>> {
    let ids: Vec<&VehicleId> = vehicles.iter().map(|row| &row.id).collect();
    let last: Vec<(VehicleId, Option<NaiveDate>)> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .filter(repair_order::vehicle_id.eq_any(ids.clone()))
        .filter(repair_order::status.ne("void"))
        .group_by(repair_order::vehicle_id)
        .select((repair_order::vehicle_id, diesel::dsl::max(repair_order::opened_on)))
        .load(conn)?;
    let last: HashMap<VehicleId, Option<NaiveDate>> = last.into_iter().collect();
    let open: Vec<(VehicleId, OrderId, String)> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .filter(repair_order::vehicle_id.eq_any(ids))
        .filter(repair_order::status.eq("open"))
        .order((repair_order::opened_at, repair_order::id))
        .select((repair_order::vehicle_id, repair_order::id, repair_order::order_no))
        .load(conn)?;
    let mut rows: Vec<FoundVehicle> = vehicles
        .into_iter()
        .map(|vehicle| FoundVehicle {
            last_visit: last.get(&vehicle.id).copied().flatten(),
            open: open
                .iter()
                .find(|(of, ..)| *of == vehicle.id)
                .map(|(_, id, order_no)| OtherOrder { id: id.clone(), order_no: order_no.clone() }),
            vehicle,
        })
        .collect();
    rows.sort_by_key(|row| std::cmp::Reverse(row.last_visit));
    Ok(rows)
}

/// Cuts a list to what is shown; whether there were more.
fn cut<T>(rows: &mut Vec<T>) -> bool {
    let more = rows.len() > MOST;
    rows.truncate(MOST);
    more
}

/// Looks for everything that the text may mean.
///
/// # Errors
/// Where the database does not answer.
pub fn search(conn: &mut Conn, shop_id: i32, asked: &Asked) -> Answer<Found> {
    if asked.is_empty() {
        return Ok(Found::default());
    }
    let numbers = by_number(conn, shop_id, asked)?;
    let known = numbers.exact.iter().map(|row| row.id.clone()).collect();
    let told = numbers.one(asked).map(|row| row.id.clone());
    let mut vehicles = numbers.all();
    for row in by_words(conn, shop_id, &asked.words)? {
        if vehicles.iter().all(|other| other.id != row.id) {
            vehicles.push(row);
        }
    }
    let more_vehicles = cut(&mut vehicles);
    let numbered = numbered(conn, shop_id, &asked.order_no)?;
    let mut orders = of_customers(conn, shop_id, &asked.words)?;
    if let Some(first) = &numbered {
        orders.retain(|row| row.id != first.id);
        orders.insert(0, first.clone());
    }
    let more_orders = cut(&mut orders);
    Ok(Found {
        job: numbered_job(conn, shop_id, asked)?,
        numbered: numbered.map(|row| row.id),
        known,
        told,
        orders: told_orders(conn, shop_id, orders)?,
        vehicles: told_vehicles(conn, shop_id, vehicles)?,
        more_orders,
        more_vehicles,
    })
}
