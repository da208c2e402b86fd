//! A job's row.

use analytics::words::{CauseState, JobKind, Outcome};
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use crate::codes::model as codes;
use crate::db::schema::job;
use crate::db::types::Word;
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, PersonId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::text;
use crate::people::model as people;
use crate::shops::write::{About, ShopWrite};

/// A job.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = job)]
pub struct Job {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: JobId,
    pub order_id: OrderId,
    pub job_no: i32,
    #[schema(value_type = JobKind)]
    pub kind: Word<JobKind>,
    pub symptom: Option<String>,
    /// The customer's own words.
    pub complaint: Option<String>,
    /// Codes of when it happens, parted by blanks.
    pub happens_when: Option<String>,
    /// How it ended; absent while it is open.
    #[schema(value_type = Option<Outcome>)]
    pub outcome: Option<Word<Outcome>>,
    pub cause: Option<String>,
    #[schema(value_type = Option<CauseState>)]
    pub cause_state: Option<Word<CauseState>>,
    /// How the cause was confirmed.
    pub cause_how: Option<String>,
    pub cause_position: Option<String>,
    pub correction: Option<String>,
    pub lead_id: Option<PersonId>,
    pub bay: Option<String>,
    pub waiting_for: Option<String>,
    pub finished_at: Option<UtcStamp>,
    #[serde(skip)]
    pub change_no: i64,
    pub version: i32,
    /// When it was last corrected after it had ended.
    pub corrected_at: Option<UtcStamp>,
}

/// A job as written up.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewJob {
    /// Absent: complaint.
    pub kind: Option<JobKind>,
    /// A code of the shop's symptom list.
    pub symptom: Option<String>,
    /// The customer's own words.
    pub complaint: Option<String>,
    /// Codes of the shop's list of when it happens.
    #[serde(default)]
    #[schema(required = false)]
    pub happens_when: Vec<String>,
    pub lead_id: Option<PersonId>,
    pub bay: Option<String>,
    /// The earlier job, where the customer says that the vehicle was in before
    /// for this.
    pub in_before_job_id: Option<JobId>,
    /// The earlier job, where this visit was planned when that one ended.
    pub second_visit_of_job_id: Option<JobId>,
}

/// What a job waits for.
pub const WAITS: &[&str] = &["part", "customer", "sublet", "bay"];

/// One job.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &JobId) -> Answer<Job> {
    Ok(job::table.find((shop_id, id)).select(Job::as_select()).first(conn)?)
}

/// The jobs of an order, by number.
///
/// # Errors
/// Where the database does not answer.
pub fn of_order(conn: &mut Conn, shop_id: i32, order: &OrderId) -> Answer<Vec<Job>> {
    Ok(job::table
        .filter(job::shop_id.eq(shop_id).and(job::order_id.eq(order)))
        .order(job::job_no)
        .select(Job::as_select())
        .load(conn)?)
}

/// Refuses where the writer has not seen the version that stands.
///
/// # Errors
/// Stale.
pub fn same_version(row: &Job, seen: i32) -> Answer<()> {
    if row.version == seen { Ok(()) } else { Err(Refusal::Stale(row.version).into()) }
}

/// Looks a code up in one of the shop's lists.
///
/// # Errors
/// A fault at `field` where the list has no such code, or does not offer it any
/// more.
pub fn known_code(
    write: &mut ShopWrite<'_>,
    list: &str,
    field: &str,
    code: Option<&str>,
) -> Answer<()> {
    let Some(code) = code else { return Ok(()) };
    codes::usable(write.conn, write.shop.id, list, field, code).map(|_| ())
}

/// Checks that a person works in the shop.
///
/// # Errors
/// A fault at `field` where not.
pub fn known_person(write: &mut ShopWrite<'_>, field: &str, id: Option<&PersonId>) -> Answer<()> {
    let Some(id) = id else { return Ok(()) };
    if people::works_in(write.conn, id, write.shop.id)? {
        return Ok(());
    }
    Err(Refusal::field(field, "unknown_person", "nobody of this shop has that id").into())
}

