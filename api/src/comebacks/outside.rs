//! Returns that came without a visit: the customer tells that the repair did not
//! hold, or that somebody else had to fix it. They count on the day they are
//! told.

use analytics::words::{JobKind, Outcome};
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use crate::db::schema::outside_return;
use crate::db::{Answer, Conn};
use crate::domain::day;
use crate::domain::ids::{JobId, OutsideReturnId, PersonId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::jobs::model::{self as jobs, known_code, optional};
use crate::orders::change::not_void;
use crate::shops::write::{About, ShopWrite};

/// What a customer may tell.
pub const TOLD: &[&str] = &["fixed_elsewhere", "not_fixed"];

/// A return without a visit.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = outside_return)]
pub struct OutsideReturn {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: OutsideReturnId,
    pub job_id: JobId,
    /// `fixed_elsewhere` or `not_fixed`.
    pub told: String,
    /// Shop-local day.
    pub told_on: NaiveDate,
    /// A code of the shop's comeback reasons.
    pub reason: Option<String>,
    pub note: Option<String>,
    /// Who wrote it down.
    pub person_id: PersonId,
    pub version: i32,
}

/// A return without a visit, as told.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOutsideReturn {
    /// `fixed_elsewhere` or `not_fixed`.
    pub told: String,
    /// From the hand-over to today.
    pub told_on: NaiveDate,
    /// A code of the shop's comeback reasons.
    pub reason: Option<String>,
    pub note: Option<String>,
}

/// The job that something is told of.
#[derive(Debug, Clone, Copy)]
pub struct Standing {
    pub kind: JobKind,
    pub outcome: Option<Outcome>,
    /// Hand-over of its order; absent while that is open.
    pub closed_on: Option<NaiveDate>,
    pub today: NaiveDate,
}

/// Whether it may be told of the job.
///
/// # Errors
/// A conflict where the job is none that can return; faulty fields.
pub fn decide(standing: Standing, new: &NewOutsideReturn) -> Result<(), Refusal> {
    let Some(closed_on) = standing.closed_on else {
        return Err(Refusal::Conflict("the vehicle is not handed over".into()));
    };
    if standing.kind != JobKind::Complaint || standing.outcome != Some(Outcome::Repaired) {
        return Err(Refusal::Conflict("only a repaired complaint can return".into()));
    }
    let mut faults = Vec::new();
    if !TOLD.contains(&new.told.as_str()) {
        let detail = format!("choose one of: {}", TOLD.join(", "));
        faults.push(FieldFault::new("told", "word", detail));
    }
    faults.extend(day::past("told_on", new.told_on, standing.today).err());
    if new.told_on < closed_on {
        let detail = format!("the vehicle was handed over on {closed_on}: write that day or later");
        faults.push(FieldFault::new("told_on", "range", detail));
    }
    if faults.is_empty() { Ok(()) } else { Err(Refusal::Invalid(faults)) }
}

/// What was told of a job.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Option<OutsideReturn>> {
    Ok(outside_return::table
        .filter(outside_return::shop_id.eq(shop_id).and(outside_return::job_id.eq(job)))
        .select(OutsideReturn::as_select())
        .first(conn)
        .optional()?)
}

/// The shop's latest, by the day they were told.
///
/// # Errors
/// Where the database does not answer.
pub fn latest(conn: &mut Conn, shop_id: i32, limit: i64) -> Answer<Vec<OutsideReturn>> {
    Ok(outside_return::table
        .filter(outside_return::shop_id.eq(shop_id))
        .order((outside_return::told_on.desc(), outside_return::id.desc()))
        .limit(limit)
        .select(OutsideReturn::as_select())
        .load(conn)?)
}

/// Those told on the days from one to another, the latest first.
///
/// # Errors
/// Where the database does not answer.
pub fn told_between(
    conn: &mut Conn,
    shop_id: i32,
    (from, to): (NaiveDate, NaiveDate),
    limit: i64,
) -> Answer<Vec<OutsideReturn>> {
    Ok(outside_return::table
        .filter(outside_return::shop_id.eq(shop_id))
        .filter(outside_return::told_on.ge(from).and(outside_return::told_on.le(to)))
        .order((outside_return::told_on.desc(), outside_return::id.desc()))
        .limit(limit)
        .select(OutsideReturn::as_select())
        .load(conn)?)
}

