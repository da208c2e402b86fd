//! Changing an order, correcting one that is handed over, handing it over.

use diesel::prelude::*;
use serde::Deserialize;

use super::authorize;
use super::model::{Order, WholeOrder, by_id, whole};
use crate::db::Answer;
use crate::db::schema::repair_order;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::OrderId;
use crate::domain::money::MOST_MINOR;
use crate::domain::odometer;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::jobs::model::{self as jobs, no_faults, optional};
use crate::shops::write::{About, ShopWrite};
use crate::web::body::{given, present};

/// A change to an order: open, or handed over where the asker may correct.
/// Absent fields stay, null removes.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OrderPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub customer_name: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub customer_contact: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 100_000_000)]
    pub odometer_in: Option<Option<i64>>,
    /// Only after the hand-over, which brings it.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 100_000_000)]
    pub odometer_out: Option<Option<i64>>,
    /// `km` or `[mi_i]` (UCUM).
    #[serde(default, deserialize_with = "given")]
    pub odometer_unit: Option<String>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<UtcStamp>)]
    pub promised_at: Option<Option<UtcStamp>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub authorized_minor: Option<Option<i64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub authorized_by: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub authorized_how: Option<Option<String>>,
}

/// The hand-over.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HandOver {
    #[schema(minimum = 0, maximum = 100_000_000)]
    pub odometer_out: Option<i64>,
}

/// What is wrong with a reading.
#[must_use]
pub fn odometer_fault(field: &str, reading: Option<i64>) -> Option<FieldFault> {
    reading
        .filter(|n| !(0..=odometer::MOST).contains(n))
        .map(|_| FieldFault::new(field, "range", "write a reading between zero and 100000000"))
}

/// What is wrong with an amount.
#[must_use]
pub fn amount_fault(field: &str, minor: Option<i64>) -> Option<FieldFault> {
    minor
        .filter(|n| !(0..=MOST_MINOR).contains(n))
        .map(|_| FieldFault::new(field, "range", "write an amount between zero and 1000000000000"))
}

/// The order, where it may be written to: open, or handed over and the writer
/// corrects; then the write is marked.
///
/// # Errors
/// Not found; a conflict where it is handed over or void.
pub fn writable(write: &mut ShopWrite<'_>, id: &OrderId) -> Answer<Order> {
    let row = by_id(write.conn, write.shop.id, id)?;
    match row.status.as_str() {
        "open" => Ok(row),
        "closed" if write.corrects => {
            write.correction = true;
            Ok(row)
        }
        _ => Err(shut(&row).into()),
    }
}

/// The order, where it is not void: what came after a hand-over may be written.
///
/// # Errors
/// Not found; a conflict where it is void.
pub fn not_void(write: &mut ShopWrite<'_>, id: &OrderId) -> Answer<Order> {
    let row = by_id(write.conn, write.shop.id, id)?;
    if row.status == "void" { Err(shut(&row).into()) } else { Ok(row) }
}

/// Why nothing is written to an order that is not open.
#[must_use]
pub fn shut(row: &Order) -> Refusal {
    Refusal::Conflict(format!("the order is {}; open a new one", row.status))
}

/// Writes an order over what stands, and notes it. Where it is handed over by
/// now, or was, the figures of its jobs are made anew.
///
/// # Errors
/// Where the database does not answer.
pub fn save(
    write: &mut ShopWrite<'_>,
    action: &str,
    before: &Order,
    mut after: Order,
) -> Answer<()> {
    after.change_no = write.change_no;
    after.version = before.version + 1;
    if write.correction {
        after.corrected_at = Some(write.now);
    }
    diesel::update(repair_order::table.find((write.shop.id, &before.id)))
        .set(&after)
        .execute(write.conn)?;
    let about = About::new("order", &before.id).order(&before.id);
    write.note(&about, action, Some(before), Some(&after))?;
    if write.correction || before.status != after.status {
        for job in jobs::of_order(write.conn, write.shop.id, &before.id)? {
            write.stamp_job(&job.id)?;
        }
    }
    Ok(())
}

fn faults(row: &Order, change: &OrderPatch) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    faults.extend(odometer_fault("odometer_in", row.odometer_in));
    faults.extend(odometer_fault("odometer_out", row.odometer_out));
    faults.extend(amount_fault("authorized_minor", row.authorized_minor));
    if change.odometer_unit.as_deref().is_some_and(|unit| odometer::parse_unit(unit).is_none()) {
        faults.push(odometer::unit_fault());
    }
    if row.status == "open" && change.odometer_out.is_some() {
        faults.push(FieldFault::new("odometer_out", "too_early", "write it at the hand-over"));
    }
    if let (Some(before), Some(after)) = (row.odometer_in, row.odometer_out)
        && after < before
    {
        let field = if change.odometer_out.is_some() { "odometer_out" } else { "odometer_in" };
        faults.push(FieldFault::new(
            field,
            "range",
            format!("the reading goes from {before} in to {after} out: it runs forward"),
        ));
    }
    faults
}

