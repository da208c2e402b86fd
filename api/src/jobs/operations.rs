//! Operations: what is charged on a job.

use analytics::words::Payer;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::model::no_faults;
use super::parts::MoneyRights;
use super::writable::{self, Writable};
use crate::codes::model::not_barred;
use crate::db::schema::job_operation;
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::codes;
use crate::domain::ids::{JobId, OperationId};
use crate::domain::money::MOST_MINOR;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::shops::write::ShopWrite;
use crate::web::body::present;

/// A charged operation. Hours are hundredths; the amount is minor units of the
/// shop's currency, null for who may not see it.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = job_operation, primary_key(shop_id, id), treat_none_as_null = true)]
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

/// A change to an operation. Absent fields stay, null removes.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OperationPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub code: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000)]
    pub flat_rate_hundredths: Option<Option<i64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000)]
    pub billed_hundredths: Option<Option<i64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub labor_amount_minor: Option<Option<i64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Payer>)]
    pub payer: Option<Option<Payer>>,
}

impl OperationPatch {
    /// The operation as it is to be.
    fn over(self, row: &Operation) -> NewOperation {
        let code = self.code.unwrap_or_else(|| Some(row.code.clone()));
        NewOperation {
            code: code.unwrap_or_default(),
            flat_rate_hundredths: self.flat_rate_hundredths.unwrap_or(row.flat_rate_hundredths),
            billed_hundredths: self.billed_hundredths.unwrap_or(row.billed_hundredths),
            labor_amount_minor: self.labor_amount_minor.unwrap_or(row.labor_amount_minor),
            payer: self.payer.unwrap_or(row.payer.map(|word| word.0)),
        }
    }
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

fn hours_fault(field: &str, hours: Option<i64>) -> Option<FieldFault> {
    hours.is_some_and(|h| !(0..=1_000_000).contains(&h)).then(|| {
        FieldFault::new(field, "range", "write hundredths of an hour between 0 and 1000000")
    })
}

fn faults(new: &NewOperation) -> Vec<FieldFault> {
    let mut faults: Vec<FieldFault> = [
        hours_fault("flat_rate_hundredths", new.flat_rate_hundredths),
        hours_fault("billed_hundredths", new.billed_hundredths),
    ]
    .into_iter()
    .flatten()
    .collect();
    if new.labor_amount_minor.is_some_and(|m| !(0..=MOST_MINOR).contains(&m)) {
        faults.push(FieldFault::new(
            "labor_amount_minor",
            "range",
            "write an amount between zero and 1000000000000",
        ));
    }
    faults
}

/// The amount is not for everybody to write.
fn amount_fault(written: bool, rights: MoneyRights) -> Vec<FieldFault> {
    let fault =
        || FieldFault::new("labor_amount_minor", "forbidden", "leave the amount to the adviser");
    if written && !rights.prices { vec![fault()] } else { Vec::new() }
}

fn fill(row: &mut Operation, new: &NewOperation) -> Answer<()> {
    no_faults(faults(new))?;
    if new.code != row.code {
        row.code = codes::parse("code", &new.code).map_err(|f| Refusal::Invalid(vec![f]))?;
    }
    row.flat_rate_hundredths = new.flat_rate_hundredths;
    row.billed_hundredths = new.billed_hundredths;
    row.labor_amount_minor = new.labor_amount_minor;
    row.payer = new.payer.map(Word);
    Ok(())
}

/// Adds an operation.
///
/// # Errors
/// Faulty fields; a conflict where the job has ended and the writer may not
/// correct it.
pub fn add(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    new: &NewOperation,
    rights: MoneyRights,
) -> Answer<Operation> {
    let target = writable::open(write, job)?;
    no_faults(amount_fault(new.labor_amount_minor.is_some(), rights))?;
    no_faults(faults(new))?;
    let code = codes::parse("code", &new.code).map_err(|f| Refusal::Invalid(vec![f]))?;
    not_barred(write.conn, write.shop.id, "operation", "code", &code)?;
    insert(write, &target, OperationId::make(), new, rights)
}

/// As [`add`], under that id, and whoever writes the amount.
///
/// # Errors
/// As there.
pub(super) fn insert(
    write: &mut ShopWrite<'_>,
    target: &Writable,
    id: OperationId,
    new: &NewOperation,
    rights: MoneyRights,
) -> Answer<Operation> {
    let job = &target.job.id;
    let mut row = Operation {
        shop_id: write.shop.id,
        id,
        job_id: job.clone(),
        line: 0,
        code: String::new(),
        flat_rate_hundredths: None,
        billed_hundredths: None,
        labor_amount_minor: None,
        payer: None,
        version: 1,
    };
    fill(&mut row, new)?;
    let last: Option<i32> = job_operation::table
        .filter(job_operation::shop_id.eq(write.shop.id).and(job_operation::job_id.eq(job)))
        .select(diesel::dsl::max(job_operation::line))
        .first(write.conn)?;
    row.line = last.unwrap_or(0) + 1;
    diesel::insert_into(job_operation::table).values(&row).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("operation", &row.id), "added", None, Some(&row))?;
    Ok(row.for_eyes(rights))
}

fn of(write: &mut ShopWrite<'_>, job: &JobId, id: &OperationId) -> Answer<Operation> {
    Ok(job_operation::table
        .find((write.shop.id, id))
        .filter(job_operation::job_id.eq(job))
        .select(Operation::as_select())
        .first(write.conn)?)
}

/// Applies a merge patch to an operation, on the job's version.
///
/// # Errors
/// Not found, stale, faulty fields, a conflict where the job has ended and the
/// writer may not correct it.
pub fn change(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &OperationId,
    seen: i32,
    (change, rights): (OperationPatch, MoneyRights),
) -> Answer<Operation> {
    let target = writable::open(write, job)?;
    target.seen(seen)?;
    let before = of(write, job, id)?;
    no_faults(amount_fault(change.labor_amount_minor.is_some(), rights))?;
    let mut row = before.clone();
    fill(&mut row, &change.over(&before))?;
    if row.code != before.code {
        not_barred(write.conn, write.shop.id, "operation", "code", &row.code)?;
    }
    row.version += 1;
    diesel::update(job_operation::table.find((row.shop_id, &row.id)))
        .set(&row)
        .execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("operation", &row.id), "changed", Some(&before), Some(&row))?;
    Ok(row.for_eyes(rights))
}

/// Takes an operation back.
///
/// # Errors
/// Not found; a conflict where the job has ended and the writer may not correct
/// it.
pub fn remove(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &OperationId,
    rights: MoneyRights,
) -> Answer<()> {
    let target = writable::open(write, job)?;
    let row = of(write, job, id)?;
    rights.may_take(None, row.labor_amount_minor)?;
    diesel::delete(job_operation::table.find((row.shop_id, &row.id))).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("operation", &row.id), "removed", Some(&row), None)
}
