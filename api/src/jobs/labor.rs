//! Labor entries: a technician's time on a job. One person works on one thing
//! at a time, so entries of a person never overlap.

use analytics::words::{Activity, WorkedAs};
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::model::{known_person, open_job};
use crate::db::schema::labor_entry;
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, LaborId, PersonId};
use crate::domain::refusal::Refusal;
use crate::shops::write::ShopWrite;

/// Nobody works longer at a stretch, and nobody remembers longer: past these a
/// time was typed wrong.
const LONGEST_HOURS: i64 = 24;
const OLDEST_DAYS: i64 = 31;

/// A labor entry; without an end it runs.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = labor_entry)]
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
    /// Absent: lead.
    pub worked_as: Option<WorkedAs>,
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

/// An entry of the person that shares time with the stretch, if any.
fn overlapping(
    write: &mut ShopWrite<'_>,
    person: &PersonId,
    from: UtcStamp,
    to: Option<UtcStamp>,
) -> Answer<Option<LaborEntry>> {
    let mut query = labor_entry::table
        .filter(labor_entry::person_id.eq(person))
        .filter(labor_entry::ended_at.is_null().or(labor_entry::ended_at.gt(from)))
        .select(LaborEntry::as_select())
        .into_boxed();
    if let Some(to) = to {
        query = query.filter(labor_entry::started_at.lt(to));
    }
    Ok(query.order(labor_entry::started_at).first(write.conn).optional()?)
}

/// Starts work on a job, or records a stretch that is over.
///
/// # Errors
/// Faulty times; a conflict with another entry of the person.
pub fn start(write: &mut ShopWrite<'_>, job: &JobId, new: &NewLabor) -> Answer<LaborEntry> {
    open_job(write, job)?;
    let person = new.person_id.clone().unwrap_or_else(|| write.person.clone());
    known_person(write, "person_id", Some(&person))?;
    let from = new.started_at.unwrap_or(write.now);
    if from > write.now {
        return Err(Refusal::field("started_at", "range", "work cannot start in the future").into());
    }
    if new.ended_at.is_some_and(|to| to <= from || to > write.now) {
        return Err(Refusal::field(
            "ended_at",
            "range",
            "the end lies after the start and not in the future",
        )
        .into());
    }
    let longest = chrono::Duration::hours(LONGEST_HOURS);
    if new.ended_at.is_some_and(|to| to.utc() - from.utc() > longest)
        || write.now.utc() - from.utc() > chrono::Duration::days(OLDEST_DAYS)
    {
        return Err(Refusal::field(
            "started_at",
            "range",
            format!(
                "record at most {LONGEST_HOURS} hours at once, at most {OLDEST_DAYS} days back"
            ),
        )
        .into());
    }
    if let Some(other) = overlapping(write, &person, from, new.ended_at)? {
        let what = if other.ended_at.is_none() { "runs already" } else { "has that time already" };
        return Err(Refusal::Conflict(format!(
            "another labor entry of this person {what}, from {}; stop or change it first",
            write.shop.zone().show(other.started_at)
        ))
        .into());
    }
    let row = LaborEntry {
        shop_id: write.shop.id,
        id: LaborId::make(),
        job_id: job.clone(),
        person_id: person,
        activity: new.activity.map(Word),
        worked_as: Word(new.worked_as.unwrap_or(WorkedAs::Lead)),
        started_at: from,
        started_on: write.shop.zone().day(from),
        ended_at: new.ended_at,
        version: 1,
        supervisor_id: None,
    };
    diesel::insert_into(labor_entry::table).values(&row).execute(write.conn)?;
    write.stamp_job(job)?;
    Ok(row)
}

/// Stops a running entry now; `anybody`: also another person's.
///
/// # Errors
/// Not found; a conflict where it has ended.
pub fn stop(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &LaborId,
    anybody: bool,
) -> Answer<LaborEntry> {
    let mut row: LaborEntry = labor_entry::table
        .find((write.shop.id, id))
        .select(LaborEntry::as_select())
        .first(write.conn)?;
    if row.job_id != *job {
        return Err(Refusal::NotFound.into());
    }
    if !anybody && row.person_id != *write.person {
        return Err(Refusal::Forbidden(
            "stop your own time; an adviser or manager stops another's".into(),
        )
        .into());
    }
    if row.ended_at.is_some() {
        return Err(Refusal::Conflict("this labor entry has ended".into()).into());
    }
    if write.now <= row.started_at {
        return Err(Refusal::Conflict(
            "the clock stands before the entry's start; stop it later".into(),
        )
        .into());
    }
    row.ended_at = Some(write.now);
    row.version += 1;
    diesel::update(labor_entry::table.find((write.shop.id, id)))
        .set((labor_entry::ended_at.eq(row.ended_at), labor_entry::version.eq(row.version)))
        .execute(write.conn)?;
    write.stamp_job(job)?;
    Ok(row)
}
