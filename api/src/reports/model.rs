//! Out of the record, into what reports are made from: one query a table, only
//! the columns that a figure needs.

mod asked;
mod beside;
mod lines;
mod links;
mod lists;
mod named;
mod odometers;
mod one;
mod said;
mod scope;
mod stamp;
mod touched;

use std::collections::HashSet;

use analytics::history::{JobId, JobRow, PartUseId, Rows};
use analytics::words::{CauseState, JobKind, Outcome};
use chrono::NaiveDate;
use diesel::prelude::*;
use uuid::Uuid;

pub use asked::{has_more_jobs_than, has_part, undecided};
pub use lists::Lists;
pub use named::{VehicleName, vehicles_of};
pub use one::one_job;
pub use stamp::{Stamp, stamp};
pub use touched::load_changed;

use beside::Beside;
use lines::Supervised;
use odometers::{Resets, in_miles};
use scope::{Scope, each, scoped};

use crate::db::schema::{job, repair_order, vehicle};
use crate::db::types::Word;
use crate::db::{Answer, Conn, Fault};
use crate::shops::model::Shop;

const CLOSED: &str = "closed";
const VOID: &str = "void";

/// Every job of the shop on a closed order that is not void, with all that
/// hangs on it.
///
/// # Errors
/// Where the database does not answer.
pub fn load(conn: &mut Conn, shop: &Shop, lists: &Lists) -> Answer<Rows> {
    let mut rows = read_rows(conn, shop, lists, &[Scope::Shop])?;
    rows.attendance = Some(beside::attendance(conn, shop.id, lists)?);
    Ok(rows)
}

fn read_rows(conn: &mut Conn, shop: &Shop, lists: &Lists, scopes: &[Scope<'_>]) -> Answer<Rows> {
    let mut rows = Rows::default();
    let resets = Resets::load(conn, shop.id)?;
    for &scope in scopes {
        let (labor, supervised) = lines::labor(conn, shop.id, lists, scope)?;
        let known = Known { lists, resets: &resets, supervised };
        rows.jobs.extend(jobs(conn, shop.id, known, scope, None)?);
        rows.checks.extend(lines::checks(conn, shop.id, lists, scope)?);
        rows.parts.extend(lines::parts(conn, shop.id, scope)?);
        rows.labor.extend(labor);
        rows.operations.extend(lines::operations(conn, shop.id, lists, scope)?);
        rows.readings.extend(said::readings(conn, shop.id, scope)?);
        rows.rule_answers.extend(said::rule_answers(conn, shop.id, scope)?);
        rows.returns.extend(links::returns(conn, shop.id, (lists, &resets), scope)?);
        rows.part_returns.extend(links::part_returns(conn, shop.id, scope)?);
        rows.planned_visits.extend(links::planned_visits(conn, shop.id, scope)?);
        rows.pay_backs.extend(beside::pay_backs(conn, shop.id, scope)?);
    }
    keep_closed(&mut rows);
    Ok(rows)
}

/// Rows of open jobs were read as well: leaving them out here is quicker than
/// a join to the order on every line. Labor stays: hours of a period are counted
/// whatever became of the job.
fn keep_closed(rows: &mut Rows) {
    let closed: HashSet<JobId> = rows.jobs.iter().map(|row| row.id).collect();
    rows.checks.retain(|row| closed.contains(&row.job));
    rows.parts.retain(|row| closed.contains(&row.job));
    rows.operations.retain(|row| closed.contains(&row.job));
    rows.readings.retain(|row| closed.contains(&row.job));
    rows.rule_answers.retain(|row| closed.contains(&row.job));
    rows.returns.retain(|row| closed.contains(&row.earlier));
    let uses: HashSet<PartUseId> = rows.parts.iter().map(|row| row.id).collect();
    rows.part_returns.retain(|row| uses.contains(&row.part_use));
}

fn bits(id: &str) -> Answer<u128> {
    Uuid::parse_str(id)
        .map(|id| id.as_u128())
        .map_err(|_| Fault::Unavailable(format!("'{id}' in the record is no id")))
}

type JobTuple = (
    (String, String, i32),
    (Option<String>, Option<String>, String),
    (Option<String>, Option<String>, Option<String>, Option<i32>),
    (Word<JobKind>, Option<Word<Outcome>>),
    (Option<String>, Option<String>),
    (Option<String>, Option<Word<CauseState>>, Option<String>),
    (NaiveDate, i32, Option<NaiveDate>),
    (Option<i64>, Option<i64>, String),
);

/// What a job's row takes from elsewhere.
struct Known<'a> {
    lists: &'a Lists,
    resets: &'a Resets,
    supervised: Supervised,
}