/// Keeps what the customer tells of a job.
///
/// # Errors
/// Not found; what [`decide`] answers; a conflict where something is told already.
pub fn tell(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    new: &NewOutsideReturn,
) -> Answer<OutsideReturn> {
    let shop_id = write.shop.id;
    let of = jobs::by_id(write.conn, shop_id, job)?;
    let order = not_void(write, &of.order_id)?;
    let standing = Standing {
        kind: of.kind.0,
        outcome: of.outcome.map(|word| word.0),
        closed_on: order.closed_on,
        today: write.shop.zone().day(write.now),
    };
    decide(standing, new)?;
    if of_job(write.conn, shop_id, job)?.is_some() {
        return Err(Refusal::Conflict(
            "it is told of this job already: have the service manager withdraw that first".into(),
        )
        .into());
    }
    let reason = optional("reason", new.reason.as_deref(), 80)?;
    known_code(write, "comeback_reason", "reason", reason.as_deref())?;
    let row = OutsideReturn {
        shop_id,
        id: OutsideReturnId::make(),
        job_id: job.clone(),
        told: new.told.clone(),
        told_on: new.told_on,
        reason,
        note: optional("note", new.note.as_deref(), 2000)?,
        person_id: write.person.clone(),
        version: 1,
    };
    diesel::insert_into(outside_return::table).values(&row).execute(write.conn)?;
    let about = About::new("outside_return", &row.id).order(&of.order_id).job(job);
    write.note(&about, "added", None, Some(&row))?;
    write.stamp_job(job)?;
    Ok(row)
}

/// Withdraws what was told of a job.
///
/// # Errors
/// Not found; a conflict where the order is void.
pub fn withdraw(write: &mut ShopWrite<'_>, job: &JobId) -> Answer<()> {
    let of = jobs::by_id(write.conn, write.shop.id, job)?;
    not_void(write, &of.order_id)?;
    let row = of_job(write.conn, write.shop.id, job)?.ok_or(Refusal::NotFound)?;
    diesel::delete(outside_return::table.find((write.shop.id, &row.id))).execute(write.conn)?;
    let about = About::new("outside_return", &row.id).order(&of.order_id).job(job);
    write.note(&about, "removed", Some(&row), None)?;
    write.stamp_job(job)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn day(n: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 3, n).unwrap()
    }

    fn standing() -> Standing {
        Standing {
            kind: JobKind::Complaint,
            outcome: Some(Outcome::Repaired),
            closed_on: Some(day(5)),
            today: day(20),
        }
    }

    fn told(word: &str, on: u32) -> NewOutsideReturn {
        NewOutsideReturn { told: word.into(), told_on: day(on), reason: None, note: None }
    }

    #[test]
    fn between_the_hand_over_and_today() {
        for on in [5, 12, 20] {
            assert_eq!(decide(standing(), &told("not_fixed", on)), Ok(()));
        }
        for on in [4, 21] {
            let refused = decide(standing(), &told("fixed_elsewhere", on));
            let Err(Refusal::Invalid(faults)) = refused else { panic!("{refused:?}") };
            assert_eq!(faults.first().unwrap().pointer, "/told_on");
        }
        assert!(matches!(decide(standing(), &told("fixed", 5)), Err(Refusal::Invalid(_))));
    }

    #[test]
    fn only_a_repaired_complaint_that_left() {
        let refused = |standing| {
            matches!(decide(standing, &told("not_fixed", 12)), Err(Refusal::Conflict(_)))
        };
        assert!(refused(Standing { closed_on: None, ..standing() }));
        assert!(refused(Standing { kind: JobKind::Maintenance, ..standing() }));
        assert!(refused(Standing { outcome: Some(Outcome::Declined), ..standing() }));
        assert!(refused(Standing { outcome: None, ..standing() }));
    }
}
