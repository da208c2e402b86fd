//! One job as reports see it, whether or not it is closed: what they would say of
//! it if it ended now.

use analytics::history::Rows;
use chrono::NaiveDate;

use super::odometers::Resets;
use super::scope::Scope;
use super::{Known, Lists, jobs, lines, said};
use crate::db::{Answer, Conn};
use crate::domain::ids::JobId;
use crate::shops::model::Shop;

/// The job with its checks, parts, labor, operations, readings and answers. Where
/// it has not ended it counts as repaired, on that day; what came of it later is
/// left out.
///
/// # Errors
/// Where the database does not answer.
pub fn one_job(
    conn: &mut Conn,
    shop: &Shop,
    lists: &Lists,
    id: &JobId,
    today: NaiveDate,
) -> Answer<Rows> {
    let id = id.to_string();
    let scope = Scope::Job(&id);
    let resets = Resets::load(conn, shop.id)?;
    let (labor, supervised) = lines::labor(conn, shop.id, lists, scope)?;
    let known = Known { lists, resets: &resets, supervised };
    Ok(Rows {
        jobs: jobs(conn, shop.id, known, scope, Some(today))?,
        checks: lines::checks(conn, shop.id, lists, scope)?,
        parts: lines::parts(conn, shop.id, scope)?,
        labor,
        operations: lines::operations(conn, shop.id, lists, scope)?,
        readings: said::readings(conn, shop.id, scope)?,
        rule_answers: said::rule_answers(conn, shop.id, scope)?,
        ..Rows::default()
    })
}
