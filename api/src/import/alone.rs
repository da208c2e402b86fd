//! What an order without a vehicle of its own says: the number it ends in, and
//! whether its vehicle stands for this one visit only.

use std::collections::{HashMap, HashSet};

use diesel::prelude::*;

use super::rows::OrderRow;
use crate::db::schema::{odometer_reset, repair_order, vehicle};
use crate::db::{Answer, Conn};
use crate::domain::ids::VehicleId;

/// The orders' vehicles that nothing tells from others and that have no second
/// visit: a link may still say whose they are, also in an import that goes on
/// where an earlier one stopped.
///
/// # Errors
/// Where the record does not answer.
pub fn alone(conn: &mut Conn, shop_id: i32, orders: &[OrderRow]) -> Answer<HashSet<VehicleId>> {
    let ids: Vec<&VehicleId> = orders.iter().map(|order| &order.vehicle_id).collect();
    let nameless: Vec<VehicleId> = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id).and(vehicle::id.eq_any(ids)))
        .filter(vehicle::vin.is_null().and(vehicle::plate.is_null()))
        .select(vehicle::id)
        .load(conn)?;
    let visits: Vec<VehicleId> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .filter(repair_order::vehicle_id.eq_any(&nameless))
        .select(repair_order::vehicle_id)
        .load(conn)?;
    let reset: Vec<VehicleId> = odometer_reset::table
        .filter(odometer_reset::shop_id.eq(shop_id))
        .filter(odometer_reset::vehicle_id.eq_any(&nameless))
        .select(odometer_reset::vehicle_id)
        .load(conn)?;
    let mut counts: HashMap<VehicleId, u32> = HashMap::new();
    for id in visits {
        *counts.entry(id).or_default() += 1;
    }
    let single = |id: &VehicleId| counts.get(id) == Some(&1) && !reset.contains(id);
    Ok(nameless.into_iter().filter(single).collect())
}

/// The number that an order number ends in; 0 where it ends in none that can
/// be counted on from.
pub fn trailing_number(order_no: &str) -> i64 {
    let head = order_no.trim_end_matches(|c: char| c.is_ascii_digit());
    order_no
        .get(head.len()..)
        .filter(|digits| digits.len() <= 15)
        .and_then(|digits| digits.parse().ok())
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::trailing_number;

    #[test]
    fn numbering_goes_on_from_the_last_digits() {
        assert_eq!(trailing_number("2026-00417"), 417);
        assert_eq!(trailing_number("RO9"), 9);
        assert_eq!(trailing_number("A-12-b"), 0);
        assert_eq!(trailing_number("99999999999999999999"), 0);
    }
}