/// `as_closed_on` takes jobs of orders that are not closed, too, as if they ended
/// on that day.
fn jobs(
    conn: &mut Conn,
    shop_id: i32,
    known: Known<'_>,
    scope: Scope<'_>,
    as_closed_on: Option<NaiveDate>,
) -> Answer<Vec<JobRow>> {
    let Known { lists, resets, supervised } = known;
    let mut beside = Beside::load(conn, shop_id, (lists, supervised), scope)?;
    let mut query = job::table
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .inner_join(
            vehicle::table.on(vehicle::shop_id
                .eq(repair_order::shop_id)
                .and(vehicle::id.eq(repair_order::vehicle_id))),
        )
        .filter(job::shop_id.eq(shop_id))
        .select((
            (job::id, repair_order::order_no, job::job_no),
            (vehicle::vin, vehicle::plate, vehicle::id),
            (vehicle::make, vehicle::model, vehicle::engine, vehicle::model_year),
            (job::kind, job::outcome),
            (job::symptom, job::complaint),
            (job::cause, job::cause_state, job::lead_id),
            (repair_order::opened_on, repair_order::opened_minute, repair_order::closed_on),
            (repair_order::odometer_in, repair_order::odometer_out, repair_order::odometer_unit),
        ))
        .into_boxed();
    if as_closed_on.is_none() {
        query = query.filter(repair_order::status.eq(CLOSED));
    }
    each(scoped!(query, job::id, scope), conn, |mut tuple: JobTuple| {
        if let (Some(day), (.., (_, outcome), _, _, (_, _, closed_on), _)) =
            (as_closed_on, &mut tuple)
        {
            outcome.get_or_insert(Word(Outcome::Repaired));
            closed_on.get_or_insert(day);
        }
        job_row(tuple, lists, resets, &mut beside)
    })
}

/// `None` for a job without an outcome or a closing day, which no closed order
/// ought to have: no figure could say what became of it.
fn job_row(
    tuple: JobTuple,
    lists: &Lists,
    resets: &Resets,
    beside: &mut Beside,
) -> Answer<Option<JobRow>> {
    let (names, vehicle, build, (kind, outcome), (symptom, complaint), cause, times, odometer) =
        tuple;
    let (odometer_in, odometer_out, unit) = odometer;
    let (cause, cause_state, lead) = cause;
    let (Some(outcome), Some(closed_on)) = (outcome, times.2) else {
        return Ok(None);
    };
    let symptom = symptom.map(|symptom| lists.now("symptom", symptom));
    let cause = cause.map(|cause| lists.now("cause", cause));
    let supervisor = lead.as_ref().and_then(|lead| beside.supervisor(&names.0, lead));
    let supervisor =
        supervisor.map(|id| lists.people.get(id).map_or(id, String::as_str).to_owned());
    let odometer = |on, value| resets.reading(&vehicle.2, on, value, &unit);
    Ok(Some(JobRow {
        id: bits(&names.0)?,
        odometer_in: odometer(times.0, odometer_in),
        odometer_out: odometer(closed_on, odometer_out),
        odometer_in_miles: in_miles(&unit),
        order_no: names.1,
        job_no: names.2,
        vehicle: vehicle.0.or(vehicle.1).unwrap_or(vehicle.2),
        model: joined(build.0, build.1),
        engine: build.2,
        model_year: build.3,
        kind: kind.0,
        outcome: outcome.0,
        system: symptom.as_deref().map(|symptom| lists.system(symptom)),
        symptom,
        complaint,
        cause_curable: cause.as_deref().and_then(|cause| lists.curable(cause)),
        cause,
        cause_state: cause_state.map(|word| word.0),
        technician: lead.as_ref().and_then(|id| lists.people.get(id)).cloned(),
        opened_on: times.0,
        opened_minute: times.1,
        closed_on,
        supervisor,
        failed_proofs: beside.failed_proofs.remove(&names.0).unwrap_or(0),
        sublet_cost_minor: beside.sublet_cost_minor.remove(&names.0).unwrap_or(0),
        told: beside.told.remove(&names.0),
        holds_on: beside.holds_on.remove(&names.0).unwrap_or_default(),
    }))
}

/// Make and model as people say them.
fn joined(make: Option<String>, model: Option<String>) -> Option<String> {
    match (make, model) {
        (Some(make), Some(model)) => Some(format!("{make} {model}")),
        (make, model) => make.or(model),
    }
}
