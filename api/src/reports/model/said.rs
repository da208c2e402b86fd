//! What was said and read when a vehicle left, and after: readings, answers to
//! shop rules, calls.

use std::collections::{BTreeMap, HashMap};

use analytics::history::{ReadingRow, RuleAnswerRow};
use chrono::NaiveDate;
use diesel::prelude::*;

use super::{Scope, bits};
use crate::db::schema::{follow_up, reading_sheet, reading_taken, rule_answer};
use crate::db::{Answer, Conn};

/// Job, line, place; value, unit.
type Read = ((Option<String>, String, Option<String>), (Option<f64>, Option<String>));

/// The last reading of each line taken for a job.
pub(super) fn readings(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<ReadingRow>> {
    let mut query = reading_taken::table
        .inner_join(
            reading_sheet::table.on(reading_sheet::shop_id
                .eq(reading_taken::shop_id)
                .and(reading_sheet::id.eq(reading_taken::sheet_id))),
        )
        .filter(reading_taken::shop_id.eq(shop_id).and(reading_sheet::job_id.is_not_null()))
        .filter(reading_taken::state.eq("measured").and(reading_taken::value.is_not_null()))
        .order((reading_sheet::begun_at, reading_sheet::id, reading_taken::attempt))
        .select((
            (reading_sheet::job_id, reading_taken::line_key, reading_taken::place),
            (reading_taken::value, reading_taken::unit),
        ))
        .into_boxed();
    if let Some(ids) = scope {
        query = query.filter(reading_sheet::job_id.eq_any(ids));
    }
    let mut last = BTreeMap::new();
    for (key, read) in query.load::<Read>(conn)? {
        last.insert(key, read);
    }
    let mut rows = Vec::with_capacity(last.len());
    for ((job, line, place), (value, unit)) in last {
        let (Some(job), Some(reading)) = (job, value) else { continue };
        rows.push(ReadingRow { job: bits(&job)?, line, place, reading, unit });
    }
    Ok(rows)
}

/// What was said of rules: whether they were kept, and whether a reason was given.
pub(super) fn rule_answers(
    conn: &mut Conn,
    shop_id: i32,
    scope: Scope<'_>,
) -> Answer<Vec<RuleAnswerRow>> {
    let mut query = rule_answer::table
        .filter(rule_answer::shop_id.eq(shop_id))
        .select((rule_answer::job_id, rule_answer::rule_id, rule_answer::kept, rule_answer::reason))
        .into_boxed();
    if let Some(ids) = scope {
        query = query.filter(rule_answer::job_id.eq_any(ids));
    }
    let tuples: Vec<(String, String, Option<bool>, Option<String>)> = query.load(conn)?;
    tuples
        .into_iter()
        .map(|(job, rule, kept, reason)| {
            Ok(RuleAnswerRow { job: bits(&job)?, rule, kept, reasoned: reason.is_some() })
        })
        .collect()
}

/// By job, the last day on which the customer said that the repair holds.
pub(super) fn holds(
    conn: &mut Conn,
    shop_id: i32,
    scope: Scope<'_>,
) -> Answer<HashMap<String, NaiveDate>> {
    let mut query = follow_up::table
        .filter(follow_up::shop_id.eq(shop_id).and(follow_up::answer.eq("fixed")))
        .order(follow_up::called_on)
        .select((follow_up::job_id, follow_up::called_on))
        .into_boxed();
    if let Some(ids) = scope {
        query = query.filter(follow_up::job_id.eq_any(ids));
    }
    Ok(query.load::<(String, NaiveDate)>(conn)?.into_iter().collect())
}
