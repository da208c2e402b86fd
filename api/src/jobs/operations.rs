//! Operations: what is charged on a job.

use analytics::words::Payer;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::model::{no_faults, open_job};
use super::parts::MoneyRights;
use crate::codes::model::not_barred;
use crate::db::schema::job_operation;
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::codes;
use crate::domain::ids::{JobId, OperationId};
use crate::domain::money::MOST_MINOR;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::shops::write::ShopWrite;

/// A charged operation. Hours are hundredths; the amount is minor units of the
/// shop's currency, null for who may not see it.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = job_operation)]
pub struct Operation {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: OperationId,
    pub job_id: JobId,
    pub line: i32,
    pub code: String,
    pub flat_rate_hundredths: Option<i64>,
    pub billed_hundredths: Option<i64>,
    pub labor_amount_minor: Option<i64>,
    #[schema(value_type = Option<Payer>)]
    pub payer: Option<Word<Payer>>,
    pub version: i32,
}

/// An operation as recorded.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOperation {
    pub code: String,
    #[schema(minimum = 0, maximum = 1_000_000)]
    pub flat_rate_hundredths: Option<i64>,
    #[schema(minimum = 0, maximum = 1_000_000)]
    pub billed_hundredths: Option<i64>,
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub labor_amount_minor: Option<i64>,
    pub payer: Option<Payer>,
}

impl Operation {
    /// Without what the asker may not see.
    #[must_use]
    pub fn for_eyes(mut self, rights: MoneyRights) -> Self {
        if !rights.prices {
            self.labor_amount_minor = None;
        }
        self
    }
}

/// A job's operations, by line.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<Operation>> {
    Ok(job_operation::table
        .filter(job_operation::shop_id.eq(shop_id).and(job_operation::job_id.eq(job)))
        .order(job_operation::line)
        .select(Operation::as_select())
        .load(conn)?)
}

fn faults(new: &NewOperation, rights: MoneyRights) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    for (field, hours) in [
        ("flat_rate_hundredths", new.flat_rate_hundredths),
        ("billed_hundredths", new.billed_hundredths),
    ] {
        if hours.is_some_and(|h| !(0..=1_000_000).contains(&h)) {
            faults.push(FieldFault::new(
                field,
                "range",
                "write hundredths of an hour between 0 and 1000000",
            ));
        }
    }
    if new.labor_amount_minor.is_some_and(|m| !(0..=MOST_MINOR).contains(&m)) {
        faults.push(FieldFault::new(
            "labor_amount_minor",
            "range",
            "write an amount between zero and 1000000000000",
        ));
    }
    if new.labor_amount_minor.is_some() && !rights.prices {
        faults.push(FieldFault::new(
            "labor_amount_minor",
            "forbidden",
            "leave the amount to the adviser",
        ));
    }
    faults
}

/// Adds an operation.
///
/// # Errors
/// Faulty fields; a conflict where the job is finished.
pub fn add(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    new: &NewOperation,
    rights: MoneyRights,
) -> Answer<Operation> {
    open_job(write, job)?;
    no_faults(faults(new, rights))?;
    let code = codes::parse("code", &new.code).map_err(|fault| Refusal::Invalid(vec![fault]))?;
    not_barred(write.conn, write.shop.id, "operation", "code", &code)?;
    let last: Option<i32> = job_operation::table
        .filter(job_operation::shop_id.eq(write.shop.id).and(job_operation::job_id.eq(job)))
        .select(diesel::dsl::max(job_operation::line))
        .first(write.conn)?;
    let row = Operation {
        shop_id: write.shop.id,
        id: OperationId::make(),
        job_id: job.clone(),
        line: last.unwrap_or(0) + 1,
        code,
        flat_rate_hundredths: new.flat_rate_hundredths,
        billed_hundredths: new.billed_hundredths,
        labor_amount_minor: new.labor_amount_minor,
        payer: new.payer.map(Word),
        version: 1,
    };
    diesel::insert_into(job_operation::table).values(&row).execute(write.conn)?;
    write.stamp_job(job)?;
    Ok(row.for_eyes(rights))
}

/// Takes an operation back.
///
/// # Errors
/// Not found; a conflict where the job is finished.
pub fn remove(write: &mut ShopWrite<'_>, job: &JobId, id: &OperationId) -> Answer<()> {
    open_job(write, job)?;
    let place = job_operation::table
        .filter(job_operation::shop_id.eq(write.shop.id))
        .filter(job_operation::job_id.eq(job).and(job_operation::id.eq(id)));
    let hit = diesel::delete(place).execute(write.conn)?;
    if hit == 0 {
        return Err(Refusal::NotFound.into());
    }
    write.stamp_job(job)
}
