//! Pay-backs: what a supplier paid back for a job.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use crate::db::schema::pay_back;
use crate::db::{Answer, Conn};
use crate::domain::day;
use crate::domain::ids::{JobId, PayBackId};
use crate::domain::money::MOST_MINOR;
use crate::domain::refusal::FieldFault;
use crate::domain::text;
use crate::jobs::model::{self as jobs, no_faults, optional};
use crate::jobs::parts::MoneyRights;
use crate::orders::change::not_void;
use crate::shops::write::{About, ShopWrite};

/// What a supplier paid back.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = pay_back)]
pub struct PayBack {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: PayBackId,
    pub job_id: JobId,
    pub supplier: String,
    /// Minor units of the shop's currency; null for who may not see costs.
    #[diesel(deserialize_as = i64)]
    pub amount_minor: Option<i64>,
    /// Shop-local day.
    pub paid_on: NaiveDate,
    pub note: Option<String>,
    pub version: i32,
}

/// A pay-back as recorded.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPayBack {
    pub supplier: String,
    #[schema(minimum = 1, maximum = 1_000_000_000_000_i64)]
    pub amount_minor: i64,
    /// From the opening of the order to today.
    pub paid_on: NaiveDate,
    pub note: Option<String>,
}

impl PayBack {
    /// Without what the asker may not see.
    #[must_use]
    pub fn for_eyes(mut self, rights: MoneyRights) -> Self {
        if !rights.costs {
            self.amount_minor = None;
        }
        self
    }
}

/// A job's pay-backs, by day.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<PayBack>> {
    Ok(pay_back::table
        .filter(pay_back::shop_id.eq(shop_id).and(pay_back::job_id.eq(job)))
        .order((pay_back::paid_on, pay_back::id))
        .select(PayBack::as_select())
        .load(conn)?)
}

fn faults(new: &NewPayBack, opened_on: NaiveDate, today: NaiveDate) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    if !(1..=MOST_MINOR).contains(&new.amount_minor) {
        faults.push(FieldFault::new(
            "amount_minor",
            "range",
            "write an amount between 1 and 1000000000000",
        ));
    }
    faults.extend(day::past("paid_on", new.paid_on, today).err());
    if new.paid_on < opened_on {
        let detail = format!("the order was opened on {opened_on}: write that day or later");
        faults.push(FieldFault::new("paid_on", "range", detail));
    }
    faults
}

/// Adds a pay-back.
///
/// # Errors
/// Not found; faulty fields; a conflict where the order is void.
pub fn add(write: &mut ShopWrite<'_>, job: &JobId, new: &NewPayBack) -> Answer<PayBack> {
    let shop_id = write.shop.id;
    let of = jobs::by_id(write.conn, shop_id, job)?;
    let order = not_void(write, &of.order_id)?;
    let mut faults = faults(new, order.opened_on, write.shop.zone().day(write.now));
    let supplier = text::required("supplier", &new.supplier, 200).unwrap_or_else(|fault| {
        faults.insert(0, fault);
        String::new()
    });
    no_faults(faults)?;
    let row = PayBack {
        shop_id,
        id: PayBackId::make(),
        job_id: job.clone(),
        supplier,
        amount_minor: Some(new.amount_minor),
        paid_on: new.paid_on,
        note: optional("note", new.note.as_deref(), 1000)?,
        version: 1,
    };
    diesel::insert_into(pay_back::table).values(&row).execute(write.conn)?;
    let about = About::new("pay_back", &row.id).order(&of.order_id).job(job);
    write.note(&about, "added", None, Some(&row))?;
    write.stamp_job(job)?;
    Ok(row)
}

/// Takes a pay-back back.
///
/// # Errors
/// Not found; a conflict where the order is void.
pub fn remove(write: &mut ShopWrite<'_>, job: &JobId, id: &PayBackId) -> Answer<()> {
    let of = jobs::by_id(write.conn, write.shop.id, job)?;
    not_void(write, &of.order_id)?;
    let row: PayBack = pay_back::table
        .find((write.shop.id, id))
        .filter(pay_back::job_id.eq(job))
        .select(PayBack::as_select())
        .first(write.conn)?;
    diesel::delete(pay_back::table.find((write.shop.id, id))).execute(write.conn)?;
    let about = About::new("pay_back", id).order(&of.order_id).job(job);
    write.note(&about, "removed", Some(&row), None)?;
    write.stamp_job(job)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn an_amount_on_a_day_since_the_visit() {
        let day = |n| NaiveDate::from_ymd_opt(2026, 3, n).unwrap();
        let pointers = |amount_minor, on| -> Vec<String> {
            let new =
                NewPayBack { supplier: "any".into(), amount_minor, paid_on: day(on), note: None };
            faults(&new, day(5), day(20)).into_iter().map(|fault| fault.pointer).collect()
        };
        assert!(pointers(1, 5).is_empty() && pointers(MOST_MINOR, 20).is_empty());
        assert_eq!(pointers(0, 4), ["/amount_minor", "/paid_on"]);
        assert_eq!(pointers(MOST_MINOR + 1, 21), ["/amount_minor", "/paid_on"]);
    }
}
