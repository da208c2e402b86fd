//! Out of the record, into what reports are made from: one query a table, only
//! the columns that a figure needs.

use std::collections::{BTreeSet, HashMap, HashSet};

use analytics::history::{
    CheckRow, JobId, JobRow, LaborRow, OperationRow, PartReturnRow, PartRow, PartUseId, ReturnRow,
    Rows,
};
use analytics::words::{
    Activity, CauseState, Curable, Disposition, Finding, JobKind, LinkState, Outcome, PartRole,
    Payer, WorkedAs,
};
use chrono::NaiveDate;
use diesel::prelude::*;
use uuid::Uuid;

use crate::db::schema::{
    code_entry, comeback, job, job_check, job_operation, labor_entry, part_return, part_use,
    person, repair_order, vehicle,
};
use crate::db::types::Word;
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::codes::system_of;
use crate::shops::model::Shop;

const CLOSED: &str = "closed";
const VOID: &str = "void";

/// Ids that one query names; below the number of variables that either
/// database takes.
const CHUNK: usize = 1000;

/// More touched jobs than this are quicker read with all the others.
const MANY: usize = 5000;

/// What a job's row takes from the shop's lists. They change without a job
/// being touched, so whoever keeps rows compares them.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Lists {
    /// System by symptom.
    systems: HashMap<String, String>,
    /// Whether cleaning cures it, by cause.
    curable: HashMap<String, Curable>,
    /// Name by person.
    people: HashMap<String, String>,
}

impl Lists {
    /// The shop's lists as they stand.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn load(conn: &mut Conn, shop: &Shop) -> Answer<Self> {
        let systems: Vec<(String, Option<String>)> = code_entry::table
            .filter(code_entry::shop_id.eq(shop.id).and(code_entry::list.eq("symptom")))
            .select((code_entry::code, code_entry::system))
            .load(conn)?;
        let causes: Vec<(String, Option<Word<Curable>>)> = code_entry::table
            .filter(code_entry::shop_id.eq(shop.id).and(code_entry::list.eq("cause")))
            .select((code_entry::code, code_entry::curable))
            .load(conn)?;
        let people: Vec<(String, String)> = person::table
            .filter(person::group_id.eq(&shop.group_id))
            .select((person::id, person::name))
            .load(conn)?;
        Ok(Self {
            systems: systems
                .into_iter()
                .filter_map(|(code, system)| Some((code, system?)))
                .collect(),
            curable: causes.into_iter().filter_map(|(code, word)| Some((code, word?.0))).collect(),
            people: people.into_iter().collect(),
        })
    }

    /// Whether rows made under these lists read the same under `later` ones:
    /// entries that only came in newly change no row.
    #[must_use]
    pub fn still_hold(&self, later: &Self) -> bool {
        self.systems
            .keys()
            .chain(later.systems.keys())
            .all(|symptom| self.system(symptom) == later.system(symptom))
            && self.curable == later.curable
            && self.people.iter().all(|(id, name)| later.people.get(id) == Some(name))
    }

    /// A symptom that the list does not know belongs where its slug says.
    fn system<'a>(&'a self, symptom: &'a str) -> &'a str {
        self.systems.get(symptom).map_or_else(|| system_of(symptom), String::as_str)
    }
}

/// Every job of the shop on a closed order that is not void, with all that
/// hangs on it.
///
/// # Errors
/// Where the database does not answer.
pub fn load(conn: &mut Conn, shop: &Shop, lists: &Lists) -> Answer<Rows> {
    read_rows(conn, shop, lists, &[None])
}

/// The jobs touched after a change number, closed or not, and the rows of
/// those of them that are closed. A job counts as touched where it, its order
/// or a job linked to it as the later one was; its links as the earlier job
/// come with it.
///
/// # Errors
/// Where the database does not answer.
pub fn load_changed(
    conn: &mut Conn,
    shop: &Shop,
    lists: &Lists,
    after_change_no: i64,
) -> Answer<(Vec<JobId>, Rows)> {
    let ids = touched(conn, shop.id, after_change_no)?;
    let bits = ids.iter().map(|id| bits(id)).collect::<Answer<Vec<JobId>>>()?;
    let rows = if ids.len() > MANY {
        read_rows(conn, shop, lists, &[None])?
    } else {
        let chunks: Vec<Option<&[String]>> = ids.chunks(CHUNK).map(Some).collect();
        read_rows(conn, shop, lists, &chunks)?
    };
    Ok((bits, rows))
}

