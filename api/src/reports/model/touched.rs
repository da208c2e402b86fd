//! Which jobs a change touched, and what is read anew of them.

use std::collections::BTreeSet;

use analytics::history::{JobId, Rows};
use diesel::prelude::*;

use super::scope::{Scope, scoped, scopes};
use super::{CLOSED, Lists, beside, bits, lines, read_rows};
use crate::db::schema::{comeback, job, part_return, part_use, planned_visit, repair_order};
use crate::db::{Answer, Conn};
use crate::shops::model::Shop;

/// More touched jobs than this are quicker read with all the others.
const MANY: usize = 5000;

/// The jobs touched after a change number, closed or not, and the rows of
/// those of them that are closed. A job counts as touched where it, its order
/// or a job linked to it as the later one was (or planned as its second visit);
/// its links as the earlier job come with it.
///
/// # Errors
/// Where the database does not answer.
pub fn load_changed(
    conn: &mut Conn,
    shop: &Shop,
    lists: &Lists,
    after_change_no: i64,
) -> Answer<(Vec<JobId>, Rows)> {
    let touched = Touched::find(conn, shop.id, after_change_no)?;
    let ids = touched.closed.iter().chain(&touched.not_closed);
    let bits = ids.map(|id| bits(id)).collect::<Answer<Vec<JobId>>>()?;
    let mut rows = if bits.len() > MANY {
        read_rows(conn, shop, lists, &[Scope::Shop])?
    } else {
        read_few(conn, shop, lists, touched)?
    };
    if beside::attendance_changed(conn, shop.id, after_change_no)? {
        rows.attendance = Some(beside::attendance(conn, shop.id, lists)?);
    }
    Ok((bits, rows))
}

/// Of jobs that are not closed, figures are made from hours and pay-backs alone.
fn read_few(conn: &mut Conn, shop: &Shop, lists: &Lists, touched: Touched) -> Answer<Rows> {
    let closed: Vec<String> = touched.closed.into_iter().collect();
    let mut rows = match closed.is_empty() {
        true => Rows::default(),
        false => read_rows(conn, shop, lists, &scopes(&closed))?,
    };
    let not_closed: Vec<String> = touched.not_closed.into_iter().collect();
    for scope in scopes(&not_closed) {
        rows.labor.extend(lines::labor(conn, shop.id, lists, scope)?.0);
        rows.pay_backs.extend(beside::pay_backs(conn, shop.id, scope)?);
    }
    Ok(rows)
}

/// Ids of the touched jobs, each in one of the two.
#[derive(Default)]
struct Touched {
    closed: BTreeSet<String>,
    not_closed: BTreeSet<String>,
}

impl Touched {
    fn find(conn: &mut Conn, shop_id: i32, after: i64) -> Answer<Self> {
        let with_order =
            || {
                job::table.inner_join(repair_order::table.on(
                    repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id)),
                ))
            };
        let own: Vec<(String, String)> = with_order()
            .filter(job::shop_id.eq(shop_id).and(job::change_no.gt(after)))
            .select((job::id, repair_order::status))
            .load(conn)?;
        let by_order: Vec<(String, String)> = with_order()
            .filter(repair_order::shop_id.eq(shop_id).and(repair_order::change_no.gt(after)))
            .select((job::id, repair_order::status))
            .load(conn)?;
        let mut touched = Self::default();
        for (id, status) in own.into_iter().chain(by_order) {
            let kind = if status == CLOSED { &mut touched.closed } else { &mut touched.not_closed };
            kind.insert(id);
        }
        let later: Vec<String> =
            touched.closed.iter().chain(&touched.not_closed).cloned().collect();
        for scope in scopes(&later) {
            let earlier = earlier(conn, shop_id, scope)?;
            // Whether those are closed is for who reads them to find.
            let new = earlier.into_iter().filter(|id| !touched.not_closed.contains(id));
            touched.closed.extend(new.collect::<Vec<String>>());
        }
        Ok(touched)
    }
}

/// The jobs to which these belong as the later one.
fn earlier(conn: &mut Conn, shop_id: i32, scope: Scope<'_>) -> Answer<Vec<String>> {
    let links = comeback::table
        .filter(comeback::shop_id.eq(shop_id))
        .select(comeback::earlier_job_id)
        .into_boxed();
    let parts = part_return::table
        .inner_join(
            part_use::table.on(part_use::shop_id
                .eq(part_return::shop_id)
                .and(part_use::id.eq(part_return::part_use_id))),
        )
        .filter(part_return::shop_id.eq(shop_id))
        .select(part_use::job_id)
        .into_boxed();
    let visits = planned_visit::table
        .filter(planned_visit::shop_id.eq(shop_id))
        .select(planned_visit::earlier_job_id)
        .into_boxed();
    let mut ids: Vec<String> = scoped!(links, comeback::later_job_id, scope).load(conn)?;
    ids.extend(scoped!(parts, part_return::later_job_id, scope).load::<String>(conn)?);
    ids.extend(scoped!(visits, planned_visit::later_job_id, scope).load::<String>(conn)?);
    Ok(ids)
}
