//! What a chunk of rows comes to in one shop's record, and its writing: one
//! transaction under one change number.

use std::collections::{BTreeMap, BTreeSet};

use analytics::words::CauseState;
use diesel::prelude::*;

use super::rows::{
    CheckRow, JobRow, LaborRow, LinkRow, OperationRow, OrderRow, PartReturnRow, PartRow, VehicleRow,
};
use crate::codes::model::{self as codes, CodeEntry};
use crate::db::schema::{
    comeback, job, job_check, job_operation, labor_entry, part_return, part_use, person,
    repair_order, vehicle,
};
use crate::db::types::Word;
use crate::db::{Answer, Conn, insert_rows};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{GroupId, JobId, OrderId, PersonId, VehicleId};
use crate::domain::refusal::Refusal;
use crate::enquiries::reason as enquired;
use crate::people::model as people;
use crate::shops::model::Shop;
use crate::shops::write::{About, ShopWrite};

/// Rows to insert, and rows to write over those of the version before.
#[derive(Debug, Clone, PartialEq)]
pub struct Written<T> {
    pub new: Vec<T>,
    pub over: Vec<T>,
}

impl<T> Default for Written<T> {
    fn default() -> Self {
        Self { new: Vec::new(), over: Vec::new() }
    }
}

impl<T> Written<T> {
    const fn is_empty(&self) -> bool {
        self.new.is_empty() && self.over.is_empty()
    }
}

/// An order's way from the vehicle made for it to the one it is a visit of.
#[derive(Debug, Clone)]
pub struct Seat {
    pub from: VehicleId,
    pub to: VehicleId,
}

/// What the notes call what an import does.
const IMPORTED: &str = "imported";

/// Who stands in the notes for files, which are nobody's handwriting. Not
/// active, without a sign-in, in no shop.
const IMPORTER: &str = "History import";

fn importer(conn: &mut Conn, group: &GroupId) -> Answer<PersonId> {
    if let Some(id) = people::by_name(conn, group, IMPORTER)? {
        return Ok(id);
    }
    let id = people::make(conn, group, IMPORTER, None)?;
    diesel::update(person::table.find(&id)).set(person::active.eq(false)).execute(conn)?;
    Ok(id)
}

/// Writes a row over that of the version before, which is noted.
macro_rules! over {
    ($w:ident, $table:ident, $kind:ty, $row:ident, $set:expr, $about:expr) => {{
        let place = $table::table.find(($row.shop_id, &$row.id));
        let before: Option<$kind> = place.select(<$kind>::as_select()).first($w.conn).optional()?;
        let seen = place.filter($table::version.eq($row.version - 1));
        met(diesel::update(seen).set($set).execute($w.conn)?)?;
        $w.note(&$about, IMPORTED, before.as_ref(), Some($row))?;
    }};
}

/// Everything that one transaction writes.
#[derive(Debug, Clone, Default)]
pub struct Changes {
    pub codes: Vec<CodeEntry>,
    pub vehicles: Written<VehicleRow>,
    pub orders: Written<OrderRow>,
    pub jobs: Written<JobRow>,
    pub operations: Written<OperationRow>,
    pub checks: Written<CheckRow>,
    pub parts: Written<PartRow>,
    pub labor: Written<LaborRow>,
    pub links: Written<LinkRow>,
    pub part_returns: Vec<PartReturnRow>,
    /// Orders, not written here, that turn out to be visits of a vehicle.
    pub seats: BTreeMap<OrderId, Seat>,
    /// Jobs whose cause was not the cause.
    pub suspected: BTreeSet<JobId>,
    /// Jobs of which something else was written.
    pub touched: BTreeSet<JobId>,
    /// Numbering goes on above this.
    pub order_number: i64,
}

