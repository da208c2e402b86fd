//! Puts lines of a job back that were taken back, as the record of changes
//! holds them.

use diesel::prelude::*;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::checks::{self, Check, NewCheck};
use super::operations::{self, Operation};
use super::parts::{self, MoneyRights, PartOnJob};
use super::writable;
use crate::db::schema::record_change;
use crate::db::{Answer, Conn, Fault};
use crate::domain::ids::{CheckId, JobId, OperationId, PartUseId};
use crate::domain::refusal::Refusal;
use crate::shops::write::ShopWrite;

/// What a line holds beside what was entered.
const OWN: [&str; 5] = ["id", "job_id", "seq", "line", "version"];

/// A record as it stood before its last change, and what that change was.
///
/// # Errors
/// Where the database does not answer.
pub fn before_last(
    conn: &mut Conn,
    shop_id: i32,
    job: &JobId,
    (record, id): (&str, &str),
) -> Answer<Option<(String, Value)>> {
    let last: Option<(String, Option<String>)> = record_change::table
        .filter(record_change::shop_id.eq(shop_id).and(record_change::record.eq(record)))
        .filter(record_change::record_id.eq(id).and(record_change::job_id.eq(job)))
        .order((record_change::change_no.desc(), record_change::line.desc()))
        .select((record_change::action, record_change::before_json))
        .first(conn)
        .optional()?;
    let Some((action, Some(text))) = last else { return Ok(None) };
    let before =
        serde_json::from_str(&text).map_err(|error| Fault::Unavailable(error.to_string()))?;
    Ok(Some((action, before)))
}

/// A line that was taken back, as it stood.
///
/// # Errors
/// Where the database does not answer.
pub fn taken(
    conn: &mut Conn,
    shop_id: i32,
    job: &JobId,
    line: (&str, &str),
) -> Answer<Option<Value>> {
    let last = before_last(conn, shop_id, job, line)?;
    Ok(last.filter(|(action, _)| action == "removed").map(|(_, before)| before))
}

fn must(write: &mut ShopWrite<'_>, job: &JobId, line: (&str, &str)) -> Answer<Value> {
    taken(write.conn, write.shop.id, job, line)?.ok_or_else(|| {
        Refusal::Conflict("this line was not taken back: there is nothing to put back".into())
            .into()
    })
}

/// What was entered of a line.
fn entered<T: DeserializeOwned>(mut line: Value) -> Answer<T> {
    if let Some(fields) = line.as_object_mut() {
        fields.retain(|name, _| !OWN.contains(&name.as_str()));
    }
    serde_json::from_value(line).map_err(|error| Fault::Unavailable(error.to_string()))
}

/// Puts a check back.
///
/// # Errors
/// A conflict where it was not taken back, or the job has ended and the writer
/// may not correct it.
pub fn check(write: &mut ShopWrite<'_>, job: &JobId, id: &CheckId) -> Answer<Check> {
    let target = writable::open(write, job)?;
    let line = must(write, job, ("check", id.as_str()))?;
    let seq = line.get("seq").and_then(Value::as_i64).and_then(|seq| i32::try_from(seq).ok());
    checks::put_back(write, &target, (id, seq), &entered::<NewCheck>(line)?)
}

/// Puts a part use back.
///
/// # Errors
/// As [`check`].
pub fn part(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &PartUseId,
    rights: MoneyRights,
) -> Answer<PartOnJob> {
    let target = writable::open(write, job)?;
    let line = must(write, job, ("part_use", id.as_str()))?;
    parts::insert(write, &target, id.clone(), &entered(line)?, rights)
}

/// Puts an operation back.
///
/// # Errors
/// As [`check`].
pub fn operation(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &OperationId,
    rights: MoneyRights,
) -> Answer<Operation> {
    let target = writable::open(write, job)?;
    let line = must(write, job, ("operation", id.as_str()))?;
    operations::insert(write, &target, id.clone(), &entered(line)?, rights)
}
