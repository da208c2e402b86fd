//! What was said and read when a vehicle left, and after: readings, answers to
//! shop rules, calls.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, HashMap};

use analytics::history::{JobId, ReadingRow, RuleAnswerRow};
use analytics::preparation::{Degrees, Kind, Line, Temperature, counted, settled};
use chrono::NaiveDate;
use diesel::prelude::*;

use super::bits;
use super::scope::{Scope, each, scoped};
use crate::db::schema::{follow_up, reading_sheet, reading_taken, rule_answer};
use crate::db::{Answer, Conn};
use crate::domain::ids::{ReadingListVersionId, ReadingSheetId};
use crate::preparation::lists as preparation;

/// Job, line, list's version; sheet, attempt, place; value, unit; temperature, its
/// unit.
type Read = (
    (Option<String>, String, ReadingListVersionId),
    (ReadingSheetId, i32, Option<String>),
    (Option<f64>, Option<String>),
    (Option<f64>, Option<String>),
);

/// The values of one line of a job, those of its last attempt.
struct LastRead {
    version: ReadingListVersionId,
    attempt: (ReadingSheetId, i32),
    unit: Option<String>,
    rows: Vec<(Option<String>, f64, Option<Temperature>)>,
}

/// The last reading of each line taken for a job: corrected where its list says
/// so; of cells each one, and their mean in the line's own place.
pub(super) fn readings(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<ReadingRow>> {
    let mut last: BTreeMap<(String, String), LastRead> = BTreeMap::new();
    for ((job, line, version), (sheet, attempt, place), (value, unit), at) in
        read(conn, shop_id, scope)?
    {
        let Some(job) = job else { continue };
        let attempt = (sheet, attempt);
        let new = LastRead { version, attempt: attempt.clone(), unit, rows: Vec::new() };
        let read = match last.entry((job, line)) {
            Entry::Occupied(held) => {
                let held = held.into_mut();
                if held.attempt != attempt {
                    *held = new;
                }
                held
            }
            Entry::Vacant(free) => free.insert(new),
        };
        // A later word that nothing was measured leaves nothing.
        let degrees = at.1.as_deref().and_then(Degrees::parse);
        let temperature = at.0.zip(degrees).map(|(value, unit)| Temperature { value, unit });
        read.rows.extend(value.map(|value| (place, value, temperature)));
    }
    let mut lists: HashMap<ReadingListVersionId, Vec<Line>> = HashMap::new();
    let mut rows = Vec::with_capacity(last.len());
    for ((job, line), read) in last {
        if !lists.contains_key(&read.version) {
            let version = preparation::version(conn, shop_id, &read.version)?;
            lists.insert(read.version.clone(), version.lines);
        }
        let of_list = lists.get(&read.version).into_iter().flatten();
        let Some(asked) = of_list.into_iter().find(|one| one.key == line) else { continue };
        rows.extend(reading_rows(bits(&job)?, asked, read));
    }
    Ok(rows)
}

fn read(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<Read>> {
    let query = reading_taken::table
        .inner_join(
            reading_sheet::table.on(reading_sheet::shop_id
                .eq(reading_taken::shop_id)
                .and(reading_sheet::id.eq(reading_taken::sheet_id))),
        )
        .filter(reading_taken::shop_id.eq(shop_id).and(reading_sheet::job_id.is_not_null()))
        .order((
            reading_sheet::begun_at,
            reading_sheet::id,
            reading_taken::attempt,
            reading_taken::place,
            reading_taken::id,
        ))
        .select((
            (reading_sheet::job_id, reading_taken::line_key, reading_sheet::list_version_id),
            (reading_sheet::id, reading_taken::attempt, reading_taken::place),
            (reading_taken::value, reading_taken::unit),
            (reading_taken::temperature, reading_taken::temperature_unit),
        ))
        .into_boxed();
    let query = scoped!(query, reading_sheet::job_id, scope);
    Ok(query.load(conn)?)
}

/// A row a place, and of cells their mean.
fn reading_rows(job: JobId, line: &Line, read: LastRead) -> Vec<ReadingRow> {
    let row = |place: Option<String>, reading| ReadingRow {
        job,
        line: line.key.clone(),
        place,
        reading,
        unit: read.unit.clone(),
    };
    let mut rows = Vec::with_capacity(read.rows.len() + 1);
    for (place, value, at) in &read.rows {
        let Some(value) = counted(line, *value, *at) else { return Vec::new() };
        rows.push(row(place.clone(), value));
    }
    if line.kind == Kind::Cells && !rows.is_empty() {
        let sum: f64 = rows.iter().map(|row| row.reading).sum();
        rows.push(row(None, settled(sum / rows.len() as f64)));
    }
    rows
}

/// What was said of rules: whether they were kept, and whether a reason was given.
pub(super) fn rule_answers(
    conn: &mut Conn,
    shop_id: i32,
    scope: Scope<'_>,
) -> Answer<Vec<RuleAnswerRow>> {
    let query = rule_answer::table
        .filter(rule_answer::shop_id.eq(shop_id))
        .select((rule_answer::job_id, rule_answer::rule_id, rule_answer::kept, rule_answer::reason))
        .into_boxed();
    let query = scoped!(query, rule_answer::job_id, scope);
    type Tuple = (String, String, Option<bool>, Option<String>);
    each(query, conn, |(job, rule, kept, reason): Tuple| {
        Ok(Some(RuleAnswerRow { job: bits(&job)?, rule, kept, reasoned: reason.is_some() }))
    })
}

/// By job, the days on which the customer said that the repair holds.
pub(super) fn holds(
    conn: &mut Conn,
    shop_id: i32,
    scope: Scope<'_>,
) -> Answer<HashMap<String, Vec<NaiveDate>>> {
    let query = follow_up::table
        .filter(follow_up::shop_id.eq(shop_id).and(follow_up::answer.eq("fixed")))
        .order(follow_up::called_on)
        .select((follow_up::job_id, follow_up::called_on))
        .into_boxed();
    let query = scoped!(query, follow_up::job_id, scope);
    let mut days: HashMap<String, Vec<NaiveDate>> = HashMap::new();
    for (job, day) in query.load::<(String, NaiveDate)>(conn)? {
        days.entry(job).or_default().push(day);
    }
    Ok(days)
}
