//! Takes a customer's personal data out of a shop's record: name, contact, who
//! authorized, and the plates of vehicles that nobody else brought. The VIN stays,
//! which is the vehicle's; so does the work, and with it every figure. This is the
//! one place that writes over what was noted of changes: the note stays, without
//! the values.

use std::collections::BTreeSet;

use diesel::prelude::*;
use serde_json::Value;

use crate::db::Answer;
use crate::db::schema::{
    idempotency_key, order_authorization, record_change, repair_order, vehicle,
};
use crate::domain::ids::{JobId, OrderId, VehicleId};
use crate::domain::refusal::Refusal;
use crate::jobs::model as jobs;
use crate::shops::write::{About, ShopWrite};

/// What stands where a text is owed and the person is not told any more.
const ERASED: &str = "erased";

/// Fields of notes and kept answers that name a customer.
const PERSONAL: [&str; 5] =
    ["customer_name", "customer_contact", "authorized_by", "plate", "plate_key"];

/// Whose data: as it stands on the orders.
#[derive(Debug, Clone)]
pub struct Whom {
    pub name: String,
    /// Where two customers have one name.
    pub contact: Option<String>,
}

/// What was done.
#[derive(Debug, Clone, Default)]
pub struct Erased {
    /// Numbers of the orders.
    pub orders: Vec<String>,
    pub plates: usize,
    pub notes: usize,
}

/// Erases; the caller sees to what the database leaves of it on the disk.
///
/// # Errors
/// Not found where no order of the shop has that customer.
pub fn erase(write: &mut ShopWrite<'_>, whom: &Whom) -> Answer<Erased> {
    let found = orders_of(write, whom)?;
    if found.is_empty() {
        return Err(Refusal::NotFound.into());
    }
    let orders: Vec<OrderId> = found.iter().map(|(id, ..)| id.clone()).collect();
    let vehicles = own_vehicles(write, &found)?;
    for order in &orders {
        diesel::update(repair_order::table.find((write.shop.id, order)))
            .set((
                repair_order::customer_name.eq(None::<String>),
                repair_order::customer_contact.eq(None::<String>),
                repair_order::authorized_by.eq(None::<String>),
            ))
            .execute(write.conn)?;
        diesel::update(
            order_authorization::table
                .filter(order_authorization::shop_id.eq(write.shop.id))
                .filter(order_authorization::order_id.eq(order)),
        )
        .set(order_authorization::authorized_by.eq(ERASED))
        .execute(write.conn)?;
        write.stamp_order(order)?;
        for job in jobs::of_order(write.conn, write.shop.id, order)? {
            write.stamp_job(&job.id)?;
        }
    }
    for id in &vehicles {
        diesel::update(vehicle::table.find((write.shop.id, id)))
            .set((
                vehicle::plate.eq(None::<String>),
                vehicle::plate_key.eq(None::<String>),
                vehicle::version.eq(vehicle::version + 1),
            ))
            .execute(write.conn)?;
    }
    let notes = clear_notes(write, &orders, &vehicles)?;
    forget_answers(write, &orders, &vehicles)?;
    for order in &orders {
        let about = About::new("order", order).order(order);
        write.note::<JobId>(&about, "erased", None, None)?;
    }
    let numbers = found.into_iter().map(|(_, _, number)| number).collect();
    Ok(Erased { orders: numbers, plates: vehicles.len(), notes })
}

/// An order of the customer's, its vehicle, and its number.
type Found = (OrderId, VehicleId, String);

fn orders_of(write: &mut ShopWrite<'_>, whom: &Whom) -> Answer<Vec<Found>> {
    let mut query = repair_order::table
        .filter(repair_order::shop_id.eq(write.shop.id))
        .filter(repair_order::customer_name.eq(&whom.name))
        .order(repair_order::opened_at)
        .select((repair_order::id, repair_order::vehicle_id, repair_order::order_no))
        .into_boxed();
    if let Some(contact) = &whom.contact {
        query = query.filter(repair_order::customer_contact.eq(contact));
    }
    Ok(query.load(write.conn)?)
}

