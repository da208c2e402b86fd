//! What is due on the vehicles that wait.

use std::collections::HashMap;

use analytics::preparation::{Due, Kind, Line, Loses, due};
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use super::lists::{self, ShownReadingList};
use super::starting::Purpose;
use super::stock::{self, StockVehicle};
use crate::db::schema::{reading_sheet, reading_taken, vehicle};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::VehicleId;
use crate::vehicles::model::Vehicle;

/// A vehicle in stock with what is due on it.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct ShownStockVehicle {
    #[serde(flatten)]
    pub stock: StockVehicle,
    /// Days since it came.
    pub days: i64,
    /// What is done again and again while it waits, the latest due first.
    pub due: Vec<Due>,
}

/// What was last said of each line, by vehicle.
#[derive(Default)]
struct Last {
    /// The day of its last reading. What is answered yes or no counts where the
    /// answer was yes.
    read: HashMap<(VehicleId, String), NaiveDate>,
    /// When something was last said, and whether it was that there is no such thing.
    none: HashMap<(VehicleId, String), (UtcStamp, bool)>,
}

fn last_read(conn: &mut Conn, shop_id: i32, ids: &[VehicleId]) -> Answer<Last> {
    type Row = (VehicleId, String, (NaiveDate, UtcStamp), String, Option<f64>, Option<String>);
    let rows: Vec<Row> = reading_taken::table
        .inner_join(
            reading_sheet::table.on(reading_sheet::shop_id
                .eq(reading_taken::shop_id)
                .and(reading_sheet::id.eq(reading_taken::sheet_id))),
        )
        .filter(reading_taken::shop_id.eq(shop_id).and(reading_taken::state.ne("not_measured")))
        .filter(reading_sheet::vehicle_id.eq_any(ids))
        .select((
            reading_sheet::vehicle_id,
            reading_taken::line_key,
            (reading_taken::taken_on, reading_taken::taken_at),
            reading_taken::state,
            reading_taken::value,
            reading_taken::unit,
        ))
        .load(conn)?;
    let mut last = Last::default();
    for (vehicle, key, (on, at), state, value, unit) in rows {
        let none = state == "not_applicable";
        let said = last.none.entry((vehicle.clone(), key.clone())).or_insert((at, none));
        if at >= said.0 {
            *said = (at, none);
        }
        if none {
            continue;
        }
        // Numbers have a unit; a no is no work done.
        if unit.is_none() && value.is_some_and(|value| value < 0.5) {
            continue;
        }
        let day = last.read.entry((vehicle, key)).or_insert(on);
        *day = (*day).max(on);
    }
    Ok(last)
}

/// The lines by which a vehicle in stock is looked after: of the narrowest list
/// that fits it, else of the starting list.
fn lines_for<'a>(own: &'a [ShownReadingList], vehicle: &Vehicle) -> &'a [Line] {
    let fitting = lists::narrowest_first(own, Purpose::Preparation, vehicle);
    fitting.first().map_or_else(|| Purpose::Preparation.lines(), |one| &one.stands.lines)
}

/// The vehicles that wait: overdue ones first, by how long.
///
/// # Errors
/// Where the database does not answer.
pub fn list(
    conn: &mut Conn,
    shop_id: i32,
    today: NaiveDate,
) -> Answer<Vec<(ShownStockVehicle, Vehicle)>> {
    let waiting = stock::waiting(conn, shop_id)?;
    let ids: Vec<VehicleId> = waiting.iter().map(|row| row.vehicle_id.clone()).collect();
    let vehicles: Vec<Vehicle> = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id).and(vehicle::id.eq_any(&ids)))
        .select(Vehicle::as_select())
        .load(conn)?;
    let by_id: HashMap<VehicleId, Vehicle> =
        vehicles.into_iter().map(|row| (row.id.clone(), row)).collect();
    let (own, last) = (lists::all(conn, shop_id, false)?, last_read(conn, shop_id, &ids)?);
    let mut shown: Vec<(ShownStockVehicle, Vehicle)> = waiting
        .into_iter()
        .filter_map(|stock| {
            let vehicle = by_id.get(&stock.vehicle_id)?.clone();
            let due = due_of(lines_for(&own, &vehicle), &stock, &last, today);
            let days = (today - stock.arrived_on).num_days();
            Some((ShownStockVehicle { stock, days, due }, vehicle))
        })
        .collect();
    let overdue = |one: &ShownStockVehicle| one.due.iter().map(|due| due.overdue_days).max();
    shown.sort_by_key(|(one, _)| {
        let first_due = one.due.iter().map(|due| due.due_on).min();
        (std::cmp::Reverse(overdue(one)), first_due, one.stock.arrived_on)
    });
    Ok(shown)
}

fn due_of(lines: &[Line], stock: &StockVehicle, last: &Last, today: NaiveDate) -> Vec<Due> {
    let key = |line: &Line| (stock.vehicle_id.clone(), line.key.clone());
    // A vehicle that has no such thing, such as a sealed battery, loses none of it.
    let lacks = |line: &Line| last.none.get(&key(line)).is_some_and(|(_, none)| *none);
    let loses = lines
        .iter()
        .find(|line| line.loss.is_some())
        .filter(|line| !lacks(line))
        .map(|line| Loses { line, last_on: last.read.get(&key(line)).copied() });
    let last_of = |line: &Line| {
        let members = lines.iter().filter(|other| {
            other.key == line.key || (line.one_of.is_some() && other.one_of == line.one_of)
        });
        let day = |other: &Line| last.read.get(&key(other)).copied();
        members.filter_map(day).max()
    };
    let of = |line: &Line| {
        // A reading alone restores nothing: the loss goes by what was done.
        let loses = loses.filter(|_| line.kind == Kind::YesNo);
        due((line, loses), stock.arrived_on, last_of(line), today)
    };
    let mut due: Vec<Due> = lines.iter().filter_map(of).collect();
    due.sort_by_key(|due| (std::cmp::Reverse(due.overdue_days), due.due_on));
    due
}
