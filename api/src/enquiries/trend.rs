//! What fails and why, quarter by quarter: counts of confirmed comebacks.

use std::collections::BTreeMap;

use analytics::words::LinkState;
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use super::quarter::Quarter;
use crate::codes::lists::Lists;
use crate::db::schema::{comeback, enquiry, job, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::ComebackId;
use crate::shops::model::Shop;

/// Quarters shown, the running one included.
const QUARTERS: usize = 4;

/// Confirmed comebacks by the quarter of the return.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct Trend {
    /// Such as `2026-Q4`, the oldest first.
    pub quarters: Vec<String>,
    pub by_reason: Vec<TrendLine>,
    /// By what the reason is put down to: as the enquiry says, else as the shop's
    /// list has it.
    pub by_attribution: Vec<TrendLine>,
    /// By what failed, as enquiries name it.
    pub by_failed_item: Vec<TrendLine>,
}

/// One line: most often first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct TrendLine {
    /// A code, a word, or what was written; null: nobody has said.
    pub value: Option<String>,
    /// One a quarter.
    pub counts: Vec<i64>,
    /// The comebacks counted.
    pub comebacks: Vec<ComebackId>,
}

/// Id, day of the return, reason; what the enquiry says: attribution, failed item.
type Row = (ComebackId, NaiveDate, Option<String>, Option<String>, Option<String>);

/// Reads the trend up to a day.
///
/// # Errors
/// Where the database does not answer.
pub fn read(conn: &mut Conn, shop: &Shop, today: NaiveDate) -> Answer<Trend> {
    let quarters = Quarter::last(QUARTERS, today);
    let first = quarters.first().map_or(today, |quarter| quarter.first_day());
    let rows = rows(conn, shop.id, (first, today))?;
    let lists = Lists::load(conn, shop.id)?;
    let reason = |row: &Row| row.2.as_deref().map(|code| lists.now("comeback_reason", code));
    let put_down = |row: &Row| {
        let listed = || lists.kind("comeback_reason", row.2.as_deref()?);
        row.3.clone().or_else(listed)
    };
    Ok(Trend {
        by_reason: lines(&rows, &quarters, reason),
        by_attribution: lines(&rows, &quarters, put_down),
        by_failed_item: lines(&rows, &quarters, |row| row.4.clone()),
        quarters: quarters.into_iter().map(Quarter::name).collect(),
    })
}

fn rows(conn: &mut Conn, shop_id: i32, days: (NaiveDate, NaiveDate)) -> Answer<Vec<Row>> {
    Ok(comeback::table
        .inner_join(
            job::table
                .on(job::shop_id.eq(comeback::shop_id).and(job::id.eq(comeback::later_job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .left_join(
            enquiry::table.on(enquiry::shop_id
                .eq(comeback::shop_id)
                .and(enquiry::comeback_id.eq(comeback::id))),
        )
        .filter(comeback::shop_id.eq(shop_id).and(comeback::state.eq(Word(LinkState::Confirmed))))
        .filter(repair_order::status.ne("void"))
        .filter(repair_order::opened_on.between(days.0, days.1))
        .order((repair_order::opened_on, comeback::id))
        .select((
            comeback::id,
            repair_order::opened_on,
            comeback::reason,
            enquiry::attribution.nullable(),
            enquiry::failed_item.nullable(),
        ))
        .load(conn)?)
}

fn lines(
    rows: &[Row],
    quarters: &[Quarter],
    value: impl Fn(&Row) -> Option<String>,
) -> Vec<TrendLine> {
    let mut by_value: BTreeMap<Option<String>, TrendLine> = BTreeMap::new();
    for row in rows {
        let value = value(row);
        let line = by_value.entry(value.clone()).or_insert_with(|| TrendLine {
            value,
            counts: vec![0; quarters.len()],
            comebacks: Vec::new(),
        });
        let place = quarters.iter().position(|quarter| *quarter == Quarter::of(row.1));
        if let Some(count) = place.and_then(|place| line.counts.get_mut(place)) {
            *count += 1;
        }
        line.comebacks.push(row.0.clone());
    }
    let mut lines: Vec<TrendLine> = by_value.into_values().collect();
    lines.sort_by_key(|line| (line.value.is_none(), std::cmp::Reverse(line.comebacks.len())));
    lines
}
