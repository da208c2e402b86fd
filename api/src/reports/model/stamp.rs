//! Whether anything of a shop changed that reports are made from.

use diesel::prelude::*;

use crate::db::schema::{settings_stamp, shop_counter};
use crate::db::{Answer, Conn};

/// How far a shop's record has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    pub change_no: i64,
    /// Moved by the database itself whenever settings, lists, names, plans, rules or
    /// silences change: some of them do without a change number.
    pub settings: i64,
}

/// The shop's stamp, in one small query.
///
/// # Errors
/// Where the database does not answer.
pub fn stamp(conn: &mut Conn, shop_id: i32) -> Answer<Stamp> {
    let (change_no, settings) = shop_counter::table
        .inner_join(settings_stamp::table.on(settings_stamp::shop_id.eq(shop_counter::shop_id)))
        .filter(shop_counter::shop_id.eq(shop_id))
        .select((shop_counter::change_no, settings_stamp::moved))
        .first(conn)?;
    Ok(Stamp { change_no, settings })
}