impl Changes {
    /// Nothing to write.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.codes.is_empty()
            && self.vehicles.is_empty()
            && self.orders.is_empty()
            && self.jobs.is_empty()
            && self.operations.is_empty()
            && self.checks.is_empty()
            && self.parts.is_empty()
            && self.labor.is_empty()
            && self.links.is_empty()
            && self.part_returns.is_empty()
            && self.seats.is_empty()
    }

    /// Writes it all, and notes it: one line an order that is new, and one a
    /// row that is written over.
    ///
    /// # Errors
    /// A conflict where somebody wrote the same rows meanwhile; then nothing is
    /// written.
    pub fn write(&self, conn: &mut Conn, shop: &Shop, now: UtcStamp) -> Answer<()> {
        let importer = importer(conn, &shop.group_id)?;
        let mut w = ShopWrite::begin(conn, shop, &importer, now)?;
        for entry in &self.codes {
            codes::add(w.conn, entry)?;
            let id = format!("{}/{}", entry.list, entry.code);
            w.note(&About::new("code", id), IMPORTED, None, Some(entry))?;
        }
        self.write_orders(&mut w)?;
        self.write_jobs(&mut w)?;
        self.write_work(&mut w)?;
        self.write_links(&mut w)?;
        self.stamp(&mut w)
    }

    fn write_orders(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        insert_rows!(&mut *w.conn, vehicle, self.vehicles.new.iter());
        for row in &self.vehicles.over {
            over!(w, vehicle, VehicleRow, row, row, About::new("vehicle", &row.id));
        }
        let change_no = w.change_no;
        let new = self.orders.new.iter();
        let stamped = new.clone().map(|row| (row, repair_order::change_no.eq(change_no)));
        insert_rows!(&mut *w.conn, repair_order, stamped);
        w.note_new(IMPORTED, new.map(|row| (About::new("order", &row.id).order(&row.id), row)))?;
        for row in &self.orders.over {
            let set = (row, repair_order::change_no.eq(w.change_no));
            let about = About::new("order", &row.id).order(&row.id);
            over!(w, repair_order, OrderRow, row, set, about);
        }
        if self.order_number > 0 {
            w.raise_order_number(self.order_number)?;
        }
        Ok(())
    }

    fn write_jobs(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        let change_no = w.change_no;
        let stamped = self.jobs.new.iter().map(|row| (row, job::change_no.eq(change_no)));
        insert_rows!(&mut *w.conn, job, stamped);
        for row in &self.jobs.over {
            let set = (row, job::change_no.eq(w.change_no));
            let about = About::new("job", &row.id).order(&row.order_id).job(&row.id);
            over!(w, job, JobRow, row, set, about);
        }
        Ok(())
    }

    fn write_work(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        macro_rules! lines {
            ($($rows:ident into $table:ident as $record:literal: $row:ty),+ $(,)?) => {$(
                insert_rows!(&mut *w.conn, $table, self.$rows.new.iter());
                for row in &self.$rows.over {
                    let about = About::new($record, &row.id).job(&row.job_id);
                    over!(w, $table, $row, row, row, about);
                }
            )+};
        }
        lines!(
            operations into job_operation as "operation": OperationRow,
            checks into job_check as "check": CheckRow,
            parts into part_use as "part_use": PartRow,
            labor into labor_entry as "labor": LaborRow,
        );
        Ok(())
    }

    fn write_links(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        let change_no = w.change_no;
        let new = self.links.new.iter();
        let stamped = new.clone().map(|row| (row, comeback::change_no.eq(change_no)));
        insert_rows!(&mut *w.conn, comeback, stamped);
        w.note_new(
            IMPORTED,
            new.map(|row| (About::new("comeback", &row.id).job(&row.later_job_id), row)),
        )?;
        for row in &self.links.over {
            let set = (row, comeback::change_no.eq(w.change_no));
            let about = About::new("comeback", &row.id).job(&row.later_job_id);
            over!(w, comeback, LinkRow, row, set, about);
            enquired::follow(w, &row.id, row.reason.as_deref())?;
        }
        let new = self.part_returns.iter();
        let stamped = new.clone().map(|row| (row, part_return::change_no.eq(change_no)));
        insert_rows!(&mut *w.conn, part_return, stamped);
        w.note_new(
            IMPORTED,
            new.map(|row| {
                (About::new("part_return", &row.part_use_id).job(&row.later_job_id), row)
            }),
        )?;
        self.write_seats(w)?;
        self.write_suspicions(w)
    }

    fn write_seats(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        for (order, seat) in &self.seats {
            let place = repair_order::table.find((w.shop.id, order));
            let before: OrderRow = place.select(OrderRow::as_select()).first(w.conn)?;
            diesel::update(place).set(repair_order::vehicle_id.eq(&seat.to)).execute(w.conn)?;
            diesel::delete(vehicle::table.find((w.shop.id, &seat.from))).execute(w.conn)?;
            w.stamp_order(order)?;
            let after: OrderRow = place.select(OrderRow::as_select()).first(w.conn)?;
            let about = About::new("order", order).order(order);
            w.note(&about, IMPORTED, Some(&before), Some(&after))?;
        }
        Ok(())
    }

    fn write_suspicions(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        for id in &self.suspected {
            let place = job::table.find((w.shop.id, id));
            let before: JobRow = place.select(JobRow::as_select()).first(w.conn)?;
            if before.cause.is_none() {
                continue;
            }
            let state = Some(Word(CauseState::Suspected));
            diesel::update(place).set(job::cause_state.eq(state)).execute(w.conn)?;
            let after = JobRow { cause_state: state, ..before.clone() };
            let about = About::new("job", id).order(&before.order_id).job(id);
            w.note(&about, IMPORTED, Some(&before), Some(&after))?;
        }
        Ok(())
    }

    /// Moves the change number of every job that is not written itself.
    fn stamp(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        let written: BTreeSet<&JobId> =
            self.jobs.new.iter().chain(&self.jobs.over).map(|row| &row.id).collect();
        let links = self.links.new.iter().chain(&self.links.over);
        let linked = links.flat_map(|row| [&row.earlier_job_id, &row.later_job_id]);
        let around = self.jobs_around(w)?;
        let touched: BTreeSet<&JobId> =
            self.touched.iter().chain(&self.suspected).chain(linked).chain(&around).collect();
        for id in touched.difference(&written) {
            w.stamp_job(id)?;
        }
        Ok(())
    }

    /// Jobs of the orders and vehicles written over: the figures of a job tell
    /// its order's days and its vehicle's model too.
    fn jobs_around(&self, w: &mut ShopWrite<'_>) -> Answer<Vec<JobId>> {
        let mut found = Vec::new();
        for id in self.orders.over.iter().map(|row| &row.id).chain(self.seats.keys()) {
            let jobs: Vec<JobId> = job::table
                .filter(job::shop_id.eq(w.shop.id).and(job::order_id.eq(id)))
                .select(job::id)
                .load(w.conn)?;
            found.extend(jobs);
        }
        for row in &self.vehicles.over {
            let jobs: Vec<JobId> = job::table
                .inner_join(repair_order::table.on(
                    repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id)),
                ))
                .filter(repair_order::shop_id.eq(w.shop.id))
                .filter(repair_order::vehicle_id.eq(&row.id))
                .select(job::id)
                .load(w.conn)?;
            found.extend(jobs);
        }
        Ok(found)
    }
}

/// A row written over must be the one that was read.
fn met(hits: usize) -> Answer<()> {
    if hits == 1 {
        return Ok(());
    }
    Err(Refusal::Conflict(
        "somebody changed the same rows meanwhile; run the import again".to_owned(),
    )
    .into())
}
