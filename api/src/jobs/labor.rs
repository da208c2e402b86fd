//! Labor entries: a technician's time on a job. One person works on one thing
//! at a time, so entries of a person never overlap.

use analytics::words::{Activity, WorkedAs};
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::crew::{Member, counts_as};
use super::model::{self, Job, known_person};
use super::stretch::{self, Stretch};
use super::writable;
use super::{people, waits};
use crate::db::schema::labor_entry;
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, LaborId, PersonId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::shops::write::{About, ShopWrite};

/// A labor entry; without an end it runs.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = labor_entry, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct LaborEntry {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: LaborId,
    pub job_id: JobId,
    pub person_id: PersonId,
    #[schema(value_type = Option<Activity>)]
    pub activity: Option<Word<Activity>>,
    #[schema(value_type = WorkedAs)]
    pub worked_as: Word<WorkedAs>,
    pub started_at: UtcStamp,
    /// Shop-local day of the start.
    #[serde(skip)]
    pub started_on: chrono::NaiveDate,
    pub ended_at: Option<UtcStamp>,
    pub version: i32,
    /// Under whom a trainee worked.
    pub supervisor_id: Option<PersonId>,
}

/// A start of work, or a stretch of work that is over.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewLabor {
    /// Absent: who asks.
    pub person_id: Option<PersonId>,
    pub activity: Option<Activity>,
    /// Absent: as the person was put on the job, else lead.
    pub worked_as: Option<WorkedAs>,
    /// Owed with `trainee`, unless the person was put on the job under one.
    pub supervisor_id: Option<PersonId>,
    /// Absent: now.
    pub started_at: Option<UtcStamp>,
    /// Absent: it runs until it is stopped.
    pub ended_at: Option<UtcStamp>,
}

/// A job's labor entries, by start.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<LaborEntry>> {
    Ok(labor_entry::table
        .filter(labor_entry::shop_id.eq(shop_id).and(labor_entry::job_id.eq(job)))
        .order((labor_entry::started_at, labor_entry::id))
        .select(LaborEntry::as_select())
        .load(conn)?)
}

/// The person's entry, where it has ended.
///
/// # Errors
/// Where the database does not answer.
pub fn ended(
    conn: &mut Conn,
    shop_id: i32,
    person: &PersonId,
    id: &LaborId,
) -> Answer<Option<LaborEntry>> {
    Ok(labor_entry::table
        .find((shop_id, id))
        .filter(labor_entry::person_id.eq(person).and(labor_entry::ended_at.is_not_null()))
        .select(LaborEntry::as_select())
        .first(conn)
        .optional()?)
}

/// Refuses where another entry of the person shares time with this one.
pub(super) fn refuse_overlap(write: &mut ShopWrite<'_>, row: &LaborEntry) -> Answer<()> {
    let mut query = labor_entry::table
        .filter(labor_entry::person_id.eq(&row.person_id).and(labor_entry::id.ne(&row.id)))
        .filter(labor_entry::ended_at.is_null().or(labor_entry::ended_at.gt(row.started_at)))
        .select(LaborEntry::as_select())
        .into_boxed();
    if let Some(to) = row.ended_at {
        query = query.filter(labor_entry::started_at.lt(to));
    }
    let other = query.order(labor_entry::started_at).first(write.conn).optional()?;
    let Some(other) = other else { return Ok(()) };
    let what = if other.ended_at.is_none() { "runs already" } else { "has that time already" };
    Err(Refusal::Conflict(format!(
        "another labor entry of this person {what}, from {}; stop or change it first",
        write.shop.style().moment(other.started_at)
    ))
    .into())
}

pub(super) fn fault(fault: FieldFault) -> Refusal {
    Refusal::Invalid(vec![fault])
}

pub(super) fn members(write: &mut ShopWrite<'_>, job: &JobId) -> Answer<Vec<Member>> {
    let rows = people::of_job(write.conn, write.shop.id, job)?;
    Ok(rows.iter().map(people::JobPerson::member).collect())
}

/// Starts work on a job, or records a stretch that is over. A start ends what
/// the job waits for.
///
/// # Errors
/// Faulty times; a conflict with another entry of the person, or where the job
/// has ended and the writer may not correct it.
pub fn start(write: &mut ShopWrite<'_>, job: &JobId, new: &NewLabor) -> Answer<LaborEntry> {
    let target = writable::open(write, job)?;
    let person = new.person_id.clone().unwrap_or_else(|| write.person.clone());
    known_person(write, "person_id", Some(&person))?;
    known_person(write, "supervisor_id", new.supervisor_id.as_ref())?;
    let from = new.started_at.unwrap_or(write.now);
    stretch::decide(Stretch {
        from,
        to: new.ended_at,
        now: write.now,
        from_typed: true,
        correction: target.reach.is_correction(),
    })
    .map_err(fault)?;
    let on_job = members(write, job)?;
    let said = (new.worked_as, new.supervisor_id.as_ref());
    let (worked_as, supervisor_id) = counts_as(&person, said, &on_job).map_err(fault)?;
    let row = LaborEntry {
        shop_id: write.shop.id,
        id: LaborId::make(),
        job_id: job.clone(),
        person_id: person,
        activity: new.activity.map(Word),
        worked_as: Word(worked_as),
        started_at: from,
        started_on: write.shop.zone().day(from),
        ended_at: new.ended_at,
        version: 1,
        supervisor_id,
    };
    refuse_overlap(write, &row)?;
    if row.ended_at.is_none() {
        waits::work_begins(write, &target.job, from)?;
    }
    diesel::insert_into(labor_entry::table).values(&row).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("labor", &row.id), "added", None, Some(&row))?;
    Ok(row)
}