/// The order as it would be.
fn applied(row: &Order, change: &OrderPatch, now: UtcStamp) -> Answer<Order> {
    let mut after = row.clone();
    let text = |field: &str, to: &mut Option<String>, new: &Option<Option<String>>| -> Answer<()> {
        if let Some(new) = new {
            *to = optional(field, new.as_deref(), 200)?;
        }
        Ok(())
    };
    text("customer_name", &mut after.customer_name, &change.customer_name)?;
    text("customer_contact", &mut after.customer_contact, &change.customer_contact)?;
    text("authorized_by", &mut after.authorized_by, &change.authorized_by)?;
    text("authorized_how", &mut after.authorized_how, &change.authorized_how)?;
    after.odometer_in = change.odometer_in.unwrap_or(row.odometer_in);
    after.odometer_out = change.odometer_out.unwrap_or(row.odometer_out);
    if let Some(unit) = change.odometer_unit.as_deref().and_then(odometer::parse_unit) {
        unit.clone_into(&mut after.odometer_unit);
    }
    after.promised_at = change.promised_at.unwrap_or(row.promised_at);
    if let Some(amount) = change.authorized_minor {
        after.authorized_minor = amount;
        after.authorized_at = amount.map(|_| now);
    }
    no_faults(faults(&after, change))?;
    Ok(after)
}

/// Applies a merge patch: to an open order, or as a correction.
///
/// # Errors
/// Stale, faulty fields, a conflict where it is handed over or void.
pub fn patch(
    write: &mut ShopWrite<'_>,
    id: &OrderId,
    seen: i32,
    change: &OrderPatch,
) -> Answer<WholeOrder> {
    let before = writable(write, id)?;
    same_version(&before, seen)?;
    let mut after = applied(&before, change, write.now)?;
    let told = |row: &Order| (row.authorized_by.clone(), row.authorized_how.clone());
    let agreed = change.authorized_minor.is_some() || told(&before) != told(&after);
    if agreed {
        after.authorized_at = after.authorized_minor.map(|_| write.now);
        authorize::keep(write, &after)?;
    }
    save(write, "changed", &before, after)?;
    whole(write.conn, write.shop.id, id)
}

/// Refuses where the writer has not seen the version that stands.
///
/// # Errors
/// Stale.
pub fn same_version(row: &Order, seen: i32) -> Answer<()> {
    if row.version == seen { Ok(()) } else { Err(Refusal::Stale(row.version).into()) }
}

/// Hands the vehicle over: every job has ended by then.
///
/// # Errors
/// Stale; jobs still open; an odometer that runs backward.
pub fn hand_over(
    write: &mut ShopWrite<'_>,
    id: &OrderId,
    seen: i32,
    with: &HandOver,
) -> Answer<WholeOrder> {
    let before = by_id(write.conn, write.shop.id, id)?;
    if before.status != "open" {
        return Err(shut(&before).into());
    }
    same_version(&before, seen)?;
    let jobs = jobs::of_order(write.conn, write.shop.id, id)?;
    let unfinished: Vec<String> =
        jobs.iter().filter(|job| job.outcome.is_none()).map(|job| job.job_no.to_string()).collect();
    if !unfinished.is_empty() {
        return Err(Refusal::Conflict(format!("close job {} first", unfinished.join(", "))).into());
    }
    no_faults(odometer_fault("odometer_out", with.odometer_out).into_iter().collect())?;
    if let (Some(came_in), Some(goes_out)) = (before.odometer_in, with.odometer_out)
        && goes_out < came_in
    {
        return Err(Refusal::field(
            "odometer_out",
            "range",
            format!("the odometer stood at {came_in} when the vehicle came in"),
        )
        .into());
    }
    // A clock that was set back must not make a visit end before it began.
    let closed_at = write.now.max(before.opened_at);
    let after = Order {
        status: "closed".to_owned(),
        closed_at: Some(closed_at),
        closed_on: Some(write.shop.zone().day(closed_at)),
        odometer_out: with.odometer_out,
        ..before.clone()
    };
    save(write, "handed_over", &before, after)?;
    whole(write.conn, write.shop.id, id)
}
