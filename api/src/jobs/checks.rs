//! Checks: the diagnostic steps of a job, in their order.

use analytics::words::Finding;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::model::{known_code, no_faults, open_job, optional};
use crate::db::schema::job_check;
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::{CheckId, JobId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::shops::write::ShopWrite;

/// A check.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = job_check)]
pub struct Check {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: CheckId,
    pub job_id: JobId,
    pub seq: i32,
    pub code: String,
    pub position: Option<String>,
    #[schema(value_type = Option<Finding>)]
    pub finding: Option<Word<Finding>>,
    pub not_done_reason: Option<String>,
    /// Hands-on minutes, waiting apart.
    pub minutes: Option<i32>,
    pub reading: Option<f64>,
    /// UCUM code.
    pub unit: Option<String>,
    pub low_limit: Option<f64>,
    pub high_limit: Option<f64>,
    pub limit_source: Option<String>,
    /// Typed in together at close: order and time not measured.
    pub typed_at_close: bool,
    pub version: i32,
}

/// A check as recorded.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCheck {
    /// A code of the shop's list of checks.
    pub code: String,
    pub position: Option<String>,
    pub finding: Option<Finding>,
    /// Owed with the finding `not_done`.
    pub not_done_reason: Option<String>,
    #[schema(minimum = 0, maximum = 10000)]
    pub minutes: Option<i32>,
    pub reading: Option<f64>,
    pub unit: Option<String>,
    pub low_limit: Option<f64>,
    pub high_limit: Option<f64>,
    pub limit_source: Option<String>,
    #[serde(default)]
    #[schema(required = false)]
    pub typed_at_close: bool,
}

/// A job's checks, in their order.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<Check>> {
    Ok(job_check::table
        .filter(job_check::shop_id.eq(shop_id).and(job_check::job_id.eq(job)))
        .order(job_check::seq)
        .select(Check::as_select())
        .load(conn)?)
}

fn faults(new: &NewCheck) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    if new.minutes.is_some_and(|m| !(0..=10_000).contains(&m)) {
        faults.push(FieldFault::new("minutes", "range", "write minutes between 0 and 10000"));
    }
    let reason = new.not_done_reason.as_deref().unwrap_or("").trim();
    if new.finding == Some(Finding::NotDone) && reason.is_empty() {
        faults.push(FieldFault::new("not_done_reason", "required", "say why it was not done"));
    }
    if new.reading.is_some() && new.unit.as_deref().unwrap_or("").trim().is_empty() {
        faults.push(FieldFault::new(
            "unit",
            "required",
            "give the reading's unit (1 where it has none)",
        ));
    }
    if let (Some(low), Some(high)) = (new.low_limit, new.high_limit)
        && low > high
    {
        faults.push(FieldFault::new(
            "high_limit",
            "range",
            "the upper limit lies below the lower one",
        ));
    }
    faults
}

/// Adds a check at the end of the path.
///
/// # Errors
/// Faulty fields; a conflict where the job is finished.
pub fn add(write: &mut ShopWrite<'_>, job: &JobId, new: &NewCheck) -> Answer<Check> {
    open_job(write, job)?;
    no_faults(faults(new))?;
    let code = optional("code", Some(&new.code), 80)?;
    let Some(code) = code else {
        return Err(Refusal::field("code", "required", "choose a check").into());
    };
    known_code(write, "check", "code", Some(&code))?;
    let last: Option<i32> = job_check::table
        .filter(job_check::shop_id.eq(write.shop.id).and(job_check::job_id.eq(job)))
        .select(diesel::dsl::max(job_check::seq))
        .first(write.conn)?;
    let row = Check {
        shop_id: write.shop.id,
        id: CheckId::make(),
        job_id: job.clone(),
        seq: last.unwrap_or(0) + 1,
        code,
        position: optional("position", new.position.as_deref(), 100)?,
        finding: new.finding.map(Word),
        not_done_reason: optional("not_done_reason", new.not_done_reason.as_deref(), 1000)?,
        minutes: new.minutes,
        reading: new.reading,
        unit: optional("unit", new.unit.as_deref(), 40)?,
        low_limit: new.low_limit,
        high_limit: new.high_limit,
        limit_source: optional("limit_source", new.limit_source.as_deref(), 400)?,
        typed_at_close: new.typed_at_close,
        version: 1,
    };
    diesel::insert_into(job_check::table).values(&row).execute(write.conn)?;
    write.stamp_job(job)?;
    Ok(row)
}

/// Takes a check back.
///
/// # Errors
/// Not found; a conflict where the job is finished.
pub fn remove(write: &mut ShopWrite<'_>, job: &JobId, id: &CheckId) -> Answer<()> {
    open_job(write, job)?;
    let place = job_check::table
        .filter(job_check::shop_id.eq(write.shop.id))
        .filter(job_check::job_id.eq(job).and(job_check::id.eq(id)));
    let hit = diesel::delete(place).execute(write.conn)?;
    if hit == 0 {
        return Err(Refusal::NotFound.into());
    }
    write.stamp_job(job)
}
