//! A write to one shop: who, when, and under which change number.

use diesel::prelude::*;
use serde::Serialize;

use super::model::Shop;
use crate::db::schema::{job, record_change, repair_order, shop_counter};
use crate::db::{Answer, Conn, Fault, insert_rows};
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
    /// Whether the writer may change what is finished or handed over.
    pub corrects: bool,
    /// Whether this write does so: its changes are marked.
    pub correction: bool,
    /// Lines of the change that are written.
    line: i32,
}

/// What a line of the change is about: the kind of record, its id, and the
/// order and job it hangs on.
#[derive(Debug, Clone, Default)]
pub struct About<'a> {
    pub record: &'static str,
    pub id: String,
    pub order: Option<&'a OrderId>,
    pub job: Option<&'a JobId>,
}

impl<'a> About<'a> {
    /// A record that hangs on no job and no order.
    #[must_use]
    pub fn new(record: &'static str, id: impl std::fmt::Display) -> Self {
        Self { record, id: id.to_string(), order: None, job: None }
    }

    /// On this order.
    #[must_use]
    pub fn order(self, order: &'a OrderId) -> Self {
        Self { order: Some(order), ..self }
    }

    /// On this job.
    #[must_use]
    pub fn job(self, job: &'a JobId) -> Self {
        Self { job: Some(job), ..self }
    }
}

/// A line of a change, on its way into the record.
struct Line<'a> {
    no: i32,
    about: &'a About<'a>,
    before: Option<String>,
    after: Option<String>,
}

fn text<T: Serialize>(row: Option<&T>) -> Answer<Option<String>> {
    row.map(serde_json::to_string)
        .transpose()
        .map_err(|error| Fault::Unavailable(error.to_string()))
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
        Ok(Self { conn, shop, person, now, change_no, corrects: false, correction: false, line: 0 })
    }

    /// Gives the change number back where nothing is to be written after all:
    /// change numbers have no gaps.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn give_back(self) -> Answer<()> {
        diesel::update(shop_counter::table.find(self.shop.id))
            .set(shop_counter::change_no.eq(shop_counter::change_no - 1_i64))
            .execute(self.conn)?;
        Ok(())
    }

    /// Notes who changed what: the record before (absent: it is new) and after
    /// (absent: it is gone), as the API shows it to who may see everything.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn note<T: Serialize>(
        &mut self,
        about: &About<'_>,
        action: &str,
        before: Option<&T>,
        after: Option<&T>,
    ) -> Answer<()> {
        self.line += 1;
        let line = Line { no: self.line, about, before: text(before)?, after: text(after)? };
        self.insert(action, &[line])
    }

    /// Notes rows that are new, a line each.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn note_new<'r, T: Serialize + 'r>(
        &mut self,
        action: &str,
        rows: impl Iterator<Item = (About<'r>, &'r T)>,
    ) -> Answer<()> {
        let rows: Vec<(About<'r>, &T)> = rows.collect();
        let mut lines = Vec::with_capacity(rows.len());
        for (about, row) in &rows {
            self.line += 1;
            lines.push(Line { no: self.line, about, before: None, after: text(Some(*row))? });
        }
        self.insert(action, &lines)
    }

    fn insert(&mut self, action: &str, lines: &[Line<'_>]) -> Answer<()> {
        let values = lines.iter().map(|line| {
            (
                record_change::shop_id.eq(self.shop.id),
                record_change::change_no.eq(self.change_no),
                record_change::line.eq(line.no),
                record_change::changed_at.eq(self.now),
                record_change::person_id.eq(self.person),
                record_change::record.eq(line.about.record),
                record_change::record_id.eq(&line.about.id),
                record_change::action.eq(action),
                record_change::order_id.eq(line.about.order),
                record_change::job_id.eq(line.about.job),
                record_change::correction.eq(self.correction),
                record_change::before_json.eq(&line.before),
                record_change::after_json.eq(&line.after),
            )
        });
        insert_rows!(&mut *self.conn, record_change, values);
        Ok(())
    }

    /// A part of the write that stands or falls by itself: where it fails, the
    /// record is as before it, and the write goes on.
    ///
    /// # Errors
    /// What `work` answers.
    pub fn apart<T>(&mut self, work: impl FnOnce(&mut Self) -> Answer<T>) -> Answer<T> {
        let (line, correction) = (self.line, self.correction);
        let answer = crate::db::apart(self, |write| &mut *write.conn, work);
        if answer.is_err() {
            (self.line, self.correction) = (line, correction);
        }
        answer
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
