//! What a job waited for, and how long. Waiting is no clock time: while a job
//! waits nobody's time runs on it.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::labor;
use super::model::{Job, WAITS, optional};
use super::writable;
use crate::db::schema::{job, job_wait};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::day::known;
use crate::domain::ids::{JobId, WaitId};
use crate::domain::refusal::Refusal;
use crate::shops::write::{About, ShopWrite};

/// A wait; without an end it runs.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = job_wait)]
pub struct Wait {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: WaitId,
    pub job_id: JobId,
    /// `part`, `customer`, `sublet` or `bay`.
    pub waiting_for: String,
    pub note: Option<String>,
    /// When it is expected to end.
    pub expected_on: Option<NaiveDate>,
    pub from_at: UtcStamp,
    pub to_at: Option<UtcStamp>,
}

/// The start of a wait, now.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewWait {
    /// `part`, `customer`, `sublet` or `bay`.
    pub waiting_for: String,
    pub note: Option<String>,
    pub expected_on: Option<NaiveDate>,
}

impl NewWait {
    /// A wait of which nothing else is known.
    #[must_use]
    pub fn of(waiting_for: &str) -> Self {
        Self { waiting_for: waiting_for.to_owned(), note: None, expected_on: None }
    }
}

/// A job's waits, in order of time.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<Wait>> {
    Ok(job_wait::table
        .filter(job_wait::shop_id.eq(shop_id).and(job_wait::job_id.eq(job)))
        .order((job_wait::from_at, job_wait::id))
        .select(Wait::as_select())
        .load(conn)?)
}

/// The waits of the shop that run.
///
/// # Errors
/// Where the database does not answer.
pub fn running(conn: &mut Conn, shop_id: i32) -> Answer<Vec<Wait>> {
    Ok(job_wait::table
        .filter(job_wait::shop_id.eq(shop_id).and(job_wait::to_at.is_null()))
        .order((job_wait::from_at, job_wait::id))
        .select(Wait::as_select())
        .load(conn)?)
}

fn mirror(write: &mut ShopWrite<'_>, id: &JobId, waiting_for: Option<&str>) -> Answer<()> {
    diesel::update(job::table.find((write.shop.id, id)))
        .set(job::waiting_for.eq(waiting_for))
        .execute(write.conn)?;
    write.stamp_job(id)
}

/// Starts a wait; labor that runs on the job ends with it.
///
/// # Errors
/// Faulty fields; a conflict where the job has ended or waits already.
pub fn start(write: &mut ShopWrite<'_>, job: &JobId, new: NewWait) -> Answer<Wait> {
    let target = writable::unfinished(write, job)?;
    if let Some(word) = &target.waiting_for {
        return Err(Refusal::Conflict(format!(
            "the job waits for the {word} already: end that wait first"
        ))
        .into());
    }
    let row = begin(write, &target, new)?;
    mirror(write, job, Some(&row.waiting_for))?;
    Ok(row)
}

/// The rows of a start; the job's own row is the caller's.
///
/// # Errors
/// As [`start`].
pub(super) fn begin(write: &mut ShopWrite<'_>, target: &Job, new: NewWait) -> Answer<Wait> {
    if !WAITS.contains(&new.waiting_for.as_str()) {
        return Err(Refusal::field(
            "waiting_for",
            "word",
            format!("choose one of: {}", WAITS.join(", ")),
        )
        .into());
    }
    let today = write.shop.zone().day(write.now);
    if new.expected_on.is_some_and(|day| day < today) {
        return Err(Refusal::field("expected_on", "range", "give today or a later day").into());
    }
    if let Some(Err(fault)) = new.expected_on.map(|day| known("expected_on", day)) {
        return Err(Refusal::Invalid(vec![fault]).into());
    }
    labor::end_running(write, target)?;
    let row = Wait {
        shop_id: write.shop.id,
        id: WaitId::make(),
        job_id: target.id.clone(),
        note: optional("note", new.note.as_deref(), 1000)?,
        waiting_for: new.waiting_for,
        expected_on: new.expected_on,
        from_at: write.now,
        to_at: None,
    };
    diesel::insert_into(job_wait::table).values(&row).execute(write.conn)?;
    let about = About::new("wait", &row.id).job(&target.id).order(&target.order_id);
    write.note(&about, "added", None, Some(&row))?;
    Ok(row)
}

fn finish(write: &mut ShopWrite<'_>, target: &Job, row: &Wait, at: UtcStamp) -> Answer<Wait> {
    // A clock that was set back must not make a wait end before it began.
    let ended = Wait { to_at: Some(at.max(row.from_at)), ..row.clone() };
    diesel::update(job_wait::table.find((row.shop_id, &row.id)))
        .set(job_wait::to_at.eq(ended.to_at))
        .execute(write.conn)?;
    let about = About::new("wait", &row.id).job(&target.id).order(&target.order_id);
    write.note(&about, "ended", Some(row), Some(&ended))?;
    Ok(ended)
}

/// Ends the wait that runs, where one does; the job's own row is the caller's.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn end_running(write: &mut ShopWrite<'_>, target: &Job, at: UtcStamp) -> Answer<()> {
    if target.waiting_for.is_none() {
        return Ok(());
    }
    let running: Option<Wait> = job_wait::table
        .filter(job_wait::shop_id.eq(write.shop.id).and(job_wait::job_id.eq(&target.id)))
        .filter(job_wait::to_at.is_null())
        .select(Wait::as_select())
        .first(write.conn)
        .optional()?;
    if let Some(row) = running {
        finish(write, target, &row, at)?;
    }
    Ok(())
}

/// Work begins: what the job waited for is there.
///
/// # Errors
/// Where the database does not answer.
pub(crate) fn work_begins(write: &mut ShopWrite<'_>, target: &Job, at: UtcStamp) -> Answer<()> {
    if target.waiting_for.is_none() {
        return Ok(());
    }
    end_running(write, target, at)?;
    diesel::update(job::table.find((write.shop.id, &target.id)))
        .set(job::waiting_for.eq(None::<String>))
        .execute(write.conn)?;
    Ok(())
}

/// Ends a wait now.
///
/// # Errors
/// Not found; a conflict where it has ended.
pub fn end(write: &mut ShopWrite<'_>, job: &JobId, id: &WaitId) -> Answer<Wait> {
    let target = writable::unfinished(write, job)?;
    let row: Wait = job_wait::table
        .find((write.shop.id, id))
        .filter(job_wait::job_id.eq(job))
        .select(Wait::as_select())
        .first(write.conn)?;
    if row.to_at.is_some() {
        return Err(Refusal::Conflict("this wait has ended already".into()).into());
    }
    let ended = finish(write, &target, &row, write.now)?;
    mirror(write, job, None)?;
    Ok(ended)
}
