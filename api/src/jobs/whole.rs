//! A job with everything on it: what the technician has in hand.

use serde::Serialize;

use super::checks::{self, Check};
use super::hanging::{self, Hanging};
use super::labor::{self, LaborEntry};
use super::model::{Job, by_id, same_version, save};
use super::operations::{self, Operation};
use super::parts::{self, MoneyRights, PartOnJob};
use super::people::{self, JobPerson};
use super::proofs::{self, Proof};
use super::sublets::{self, Sublet};
use super::waits::{self, Wait};
use super::{cleanings, writable};
use crate::comebacks::model::{self as comebacks, Comeback};
use crate::comebacks::outside::{self, OutsideReturn};
use crate::comebacks::pay_back::{self, PayBack};
use crate::db::{Answer, Conn};
use crate::domain::ids::JobId;
use crate::orders::planned;
use crate::shops::write::{About, ShopWrite};

/// A job with everything on it.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct WholeJob {
    #[serde(flatten)]
    pub job: Job,
    /// The job whose planned second visit this is.
    pub second_visit_of_job_id: Option<JobId>,
    /// Who is on it besides who leads it.
    pub people: Vec<JobPerson>,
    pub checks: Vec<Check>,
    pub parts: Vec<PartOnJob>,
    pub operations: Vec<Operation>,
    pub labor: Vec<LaborEntry>,
    pub waits: Vec<Wait>,
    pub sublets: Vec<Sublet>,
    pub proofs: Vec<Proof>,
    /// Comebacks that the job is part of, as the earlier or the later one.
    pub comebacks: Vec<Comeback>,
    /// What the customer told later of a repair that did not hold.
    pub outside_return: Option<OutsideReturn>,
    /// What suppliers paid back; empty for who may not see costs.
    pub pay_backs: Vec<PayBack>,
}

/// Reads a job whole.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn read(conn: &mut Conn, shop_id: i32, id: &JobId, rights: MoneyRights) -> Answer<WholeJob> {
    let job = by_id(conn, shop_id, id)?;
    let hangs = hanging::of_job(conn, shop_id, id)?;
    let checks = any(hangs.checks, || checks::of_job(conn, shop_id, id))?;
    let parts = any(hangs.parts, || parts::of_job(conn, shop_id, id))?;
    let parts = cleanings::told(conn, &job, parts)?;
    around(conn, (job, checks, parts), hangs, rights)
}

/// A list that is read only where it has something.
pub(super) fn any<T>(has: bool, read: impl FnOnce() -> Answer<Vec<T>>) -> Answer<Vec<T>> {
    if has { read() } else { Ok(Vec::new()) }
}

/// A job whose checks and parts are in hand, with all else that hangs on it.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn around(
    conn: &mut Conn,
    (job, checks, parts): (Job, Vec<Check>, Vec<PartOnJob>),
    hangs: Hanging,
    rights: MoneyRights,
) -> Answer<WholeJob> {
    let (shop_id, id) = (job.shop_id, &job.id);
    let operations = any(hangs.operations, || operations::of_job(conn, shop_id, id))?;
    let sublets = any(hangs.sublets, || sublets::of_job(conn, shop_id, id))?;
    let second_visit = if hangs.planned { planned::of_job(conn, shop_id, id)? } else { None };
    let told = if hangs.outside_return { outside::of_job(conn, shop_id, id)? } else { None };
    Ok(WholeJob {
        second_visit_of_job_id: second_visit,
        people: any(hangs.people, || people::of_job(conn, shop_id, id))?,
        checks,
        parts: parts.into_iter().map(|part| part.for_eyes(rights)).collect(),
        operations: operations.into_iter().map(|op| op.for_eyes(rights)).collect(),
        labor: any(hangs.labor, || labor::of_job(conn, shop_id, id))?,
        waits: any(hangs.waits, || waits::of_job(conn, shop_id, id))?,
        sublets: sublets.into_iter().map(|sublet| sublet.for_eyes(rights)).collect(),
        proofs: any(hangs.proofs, || proofs::of_job(conn, shop_id, id))?,
        comebacks: any(hangs.comebacks, || comebacks::of_job(conn, shop_id, id))?,
        outside_return: told,
        pay_backs: any(hangs.pay_backs && rights.costs, || pay_back::of_job(conn, shop_id, id))?,
        job,
    })
}

/// Reopens a job before the vehicle is handed over: what was found stays.
///
/// # Errors
/// Stale; a conflict where it is open, or handed over.
pub fn reopen(
    write: &mut ShopWrite<'_>,
    id: &JobId,
    seen: i32,
    rights: MoneyRights,
) -> Answer<WholeJob> {
    let before = writable::finished(write, id)?;
    same_version(&before, seen)?;
    let mut row = before.clone();
    row.outcome = None;
    row.finished_at = None;
    save(write, &mut row)?;
    write.stamp_order(&row.order_id)?;
    let about = About::new("job", &row.id).job(&row.id).order(&row.order_id);
    write.note(&about, "reopened", Some(&before), Some(&row))?;
    read(write.conn, write.shop.id, id, rights)
}
