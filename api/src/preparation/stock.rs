//! Vehicles that wait in stock: rows and queries.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::sheet_write::known;
use crate::db::schema::stock_vehicle;
use crate::db::{Answer, Conn};
use crate::domain::day;
use crate::domain::ids::{StockId, VehicleId};
use crate::domain::refusal::Refusal;
use crate::jobs::model::optional;
use crate::shops::write::{About, ShopWrite};
use crate::vehicles::model as vehicles;

/// A vehicle in stock, or one that was.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = stock_vehicle, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct StockVehicle {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: StockId,
    pub vehicle_id: VehicleId,
    /// Shop-local day.
    pub arrived_on: NaiveDate,
    pub left_on: Option<NaiveDate>,
    pub note: Option<String>,
    pub version: i32,
}

/// A vehicle as it comes into stock.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewStockVehicle {
    #[schema(value_type = String, format = Uuid)]
    pub vehicle_id: VehicleId,
    /// Today or before; today where absent.
    pub arrived_on: Option<NaiveDate>,
    pub note: Option<String>,
}

/// A vehicle as it leaves.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StockDeparture {
    /// From its arrival to today; today where absent.
    pub left_on: Option<NaiveDate>,
}

/// The vehicles that wait, those that came first before others.
///
/// # Errors
/// Where the database does not answer.
pub fn waiting(conn: &mut Conn, shop_id: i32) -> Answer<Vec<StockVehicle>> {
    Ok(stock_vehicle::table
        .filter(stock_vehicle::shop_id.eq(shop_id).and(stock_vehicle::left_on.is_null()))
        .order((stock_vehicle::arrived_on, stock_vehicle::id))
        .select(StockVehicle::as_select())
        .load(conn)?)
}

/// One of them.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &StockId) -> Answer<StockVehicle> {
    Ok(stock_vehicle::table.find((shop_id, id)).select(StockVehicle::as_select()).first(conn)?)
}

/// Puts a vehicle into stock.
///
/// # Errors
/// Faulty fields; a conflict where it waits already, or came on that day before.
pub fn add(write: &mut ShopWrite<'_>, new: &NewStockVehicle) -> Answer<StockVehicle> {
    let today = write.shop.zone().day(write.now);
    let arrived_on = new.arrived_on.unwrap_or(today);
    day::past("arrived_on", arrived_on, today).map_err(|fault| Refusal::Invalid(vec![fault]))?;
    let vehicle = vehicles::by_id(write.conn, write.shop.id, &new.vehicle_id);
    known(vehicle, "vehicle_id", "no vehicle of this shop has that id")?;
    let known: Vec<StockVehicle> = stock_vehicle::table
        .filter(stock_vehicle::shop_id.eq(write.shop.id))
        .filter(stock_vehicle::vehicle_id.eq(&new.vehicle_id))
        .select(StockVehicle::as_select())
        .load(write.conn)?;
    if known.iter().any(|row| row.left_on.is_none()) {
        return Err(Refusal::Conflict("the vehicle waits in stock already".to_owned()).into());
    }
    if known.iter().any(|row| row.arrived_on == arrived_on) {
        let why = "the vehicle came into stock on that day before; choose another day";
        return Err(Refusal::Conflict(why.to_owned()).into());
    }
    let row = StockVehicle {
        shop_id: write.shop.id,
        id: StockId::make(),
        vehicle_id: new.vehicle_id.clone(),
        arrived_on,
        left_on: None,
        note: optional("note", new.note.as_deref(), 1000)?,
        version: 1,
    };
    diesel::insert_into(stock_vehicle::table).values(&row).execute(write.conn)?;
    write.note(&About::new("stock_vehicle", &row.id), "added", None, Some(&row))?;
    Ok(row)
}

fn save(
    write: &mut ShopWrite<'_>,
    action: &str,
    before: &StockVehicle,
    row: &StockVehicle,
) -> Answer<()> {
    diesel::update(stock_vehicle::table.find((row.shop_id, &row.id)))
        .set(row)
        .execute(write.conn)?;
    write.note(&About::new("stock_vehicle", &row.id), action, Some(before), Some(row))
}

/// Takes a vehicle out of stock.
///
/// # Errors
/// Not found, faulty fields, a conflict where it left already.
pub fn leave(
    write: &mut ShopWrite<'_>,
    id: &StockId,
    departure: &StockDeparture,
) -> Answer<StockVehicle> {
    let before = by_id(write.conn, write.shop.id, id)?;
    if before.left_on.is_some() {
        return Err(Refusal::Conflict("the vehicle has left stock already".to_owned()).into());
    }
    let today = write.shop.zone().day(write.now);
    let left_on = departure.left_on.unwrap_or(today);
    if left_on < before.arrived_on || left_on > today {
        let detail = format!("write a day from {} to {today}", before.arrived_on);
        return Err(Refusal::field("left_on", "range", detail).into());
    }
    let row =
        StockVehicle { left_on: Some(left_on), version: before.version + 1, ..before.clone() };
    save(write, "left", &before, &row)?;
    Ok(row)
}

/// Puts a vehicle that was said to have left back, as the way back of a slip.
///
/// # Errors
/// Not found; a conflict where it did not leave, or waits again.
pub fn put_back(write: &mut ShopWrite<'_>, id: &StockId) -> Answer<StockVehicle> {
    let before = by_id(write.conn, write.shop.id, id)?;
    let again = waiting(write.conn, write.shop.id)?;
    if before.left_on.is_none() || again.iter().any(|row| row.vehicle_id == before.vehicle_id) {
        return Err(Refusal::Conflict("the vehicle waits in stock".to_owned()).into());
    }
    let row = StockVehicle { left_on: None, version: before.version + 1, ..before.clone() };
    save(write, "put_back", &before, &row)?;
    Ok(row)
}