/// Adds a job to an open order.
///
/// # Errors
/// Faulty fields, pointed at below `base`.
pub fn add(
    write: &mut ShopWrite<'_>,
    order: &OrderId,
    job_no: i32,
    new: &NewJob,
    base: &str,
) -> Answer<Job> {
    let at = |name: &str| format!("{base}{name}");
    let kind = new.kind.unwrap_or(JobKind::Complaint);
    let complaint = optional(&at("complaint"), new.complaint.as_deref(), 4000)?;
    let symptom = optional(&at("symptom"), new.symptom.as_deref(), 80)?;
    if kind == JobKind::Complaint && complaint.is_none() && symptom.is_none() {
        return Err(Refusal::field(
            &at("complaint"),
            "required",
            "write the complaint in the customer's words",
        )
        .into());
    }
    known_code(write, "symptom", &at("symptom"), symptom.as_deref())?;
    if new.happens_when.len() > 21 {
        return Err(Refusal::field(&at("happens_when"), "too_many", "choose at most 21").into());
    }
    for (place, when) in new.happens_when.iter().enumerate() {
        known_code(write, "when", &format!("{base}happens_when/{place}"), Some(when))?;
    }
    known_person(write, &at("lead_id"), new.lead_id.as_ref())?;
    let row = Job {
        shop_id: write.shop.id,
        id: JobId::make(),
        order_id: order.clone(),
        job_no,
        kind: Word(kind),
        symptom,
        complaint,
        happens_when: (!new.happens_when.is_empty()).then(|| new.happens_when.join(" ")),
        outcome: None,
        cause: None,
        cause_state: None,
        cause_how: None,
        cause_position: None,
        correction: None,
        lead_id: new.lead_id.clone(),
        bay: optional(&at("bay"), new.bay.as_deref(), 40)?,
        waiting_for: None,
        finished_at: None,
        change_no: write.change_no,
        version: 1,
        corrected_at: None,
    };
    diesel::insert_into(job::table).values(&row).execute(write.conn)?;
    let about = About::new("job", &row.id).job(&row.id).order(order);
    write.note(&about, "added", None, Some(&row))?;
    Ok(row)
}

/// As [`text::optional`], as an answer of the record.
///
/// # Errors
/// The fault.
pub fn optional(field: &str, value: Option<&str>, most: usize) -> Answer<Option<String>> {
    text::optional(field, value, most).map_err(|fault| Refusal::Invalid(vec![fault]).into())
}

/// Writes a job's own fields over what stands, under the write's change number.
///
/// # Errors
/// Where the database does not answer.
pub fn save(write: &mut ShopWrite<'_>, row: &mut Job) -> Answer<()> {
    row.version += 1;
    row.change_no = write.change_no;
    diesel::update(job::table.find((row.shop_id, &row.id)))
        .set((
            job::symptom.eq(&row.symptom),
            job::outcome.eq(row.outcome),
            job::cause.eq(&row.cause),
            job::cause_state.eq(row.cause_state),
            job::cause_how.eq(&row.cause_how),
            job::cause_position.eq(&row.cause_position),
            job::correction.eq(&row.correction),
            job::lead_id.eq(&row.lead_id),
            job::bay.eq(&row.bay),
            job::waiting_for.eq(&row.waiting_for),
            job::finished_at.eq(row.finished_at),
            job::corrected_at.eq(row.corrected_at),
            job::change_no.eq(row.change_no),
            job::version.eq(row.version),
        ))
        .execute(write.conn)?;
    Ok(())
}

/// Takes the faults of a part of what was sent, pointed at below `base`, so that
/// all parts tell theirs at once.
///
/// # Errors
/// What is no fault of a field.
pub fn gather<T>(answer: Answer<T>, base: &str, faults: &mut Vec<FieldFault>) -> Answer<Option<T>> {
    match answer {
        Ok(value) => Ok(Some(value)),
        Err(Fault::Refused(Refusal::Invalid(found))) => {
            faults.extend(found.into_iter().map(|fault| {
                let pointer = format!("{base}{}", fault.pointer);
                FieldFault { pointer, ..fault }
            }));
            Ok(None)
        }
        Err(other) => Err(other),
    }
}

/// Faults as the answer of a write.
///
/// # Errors
/// The faults, where there are any.
pub fn no_faults(faults: Vec<FieldFault>) -> Answer<()> {
    if faults.is_empty() { Ok(()) } else { Err(Refusal::Invalid(faults).into()) }
}
