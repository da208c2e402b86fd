//! What stands on jobs: checks, parts, labor and operations, line by line.

use std::collections::HashMap;

use analytics::history::{CheckRow, LaborRow, OperationRow, PartRow};
use analytics::words::{Activity, Disposition, Finding, PartRole, Payer, WorkedAs};
use chrono::NaiveDate;
use diesel::prelude::*;

use super::bits;
use super::lists::Lists;
use super::scope::{Scope, each, scoped};
use crate::db::schema::{job_check, job_operation, labor_entry, part_use};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;

pub(super) fn checks(
    conn: &mut Conn,
    shop_id: i32,
    lists: &Lists,
    scope: Scope<'_>,
) -> Answer<Vec<CheckRow>> {
    type Read = (Option<f64>, Option<String>);
    type Tuple = (String, i32, String, Option<Word<Finding>>, Option<i32>, bool, Read);
    let query = job_check::table
        .filter(job_check::shop_id.eq(shop_id))
        .order((job_check::job_id, job_check::seq))
        .select((
            job_check::job_id,
            job_check::seq,
            job_check::code,
            job_check::finding,
            job_check::minutes,
            job_check::typed_at_close,
            (job_check::reading, job_check::unit),
        ))
        .into_boxed();
    let query = scoped!(query, job_check::job_id, scope);
    each(query, conn, |(job, seq, check, finding, minutes, at_close, (reading, unit)): Tuple| {
        Ok(Some(CheckRow {
            job: bits(&job)?,
            seq,
            check: lists.now("check", check),
            finding: finding.map(|word| word.0),
            minutes,
            at_close,
            reading,
            unit,
        }))
    })
}

type PartTuple = (
    (String, String),
    (Option<String>, String, Option<String>),
    (Word<Disposition>, Option<Word<PartRole>>),
    (Option<String>, Option<String>),
    (i64, Option<i64>),
    (Option<f64>, Option<String>),
);

pub(super) fn parts(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<PartRow>> {
    let query = part_use::table
        .filter(part_use::shop_id.eq(shop_id))
        .order((part_use::job_id, part_use::line))
        .select((
            (part_use::id, part_use::job_id),
            (part_use::part_no, part_use::name, part_use::position),
            (part_use::disposition, part_use::role),
            (part_use::supplier, part_use::lot),
            (part_use::quantity_hundredths, part_use::unit_cost_minor),
            (part_use::bench_reading, part_use::bench_unit),
        ))
        .into_boxed();
    let query = scoped!(query, part_use::job_id, scope);
    each(query, conn, |(ids, named, (disposition, role), source, numbers, bench): PartTuple| {
        let (part_no, name, position) = named;
        Ok(Some(PartRow {
            id: bits(&ids.0)?,
            job: bits(&ids.1)?,
            part_no,
            name,
            position,
            disposition: disposition.0,
            role: role.map(|word| word.0),
            supplier: source.0,
            lot: source.1,
            quantity_hundredths: numbers.0,
            unit_cost_minor: numbers.1,
            bench_reading: bench.0,
            bench_unit: bench.1,
        }))
    })
}

type LaborTuple = (
    (String, String, Option<String>),
    (Option<Word<Activity>>, Word<WorkedAs>),
    (UtcStamp, NaiveDate, Option<UtcStamp>),
);

/// By job, who worked on it under whose eyes: person and supervisor.
pub(super) type Supervised = HashMap<String, Vec<(String, String)>>;

/// Finished entries only: a running one has no minutes yet, but may have a
/// supervisor.
pub(super) fn labor(
    conn: &mut Conn,
    shop_id: i32,
    lists: &Lists,
    scope: Scope<'_>,
) -> Answer<(Vec<LaborRow>, Supervised)> {
    let query = labor_entry::table
        .filter(labor_entry::shop_id.eq(shop_id))
        .order((labor_entry::job_id, labor_entry::started_at, labor_entry::person_id))
        .select((
            (labor_entry::job_id, labor_entry::person_id, labor_entry::supervisor_id),
            (labor_entry::activity, labor_entry::worked_as),
            (labor_entry::started_at, labor_entry::started_on, labor_entry::ended_at),
        ))
        .into_boxed();
    let query = scoped!(query, labor_entry::job_id, scope);
    let mut supervised = Supervised::new();
    let rows = each(query, conn, |(ids, (activity, worked_as), times): LaborTuple| {
        let ((job, person, supervisor), (started, started_on, ended)) = (ids, times);
        let id = bits(&job)?;
        let technician = lists.people.get(&person).unwrap_or(&person).clone();
        if let Some(supervisor) = supervisor {
            supervised.entry(job).or_default().push((person, supervisor));
        }
        Ok(ended.map(|ended| LaborRow {
            job: id,
            technician,
            activity: activity.map(|word| word.0),
            worked_as: worked_as.0,
            started_on,
            minutes: ended.minutes_since(started),
        }))
    })?;
    Ok((rows, supervised))
}

pub(super) fn operations(
    conn: &mut Conn,
    shop_id: i32,
    lists: &Lists,
    scope: Scope<'_>,
) -> Answer<Vec<OperationRow>> {
    type Tuple = (String, String, Option<i64>, Option<i64>, Option<i64>, Option<Word<Payer>>);
    let query = job_operation::table
        .filter(job_operation::shop_id.eq(shop_id))
        .order((job_operation::job_id, job_operation::line))
        .select((
            job_operation::job_id,
            job_operation::code,
            job_operation::flat_rate_hundredths,
            job_operation::billed_hundredths,
            job_operation::labor_amount_minor,
            job_operation::payer,
        ))
        .into_boxed();
    let query = scoped!(query, job_operation::job_id, scope);
    each(query, conn, |(job, code, flat_rate, billed, labor_amount_minor, payer): Tuple| {
        Ok(Some(OperationRow {
            job: bits(&job)?,
            code: lists.now("operation", code),
            flat_rate_hundredths: flat_rate,
            billed_hundredths: billed,
            labor_amount_minor,
            payer: payer.map(|word| word.0),
        }))
    })
}
