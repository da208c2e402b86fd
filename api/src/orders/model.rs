//! A repair order's row: writing it up, handing the vehicle over.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use crate::comebacks::model::{self as comebacks, Comeback};
use crate::db::schema::repair_order;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{OrderId, VehicleId};
use crate::domain::money::MOST_MINOR;
use crate::domain::odometer;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::vin;
use crate::jobs::model::{self as jobs, Job, NewJob, no_faults, optional};
use crate::shops::write::ShopWrite;
use crate::vehicles::model::{self as vehicles, NewVehicle, Vehicle};
use crate::web::body::present;

/// A repair order.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = repair_order)]
pub struct Order {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: OrderId,
    pub order_no: String,
    pub vehicle_id: VehicleId,
    /// `open`, `closed` (handed over) or `void`.
    pub status: String,
    pub customer_name: Option<String>,
    pub customer_contact: Option<String>,
    pub odometer_in: Option<i64>,
    pub odometer_out: Option<i64>,
    /// `km` or `[mi_i]` (UCUM).
    pub odometer_unit: String,
    pub opened_at: UtcStamp,
    /// Shop-local day.
    pub opened_on: NaiveDate,
    #[serde(skip)]
    pub opened_minute: i32,
    pub promised_at: Option<UtcStamp>,
    /// Minor units of the shop's currency.
    pub authorized_minor: Option<i64>,
    pub authorized_by: Option<String>,
    pub authorized_how: Option<String>,
    pub authorized_at: Option<UtcStamp>,
    pub closed_at: Option<UtcStamp>,
    pub closed_on: Option<NaiveDate>,
    #[serde(skip)]
    pub change_no: i64,
    pub version: i32,
    /// Why it is void; a void order keeps its number.
    pub void_reason: Option<String>,
    pub voided_at: Option<UtcStamp>,
    /// When it was last corrected after the hand-over.
    pub corrected_at: Option<UtcStamp>,
}

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
    /// Absent: km.
    pub odometer_unit: Option<String>,
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
}

/// A change to an open order. Absent fields stay, null removes.
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

/// An order with its vehicle, its jobs, and the comebacks proposed for them.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct WholeOrder {
    #[serde(flatten)]
    pub order: Order,
    pub vehicle: Vehicle,
    /// What is odd about the VIN; never a block.
    pub vin_warning: Option<String>,
    pub jobs: Vec<Job>,
    /// Where a job of this order is the later one.
    pub comebacks: Vec<Comeback>,
}

/// One order.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &OrderId) -> Answer<Order> {
    Ok(repair_order::table.find((shop_id, id)).select(Order::as_select()).first(conn)?)
}

/// An order with its vehicle and jobs.
///
/// # Errors
/// As [`by_id`].
pub fn whole(conn: &mut Conn, shop_id: i32, id: &OrderId) -> Answer<WholeOrder> {
    let order = by_id(conn, shop_id, id)?;
    let vehicle = vehicles::by_id(conn, shop_id, &order.vehicle_id)?;
    let jobs = jobs::of_order(conn, shop_id, id)?;
    let mut proposed = Vec::new();
    for job in &jobs {
        let of_job = comebacks::of_job(conn, shop_id, &job.id)?;
        proposed.extend(of_job.into_iter().filter(|c| c.later_job_id == job.id));
    }
    let vin_warning = vehicle.vin.as_deref().and_then(vin::warning).map(|w| w.to_string());
    Ok(WholeOrder { order, vehicle, vin_warning, jobs, comebacks: proposed })
}

/// What a list of orders is narrowed to.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    pub status: Option<String>,
    pub order_no: Option<String>,
    pub vehicle_id: Option<VehicleId>,
    /// Opened at and id of the last one shown.
    pub after: Option<(UtcStamp, OrderId)>,
    pub limit: i64,
}

