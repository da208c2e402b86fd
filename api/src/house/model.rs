//! What the record says of the group's shops as a whole.

use diesel::prelude::*;

use crate::db::schema::{record_change, repair_order};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::people::model::of_shop;
use crate::shops::model::Shop;

/// A shop at a glance.
#[derive(Debug, Clone)]
pub struct AtAGlance {
    pub shop: Shop,
    /// Open accounts with a role in the shop.
    pub people: usize,
    pub open_orders: i64,
    pub closed_orders: i64,
    /// Absent while nothing was written.
    pub last: Option<LastChange>,
}

/// The last change of a shop's record.
#[derive(Debug, Clone, Copy)]
pub struct LastChange {
    pub number: i64,
    pub at: UtcStamp,
}

/// One shop at a glance.
///
/// # Errors
/// Where the database does not answer.
pub fn at_a_glance(conn: &mut Conn, shop: Shop) -> Answer<AtAGlance> {
    let mut people: Vec<_> = of_shop(conn, shop.id)?
        .into_iter()
        .filter(|(person, _)| person.active)
        .map(|(person, _)| person.id)
        .collect();
    people.dedup();
    let mut orders = |status: &str| -> Answer<i64> {
        let of_status = repair_order::shop_id.eq(shop.id).and(repair_order::status.eq(status));
        Ok(repair_order::table.filter(of_status).count().get_result(conn)?)
    };
    let (open_orders, closed_orders) = (orders("open")?, orders("closed")?);
    let last: Option<(i64, UtcStamp)> = record_change::table
        .filter(record_change::shop_id.eq(shop.id))
        .order((record_change::change_no.desc(), record_change::line.desc()))
        .select((record_change::change_no, record_change::changed_at))
        .first(conn)
        .optional()?;
    Ok(AtAGlance {
        people: people.len(),
        open_orders,
        closed_orders,
        last: last.map(|(number, at)| LastChange { number, at }),
        shop,
    })
}
