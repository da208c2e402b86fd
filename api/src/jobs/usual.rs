//! What is usual for a complaint: the checks made, the causes found, the parts
//! touched in the shop's latest jobs of its symptom that have ended.

use std::collections::HashMap;

use diesel::dsl::count_star;
use diesel::prelude::*;

use crate::db::schema::{job, job_check, part_use};
use crate::db::{Answer, Conn};
use crate::domain::ids::JobId;

/// How many are worth offering first.
const USUAL: i64 = 8;
const USUAL_PARTS: usize = 6;
/// Only the latest jobs say what is usual: a page must not read a decade.
const LATEST: i64 = 5000;
/// Readings that are looked at for what a check is measured in.
const READINGS: i64 = 60;

/// A part touched before for a complaint.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UsualPart {
    pub part_no: Option<String>,
    pub name: String,
    pub uses: i64,
    /// Of them, on jobs with the cause that was asked about.
    pub with_cause: i64,
}

impl UsualPart {
    /// Part number, else name: what counts as the same part.
    #[must_use]
    pub fn key(&self) -> &str {
        self.part_no.as_deref().unwrap_or(&self.name)
    }
}

/// How a check was read last.
#[derive(Debug, Clone, Queryable)]
pub struct LastReading {
    pub unit: Option<String>,
    pub low_limit: Option<f64>,
    pub high_limit: Option<f64>,
    pub limit_source: Option<String>,
}

/// The usual of a complaint, by code and how often, most frequent first.
#[derive(Debug, Clone, Default)]
pub struct Usual {
    pub checks: Vec<(String, i64)>,
    pub causes: Vec<(String, i64)>,
    pub parts: Vec<UsualPart>,
    /// By the code of the check.
    pub readings: HashMap<String, LastReading>,
}

/// The job before the latest ones.
fn before_latest(conn: &mut Conn, shop_id: i32) -> Answer<String> {
    let before: Option<JobId> = job::table
        .filter(job::shop_id.eq(shop_id))
        .order(job::id.desc())
        .offset(LATEST)
        .select(job::id)
        .first(conn)
        .optional()?;
    Ok(before.map(|id| id.to_string()).unwrap_or_default())
}

/// Reads what is usual for a symptom; parts of jobs with that cause first.
///
/// # Errors
/// Where the database does not answer.
pub fn of(conn: &mut Conn, shop_id: i32, symptom: &str, cause: Option<&str>) -> Answer<Usual> {
    let latest = before_latest(conn, shop_id)?;
    let causes: Vec<(Option<String>, i64)> = job::table
        .filter(job::shop_id.eq(shop_id).and(job::id.gt(&latest)).and(job::symptom.eq(symptom)))
        .filter(job::cause.is_not_null().and(job::outcome.is_not_null()))
        .group_by(job::cause)
        .order((count_star().desc(), job::cause))
        .limit(USUAL)
        .select((job::cause, count_star()))
        .load(conn)?;
    Ok(Usual {
        checks: checks_since(conn, shop_id, symptom, &latest)?,
        causes: causes.into_iter().filter_map(|(code, count)| Some((code?, count))).collect(),
        parts: parts(conn, shop_id, symptom, (cause, &latest))?,
        readings: readings(conn, shop_id, symptom, &latest)?,
    })
}

/// The checks most often made for a symptom, by code.
///
/// # Errors
/// Where the database does not answer.
pub fn checks(conn: &mut Conn, shop_id: i32, symptom: &str) -> Answer<Vec<(String, i64)>> {
    let latest = before_latest(conn, shop_id)?;
    checks_since(conn, shop_id, symptom, &latest)
}

fn checks_since(
    conn: &mut Conn,
    shop_id: i32,
    symptom: &str,
    latest: &str,
) -> Answer<Vec<(String, i64)>> {
    Ok(job_check::table
        .inner_join(
            job::table.on(job::shop_id.eq(job_check::shop_id).and(job::id.eq(job_check::job_id))),
        )
        .filter(job::shop_id.eq(shop_id).and(job::id.gt(latest)).and(job::symptom.eq(symptom)))
        .filter(job::outcome.is_not_null())
        .group_by(job_check::code)
        .order((count_star().desc(), job_check::code))
        .limit(USUAL)
        .select((job_check::code, count_star()))
        .load(conn)?)
}

