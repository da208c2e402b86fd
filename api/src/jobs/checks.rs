//! Checks: the diagnostic steps of a job, in their order.

use analytics::words::Finding;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::model::{Job, gather, known_code, no_faults, optional};
use super::writable::{self, Writable};
use crate::db::schema::job_check;
use crate::db::types::Word;
use crate::db::{Answer, Conn, insert_rows};
use crate::domain::ids::{CheckId, JobId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::shops::write::{About, ShopWrite};
use crate::web::body::present;

/// A check.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = job_check, primary_key(shop_id, id), treat_none_as_null = true)]
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

/// A change to a check. Absent fields stay, null removes.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CheckPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub code: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub position: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Finding>)]
    pub finding: Option<Option<Finding>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub not_done_reason: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i32>, minimum = 0, maximum = 10000)]
    pub minutes: Option<Option<i32>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<f64>)]
    pub reading: Option<Option<f64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub unit: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<f64>)]
    pub low_limit: Option<Option<f64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<f64>)]
    pub high_limit: Option<Option<f64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub limit_source: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<bool>)]
    pub typed_at_close: Option<Option<bool>>,
}

impl CheckPatch {
    /// The check as it is to be.
    fn over(self, row: &Check) -> NewCheck {
        let code = self.code.unwrap_or_else(|| Some(row.code.clone()));
        NewCheck {
            code: code.unwrap_or_default(),
            position: self.position.unwrap_or_else(|| row.position.clone()),
            finding: self.finding.unwrap_or(row.finding.map(|word| word.0)),
            not_done_reason: self.not_done_reason.unwrap_or_else(|| row.not_done_reason.clone()),
            minutes: self.minutes.unwrap_or(row.minutes),
            reading: self.reading.unwrap_or(row.reading),
            unit: self.unit.unwrap_or_else(|| row.unit.clone()),
            low_limit: self.low_limit.unwrap_or(row.low_limit),
            high_limit: self.high_limit.unwrap_or(row.high_limit),
            limit_source: self.limit_source.unwrap_or_else(|| row.limit_source.clone()),
            typed_at_close: self
                .typed_at_close
                .map_or(row.typed_at_close, Option::unwrap_or_default),
        }
    }
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

/// Checks of several jobs, those of each in the order made.
///
/// # Errors
/// Where the database does not answer.
pub fn of_jobs<'a>(
    conn: &mut Conn,
    shop_id: i32,
    jobs: impl Iterator<Item = &'a JobId>,
) -> Answer<Vec<Check>> {
    Ok(job_check::table
        .filter(job_check::shop_id.eq(shop_id).and(job_check::job_id.eq_any(jobs)))
        .order((job_check::job_id, job_check::seq))
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

fn fill(write: &mut ShopWrite<'_>, row: &mut Check, new: &NewCheck) -> Answer<()> {
    no_faults(faults(new))?;
    let Some(code) = optional("code", Some(&new.code), 80)? else {
        return Err(Refusal::field("code", "required", "choose a check").into());
    };
    if code != row.code {
        known_code(write, "check", "code", Some(&code))?;
    }
    row.code = code;
    row.position = optional("position", new.position.as_deref(), 100)?;
    row.finding = new.finding.map(Word);
    row.not_done_reason = optional("not_done_reason", new.not_done_reason.as_deref(), 1000)?;
    row.minutes = new.minutes;
    row.reading = new.reading;
    row.unit = optional("unit", new.unit.as_deref(), 40)?;
    row.low_limit = new.low_limit;
    row.high_limit = new.high_limit;
    row.limit_source = optional("limit_source", new.limit_source.as_deref(), 400)?;
    row.typed_at_close = new.typed_at_close;
    Ok(())
}

/// Adds a check at the end of the path.
///
/// # Errors
/// Faulty fields; a conflict where the job has ended and the writer may not
/// correct it.
pub fn add(write: &mut ShopWrite<'_>, job: &JobId, new: &NewCheck) -> Answer<Check> {
    let target = writable::open(write, job)?;
    let mut row = blank(write, job, CheckId::make());
    fill(write, &mut row, new)?;
    row.seq = next_place(write, job)?;
    insert(write, &target, row)
}

fn blank(write: &ShopWrite<'_>, job: &JobId, id: CheckId) -> Check {
    Check {
        shop_id: write.shop.id,
        id,
        job_id: job.clone(),
        seq: 0,
        code: String::new(),
        position: None,
        finding: None,
        not_done_reason: None,
        minutes: None,
        reading: None,
        unit: None,
        low_limit: None,
        high_limit: None,
        limit_source: None,
        typed_at_close: false,
        version: 1,
    }
}

fn next_place(write: &mut ShopWrite<'_>, job: &JobId) -> Answer<i32> {
    let last: Option<i32> = job_check::table
        .filter(job_check::shop_id.eq(write.shop.id).and(job_check::job_id.eq(job)))
        .select(diesel::dsl::max(job_check::seq))
        .first(write.conn)?;
    Ok(last.unwrap_or(0) + 1)
}

fn insert(write: &mut ShopWrite<'_>, target: &Writable, row: Check) -> Answer<Check> {
    diesel::insert_into(job_check::table).values(&row).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("check", &row.id), "added", None, Some(&row))?;
    Ok(row)
}

/// Puts a check back that was taken back: under its id, at its place where
/// that is still free.
///
/// # Errors
/// Faulty fields, or where the database does not answer.
pub(super) fn put_back(
    write: &mut ShopWrite<'_>,
    target: &Writable,
    (id, seq): (&CheckId, Option<i32>),
    new: &NewCheck,
) -> Answer<Check> {
    let job = &target.job.id;
    let mut row = blank(write, job, id.clone());
    // It may have left the list since.
    row.code.clone_from(&new.code);
    fill(write, &mut row, new)?;
    let taken = of_job(write.conn, write.shop.id, job)?;
    let free = seq.filter(|seq| taken.iter().all(|other| other.seq != *seq));
    row.seq = match free {
        Some(seq) => seq,
        None => next_place(write, job)?,
    };
    insert(write, target, row)
}

/// The rows of checks that are typed in at close, behind those that stand;
/// faults are pointed at in the list `checks`.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn typed_at_close(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    last: i32,
    (new, faults): (&[NewCheck], &mut Vec<FieldFault>),
) -> Answer<Vec<Check>> {
    let mut rows = Vec::with_capacity(new.len());
    for ((place, new), seq) in new.iter().enumerate().zip(last + 1..) {
        let mut row = Check { seq, ..blank(write, job, CheckId::make()) };
        let filled = fill(write, &mut row, new);
        gather(filled, &format!("/checks/{place}"), faults)?;
        row.typed_at_close = true;
        rows.push(row);
    }
    Ok(rows)
}