/// Vehicles that only these orders are about: another customer's plate stays.
fn own_vehicles(write: &mut ShopWrite<'_>, found: &[Found]) -> Answer<BTreeSet<VehicleId>> {
    let mut own = BTreeSet::new();
    let all: BTreeSet<&VehicleId> = found.iter().map(|(_, vehicle, _)| vehicle).collect();
    for id in all {
        let here = found.iter().filter(|(_, vehicle, _)| vehicle == id).count();
        let named: i64 = repair_order::table
            .filter(repair_order::shop_id.eq(write.shop.id).and(repair_order::vehicle_id.eq(id)))
            .filter(repair_order::customer_name.is_not_null())
            .count()
            .get_result(write.conn)?;
        if usize::try_from(named).is_ok_and(|named| named == here) {
            own.insert(id.clone());
        }
    }
    Ok(own)
}

fn clear_notes(
    write: &mut ShopWrite<'_>,
    orders: &[OrderId],
    vehicles: &BTreeSet<VehicleId>,
) -> Answer<usize> {
    type Note = (i64, i32, Option<String>, Option<String>);
    let mut cleared = 0;
    let of_shop = record_change::shop_id.eq(write.shop.id);
    let ids: Vec<&str> = vehicles.iter().map(VehicleId::as_str).collect();
    let about = record_change::order_id
        .eq_any(orders)
        .or(record_change::record.eq("vehicle").and(record_change::record_id.eq_any(ids)));
    let notes: Vec<Note> = record_change::table
        .filter(of_shop.and(about))
        .select((
            record_change::change_no,
            record_change::line,
            record_change::before_json,
            record_change::after_json,
        ))
        .load(write.conn)?;
    for (change_no, line, before, after) in notes {
        let (left, right) = (without(before.as_deref()), without(after.as_deref()));
        if (&left, &right) == (&before, &after) {
            continue;
        }
        diesel::update(record_change::table.find((write.shop.id, change_no, line)))
            .set((record_change::before_json.eq(left), record_change::after_json.eq(right)))
            .execute(write.conn)?;
        cleared += 1;
    }
    Ok(cleared)
}

/// Answers that are kept for repeated requests say what was answered.
fn forget_answers(
    write: &mut ShopWrite<'_>,
    orders: &[OrderId],
    vehicles: &BTreeSet<VehicleId>,
) -> Answer<()> {
    let ids = orders.iter().map(OrderId::as_str).chain(vehicles.iter().map(VehicleId::as_str));
    for id in ids {
        diesel::delete(
            idempotency_key::table.filter(idempotency_key::body.like(format!("%{id}%"))),
        )
        .execute(write.conn)?;
    }
    Ok(())
}

/// A note without what is personal in it.
fn without(note: Option<&str>) -> Option<String> {
    let text = note?;
    let Ok(mut value) = serde_json::from_str::<Value>(text) else { return Some(text.to_owned()) };
    if clear(&mut value) { Some(value.to_string()) } else { Some(text.to_owned()) }
}

/// Whether there was anything.
fn clear(value: &mut Value) -> bool {
    match value {
        Value::Object(fields) => fields.iter_mut().fold(false, |any, (name, field)| {
            if PERSONAL.contains(&name.as_str()) && !field.is_null() {
                *field = Value::Null;
                return true;
            }
            clear(field) || any
        }),
        Value::Array(items) => {
            // Each of them, whatever the others held.
            let cleared: Vec<bool> = items.iter_mut().map(clear).collect();
            cleared.contains(&true)
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_loses_what_is_personal_and_nothing_else() {
        let note = r#"{"order_no":"7","customer_name":"A","vehicle":{"plate":"B","vin":"C"}}"#;
        let left = r#"{"customer_name":null,"order_no":"7","vehicle":{"plate":null,"vin":"C"}}"#;
        let found: Option<Value> = without(Some(note)).and_then(|t| serde_json::from_str(&t).ok());
        assert_eq!(found, serde_json::from_str(left).ok());
        for other in ["no json", r#"{"note":"plate","plate":null}"#] {
            assert_eq!(without(Some(other)).as_deref(), Some(other));
        }
        assert_eq!(without(None), None);
    }
}