/// Number, name, how often.
type Counted = (Option<String>, String, i64);

fn parts(
    conn: &mut Conn,
    shop_id: i32,
    symptom: &str,
    (cause, latest): (Option<&str>, &str),
) -> Answer<Vec<UsualPart>> {
    let touched = || {
        part_use::table
            .inner_join(
                job::table.on(job::shop_id.eq(part_use::shop_id).and(job::id.eq(part_use::job_id))),
            )
            .filter(job::shop_id.eq(shop_id).and(job::id.gt(latest)))
            .filter(job::symptom.eq(symptom).and(job::outcome.is_not_null()))
    };
    let all: Vec<Counted> = touched()
        .group_by((part_use::part_no, part_use::name))
        .select((part_use::part_no, part_use::name, count_star()))
        .load(conn)?;
    let with_cause: Vec<Counted> = match cause {
        Some(cause) => touched()
            .filter(job::cause.eq(cause))
            .group_by((part_use::part_no, part_use::name))
            .select((part_use::part_no, part_use::name, count_star()))
            .load(conn)?,
        None => Vec::new(),
    };
    Ok(added_up(all, with_cause))
}

/// One line a part, most often touched first.
fn added_up(all: Vec<Counted>, with_cause: Vec<Counted>) -> Vec<UsualPart> {
    let of_all = all.into_iter().map(|row| (row, 1, 0));
    let of_cause = with_cause.into_iter().map(|row| (row, 0, 1));
    let mut parts: Vec<UsualPart> = Vec::new();
    for ((part_no, name, count), one, other) in of_all.chain(of_cause) {
        let (uses, with_cause) = (one * count, other * count);
        let part = UsualPart { part_no, name, uses, with_cause };
        match parts.iter_mut().find(|seen| seen.key() == part.key()) {
            Some(seen) => {
                seen.uses += uses;
                seen.with_cause += with_cause;
            }
            None => parts.push(part),
        }
    }
    parts.sort_by(|a, b| {
        (b.with_cause, b.uses).cmp(&(a.with_cause, a.uses)).then_with(|| a.key().cmp(b.key()))
    });
    parts.truncate(USUAL_PARTS);
    parts
}

type Read = (String, LastReading);

fn readings(
    conn: &mut Conn,
    shop_id: i32,
    symptom: &str,
    latest: &str,
) -> Answer<HashMap<String, LastReading>> {
    let rows: Vec<Read> = job_check::table
        .inner_join(
            job::table.on(job::shop_id.eq(job_check::shop_id).and(job::id.eq(job_check::job_id))),
        )
        .filter(job::shop_id.eq(shop_id).and(job::id.gt(latest)).and(job::symptom.eq(symptom)))
        .filter(job_check::reading.is_not_null())
        .order(job_check::id.desc())
        .limit(READINGS)
        .select((
            job_check::code,
            (job_check::unit, job_check::low_limit, job_check::high_limit, job_check::limit_source),
        ))
        .load(conn)?;
    let mut last = HashMap::new();
    for (code, reading) in rows {
        last.entry(code).or_insert(reading);
    }
    Ok(last)
}

#[cfg(test)]
#[expect(clippy::indexing_slicing, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn parts_of_the_cause_come_first_and_one_number_is_one_part() {
        let row = |number: Option<&str>, name: &str, uses| {
            (number.map(str::to_owned), name.to_owned(), uses)
        };
        let rows = || {
            vec![
                row(Some("C-1"), "coil", 3),
                row(Some("C-1"), "ignition coil", 1),
                row(None, "plug", 2),
            ]
        };
        let all = added_up(rows(), Vec::new());
        assert_eq!((all[0].key(), all[0].uses, all.len()), ("C-1", 4, 2));
        let of_plug = added_up(rows(), vec![row(Some("C-1"), "coil", 1), row(None, "plug", 2)]);
        assert_eq!((of_plug[0].key(), of_plug[0].with_cause), ("plug", 2));
    }
}