/// Inserts new checks of a job and notes each; the job's stamp is the caller's.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn insert_all(write: &mut ShopWrite<'_>, job: &Job, rows: &[Check]) -> Answer<()> {
    insert_rows!(&mut *write.conn, job_check, rows.iter());
    let about = |row: &Check| About::new("check", &row.id).job(&job.id).order(&job.order_id);
    write.note_new("added", rows.iter().map(|row| (about(row), row)))
}

fn of(write: &mut ShopWrite<'_>, job: &JobId, id: &CheckId) -> Answer<Check> {
    Ok(job_check::table
        .find((write.shop.id, id))
        .filter(job_check::job_id.eq(job))
        .select(Check::as_select())
        .first(write.conn)?)
}

/// Applies a merge patch to a check, on the job's version.
///
/// # Errors
/// Not found, stale, faulty fields, a conflict where the job has ended and the
/// writer may not correct it.
pub fn change(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &CheckId,
    seen: i32,
    change: CheckPatch,
) -> Answer<Check> {
    let target = writable::open(write, job)?;
    target.seen(seen)?;
    let before = of(write, job, id)?;
    let mut row = before.clone();
    fill(write, &mut row, &change.over(&before))?;
    row.version += 1;
    diesel::update(job_check::table.find((row.shop_id, &row.id))).set(&row).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("check", &row.id), "changed", Some(&before), Some(&row))?;
    Ok(row)
}

/// Takes a check back.
///
/// # Errors
/// Not found; a conflict where the job has ended and the writer may not correct
/// it.
pub fn remove(write: &mut ShopWrite<'_>, job: &JobId, id: &CheckId) -> Answer<()> {
    let target = writable::open(write, job)?;
    let row = of(write, job, id)?;
    diesel::delete(job_check::table.find((row.shop_id, &row.id))).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("check", &row.id), "removed", Some(&row), None)
}
