//! Writing an order up: the vehicle, what it is here for, what was agreed to.

use diesel::prelude::*;
use serde::Deserialize;

use super::authorize;
use super::change::{amount_fault, odometer_fault, shut};
use super::model::{Order, WholeOrder, by_id, whole};
use super::planned;
use super::readings::usual_unit;
use crate::comebacks::link::{NewComeback, link_at};
use crate::comebacks::model as comebacks;
use crate::db::Answer;
use crate::db::schema::repair_order;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{OrderId, VehicleId};
use crate::domain::odometer;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::jobs::model::{self as jobs, Job, NewJob, no_faults, optional};
use crate::shops::write::{About, ShopWrite};
use crate::vehicles::model::{self as vehicles, NewVehicle, Vehicle};

/// A promise may be this old when the write-up is sent.
const PROMISE_MINUTES: i64 = 1;

/// A write-up: the vehicle and what it is here for.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOrder {
    /// A known vehicle; else describe it.
    pub vehicle_id: Option<VehicleId>,
    pub vehicle: Option<NewVehicle>,
    pub customer_name: Option<String>,
    pub customer_contact: Option<String>,
    #[schema(minimum = 0, maximum = 100_000_000)]
    pub odometer_in: Option<i64>,
    /// Absent: as on the vehicle's last order, else as usual in the shop.
    pub odometer_unit: Option<String>,
    /// Not a time that is over.
    pub promised_at: Option<UtcStamp>,
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub authorized_minor: Option<i64>,
    pub authorized_by: Option<String>,
    pub authorized_how: Option<String>,
    /// At least one.
    #[schema(min_items = 1, max_items = 50)]
    pub jobs: Vec<NewJob>,
}

impl NewOrder {
    /// Whether it says what only the front writes: the customer, what was
    /// agreed.
    #[must_use]
    pub fn is_of_the_front(&self) -> bool {
        self.authorized_minor.is_some()
            || self.customer_name.is_some()
            || self.customer_contact.is_some()
    }

    /// Whether it says what earlier job one of its jobs belongs to.
    #[must_use]
    pub fn links(&self) -> bool {
        self.jobs.iter().any(links)
    }
}

/// Whether a write-up says what earlier job the job belongs to.
#[must_use]
pub const fn links(new: &NewJob) -> bool {
    new.in_before_job_id.is_some() || new.second_visit_of_job_id.is_some()
}

fn faults(new: &NewOrder, now: UtcStamp) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    if new.vehicle_id.is_some() == new.vehicle.is_some() {
        faults.push(FieldFault::new("vehicle", "required", "give either vehicle_id or vehicle"));
    }
    if !(1..=50).contains(&new.jobs.len()) {
        faults.push(FieldFault::new("jobs", "required", "write up between one and fifty jobs"));
    }
    faults.extend(odometer_fault("odometer_in", new.odometer_in));
    faults.extend(amount_fault("authorized_minor", new.authorized_minor));
    if new.odometer_unit.as_deref().is_some_and(|unit| odometer::parse_unit(unit).is_none()) {
        faults.push(odometer::unit_fault());
    }
    if new.promised_at.is_some_and(|at| now.minutes_since(at) > PROMISE_MINUTES) {
        faults.push(FieldFault::new("promised_at", "range", "promise a time to come"));
    }
    faults
}

fn vehicle_of(write: &mut ShopWrite<'_>, new: &NewOrder) -> Answer<Vehicle> {
    if let Some(id) = &new.vehicle_id {
        return Ok(vehicles::by_id(write.conn, write.shop.id, id).map_err(|_| {
            Refusal::field("vehicle_id", "unknown_vehicle", "no vehicle of this shop has that id")
        })?);
    }
    let described = new.vehicle.clone().unwrap_or_default();
    let described = described.parse("vehicle/").map_err(Refusal::Invalid)?;
    vehicles::find_or_make(write, &described)
}