/// Orders, newest first.
///
/// # Errors
/// Where the database does not answer.
pub fn list(conn: &mut Conn, shop_id: i32, filter: &Filter) -> Answer<Vec<Order>> {
    let mut query = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .order((repair_order::opened_at.desc(), repair_order::id.desc()))
        .limit(filter.limit)
        .select(Order::as_select())
        .into_boxed();
    if let Some(status) = &filter.status {
        query = query.filter(repair_order::status.eq(status.clone()));
    }
    if let Some(number) = &filter.order_no {
        query = query.filter(repair_order::order_no.eq(number.clone()));
    }
    if let Some(vehicle) = &filter.vehicle_id {
        query = query.filter(repair_order::vehicle_id.eq(vehicle.clone()));
    }
    if let Some((at, id)) = &filter.after {
        query = query.filter(
            repair_order::opened_at
                .lt(*at)
                .or(repair_order::opened_at.eq(*at).and(repair_order::id.lt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// Open orders by promised time; those without one last.
///
/// # Errors
/// Where the database does not answer.
pub fn open_by_promise(conn: &mut Conn, shop_id: i32) -> Answer<Vec<WholeOrder>> {
    let mut ids: Vec<(Option<UtcStamp>, UtcStamp, OrderId)> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::status.eq("open")))
        .order(repair_order::opened_at)
        .limit(200)
        .select((repair_order::promised_at, repair_order::opened_at, repair_order::id))
        .load(conn)?;
    ids.sort_by_key(|(promised, opened, _)| (promised.is_none(), *promised, *opened));
    ids.iter().map(|(_, _, id)| whole(conn, shop_id, id)).collect()
}

fn odometer_fits(reading: Option<i64>) -> bool {
    reading.is_none_or(|n| (0..=odometer::MOST).contains(&n))
}

fn amount_fits(minor: Option<i64>) -> bool {
    minor.is_none_or(|n| (0..=MOST_MINOR).contains(&n))
}

fn faults(new: &NewOrder) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    if new.vehicle_id.is_some() == new.vehicle.is_some() {
        faults.push(FieldFault::new("vehicle", "required", "give either vehicle_id or vehicle"));
    }
    if !(1..=50).contains(&new.jobs.len()) {
        faults.push(FieldFault::new("jobs", "required", "write up between one and fifty jobs"));
    }
    if !odometer_fits(new.odometer_in) {
        faults.push(FieldFault::new(
            "odometer_in",
            "range",
            "write a reading between zero and 100000000",
        ));
    }
    if !amount_fits(new.authorized_minor) {
        faults.push(FieldFault::new(
            "authorized_minor",
            "range",
            "write an amount between zero and 1000000000000",
        ));
    }
    if new.odometer_unit.as_deref().is_some_and(|unit| odometer::parse_unit(unit).is_none()) {
        faults.push(FieldFault::new(
            "odometer_unit",
            "word",
            format!("choose one of: {}", odometer::UNITS.join(", ")),
        ));
    }
    faults
}

/// Writes an order up, with its vehicle and jobs, and proposes comebacks.
///
/// # Errors
/// Faulty fields.
pub fn open(write: &mut ShopWrite<'_>, new: &NewOrder) -> Answer<WholeOrder> {
    no_faults(faults(new))?;
    let vehicle = match (&new.vehicle_id, &new.vehicle) {
        (Some(id), _) => vehicles::by_id(write.conn, write.shop.id, id).map_err(|_| {
            Refusal::field("vehicle_id", "unknown_vehicle", "no vehicle of this shop has that id")
        })?,
        (None, given) => {
            let described = given.clone().unwrap_or_default();
            let described = described.parse("vehicle/").map_err(Refusal::Invalid)?;
            vehicles::find_or_make(write, &described)?
        }
    };
    let number = write.next_order_number()?;
    let zone = write.shop.zone();
    let authorized = new.authorized_minor.is_some();
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
        odometer_unit: new
            .odometer_unit
            .as_deref()
            .and_then(odometer::parse_unit)
            .unwrap_or("km")
            .to_owned(),
        opened_at: write.now,
        opened_on: zone.day(write.now),
        opened_minute: zone.minute(write.now),
        promised_at: new.promised_at,
        authorized_minor: new.authorized_minor,
        authorized_by: optional("authorized_by", new.authorized_by.as_deref(), 200)?,
        authorized_how: optional("authorized_how", new.authorized_how.as_deref(), 200)?,
        authorized_at: authorized.then_some(write.now),
        closed_at: None,
        closed_on: None,
        change_no: write.change_no,
        version: 1,
        void_reason: None,
        voided_at: None,
        corrected_at: None,
    };
    diesel::insert_into(repair_order::table).values(&row).execute(write.conn)?;
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
    let job = jobs::add(write, order, job_no, new, base)?;
    comebacks::propose(write, &job, "write_up")?;
    if let Some(earlier) = &new.in_before_job_id {
        let said = comebacks::NewComeback {
            earlier_job_id: earlier.clone(),
            later_job_id: job.id.clone(),
            customer_says: Some(true),
            note: None,
        };
        comebacks::link(write, &said)?;
    }
    Ok(job)
}

fn open_order(write: &mut ShopWrite<'_>, id: &OrderId) -> Answer<Order> {
    let row = by_id(write.conn, write.shop.id, id)?;
    if row.status == "open" {
        Ok(row)
    } else {
        Err(Refusal::Conflict(format!("the order is {}; open a new one", row.status)).into())
    }
}

/// Adds a job to an open order.
///
/// # Errors
/// Faulty fields; a conflict where the order is handed over.
pub fn append_job(write: &mut ShopWrite<'_>, id: &OrderId, new: &NewJob) -> Answer<Job> {
    open_order(write, id)?;
    let last = jobs::of_order(write.conn, write.shop.id, id)?.iter().map(|job| job.job_no).max();
    if last.is_some_and(|n| n >= 50) {
        return Err(Refusal::Conflict("an order has at most fifty jobs".into()).into());
    }
    let job = add_job(write, id, last.unwrap_or(0) + 1, new, "")?;
    write.stamp_order(id)?;
    Ok(job)
}

/// Applies a merge patch to an open order.
///
/// # Errors
/// Stale, faulty fields, a conflict where it is handed over.
pub fn patch(
    write: &mut ShopWrite<'_>,
    id: &OrderId,
    seen: i32,
    change: &OrderPatch,
) -> Answer<WholeOrder> {
    let mut row = open_order(write, id)?;
    if row.version != seen {
        return Err(Refusal::Stale(row.version).into());
    }
    let text = |field: &str, to: &mut Option<String>, new: &Option<Option<String>>| -> Answer<()> {
        if let Some(new) = new {
            *to = optional(field, new.as_deref(), 200)?;
        }
        Ok(())
    };
    text("customer_name", &mut row.customer_name, &change.customer_name)?;
    text("customer_contact", &mut row.customer_contact, &change.customer_contact)?;
    text("authorized_by", &mut row.authorized_by, &change.authorized_by)?;
    text("authorized_how", &mut row.authorized_how, &change.authorized_how)?;
    row.odometer_in = change.odometer_in.unwrap_or(row.odometer_in);
    row.promised_at = change.promised_at.unwrap_or(row.promised_at);
    if let Some(amount) = change.authorized_minor {
        row.authorized_minor = amount;
        row.authorized_at = amount.map(|_| write.now);
    }
    if !odometer_fits(row.odometer_in) || !amount_fits(row.authorized_minor) {
        return Err(Refusal::field(
            "",
            "range",
            "write numbers of zero or more that a vehicle or a bill can have",
        )
        .into());
    }
    diesel::update(repair_order::table.find((write.shop.id, id)))
        .set((
            repair_order::customer_name.eq(&row.customer_name),
            repair_order::customer_contact.eq(&row.customer_contact),
            repair_order::authorized_by.eq(&row.authorized_by),
            repair_order::authorized_how.eq(&row.authorized_how),
            repair_order::authorized_minor.eq(row.authorized_minor),
            repair_order::authorized_at.eq(row.authorized_at),
            repair_order::odometer_in.eq(row.odometer_in),
            repair_order::promised_at.eq(row.promised_at),
            repair_order::change_no.eq(write.change_no),
            repair_order::version.eq(row.version + 1),
        ))
        .execute(write.conn)?;
    whole(write.conn, write.shop.id, id)
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
    let row = open_order(write, id)?;
    if row.version != seen {
        return Err(Refusal::Stale(row.version).into());
    }
    let jobs = jobs::of_order(write.conn, write.shop.id, id)?;
    let unfinished: Vec<String> =
        jobs.iter().filter(|job| job.outcome.is_none()).map(|job| job.job_no.to_string()).collect();
    if !unfinished.is_empty() {
        return Err(Refusal::Conflict(format!("close job {} first", unfinished.join(", "))).into());
    }
    if let (Some(before), Some(after)) = (row.odometer_in, with.odometer_out)
        && after < before
    {
        return Err(Refusal::field(
            "odometer_out",
            "range",
            format!("the odometer stood at {before} when the vehicle came in"),
        )
        .into());
    }
    if !odometer_fits(with.odometer_out) {
        return Err(Refusal::field(
            "odometer_out",
            "range",
            "write a reading between zero and 100000000",
        )
        .into());
    }
    // A clock that was set back must not make a visit end before it began.
    let closed_at = write.now.max(row.opened_at);
    diesel::update(repair_order::table.find((write.shop.id, id)))
        .set((
            repair_order::status.eq("closed"),
            repair_order::closed_at.eq(closed_at),
            repair_order::closed_on.eq(write.shop.zone().day(closed_at)),
            repair_order::odometer_out.eq(with.odometer_out),
            repair_order::change_no.eq(write.change_no),
            repair_order::version.eq(row.version + 1),
        ))
        .execute(write.conn)?;
    for job in &jobs {
        write.stamp_job(&job.id)?;
    }
    whole(write.conn, write.shop.id, id)
}
