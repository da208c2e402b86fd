//! Changing what is known of a vehicle, and that it was sold.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Deserialize;

use super::model::{NewVehicle, Vehicle, by_id};
use crate::db::Answer;
use crate::db::schema::{job, repair_order, vehicle};
use crate::domain::day;
use crate::domain::ids::{JobId, OrderId, VehicleId};
use crate::domain::plate;
use crate::domain::refusal::Refusal;
use crate::jobs::model::optional;
use crate::shops::write::{About, ShopWrite};
use crate::web::body::present;

/// A change to a vehicle. Absent fields stay, null removes; a VIN or a plate
/// stays.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct VehiclePatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub vin: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub plate: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub make: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub model: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i32>, minimum = 1880, maximum = 2200)]
    pub model_year: Option<Option<i32>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub engine: Option<Option<String>>,
    /// When its owner sold it, today or before; null where it was not sold.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<NaiveDate>)]
    pub sold_on: Option<Option<NaiveDate>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub sold_note: Option<Option<String>>,
}

impl VehiclePatch {
    /// What the vehicle would be described as.
    fn over(&self, row: &Vehicle) -> NewVehicle {
        fn take<T: Clone>(new: &Option<Option<T>>, old: &Option<T>) -> Option<T> {
            new.clone().unwrap_or_else(|| old.clone())
        }
        NewVehicle {
            vin: take(&self.vin, &row.vin),
            plate: take(&self.plate, &row.plate),
            make: take(&self.make, &row.make),
            model: take(&self.model, &row.model),
            model_year: take(&self.model_year, &row.model_year),
            engine: take(&self.engine, &row.engine),
        }
    }
}

/// Applies a merge patch.
///
/// # Errors
/// Stale; faulty fields; a conflict where another vehicle has the VIN.
pub fn patch(
    write: &mut ShopWrite<'_>,
    id: &VehicleId,
    seen: i32,
    change: &VehiclePatch,
) -> Answer<Vehicle> {
    let before = by_id(write.conn, write.shop.id, id)?;
    if before.version != seen {
        return Err(Refusal::Stale(before.version).into());
    }
    let described = change.over(&before).parse("").map_err(Refusal::Invalid)?;
    let sold_on = change.sold_on.unwrap_or(before.sold_on);
    if let Some(sold_on) = sold_on {
        day::past("sold_on", sold_on, write.shop.zone().day(write.now))
            .map_err(|fault| Refusal::Invalid(vec![fault]))?;
    }
    let sold_note = match &change.sold_note {
        Some(note) => optional("sold_note", note.as_deref(), 1000)?,
        None => before.sold_note.clone(),
    };
    refuse_known_vin(write, id, described.vin.as_deref())?;
    let after = Vehicle {
        plate_key: described.plate.as_deref().map(plate::key),
        vin: described.vin,
        plate: described.plate,
        make: described.make,
        model: described.model,
        model_year: described.model_year,
        engine: described.engine,
        // What is said of a sale goes with it.
        sold_note: sold_note.filter(|_| sold_on.is_some()),
        sold_on,
        version: before.version + 1,
        ..before.clone()
    };
    diesel::update(vehicle::table.find((write.shop.id, id)))
        .set((
            vehicle::vin.eq(&after.vin),
            vehicle::plate.eq(&after.plate),
            vehicle::plate_key.eq(&after.plate_key),
            vehicle::make.eq(&after.make),
            vehicle::model.eq(&after.model),
            vehicle::model_year.eq(after.model_year),
            vehicle::engine.eq(&after.engine),
            vehicle::sold_on.eq(after.sold_on),
            vehicle::sold_note.eq(&after.sold_note),
            vehicle::version.eq(after.version),
        ))
        .execute(write.conn)?;
    write.note(&About::new("vehicle", id), "changed", Some(&before), Some(&after))?;
    stamp_jobs(write, id)?;
    Ok(after)
}

fn refuse_known_vin(write: &mut ShopWrite<'_>, id: &VehicleId, vin: Option<&str>) -> Answer<()> {
    let Some(vin) = vin else { return Ok(()) };
    let others: i64 = vehicle::table
        .filter(vehicle::shop_id.eq(write.shop.id))
        .filter(vehicle::vin.eq(vin).and(vehicle::id.ne(id)))
        .count()
        .get_result(write.conn)?;
    if others == 0 {
        return Ok(());
    }
    Err(Refusal::Conflict("another vehicle of the shop has this VIN; look again".into()).into())
}

/// The figures of a job tell its vehicle, too, and how far it was driven.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn stamp_jobs(write: &mut ShopWrite<'_>, id: &VehicleId) -> Answer<()> {
    let orders: Vec<OrderId> = repair_order::table
        .filter(repair_order::shop_id.eq(write.shop.id).and(repair_order::vehicle_id.eq(id)))
        .select(repair_order::id)
        .load(write.conn)?;
    for order in orders {
        let jobs: Vec<JobId> = job::table
            .filter(job::shop_id.eq(write.shop.id).and(job::order_id.eq(order)))
            .select(job::id)
            .load(write.conn)?;
        for job in jobs {
            write.stamp_job(&job)?;
        }
    }
    Ok(())
}
