//! A write to one shop: who, when, and under which change number.

use diesel::prelude::*;

use super::model::Shop;
use crate::db::schema::{job, repair_order, shop_counter};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, PersonId};

/// A write under way. Its change number is taken first, which locks the shop's
/// counter row: writes to one shop stand in one line on both databases, so a
/// decision may read, decide and write.
pub struct ShopWrite<'a> {
    pub conn: &'a mut Conn,
    pub shop: &'a Shop,
    pub person: &'a PersonId,
    pub now: UtcStamp,
    pub change_no: i64,
}

impl<'a> ShopWrite<'a> {
    /// Takes the next change number.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn begin(
        conn: &'a mut Conn,
        shop: &'a Shop,
        person: &'a PersonId,
        now: UtcStamp,
    ) -> Answer<Self> {
        let change_no = diesel::update(shop_counter::table.find(shop.id))
            .set(shop_counter::change_no.eq(shop_counter::change_no + 1_i64))
            .returning(shop_counter::change_no)
            .get_result(conn)?;
        Ok(Self { conn, shop, person, now, change_no })
    }

    /// The next order number of the shop, without gaps: a write that fails
    /// gives it back.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn next_order_number(&mut self) -> Answer<i64> {
        Ok(diesel::update(shop_counter::table.find(self.shop.id))
            .set(shop_counter::order_number.eq(shop_counter::order_number + 1_i64))
            .returning(shop_counter::order_number)
            .get_result(self.conn)?)
    }

    /// Numbering goes on above an order number that came from elsewhere.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn raise_order_number(&mut self, number: i64) -> Answer<()> {
        let place = shop_counter::table.filter(
            shop_counter::shop_id.eq(self.shop.id).and(shop_counter::order_number.lt(number)),
        );
        diesel::update(place).set(shop_counter::order_number.eq(number)).execute(self.conn)?;
        Ok(())
    }

    /// Marks a job as touched: its version and its change number move, so that
    /// editors and the live history see it.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn stamp_job(&mut self, id: &JobId) -> Answer<()> {
        diesel::update(job::table.find((self.shop.id, id)))
            .set((job::change_no.eq(self.change_no), job::version.eq(job::version + 1)))
            .execute(self.conn)?;
        Ok(())
    }

    /// Marks an order as touched.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn stamp_order(&mut self, id: &OrderId) -> Answer<()> {
        diesel::update(repair_order::table.find((self.shop.id, id)))
            .set((
                repair_order::change_no.eq(self.change_no),
                repair_order::version.eq(repair_order::version + 1),
            ))
            .execute(self.conn)?;
        Ok(())
    }
}

/// The shop's last change number.
///
/// # Errors
/// Where the database does not answer.
pub fn last_change(conn: &mut Conn, shop_id: i32) -> Answer<i64> {
    Ok(shop_counter::table.find(shop_id).select(shop_counter::change_no).first(conn)?)
}

/// Takes the shop's place in the line without a change number: what is read
/// afterwards cannot change before this write ends.
///
/// # Errors
/// Where the database does not answer.
pub fn lock(conn: &mut Conn, shop_id: i32) -> Answer<()> {
    diesel::update(shop_counter::table.find(shop_id))
        .set(shop_counter::change_no.eq(shop_counter::change_no))
        .execute(conn)?;
    Ok(())
}
