//! Orders and their vehicles: what a chunk of rows comes to.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;

use diesel::prelude::*;

use super::alone::{alone, trailing_number};
use super::differ::{self, Pair};
use super::fields::Fault;
use super::files::HistoryFile;
use super::known::{OrderEntry, Placed, Said, ShopPlace, VehicleEntry};
use super::records::OrderRecord;
use super::rows::{OrderRow, VehicleRow};
use super::store::{Outcome, Store, count};
use crate::db::schema::{repair_order, vehicle};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{OrderId, VehicleId};
use crate::domain::zone::Zone;

/// What the record holds of the orders and vehicles that a chunk names.
#[derive(Default)]
struct Standing {
    orders: HashMap<(ShopPlace, String), OrderRow>,
    vehicles: Vec<(ShopPlace, VehicleRow)>,
    alone: HashSet<VehicleId>,
}

impl Store<'_> {
    /// Takes a chunk of orders.
    ///
    /// # Errors
    /// Where the record does not answer.
    pub fn orders(&mut self, rows: Vec<Placed<OrderRecord>>, said: &Said) -> Answer<()> {
        let mut good = Vec::with_capacity(rows.len());
        for row in rows {
            good.push((self.shop(&row.record.shop)?, row));
        }
        let standing = self.standing_orders(&good)?;
        self.known.alone.extend(standing.alone);
        for (shop, row) in standing.vehicles {
            if let Some(vin) = &row.vin {
                self.known.vins.entry((shop, vin.clone())).or_insert_with(|| row.id.clone());
            }
            self.known
                .vehicles
                .entry(row.id.clone())
                .or_insert(VehicleEntry { row, described: false });
        }
        for (shop, row) in good {
            let key = (shop, row.record.order_no.clone());
            let old = standing.orders.get(&key);
            match self.place_order(shop, &row.record, old, said) {
                Ok(outcome) => count(self.summary.file(HistoryFile::Orders), outcome),
                Err(faults) => self.reject(HistoryFile::Orders, row.raw, faults),
            }
        }
        Ok(())
    }

    fn standing_orders(&mut self, rows: &[(ShopPlace, Placed<OrderRecord>)]) -> Answer<Standing> {
        let mut by_shop: BTreeMap<ShopPlace, (Vec<&str>, Vec<&str>)> = BTreeMap::new();
        for (shop, row) in rows {
            let (numbers, vins) = by_shop.entry(*shop).or_default();
            numbers.push(&row.record.order_no);
            vins.extend(row.record.vin.as_deref());
        }
        let mut standing = Standing::default();
        for (shop, (numbers, vins)) in by_shop {
            let Some(number) = self.number_in_record(shop) else { continue };
            let (orders, vehicles, alone) = self.look(|conn| {
                let (orders, vehicles) = load(conn, number, &numbers, &vins)?;
                let alone = alone(conn, number, &orders)?;
                Ok((orders, vehicles, alone))
            })?;
            standing.alone.extend(alone);
            standing.orders.extend(orders.into_iter().map(|o| ((shop, o.order_no.clone()), o)));
            standing.vehicles.extend(vehicles.into_iter().map(|v| (shop, v)));
        }
        Ok(standing)
    }

    fn place_order(
        &mut self,
        shop: ShopPlace,
        record: &OrderRecord,
        old: Option<&OrderRow>,
        said: &Said,
    ) -> Result<Outcome, Vec<Fault>> {
        if self.known.orders.contains_key(record.order_no.as_str()) {
            return Err(vec![Fault::new(
                "order_no",
                "is there twice; keep one row an order, and one folder a shop where two shops use the same numbers",
            )]);
        }
        match old {
            None => self.new_order(shop, record),
            Some(old) if old.status == "void" => {
                let why = "is void in the record; give the order another number";
                Err(vec![Fault::new("order_no", why)])
            }
            Some(old) => self.known_order(shop, record, old, said),
        }
    }

    fn new_order(&mut self, shop: ShopPlace, record: &OrderRecord) -> Result<Outcome, Vec<Fault>> {
        let (number, zone) = self.number_and_zone(shop);
        let mut row = order_row(number, zone, record);
        row_faults(&row)?;
        let named = record.vin.clone().and_then(|vin| self.known.vins.get(&(shop, vin)).cloned());
        row.vehicle_id = match named {
            Some(id) => {
                self.describe(shop, &id, record);
                id
            }
            None => self.new_vehicle(shop, record),
        };
        self.remember(shop, &row, record.vin.is_some(), true);
        let changes = self.changes(shop);
        changes.order_number = changes.order_number.max(trailing_number(&row.order_no));
        changes.orders.new.push(row);
        Ok(Outcome::Added)
    }

    fn known_order(
        &mut self,
        shop: ShopPlace,
        record: &OrderRecord,
        old: &OrderRow,
        said: &Said,
    ) -> Result<Outcome, Vec<Fault>> {
        let (_, zone) = self.number_and_zone(shop);
        let mut want = old.clone();
        let laid = overlay(&mut want, record, zone, said).and_then(|()| row_faults(&want));
        let seat = self.seat(shop, record, old);
        let has_vin = record.vin.is_some()
            || self.vehicle_row(&old.vehicle_id).is_some_and(|v| v.vin.is_some());
        let same = want == *old && seat == Seat::Stays { fills: false };
        let may = laid.and_then(|()| {
            let differs = || vec![self.difference(record, old, &want)];
            (same || self.options.update).then_some(()).ok_or_else(differs)
        });
        if let Err(faults) = may {
            // Its jobs are still held against the record's order.
            self.remember(shop, old, has_vin, false);
            return Err(faults);
        }
        match seat {
            Seat::Stays { .. } => {}
            Seat::Moves(id) => want.vehicle_id = id,
            Seat::New => want.vehicle_id = self.new_vehicle(shop, record),
        }
        let redescribed = self.describe(shop, &want.vehicle_id, record);
        let changed = want != *old;
        if changed {
            want.version += 1;
            self.changes(shop).orders.over.push(want.clone());
        }
        self.remember(shop, &want, has_vin, false);
        Ok(if changed || redescribed { Outcome::Changed } else { Outcome::Unchanged })
    }

    fn difference(&self, record: &OrderRecord, old: &OrderRow, want: &OrderRow) -> Fault {
        let vehicle = self.vehicle_row(&old.vehicle_id);
        let filled = vehicle.map(|row| VehicleRow {
            vin: record.vin.clone().or_else(|| row.vin.clone()),
            ..described(row, record, false).0
        });
        let pairs = [Pair::new(Some(old), Some(want)), Pair::new(vehicle, filled.as_ref())];
        differ::fault(HistoryFile::Orders, &pairs)
    }

    fn vehicle_row(&self, id: &VehicleId) -> Option<&VehicleRow> {
        self.known.vehicles.get(id).map(|entry| &entry.row)
    }

    /// Whether an order of the record keeps its vehicle.
    fn seat(&self, shop: ShopPlace, record: &OrderRecord, old: &OrderRow) -> Seat {
        let own = self.vehicle_row(&old.vehicle_id);
        let stays = || Seat::Stays {
            fills: own.is_some_and(|row| described(row, record, false).0 != *row),
        };
        let Some(vin) = &record.vin else { return stays() };
        match self.known.vins.get(&(shop, vin.clone())) {
            Some(id) if *id == old.vehicle_id => stays(),
            Some(id) => Seat::Moves(id.clone()),
            // A vehicle whose VIN was not known gets it.
            None if own.is_some_and(|row| row.vin.is_none()) => stays(),
            None => Seat::New,
        }
    }

    fn remember(&mut self, shop: ShopPlace, row: &OrderRow, has_vin: bool, fresh: bool) {
        let place = u32::try_from(self.known.orders.len()).unwrap_or(u32::MAX);
        let entry = OrderEntry {
            place,
            shop,
            id: row.id.clone(),
            vehicle: row.vehicle_id.clone(),
            has_vin,
            own_vehicle: !has_vin && (fresh || self.known.alone.contains(&row.vehicle_id)),
            opened_at: row.opened_at,
            closed_at: row.closed_at,
            fresh,
        };
        self.known.orders.insert(Arc::from(row.order_no.as_str()), entry);
    }

    pub(super) fn number_and_zone(&self, shop: ShopPlace) -> (i32, Zone) {
        self.known.shops.get(shop).map_or((0, Zone::UTC), |state| (state.number, state.zone))
    }

    fn new_vehicle(&mut self, shop: ShopPlace, record: &OrderRecord) -> VehicleId {
        let (number, _) = self.number_and_zone(shop);
        let row = VehicleRow {
            shop_id: number,
            id: VehicleId::make(),
            vin: record.vin.clone(),
            make: record.make.clone(),
            model: record.model.clone(),
            model_year: record.model_year,
            engine: record.engine.clone(),
            version: 1,
        };
        let id = row.id.clone();
        // A vehicle without a VIN is of this one order, which will not come again.
        if let Some(vin) = &row.vin {
            self.known.vins.insert((shop, vin.clone()), id.clone());
            let entry = VehicleEntry { row: row.clone(), described: true };
            self.known.vehicles.insert(id.clone(), entry);
        }
        self.changes(shop).vehicles.new.push(row);
        id
    }

    /// Fills in what was not known of a vehicle. With `--update` the first row
    /// that describes it writes over the record; a later row that says
    /// otherwise is only counted, or every import would change it anew.
    fn describe(&mut self, shop: ShopPlace, id: &VehicleId, record: &OrderRecord) -> bool {
        let update = self.options.update;
        let Some(entry) = self.known.vehicles.get_mut(id) else { return false };
        let (mut want, differs) = described(&entry.row, record, update && !entry.described);
        entry.described = true;
        let changed = want != entry.row;
        if changed {
            want.version += 1;
            entry.row = want.clone();
        }
        if let (Some(vin), true) = (&want.vin, changed) {
            self.known.vins.insert((shop, vin.clone()), id.clone());
        }
        if changed {
            self.changes(shop).vehicles.over.push(want);
        }
        if differs {
            self.summary.vehicle_differences += 1;
        }
        changed
    }
}

