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
    comeback, job, job_check, job_operation, labor_entry, part_return, part_use, repair_order,
    vehicle,
};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, PersonId, VehicleId};
use crate::domain::refusal::Refusal;
use crate::shops::model::Shop;
use crate::shops::write::ShopWrite;

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

    /// Writes it all.
    ///
    /// # Errors
    /// A conflict where somebody wrote the same rows meanwhile; then nothing is
    /// written.
    pub fn write(&self, conn: &mut Conn, shop: &Shop, now: UtcStamp) -> Answer<()> {
        // Files are nobody's handwriting; the write only wants a name for its
        // own answers.
        let nobody = PersonId::make();
        let mut w = ShopWrite::begin(conn, shop, &nobody, now)?;
        for entry in &self.codes {
            codes::add(w.conn, entry)?;
        }
        self.write_orders(&mut w)?;
        self.write_jobs(&mut w)?;
        self.write_work(&mut w)?;
        self.write_links(&mut w)?;
        self.stamp(&mut w)
    }

    fn write_orders(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        for row in &self.vehicles.new {
            diesel::insert_into(vehicle::table).values(row).execute(w.conn)?;
        }
        for row in &self.vehicles.over {
            let place = vehicle::table
                .find((row.shop_id, &row.id))
                .filter(vehicle::version.eq(row.version - 1));
            met(diesel::update(place).set(row).execute(w.conn)?)?;
        }
        for row in &self.orders.new {
            diesel::insert_into(repair_order::table)
                .values((row, repair_order::change_no.eq(w.change_no)))
                .execute(w.conn)?;
        }
        for row in &self.orders.over {
            let place = repair_order::table
                .find((row.shop_id, &row.id))
                .filter(repair_order::version.eq(row.version - 1));
            let set = (row, repair_order::change_no.eq(w.change_no));
            met(diesel::update(place).set(set).execute(w.conn)?)?;
        }
        if self.order_number > 0 {
            w.raise_order_number(self.order_number)?;
        }
        Ok(())
    }

    fn write_jobs(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        for row in &self.jobs.new {
            diesel::insert_into(job::table)
                .values((row, job::change_no.eq(w.change_no)))
                .execute(w.conn)?;
        }
        for row in &self.jobs.over {
            let place =
                job::table.find((row.shop_id, &row.id)).filter(job::version.eq(row.version - 1));
            let set = (row, job::change_no.eq(w.change_no));
            met(diesel::update(place).set(set).execute(w.conn)?)?;
        }
        Ok(())
    }

    fn write_work(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        macro_rules! lines {
            ($($rows:ident into $table:ident),+ $(,)?) => {$(
                for row in &self.$rows.new {
                    diesel::insert_into($table::table).values(row).execute(w.conn)?;
                }
                for row in &self.$rows.over {
                    let place = $table::table
                        .find((row.shop_id, &row.id))
                        .filter($table::version.eq(row.version - 1));
                    met(diesel::update(place).set(row).execute(w.conn)?)?;
                }
            )+};
        }
        lines!(
            operations into job_operation,
            checks into job_check,
            parts into part_use,
            labor into labor_entry,
        );
        Ok(())
    }

    fn write_links(&self, w: &mut ShopWrite<'_>) -> Answer<()> {
        for row in &self.links.new {
            diesel::insert_into(comeback::table)
                .values((row, comeback::change_no.eq(w.change_no)))
                .execute(w.conn)?;
        }
        for row in &self.links.over {
            let place = comeback::table
                .find((row.shop_id, &row.id))
                .filter(comeback::version.eq(row.version - 1));
            let set = (row, comeback::change_no.eq(w.change_no));
            met(diesel::update(place).set(set).execute(w.conn)?)?;
        }
        for row in &self.part_returns {
            diesel::insert_into(part_return::table)
                .values((row, part_return::change_no.eq(w.change_no)))
                .execute(w.conn)?;
        }
        for (order, seat) in &self.seats {
            diesel::update(repair_order::table.find((w.shop.id, order)))
                .set(repair_order::vehicle_id.eq(&seat.to))
                .execute(w.conn)?;
            diesel::delete(vehicle::table.find((w.shop.id, &seat.from))).execute(w.conn)?;
            w.stamp_order(order)?;
        }
        for id in &self.suspected {
            diesel::update(job::table.find((w.shop.id, id)).filter(job::cause.is_not_null()))
                .set(job::cause_state.eq(Word(CauseState::Suspected)))
                .execute(w.conn)?;
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
