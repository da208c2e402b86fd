//! People on a job besides who leads it, and whom a trainee works under.

use analytics::words::WorkedAs;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::crew::{Member, may_join};
use super::model::known_person;
use super::writable::{self, Writable};
use crate::db::schema::{job, job_person};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, PersonId};
use crate::domain::refusal::Refusal;
use crate::shops::write::ShopWrite;

/// A person on a job.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = job_person, primary_key(shop_id, job_id, person_id))]
#[diesel(treat_none_as_null = true)]
pub struct JobPerson {
    #[serde(skip)]
    pub shop_id: i32,
    pub job_id: JobId,
    pub person_id: PersonId,
    #[schema(value_type = WorkedAs)]
    pub worked_as: Word<WorkedAs>,
    /// Under whom a trainee works, or who leads.
    pub supervisor_id: Option<PersonId>,
}

/// A person to be put on a job.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewJobPerson {
    pub person_id: PersonId,
    /// `lead` only of who leads the job, to say under whom.
    pub worked_as: WorkedAs,
    /// Owed with `trainee`.
    pub supervisor_id: Option<PersonId>,
}

impl JobPerson {
    /// As the decisions see it.
    #[must_use]
    pub fn member(&self) -> Member {
        Member {
            person: self.person_id.clone(),
            worked_as: self.worked_as.0,
            supervisor: self.supervisor_id.clone(),
        }
    }
}

/// The people on a job besides who leads it.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<JobPerson>> {
    Ok(job_person::table
        .filter(job_person::shop_id.eq(shop_id).and(job_person::job_id.eq(job)))
        .order(job_person::person_id)
        .select(JobPerson::as_select())
        .load(conn)?)
}

/// The jobs that a person was put on.
///
/// # Errors
/// Where the database does not answer.
pub fn jobs_of(conn: &mut Conn, shop_id: i32, person: &PersonId) -> Answer<Vec<JobId>> {
    Ok(job_person::table
        .inner_join(
            job::table.on(job::shop_id.eq(job_person::shop_id).and(job::id.eq(job_person::job_id))),
        )
        .filter(job_person::shop_id.eq(shop_id).and(job_person::person_id.eq(person)))
        .filter(job::outcome.is_null())
        .select(job_person::job_id)
        .load(conn)?)
}

/// Puts a person on a job, or changes what they work as.
///
/// # Errors
/// Faulty fields; a conflict where the job has ended and the writer may not
/// correct it.
pub fn assign(write: &mut ShopWrite<'_>, job: &JobId, new: &NewJobPerson) -> Answer<JobPerson> {
    let target = writable::open(write, job)?;
    known_person(write, "person_id", Some(&new.person_id))?;
    known_person(write, "supervisor_id", new.supervisor_id.as_ref())?;
    let row = JobPerson {
        shop_id: write.shop.id,
        job_id: job.clone(),
        person_id: new.person_id.clone(),
        worked_as: Word(new.worked_as),
        supervisor_id: new.supervisor_id.clone(),
    };
    let (same, others): (Vec<JobPerson>, Vec<JobPerson>) = of_job(write.conn, write.shop.id, job)?
        .into_iter()
        .partition(|other| other.person_id == row.person_id);
    let members: Vec<Member> = others.iter().map(JobPerson::member).collect();
    may_join(&row.member(), target.job.lead_id.as_ref(), &members).map_err(Refusal::Invalid)?;
    let about = target.about("job_person", format!("{job}/{}", row.person_id));
    if let Some(before) = same.first() {
        diesel::update(job_person::table.find((row.shop_id, job, &row.person_id)))
            .set(&row)
            .execute(write.conn)?;
        write.note(&about, "changed", Some(before), Some(&row))?;
    } else {
        diesel::insert_into(job_person::table).values(&row).execute(write.conn)?;
        write.note(&about, "added", None, Some(&row))?;
    }
    target.stamp(write)?;
    Ok(row)
}

fn take(write: &mut ShopWrite<'_>, target: &Writable, row: &JobPerson) -> Answer<()> {
    diesel::delete(job_person::table.find((row.shop_id, &row.job_id, &row.person_id)))
        .execute(write.conn)?;
    let about = target.about("job_person", format!("{}/{}", row.job_id, row.person_id));
    write.note(&about, "removed", Some(row), None)
}

/// Takes a person off a job.
///
/// # Errors
/// Not found; a conflict where the job has ended and the writer may not correct
/// it.
pub fn unassign(write: &mut ShopWrite<'_>, job: &JobId, person: &PersonId) -> Answer<()> {
    let target = writable::open(write, job)?;
    let row: JobPerson = job_person::table
        .find((write.shop.id, job, person))
        .select(JobPerson::as_select())
        .first(write.conn)?;
    take(write, &target, &row)?;
    target.stamp(write)
}

/// Somebody else leads: what was said of who led as lead, and of the new lead
/// as helper, no longer holds.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn lead_changed(
    write: &mut ShopWrite<'_>,
    target: &Writable,
    lead: Option<&PersonId>,
) -> Answer<()> {
    for row in of_job(write.conn, write.shop.id, &target.job.id)? {
        let leads = Some(&row.person_id) == lead;
        let over = match row.worked_as.0 {
            WorkedAs::Lead => !leads,
            WorkedAs::Helper => leads,
            WorkedAs::Trainee => false,
        };
        if over {
            take(write, target, &row)?;
        }
    }
    Ok(())
}