/// A vehicle as an order describes it, and whether the order says otherwise
/// than what stays.
fn described(row: &VehicleRow, record: &OrderRecord, over: bool) -> (VehicleRow, bool) {
    fn take<T: Clone + PartialEq>(into: &mut Option<T>, from: Option<&T>, over: bool) -> bool {
        match (into.as_ref(), from) {
            (_, None) => false,
            (Some(old), Some(new)) if old == new => false,
            (Some(_), Some(_)) if !over => true,
            (_, Some(new)) => {
                *into = Some(new.clone());
                false
            }
        }
    }
    let mut want = row.clone();
    let mut differs = false;
    if want.vin.is_none() {
        want.vin.clone_from(&record.vin);
    }
    differs |= take(&mut want.make, record.make.as_ref(), over);
    differs |= take(&mut want.model, record.model.as_ref(), over);
    differs |= take(&mut want.model_year, record.model_year.as_ref(), over);
    differs |= take(&mut want.engine, record.engine.as_ref(), over);
    (want, differs)
}

/// Which vehicle an order of the record is for, by the file.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Seat {
    /// The record's; the file may fill in what was not known of it.
    Stays {
        fills: bool,
    },
    Moves(VehicleId),
    New,
}

/// What no order may be.
fn row_faults(row: &OrderRow) -> Result<(), Vec<Fault>> {
    let mut faults = Vec::new();
    if row.closed_at.is_some_and(|closed| closed < row.opened_at) {
        faults.push(Fault::new("closed_at", "is before opened_at; correct one of the two"));
    }
    if row.odometer_in.zip(row.odometer_out).is_some_and(|(came, left)| left < came) {
        faults.push(Fault::new("odometer_out", "is below odometer_in; correct one of the two"));
    }
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// An order's row; its vehicle is still to be found.
fn order_row(shop_id: i32, zone: Zone, record: &OrderRecord) -> OrderRow {
    let opened_at = UtcStamp::new(record.opened_at);
    let closed_at = record.closed_at.map(UtcStamp::new);
    OrderRow {
        shop_id,
        id: OrderId::make(),
        order_no: record.order_no.clone(),
        vehicle_id: VehicleId::make(),
        status: if closed_at.is_some() { "closed" } else { "open" }.to_owned(),
        odometer_in: record.odometer_in,
        odometer_out: record.odometer_out,
        odometer_unit: record.odometer_unit.clone().unwrap_or_else(|| "km".to_owned()),
        opened_at,
        opened_on: zone.day(opened_at),
        opened_minute: zone.minute(opened_at),
        closed_at,
        closed_on: closed_at.map(|at| zone.day(at)),
        version: 1,
    }
}

/// Lays the file's row over the record's. Days stand as they were stored,
/// unless their instant moves.
fn overlay(
    row: &mut OrderRow,
    record: &OrderRecord,
    zone: Zone,
    said: &Said,
) -> Result<(), Vec<Fault>> {
    said.put("odometer_in", record.odometer_in, &mut row.odometer_in);
    said.put("odometer_out", record.odometer_out, &mut row.odometer_out);
    if let Some(unit) = &record.odometer_unit {
        row.odometer_unit.clone_from(unit);
    }
    let opened_at = UtcStamp::new(record.opened_at);
    if opened_at != row.opened_at {
        row.opened_at = opened_at;
        row.opened_on = zone.day(opened_at);
        row.opened_minute = zone.minute(opened_at);
    }
    let closed_at = record.closed_at.map(UtcStamp::new);
    if !said.has("closed_at") || closed_at == row.closed_at {
        return Ok(());
    }
    let Some(at) = closed_at else {
        return Err(vec![Fault::new(
            "closed_at",
            "is empty, but the record has the order handed over, and nothing handed over is opened again; open a new order",
        )]);
    };
    "closed".clone_into(&mut row.status);
    row.closed_at = Some(at);
    row.closed_on = Some(zone.day(at));
    Ok(())
}

fn load(
    conn: &mut Conn,
    shop_id: i32,
    numbers: &[&str],
    vins: &[&str],
) -> Answer<(Vec<OrderRow>, Vec<VehicleRow>)> {
    let orders: Vec<OrderRow> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .filter(repair_order::order_no.eq_any(numbers))
        .select(OrderRow::as_select())
        .load(conn)?;
    let mut vehicles: Vec<VehicleRow> = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id))
        .filter(vehicle::vin.eq_any(vins))
        .select(VehicleRow::as_select())
        .load(conn)?;
    let of_orders: Vec<&VehicleId> = orders.iter().map(|order| &order.vehicle_id).collect();
    let more: Vec<VehicleRow> = vehicle::table
        .filter(vehicle::shop_id.eq(shop_id))
        .filter(vehicle::id.eq_any(of_orders))
        .select(VehicleRow::as_select())
        .load(conn)?;
    vehicles.extend(more);
    Ok((orders, vehicles))
}
