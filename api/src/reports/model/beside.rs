//! What is known of jobs beside their own rows: who answers for a trainee that
//! led one, proofs that failed, work sent out, what customers told, what
//! suppliers paid back; and who was there for work.

use std::collections::HashMap;

use analytics::history::{AttendanceRow, PayBackRow, ToldReturn};
use analytics::words::Told;
use chrono::NaiveDate;
use diesel::prelude::*;

use super::lines::Supervised;
use super::lists::Lists;
use super::scope::{Scope, each, scoped};
use super::{bits, said};
use crate::db::schema::{
    attendance, job, job_person, outside_return, pay_back, proof, record_change, repair_order,
    sublet,
};
use crate::db::{Answer, Conn, Fault};

/// By job.
#[derive(Default)]
pub(super) struct Beside {
    /// Supervisors as the jobs' people name them, and as their labor does.
    named: Supervised,
    clocked: Supervised,
    pub failed_proofs: HashMap<String, u32>,
    pub sublet_cost_minor: HashMap<String, i64>,
    pub told: HashMap<String, ToldReturn>,
    /// The days on which the customer said that it holds.
    pub holds_on: HashMap<String, Vec<NaiveDate>>,
}

impl Beside {
    pub fn load(
        conn: &mut Conn,
        shop_id: i32,
        (lists, clocked): (&Lists, Supervised),
        scope: Scope<'_>,
    ) -> Answer<Self> {
        let named = supervisors(conn, shop_id, scope)?;
        let mut beside = Self { named, clocked, ..Self::default() };
        for job in failed_proofs(conn, shop_id, scope)? {
            *beside.failed_proofs.entry(job).or_default() += 1;
        }
        for (job, cost) in sublets(conn, shop_id, scope)? {
            *beside.sublet_cost_minor.entry(job).or_default() += cost.unwrap_or(0);
        }
        for (job, told, told_on, reason) in told(conn, shop_id, scope)? {
            let told = Told::parse(&told)
                .ok_or_else(|| Fault::Unavailable(format!("nothing is told as '{told}'")))?;
            let reason = reason.map(|reason| lists.now("comeback_reason", reason));
            beside.told.insert(job, ToldReturn { told, told_on, reason });
        }
        beside.holds_on = said::holds(conn, shop_id, scope)?;
        Ok(beside)
    }

    /// Who answers for the one who led the job: as the job's people say; after them
    /// as that one's labor does, the first entry first.
    pub fn supervisor(&self, job: &str, lead: &str) -> Option<&str> {
        let named = self.named.get(job).into_iter().flatten();
        let clocked = self.clocked.get(job).into_iter().flatten();
        let mut all = named.chain(clocked);
        all.find(|(person, _)| person == lead).map(|(_, supervisor)| supervisor.as_str())
    }
}

/// Supervisors, as the jobs' people name them.
fn supervisors(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Supervised> {
    let query = job_person::table
        .filter(job_person::shop_id.eq(shop_id).and(job_person::supervisor_id.is_not_null()))
        .select((
            job_person::job_id,
            job_person::person_id,
            job_person::supervisor_id.assume_not_null(),
        ))
        .into_boxed();
    let query = scoped!(query, job_person::job_id, scope);
    let mut named = Supervised::new();
    for (job, person, supervisor) in query.load::<(String, String, String)>(conn)? {
        named.entry(job).or_default().push((person, supervisor));
    }
    Ok(named)
}

/// The job of every proof that failed before its order's hand-over.
fn failed_proofs(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<String>> {
    let query = proof::table
        .inner_join(job::table.on(job::shop_id.eq(proof::shop_id).and(job::id.eq(proof::job_id))))
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(proof::shop_id.eq(shop_id).and(proof::passed.eq(false)))
        .filter(proof::proved_at.nullable().le(repair_order::closed_at))
        .select(proof::job_id)
        .into_boxed();
    let query = scoped!(query, proof::job_id, scope);
    Ok(query.load(conn)?)
}

fn sublets(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<(String, Option<i64>)>> {
    let query = sublet::table
        .filter(sublet::shop_id.eq(shop_id))
        .select((sublet::job_id, sublet::cost_minor))
        .into_boxed();
    let query = scoped!(query, sublet::job_id, scope);
    Ok(query.load(conn)?)
}

type ToldTuple = (String, String, NaiveDate, Option<String>);

fn told(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<ToldTuple>> {
    let query = outside_return::table
        .filter(outside_return::shop_id.eq(shop_id))
        .select((
            outside_return::job_id,
            outside_return::told,
            outside_return::told_on,
            outside_return::reason,
        ))
        .into_boxed();
    let query = scoped!(query, outside_return::job_id, scope);
    Ok(query.load(conn)?)
}

pub(super) fn pay_backs(
    conn: &mut Conn,
    shop_id: i32,
    scope: Scope<'_>,
) -> Answer<Vec<PayBackRow>> {
    let query = pay_back::table
        .filter(pay_back::shop_id.eq(shop_id))
        .select((pay_back::job_id, pay_back::paid_on, pay_back::amount_minor))
        .into_boxed();
    let query = scoped!(query, pay_back::job_id, scope);
    each(query, conn, |(job, paid_on, amount_minor): (String, NaiveDate, i64)| {
        Ok(Some(PayBackRow { job: bits(&job)?, paid_on, amount_minor }))
    })
}

/// All attendance of the shop.
pub(super) fn attendance(
    conn: &mut Conn,
    shop_id: i32,
    lists: &Lists,
) -> Answer<Vec<AttendanceRow>> {
    let tuples: Vec<(String, NaiveDate, i32)> = attendance::table
        .filter(attendance::shop_id.eq(shop_id))
        .select((attendance::person_id, attendance::worked_on, attendance::attended_minutes))
        .load(conn)?;
    Ok(tuples
        .into_iter()
        .map(|(person, worked_on, minutes)| AttendanceRow {
            technician: lists.people.get(&person).cloned().unwrap_or(person),
            worked_on,
            minutes: i64::from(minutes),
        })
        .collect())
}

/// Whether a change after that number was of attendance: it hangs on no job
/// that could be stamped.
pub(super) fn attendance_changed(conn: &mut Conn, shop_id: i32, after: i64) -> Answer<bool> {
    let first: Option<i64> = record_change::table
        .filter(record_change::shop_id.eq(shop_id).and(record_change::change_no.gt(after)))
        .filter(record_change::record.eq("attendance"))
        .select(record_change::change_no)
        .first(conn)
        .optional()?;
    Ok(first.is_some())
}