/// Starts work on a job; what runs of the person in this shop, here or on
/// another job, ends with it.
///
/// # Errors
/// As [`start`]; a conflict where just that runs already.
pub fn switch(write: &mut ShopWrite<'_>, job: &JobId, new: &NewLabor) -> Answer<LaborEntry> {
    let person = new.person_id.as_ref().unwrap_or(write.person);
    let running: Option<LaborEntry> = labor_entry::table
        .filter(labor_entry::shop_id.eq(write.shop.id).and(labor_entry::person_id.eq(person)))
        .filter(labor_entry::ended_at.is_null())
        .select(LaborEntry::as_select())
        .first(write.conn)
        .optional()?;
    if let Some(row) = running {
        if row.job_id == *job && row.activity.map(|word| word.0) == new.activity {
            return Err(Refusal::Conflict("that clock runs already".into()).into());
        }
        let left = model::by_id(write.conn, write.shop.id, &row.job_id)?;
        let at = new.started_at.unwrap_or(write.now);
        finish(write, &left, &row, at)?;
        // The start stamps its own job: one tap, one version.
        if row.job_id != *job {
            write.stamp_job(&row.job_id)?;
        }
    }
    start(write, job, new)
}

/// Whether an entry began as another of the person ended: one tap changed over.
///
/// # Errors
/// Where the database does not answer.
pub fn took_over(conn: &mut Conn, shop_id: i32, id: &str) -> Answer<bool> {
    let began: Option<(PersonId, UtcStamp)> = labor_entry::table
        .filter(labor_entry::shop_id.eq(shop_id).and(labor_entry::id.eq(id)))
        .select((labor_entry::person_id, labor_entry::started_at))
        .first(conn)
        .optional()?;
    let Some((person, at)) = began else { return Ok(false) };
    let before: i64 = labor_entry::table
        .filter(labor_entry::shop_id.eq(shop_id).and(labor_entry::person_id.eq(person)))
        .filter(labor_entry::ended_at.eq(at))
        .count()
        .get_result(conn)?;
    Ok(before > 0)
}

pub(super) fn of(write: &mut ShopWrite<'_>, job: &JobId, id: &LaborId) -> Answer<LaborEntry> {
    Ok(labor_entry::table
        .find((write.shop.id, id))
        .filter(labor_entry::job_id.eq(job))
        .select(LaborEntry::as_select())
        .first(write.conn)?)
}

fn finish(
    write: &mut ShopWrite<'_>,
    target: &Job,
    row: &LaborEntry,
    at: UtcStamp,
) -> Answer<LaborEntry> {
    if at <= row.started_at {
        return Err(Refusal::Conflict(
            "this labor has only just started: stop it a moment later".into(),
        )
        .into());
    }
    let mut ended = row.clone();
    ended.ended_at = Some(at);
    ended.version += 1;
    diesel::update(labor_entry::table.find((row.shop_id, &row.id)))
        .set((labor_entry::ended_at.eq(ended.ended_at), labor_entry::version.eq(ended.version)))
        .execute(write.conn)?;
    let about = About::new("labor", &row.id).job(&target.id).order(&target.order_id);
    write.note(&about, "ended", Some(row), Some(&ended))?;
    Ok(ended)
}

/// Ends what runs on the job now, whoever's it is.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn end_running(write: &mut ShopWrite<'_>, target: &Job) -> Answer<()> {
    for row in of_job(write.conn, write.shop.id, &target.id)? {
        if row.ended_at.is_none() {
            finish(write, target, &row, write.now)?;
        }
    }
    Ok(())
}

/// Ends what runs of the writer on the job, at that moment or, where it began
/// later, now; the job's stamp is the caller's.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn end_own(write: &mut ShopWrite<'_>, target: &Job, at: UtcStamp) -> Answer<()> {
    for row in of_job(write.conn, write.shop.id, &target.id)? {
        if row.ended_at.is_none() && row.person_id == *write.person {
            let at = if at > row.started_at { at } else { write.now };
            finish(write, target, &row, at)?;
        }
    }
    Ok(())
}

/// Stops a running entry, now or when that was done; `anybody`: also another
/// person's.
///
/// # Errors
/// Not found; a conflict where it has ended.
pub fn stop(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &LaborId,
    anybody: bool,
    at: Option<UtcStamp>,
) -> Answer<LaborEntry> {
    let row = of(write, job, id)?;
    if !anybody && row.person_id != *write.person {
        return Err(Refusal::Forbidden(
            "stop your own time; an adviser or the service manager stops another's".into(),
        )
        .into());
    }
    if row.ended_at.is_some() {
        return Err(Refusal::Conflict("this labor entry has ended".into()).into());
    }
    let target = model::by_id(write.conn, write.shop.id, job)?;
    let ended = finish(write, &target, &row, at.unwrap_or(write.now))?;
    write.stamp_job(job)?;
    Ok(ended)
}