/// Writes an order up, with its vehicle and jobs, and proposes comebacks.
///
/// # Errors
/// Faulty fields.
pub fn open(write: &mut ShopWrite<'_>, new: &NewOrder) -> Answer<WholeOrder> {
    no_faults(faults(new, write.now))?;
    let vehicle = vehicle_of(write, new)?;
    let unit = match new.odometer_unit.as_deref().and_then(odometer::parse_unit) {
        Some(unit) => unit,
        None => usual_unit(write.conn, write.shop.id, Some(&vehicle.id))?,
    };
    let number = write.next_order_number()?;
    let zone = write.shop.zone();
    let row = Order {
        shop_id: write.shop.id,
        id: OrderId::make(),
        order_no: number.to_string(),
        vehicle_id: vehicle.id,
        status: "open".to_owned(),
        customer_name: optional("customer_name", new.customer_name.as_deref(), 200)?,
        customer_contact: optional("customer_contact", new.customer_contact.as_deref(), 200)?,
        odometer_in: new.odometer_in,
        odometer_out: None,
        odometer_unit: unit.to_owned(),
        opened_at: write.now,
        opened_on: zone.day(write.now),
        opened_minute: zone.minute(write.now),
        promised_at: new.promised_at,
        authorized_minor: new.authorized_minor,
        authorized_by: optional("authorized_by", new.authorized_by.as_deref(), 200)?,
        authorized_how: optional("authorized_how", new.authorized_how.as_deref(), 200)?,
        authorized_at: new.authorized_minor.map(|_| write.now),
        closed_at: None,
        closed_on: None,
        change_no: write.change_no,
        version: 1,
        void_reason: None,
        voided_at: None,
        corrected_at: None,
    };
    diesel::insert_into(repair_order::table).values(&row).execute(write.conn)?;
    write.note(&About::new("order", &row.id).order(&row.id), "added", None, Some(&row))?;
    authorize::keep(write, &row)?;
    for (place, (job, job_no)) in new.jobs.iter().zip(1..).enumerate() {
        add_job(write, &row.id, job_no, job, &format!("jobs/{place}/"))?;
    }
    whole(write.conn, write.shop.id, &row.id)
}

fn add_job(
    write: &mut ShopWrite<'_>,
    order: &OrderId,
    job_no: i32,
    new: &NewJob,
    base: &str,
) -> Answer<Job> {
    let at = |name: &str| format!("{base}{name}");
    let job = jobs::add(write, order, job_no, new, base)?;
    if let Some(earlier) = &new.second_visit_of_job_id {
        if new.in_before_job_id.is_some() {
            return Err(Refusal::field(
                &at("in_before_job_id"),
                "contradiction",
                "a planned second visit is no comeback: name one of the two",
            )
            .into());
        }
        planned::plan(write, &job, earlier, &at("second_visit_of_job_id"))?;
    }
    comebacks::propose(write, &job, "write_up")?;
    if let Some(earlier) = &new.in_before_job_id {
        let said = NewComeback {
            earlier_job_id: earlier.clone(),
            later_job_id: job.id.clone(),
            customer_says: Some(true),
            note: None,
        };
        link_at(write, &said, &at("in_before_job_id"), false)?;
    }
    Ok(job)
}

/// Adds a job to an open order.
///
/// # Errors
/// Faulty fields; a conflict where the order is handed over or void.
pub fn append_job(write: &mut ShopWrite<'_>, id: &OrderId, new: &NewJob) -> Answer<Job> {
    let row = by_id(write.conn, write.shop.id, id)?;
    if row.status != "open" {
        return Err(shut(&row).into());
    }
    let last = jobs::of_order(write.conn, write.shop.id, id)?.iter().map(|job| job.job_no).max();
    if last.is_some_and(|n| n >= 50) {
        return Err(Refusal::Conflict("an order has at most fifty jobs".into()).into());
    }
    let job = add_job(write, id, last.unwrap_or(0) + 1, new, "")?;
    write.stamp_order(id)?;
    Ok(job)
}
