//! The lines of changes, read only: they are written with what they tell of.

use diesel::prelude::*;
use serde::Serialize;
use serde_json::Value;

use super::differ;
use crate::db::schema::{job, person, record_change, repair_order, role_grant};
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, PersonId};
use crate::shops::model::Shop;
use crate::shops::write::last_change;

/// One line: a record that one write changed.
#[derive(Debug, Clone, Queryable, Selectable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = record_change)]
pub struct Change {
    /// Of the write; writes of a shop stand in one line, without gaps.
    pub change_no: i64,
    /// Within the write, from 1.
    pub line: i32,
    pub changed_at: UtcStamp,
    pub person_id: PersonId,
    /// What kind of record: `order`, `job`, `check`, `code` and so on.
    pub record: String,
    pub record_id: String,
    /// `added`, `changed`, `removed`, `closed` and so on.
    pub action: String,
    pub order_id: Option<OrderId>,
    pub job_id: Option<JobId>,
    /// Whether it changed what was finished or handed over.
    pub correction: bool,
}

/// A line with its record before and after.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct AuditLine {
    #[serde(flatten)]
    pub change: Change,
    /// Absent: the record was new.
    #[schema(value_type = Option<Object>)]
    pub before: Option<Value>,
    /// Absent: the record is gone.
    #[schema(value_type = Option<Object>)]
    pub after: Option<Value>,
    /// Names of the fields that differ.
    pub changed: Vec<String>,
}

type Bodies = (Option<String>, Option<String>);

impl AuditLine {
    fn of((change, (before, after)): (Change, Bodies)) -> Answer<Self> {
        let read = |text: Option<String>| -> Answer<Option<Value>> {
            text.map(|text| serde_json::from_str(&text))
                .transpose()
                .map_err(|error| Fault::Unavailable(error.to_string()))
        };
        let (before, after) = (read(before)?, read(after)?);
        let changed = differ::changed(before.as_ref(), after.as_ref());
        Ok(Self { change, before, after, changed })
    }
}

/// A page of the feed.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct Feed {
    pub items: Vec<Change>,
    /// Give it as `after` for what follows.
    pub last_change_no: i64,
    /// Whether more is there already.
    #[serde(skip)]
    pub more: bool,
}

/// Lines after a change number, oldest first; whole writes only. A write with
/// more lines than the limit comes whole all the same.
///
/// # Errors
/// Where the database does not answer.
pub fn feed(conn: &mut Conn, shop_id: i32, after: i64, limit: i64) -> Answer<Feed> {
    let mut items: Vec<Change> = record_change::table
        .filter(record_change::shop_id.eq(shop_id).and(record_change::change_no.gt(after)))
        .order((record_change::change_no, record_change::line))
        .limit(limit + 1)
        .select(Change::as_select())
        .load(conn)?;
    let most = usize::try_from(limit).unwrap_or(usize::MAX);
    if items.len() <= most {
        let last_change_no = last_change(conn, shop_id)?.max(after);
        return Ok(Feed { items, last_change_no, more: false });
    }
    let cut = items.last().map_or(after, |item| item.change_no);
    items.retain(|item| item.change_no < cut);
    if items.is_empty() {
        items = record_change::table
            .filter(record_change::shop_id.eq(shop_id).and(record_change::change_no.eq(cut)))
            .order(record_change::line)
            .select(Change::as_select())
            .load(conn)?;
    }
    let last_change_no = items.last().map_or(cut, |item| item.change_no);
    Ok(Feed { items, last_change_no, more: last_change_no < last_change(conn, shop_id)? })
}

/// Which lines of the audit.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    pub record: Option<String>,
    pub record_id: Option<String>,
    pub order_id: Option<OrderId>,
    pub job_id: Option<JobId>,
    pub person_id: Option<PersonId>,
    pub from: Option<UtcStamp>,
    /// The first instant that is too late.
    pub before: Option<UtcStamp>,
    /// The last line of the page before: change number and line.
    pub after: Option<(i64, i32)>,
    pub limit: i64,
}

/// Lines with what they changed, newest first.
///
/// # Errors
/// Where the database does not answer.
pub fn audit(conn: &mut Conn, shop_id: i32, filter: &Filter) -> Answer<Vec<AuditLine>> {
    use record_change::dsl;
    let mut query = record_change::table
        .filter(dsl::shop_id.eq(shop_id))
        .order((dsl::change_no.desc(), dsl::line.desc()))
        .limit(filter.limit)
        .select((Change::as_select(), (dsl::before_json, dsl::after_json)))
        .into_boxed();
    if let Some(record) = &filter.record {
        query = query.filter(dsl::record.eq(record));
    }
    if let Some(id) = &filter.record_id {
        query = query.filter(dsl::record_id.eq(id));
    }
    if let Some(order) = &filter.order_id {
        query = query.filter(dsl::order_id.eq(order));
    }
    if let Some(job) = &filter.job_id {
        query = query.filter(dsl::job_id.eq(job));
    }
    if let Some(person) = &filter.person_id {
        query = query.filter(dsl::person_id.eq(person));
    }
    if let Some(from) = filter.from {
        query = query.filter(dsl::changed_at.ge(from));
    }
    if let Some(before) = filter.before {
        query = query.filter(dsl::changed_at.lt(before));
    }
    if let Some((change_no, line)) = filter.after {
        query = query.filter(
            dsl::change_no.lt(change_no).or(dsl::change_no.eq(change_no).and(dsl::line.lt(line))),
        );
    }
    let rows: Vec<(Change, Bodies)> = query.load(conn)?;
    rows.into_iter().map(AuditLine::of).collect()
}

/// The order of that number.
///
/// # Errors
/// Where the database does not answer.
pub fn order_of_number(conn: &mut Conn, shop_id: i32, number: &str) -> Answer<Option<OrderId>> {
    Ok(repair_order::table
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::order_no.eq(number)))
        .select(repair_order::id)
        .first(conn)
        .optional()?)
}

/// Numbers of orders, by id.
///
/// # Errors
/// Where the database does not answer.
pub fn order_numbers(
    conn: &mut Conn,
    shop_id: i32,
    ids: &[OrderId],
) -> Answer<Vec<(OrderId, String)>> {
    Ok(repair_order::table
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::id.eq_any(ids)))
        .select((repair_order::id, repair_order::order_no))
        .load(conn)?)
}

/// The order and number within it of jobs, by id.
///
/// # Errors
/// Where the database does not answer.
pub fn job_numbers(
    conn: &mut Conn,
    shop_id: i32,
    ids: &[JobId],
) -> Answer<Vec<(JobId, OrderId, i32)>> {
    Ok(job::table
        .filter(job::shop_id.eq(shop_id).and(job::id.eq_any(ids)))
        .select((job::id, job::order_id, job::job_no))
        .load(conn)?)
}

/// Who has a role in the shop or in its group, by name.
///
/// # Errors
/// Where the database does not answer.
pub fn writers(conn: &mut Conn, shop: &Shop) -> Answer<Vec<(PersonId, String)>> {
    let here = role_grant::shop_id.eq(shop.id).or(role_grant::shop_id.is_null());
    Ok(person::table
        .inner_join(role_grant::table.on(role_grant::person_id.eq(person::id)))
        .filter(person::group_id.eq(&shop.group_id))
        .filter(here)
        .order((person::name, person::id))
        .select((person::id, person::name))
        .distinct()
        .load(conn)?)
}
