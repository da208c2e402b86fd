//! The odometer readings of a vehicle's visits.

use chrono::NaiveDate;
use diesel::prelude::*;

use super::model::Order;
use super::odometer::{Reading, runs_backward};
use crate::db::schema::repair_order;
use crate::db::{Answer, Conn};
use crate::domain::ids::VehicleId;
use crate::domain::odometer::parse_unit;
use crate::vehicles::odometer_reset;

/// Visits looked at: most have a reading.
const VISITS: i64 = 20;
/// Orders that say which unit is usual in the shop.
const USUAL: i64 = 200;

/// The unit of the vehicle's last reading, else the one that most of the shop's
/// latest orders have, else km.
///
/// # Errors
/// Where the database does not answer.
pub fn usual_unit(
    conn: &mut Conn,
    shop_id: i32,
    vehicle: Option<&VehicleId>,
) -> Answer<&'static str> {
    let latest = || {
        repair_order::table
            .filter(repair_order::shop_id.eq(shop_id).and(repair_order::odometer_in.is_not_null()))
            .order((repair_order::opened_at.desc(), repair_order::id.desc()))
            .select(repair_order::odometer_unit)
    };
    if let Some(vehicle) = vehicle {
        let own: Option<String> =
            latest().filter(repair_order::vehicle_id.eq(vehicle)).first(conn).optional()?;
        if let Some(unit) = own.as_deref().and_then(parse_unit) {
            return Ok(unit);
        }
    }
    let units: Vec<String> = latest().limit(USUAL).load(conn)?;
    let miles = units.iter().filter(|unit| *unit == "[mi_i]").count();
    Ok(if miles * 2 > units.len() { "[mi_i]" } else { "km" })
}

/// What is odd about the reading at the beginning of a visit.
///
/// # Errors
/// Where the database does not answer.
pub fn warning(conn: &mut Conn, order: &Order) -> Answer<Option<String>> {
    let Some(value) = order.odometer_in else { return Ok(None) };
    let now = Reading { on: order.opened_on, value, unit: order.odometer_unit.clone() };
    type Row = (NaiveDate, Option<i64>, Option<i64>, String);
    let rows: Vec<Row> =
        repair_order::table
            .filter(repair_order::shop_id.eq(order.shop_id))
            .filter(repair_order::vehicle_id.eq(&order.vehicle_id))
            .filter(repair_order::status.ne("void"))
            .filter(repair_order::opened_at.lt(order.opened_at).or(
                repair_order::opened_at.eq(order.opened_at).and(repair_order::id.lt(&order.id)),
            ))
            .order((repair_order::opened_at.desc(), repair_order::id.desc()))
            .limit(VISITS)
            .select((
                repair_order::opened_on,
                repair_order::odometer_in,
                repair_order::odometer_out,
                repair_order::odometer_unit,
            ))
            .load(conn)?;
    let visits: Vec<Reading> = rows
        .into_iter()
        .filter_map(|(on, came_in, went_out, unit)| {
            Some(Reading { on, value: went_out.or(came_in)?, unit })
        })
        .collect();
    let resets: Vec<Reading> = odometer_reset::of_vehicle(conn, order.shop_id, &order.vehicle_id)?
        .into_iter()
        .map(|row| Reading { on: row.reset_on, value: row.reading_after, unit: row.odometer_unit })
        .collect();
    let shown = crate::web::words::odometer;
    Ok(runs_backward(&now, &visits, &resets).map(|before| {
        format!(
            "it stood at {} on {}; look again, or record on the vehicle that it was replaced",
            shown(before.value, &before.unit),
            before.on
        )
    }))
}
