//! What the customer agreed to: every amount is kept, the latest stands on the
//! order.

use analytics::words::Payer;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::change::{amount_fault, save, writable};
use super::charges::{self, Charge, Charges};
use super::model::Order;
use crate::db::schema::{job_operation, order_authorization, part_use, sublet};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{AuthorizationId, JobId, OrderId, PersonId};
use crate::domain::refusal::FieldFault;
use crate::domain::text;
use crate::jobs::model::{Job, no_faults, optional};
use crate::jobs::parts::MoneyRights;
use crate::shops::write::{About, ShopWrite};

/// Stands where an amount was written without who agreed to it, or how.
const NOT_RECORDED: &str = "not recorded";

/// An amount that was agreed to: the whole of it, not what was added.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = order_authorization)]
pub struct Authorization {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: AuthorizationId,
    pub order_id: OrderId,
    /// Minor units of the shop's currency; null for who may not see prices.
    #[diesel(deserialize_as = i64)]
    pub amount_minor: Option<i64>,
    pub authorized_by: String,
    pub authorized_how: String,
    pub authorized_at: UtcStamp,
    pub note: Option<String>,
    /// Who wrote it down.
    pub person_id: PersonId,
}

impl Authorization {
    /// Without what the asker may not see.
    #[must_use]
    pub fn for_eyes(mut self, rights: MoneyRights) -> Self {
        if !rights.prices {
            self.amount_minor = None;
        }
        self
    }
}

/// An amount as told.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAuthorization {
    /// The whole amount agreed to so far.
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub amount_minor: i64,
    pub authorized_by: String,
    /// In writing, by telephone.
    pub authorized_how: String,
    /// Absent: now.
    pub authorized_at: Option<UtcStamp>,
    pub note: Option<String>,
}

/// An order's amounts, by the time they were agreed to.
///
/// # Errors
/// Where the database does not answer.
pub fn of_order(conn: &mut Conn, shop_id: i32, id: &OrderId) -> Answer<Vec<Authorization>> {
    Ok(order_authorization::table
        .filter(order_authorization::shop_id.eq(shop_id))
        .filter(order_authorization::order_id.eq(id))
        .order((order_authorization::authorized_at, order_authorization::id))
        .select(Authorization::as_select())
        .load(conn)?)
}

/// What is charged on an order, against what was agreed to.
///
/// # Errors
/// Where the database does not answer.
pub fn charges(conn: &mut Conn, order: &Order, jobs: &[Job]) -> Answer<Charges> {
    let shop_id = order.shop_id;
    let of_jobs: Vec<&JobId> = jobs.iter().map(|job| &job.id).collect();
    let operations: Vec<(Option<i64>, Option<Word<Payer>>)> = job_operation::table
        .filter(job_operation::shop_id.eq(shop_id))
        .filter(job_operation::job_id.eq_any(of_jobs.clone()))
        .select((job_operation::labor_amount_minor, job_operation::payer))
        .load(conn)?;
    let sublets: Vec<(Option<i64>, Option<Word<Payer>>)> = sublet::table
        .filter(sublet::shop_id.eq(shop_id).and(sublet::job_id.eq_any(of_jobs.clone())))
        .select((sublet::price_minor, sublet::payer))
        .load(conn)?;
    let parts: Vec<(Option<i64>, i64)> = part_use::table
        .filter(part_use::shop_id.eq(shop_id).and(part_use::job_id.eq_any(of_jobs)))
        .select((part_use::unit_price_minor, part_use::quantity_hundredths))
        .load(conn)?;
    let work = operations.into_iter().chain(sublets).filter_map(|(minor, payer)| {
        Some(Charge::Work { minor: minor?, payer: payer.map(|word| word.0) })
    });
    let parts = parts.into_iter().filter_map(|(price, quantity_hundredths)| {
        Some(Charge::Part { unit_minor: price?, quantity_hundredths })
    });
    Ok(charges::sum(order.authorized_minor, work.chain(parts)))
}

fn insert(write: &mut ShopWrite<'_>, row: &Authorization) -> Answer<()> {
    diesel::insert_into(order_authorization::table).values(row).execute(write.conn)?;
    let about = About::new("authorization", &row.id).order(&row.order_id);
    write.note(&about, "added", None, Some(row))
}

/// Keeps the amount that an order was opened or changed with.
///
/// # Errors
/// Where the database does not answer.
pub fn keep(write: &mut ShopWrite<'_>, order: &Order) -> Answer<()> {
    let Some(amount_minor) = order.authorized_minor else { return Ok(()) };
    let or_not = |text: &Option<String>| text.clone().unwrap_or_else(|| NOT_RECORDED.to_owned());
    let row = Authorization {
        shop_id: order.shop_id,
        id: AuthorizationId::make(),
        order_id: order.id.clone(),
        amount_minor: Some(amount_minor),
        authorized_by: or_not(&order.authorized_by),
        authorized_how: or_not(&order.authorized_how),
        authorized_at: order.authorized_at.unwrap_or(write.now),
        note: None,
        person_id: write.person.clone(),
    };
    insert(write, &row)
}

fn parsed(write: &ShopWrite<'_>, order: &Order, new: &NewAuthorization) -> Answer<Authorization> {
    let mut faults: Vec<FieldFault> =
        amount_fault("amount_minor", Some(new.amount_minor)).into_iter().collect();
    let mut owed = |field: &str, value: &str| {
        text::required(field, value, 200).unwrap_or_else(|fault| {
            faults.push(fault);
            String::new()
        })
    };
    let authorized_by = owed("authorized_by", &new.authorized_by);
    let authorized_how = owed("authorized_how", &new.authorized_how);
    let authorized_at = new.authorized_at.unwrap_or(write.now);
    if authorized_at.minutes_since(write.now) > 1 {
        faults.push(FieldFault::new("authorized_at", "range", "write a time that has come"));
    }
    no_faults(faults)?;
    Ok(Authorization {
        shop_id: order.shop_id,
        id: AuthorizationId::make(),
        order_id: order.id.clone(),
        amount_minor: Some(new.amount_minor),
        authorized_by,
        authorized_how,
        authorized_at,
        note: optional("note", new.note.as_deref(), 1000)?,
        person_id: write.person.clone(),
    })
}

/// Adds an amount. The one that was agreed to last stands on the order.
///
/// # Errors
/// Not found; faulty fields; a conflict where the order is handed over or void.
pub fn add(
    write: &mut ShopWrite<'_>,
    id: &OrderId,
    new: &NewAuthorization,
) -> Answer<Authorization> {
    let before = writable(write, id)?;
    let row = parsed(write, &before, new)?;
    let mut after = before.clone();
    if before.authorized_at.is_none_or(|at| at <= row.authorized_at) {
        after.authorized_minor = row.amount_minor;
        after.authorized_by = Some(row.authorized_by.clone());
        after.authorized_how = Some(row.authorized_how.clone());
        after.authorized_at = Some(row.authorized_at);
    }
    insert(write, &row)?;
    save(write, "changed", &before, after)?;
    Ok(row)
}