/// Ids of the jobs touched after a change number, each once, in order.
fn touched(conn: &mut Conn, shop_id: i32, after: i64) -> Answer<Vec<String>> {
    let own: Vec<String> = job::table
        .filter(job::shop_id.eq(shop_id).and(job::change_no.gt(after)))
        .select(job::id)
        .load(conn)?;
    let by_order: Vec<String> = job::table
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::change_no.gt(after)))
        .select(job::id)
        .load(conn)?;
    let mut ids: BTreeSet<String> = own.into_iter().chain(by_order).collect();
    let later: Vec<String> = ids.iter().cloned().collect();
    for chunk in later.chunks(CHUNK) {
        let by_link: Vec<String> = comeback::table
            .filter(comeback::shop_id.eq(shop_id).and(comeback::later_job_id.eq_any(chunk)))
            .select(comeback::earlier_job_id)
            .load(conn)?;
        let by_part: Vec<String> = part_return::table
            .inner_join(
                part_use::table.on(part_use::shop_id
                    .eq(part_return::shop_id)
                    .and(part_use::id.eq(part_return::part_use_id))),
            )
            .filter(part_return::shop_id.eq(shop_id).and(part_return::later_job_id.eq_any(chunk)))
            .select(part_use::job_id)
            .load(conn)?;
        ids.extend(by_link);
        ids.extend(by_part);
    }
    Ok(ids.into_iter().collect())
}

/// Which jobs a query is for: `None` for all of the shop.
type Scope<'a> = Option<&'a [String]>;

