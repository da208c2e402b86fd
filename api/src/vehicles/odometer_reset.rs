//! Odometer resets: where the instrument was replaced, readings before and after
//! do not go on from one another.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::change::stamp_jobs;
use super::model;
use crate::db::schema::{odometer_reset, vehicle};
use crate::db::{Answer, Conn};
use crate::domain::day;
use crate::domain::ids::{OdometerResetId, VehicleId};
use crate::domain::odometer;
use crate::domain::refusal::FieldFault;
use crate::jobs::model::{no_faults, optional};
use crate::orders::readings::usual_unit;
use crate::shops::write::{About, ShopWrite};

/// A reset.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = odometer_reset)]
pub struct OdometerReset {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: OdometerResetId,
    pub vehicle_id: VehicleId,
    pub reset_on: NaiveDate,
    pub reading_before: Option<i64>,
    pub reading_after: i64,
    /// `km` or `[mi_i]` (UCUM).
    pub odometer_unit: String,
    pub note: Option<String>,
    pub version: i32,
}

/// A reset as recorded.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOdometerReset {
    /// Today or before.
    pub reset_on: NaiveDate,
    #[schema(minimum = 0, maximum = 100_000_000)]
    pub reading_before: Option<i64>,
    #[schema(minimum = 0, maximum = 100_000_000)]
    pub reading_after: i64,
    /// Absent: as on the vehicle's last order.
    pub odometer_unit: Option<String>,
    pub note: Option<String>,
}

/// A vehicle's resets, by day.
///
/// # Errors
/// Where the database does not answer.
pub fn of_vehicle(conn: &mut Conn, shop_id: i32, id: &VehicleId) -> Answer<Vec<OdometerReset>> {
    Ok(odometer_reset::table
        .filter(odometer_reset::shop_id.eq(shop_id).and(odometer_reset::vehicle_id.eq(id)))
        .order((odometer_reset::reset_on, odometer_reset::id))
        .select(OdometerReset::as_select())
        .load(conn)?)
}

fn faults(new: &NewOdometerReset, today: NaiveDate) -> Vec<FieldFault> {
    let mut faults: Vec<FieldFault> =
        day::past("reset_on", new.reset_on, today).err().into_iter().collect();
    let readings =
        [("reading_before", new.reading_before), ("reading_after", Some(new.reading_after))];
    for (field, reading) in readings {
        if reading.is_some_and(|n| !(0..=odometer::MOST).contains(&n)) {
            faults.push(FieldFault::new(
                field,
                "range",
                "write a reading between zero and 100000000",
            ));
        }
    }
    if new.odometer_unit.as_deref().is_some_and(|unit| odometer::parse_unit(unit).is_none()) {
        faults.push(odometer::unit_fault());
    }
    faults
}

/// Records that the odometer was replaced.
///
/// # Errors
/// Not found; faulty fields.
pub fn add(
    write: &mut ShopWrite<'_>,
    id: &VehicleId,
    new: &NewOdometerReset,
) -> Answer<OdometerReset> {
    let shop_id = write.shop.id;
    let known = model::by_id(write.conn, shop_id, id)?;
    no_faults(faults(new, write.shop.zone().day(write.now)))?;
    let unit = match new.odometer_unit.as_deref().and_then(odometer::parse_unit) {
        Some(unit) => unit,
        None => usual_unit(write.conn, shop_id, Some(id))?,
    };
    let row = OdometerReset {
        shop_id,
        id: OdometerResetId::make(),
        vehicle_id: known.id,
        reset_on: new.reset_on,
        reading_before: new.reading_before,
        reading_after: new.reading_after,
        odometer_unit: unit.to_owned(),
        note: optional("note", new.note.as_deref(), 1000)?,
        version: 1,
    };
    diesel::insert_into(odometer_reset::table).values(&row).execute(write.conn)?;
    diesel::update(vehicle::table.find((shop_id, id)))
        .set(vehicle::version.eq(known.version + 1))
        .execute(write.conn)?;
    write.note(&About::new("odometer_reset", &row.id), "added", None, Some(&row))?;
    stamp_jobs(write, id)?;
    Ok(row)
}
