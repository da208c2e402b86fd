//! What pages and queries ask of the record beside a report's rows.

use analytics::words::LinkState;
use chrono::NaiveDate;
use diesel::prelude::*;

use crate::db::schema::{comeback, job, part_use, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn};

/// Whether the shop has more jobs than that, in whatever state.
///
/// # Errors
/// Where the database does not answer.
pub fn has_more_jobs_than(conn: &mut Conn, shop_id: i32, count: i64) -> Answer<bool> {
    let next: Option<String> = job::table
        .filter(job::shop_id.eq(shop_id))
        .order(job::id)
        .offset(count)
        .limit(1)
        .select(job::id)
        .first(conn)
        .optional()?;
    Ok(next.is_some())
}

/// Whether any job has the part, by number or by name.
///
/// # Errors
/// Where the database does not answer.
pub fn has_part(conn: &mut Conn, shop_id: i32, part: &str) -> Answer<bool> {
    let found: Option<String> = part_use::table
        .filter(part_use::shop_id.eq(shop_id))
        .filter(part_use::part_no.eq(part).or(part_use::name.eq(part)))
        .select(part_use::id)
        .first(conn)
        .optional()?;
    Ok(found.is_some())
}

/// Of every comeback that waits for a decision: the day its later order was
/// opened, and whether it is of the same complaint.
///
/// # Errors
/// Where the database does not answer.
pub fn undecided(conn: &mut Conn, shop_id: i32) -> Answer<Vec<(NaiveDate, bool)>> {
    Ok(comeback::table
        .inner_join(
            job::table
                .on(job::shop_id.eq(comeback::shop_id).and(job::id.eq(comeback::later_job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(comeback::shop_id.eq(shop_id))
        .filter(comeback::state.eq(Word(LinkState::Proposed)))
        .select((repair_order::opened_on, comeback::same_complaint))
        .load(conn)?)
}