fn read_rows(conn: &mut Conn, shop: &Shop, lists: &Lists, scopes: &[Scope<'_>]) -> Answer<Rows> {
    let mut rows = Rows::default();
    for &scope in scopes {
        rows.jobs.extend(jobs(conn, shop.id, lists, scope)?);
        rows.checks.extend(checks(conn, shop.id, scope)?);
        rows.parts.extend(parts(conn, shop.id, scope)?);
        rows.labor.extend(labor(conn, shop.id, lists, scope)?);
        rows.operations.extend(operations(conn, shop.id, scope)?);
        rows.returns.extend(returns(conn, shop.id, scope)?);
        rows.part_returns.extend(part_returns(conn, shop.id, scope)?);
    }
    keep_closed(&mut rows);
    Ok(rows)
}

/// Rows of open jobs were read as well: leaving them out here is quicker than
/// a join to the order on every line.
fn keep_closed(rows: &mut Rows) {
    let closed: HashSet<JobId> = rows.jobs.iter().map(|row| row.id).collect();
    rows.checks.retain(|row| closed.contains(&row.job));
    rows.parts.retain(|row| closed.contains(&row.job));
    rows.labor.retain(|row| closed.contains(&row.job));
    rows.operations.retain(|row| closed.contains(&row.job));
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
    (Option<String>, Option<String>, Option<String>),
    (Word<JobKind>, Option<Word<Outcome>>),
    (Option<String>, Option<String>),
    (Option<String>, Option<Word<CauseState>>, Option<String>),
    (NaiveDate, i32, Option<NaiveDate>),
);

fn jobs(conn: &mut Conn, shop_id: i32, lists: &Lists, scope: Scope<'_>) -> Answer<Vec<JobRow>> {
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
        .filter(job::shop_id.eq(shop_id).and(repair_order::status.eq(CLOSED)))
        .order((repair_order::closed_on, repair_order::order_no, job::job_no))
        .select((
            (job::id, repair_order::order_no, job::job_no),
            (vehicle::vin, vehicle::plate, vehicle::id),
            (vehicle::make, vehicle::model, vehicle::engine),
            (job::kind, job::outcome),
            (job::symptom, job::complaint),
            (job::cause, job::cause_state, job::lead_id),
            (repair_order::opened_on, repair_order::opened_minute, repair_order::closed_on),
        ))
        .into_boxed();
    if let Some(ids) = scope {
        query = query.filter(job::id.eq_any(ids));
    }
    let tuples: Vec<JobTuple> = query.load(conn)?;
    tuples.into_iter().filter_map(|tuple| job_row(tuple, lists).transpose()).collect()
}

/// `None` for a job without an outcome or a closing day, which no closed order
/// ought to have: no figure could say what became of it.
fn job_row(tuple: JobTuple, lists: &Lists) -> Answer<Option<JobRow>> {
    let (names, vehicle, build, (kind, outcome), (symptom, complaint), cause, times) = tuple;
    let (cause, cause_state, lead) = cause;
    let (Some(outcome), Some(closed_on)) = (outcome, times.2) else {
        return Ok(None);
    };
    Ok(Some(JobRow {
        id: bits(&names.0)?,
        order_no: names.1,
        job_no: names.2,
        vehicle: vehicle.0.or(vehicle.1).unwrap_or(vehicle.2),
        model: joined(build.0, build.1),
        engine: build.2,
        kind: kind.0,
        outcome: outcome.0,
        system: symptom.as_deref().map(|symptom| lists.system(symptom).to_owned()),
        symptom,
        complaint,
        cause_curable: cause.as_deref().and_then(|cause| lists.curable.get(cause)).copied(),
        cause,
        cause_state: cause_state.map(|word| word.0),
        technician: lead.and_then(|id| lists.people.get(&id)).cloned(),
        opened_on: times.0,
        opened_minute: times.1,
        closed_on,
    }))
}

/// Make and model as people say them.
fn joined(make: Option<String>, model: Option<String>) -> Option<String> {
    match (make, model) {
        (Some(make), Some(model)) => Some(format!("{make} {model}")),
        (make, model) => make.or(model),
    }
}

fn checks(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<CheckRow>> {
    type Tuple = (String, i32, String, Option<Word<Finding>>, Option<i32>, bool);
    let mut query = job_check::table
        .filter(job_check::shop_id.eq(shop_id))
        .order((job_check::job_id, job_check::seq))
        .select((
            job_check::job_id,
            job_check::seq,
            job_check::code,
            job_check::finding,
            job_check::minutes,
            job_check::typed_at_close,
        ))
        .into_boxed();
    if let Some(ids) = scope {
        query = query.filter(job_check::job_id.eq_any(ids));
    }
    let tuples: Vec<Tuple> = query.load(conn)?;
    tuples
        .into_iter()
        .map(|(job, seq, check, finding, minutes, at_close)| {
            Ok(CheckRow {
                job: bits(&job)?,
                seq,
                check,
                finding: finding.map(|word| word.0),
                minutes,
                at_close,
            })
        })
        .collect()
}

type PartTuple = (
    (String, String),
    (Option<String>, String, Option<String>),
    (Word<Disposition>, Option<Word<PartRole>>),
    (Option<String>, Option<String>),
    (Option<i64>, Option<f64>),
);

fn parts(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<PartRow>> {
    let mut query = part_use::table
        .filter(part_use::shop_id.eq(shop_id))
        .order((part_use::job_id, part_use::line))
        .select((
            (part_use::id, part_use::job_id),
            (part_use::part_no, part_use::name, part_use::position),
            (part_use::disposition, part_use::role),
            (part_use::supplier, part_use::lot),
            (part_use::unit_cost_minor, part_use::bench_reading),
        ))
        .into_boxed();
    if let Some(ids) = scope {
        query = query.filter(part_use::job_id.eq_any(ids));
    }
    let tuples: Vec<PartTuple> = query.load(conn)?;
    tuples
        .into_iter()
        .map(|(ids, (part_no, name, position), (disposition, role), source, numbers)| {
            Ok(PartRow {
                id: bits(&ids.0)?,
                job: bits(&ids.1)?,
                part_no,
                name,
                position,
                disposition: disposition.0,
                role: role.map(|word| word.0),
                supplier: source.0,
                lot: source.1,
                unit_cost_minor: numbers.0,
                bench_reading: numbers.1,
            })
        })
        .collect()
}

type LaborTuple = (
    (String, String),
    (Option<Word<Activity>>, Word<WorkedAs>),
    (UtcStamp, NaiveDate, Option<UtcStamp>),
);

/// Finished entries only: a running one has no minutes yet.
fn labor(conn: &mut Conn, shop_id: i32, lists: &Lists, scope: Scope<'_>) -> Answer<Vec<LaborRow>> {
    let mut query = labor_entry::table
        .filter(labor_entry::shop_id.eq(shop_id).and(labor_entry::ended_at.is_not_null()))
        .order((labor_entry::job_id, labor_entry::started_at, labor_entry::person_id))
        .select((
            (labor_entry::job_id, labor_entry::person_id),
            (labor_entry::activity, labor_entry::worked_as),
            (labor_entry::started_at, labor_entry::started_on, labor_entry::ended_at),
        ))
        .into_boxed();
    if let Some(ids) = scope {
        query = query.filter(labor_entry::job_id.eq_any(ids));
    }
    let tuples: Vec<LaborTuple> = query.load(conn)?;
    tuples
        .into_iter()
        .filter_map(|((job, person), (activity, worked_as), (started, started_on, ended))| {
            let minutes = ended?.minutes_since(started);
            let technician = lists.people.get(&person).unwrap_or(&person).clone();
            Some(bits(&job).map(|job| LaborRow {
                job,
                technician,
                activity: activity.map(|word| word.0),
                worked_as: worked_as.0,
                started_on,
                minutes,
            }))
        })
        .collect()
}

fn operations(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<OperationRow>> {
    type Tuple = (String, String, Option<i64>, Option<i64>, Option<i64>, Option<Word<Payer>>);
    let mut query = job_operation::table
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
    if let Some(ids) = scope {
        query = query.filter(job_operation::job_id.eq_any(ids));
    }
    let tuples: Vec<Tuple> = query.load(conn)?;
    tuples
        .into_iter()
        .map(|(job, code, flat_rate_hundredths, billed_hundredths, labor_amount_minor, payer)| {
            Ok(OperationRow {
                job: bits(&job)?,
                code,
                flat_rate_hundredths,
                billed_hundredths,
                labor_amount_minor,
                payer: payer.map(|word| word.0),
            })
        })
        .collect()
}

type ReturnTuple =
    ((String, String, String), (String, i32, NaiveDate), (Word<LinkState>, bool, Option<String>));

/// Links by their earlier job. The later order may be open, not void.
fn returns(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<ReturnRow>> {
    let mut query = comeback::table
        .inner_join(
            job::table
                .on(job::shop_id.eq(comeback::shop_id).and(job::id.eq(comeback::later_job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(comeback::shop_id.eq(shop_id).and(repair_order::status.ne(VOID)))
        .order((comeback::earlier_job_id, comeback::later_job_id))
        .select((
            (comeback::id, comeback::earlier_job_id, comeback::later_job_id),
            (repair_order::order_no, job::job_no, repair_order::opened_on),
            (comeback::state, comeback::same_complaint, comeback::reason),
        ))
        .into_boxed();
    if let Some(ids) = scope {
        query = query.filter(comeback::earlier_job_id.eq_any(ids));
    }
    let tuples: Vec<ReturnTuple> = query.load(conn)?;
    tuples
        .into_iter()
        .map(|(ids, (later_order_no, later_job_no, later_opened_on), (state, same, reason))| {
            Ok(ReturnRow {
                id: bits(&ids.0)?,
                earlier: bits(&ids.1)?,
                later: bits(&ids.2)?,
                later_order_no,
                later_job_no,
                later_opened_on,
                state: state.0,
                same_complaint: same,
                reason,
            })
        })
        .collect()
}

/// Part returns by the job that touched the part first.
fn part_returns(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<PartReturnRow>> {
    type Tuple = (String, String, NaiveDate, Word<LinkState>);
    let mut query = part_return::table
        .inner_join(
            part_use::table.on(part_use::shop_id
                .eq(part_return::shop_id)
                .and(part_use::id.eq(part_return::part_use_id))),
        )
        .inner_join(
            job::table.on(job::shop_id
                .eq(part_return::shop_id)
                .and(job::id.eq(part_return::later_job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(part_return::shop_id.eq(shop_id).and(repair_order::status.ne(VOID)))
        .order((part_return::part_use_id, part_return::later_job_id))
        .select((
            part_return::part_use_id,
            part_return::later_job_id,
            repair_order::opened_on,
            part_return::state,
        ))
        .into_boxed();
    if let Some(ids) = scope {
        query = query.filter(part_use::job_id.eq_any(ids));
    }
    let tuples: Vec<Tuple> = query.load(conn)?;
    tuples
        .into_iter()
        .map(|(part_use, later, later_opened_on, state)| {
            Ok(PartReturnRow {
                part_use: bits(&part_use)?,
                later: bits(&later)?,
                later_opened_on,
                state: state.0,
            })
        })
        .collect()
}
