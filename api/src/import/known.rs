//! What an import remembers from row to row: the shops, orders and jobs it has
//! met, by their names in the files.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;

use super::fields::Fault;
use super::files::HistoryFile;
use super::labels::Labels;
use super::rows::VehicleRow;
use super::source::Raw;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{GroupId, JobId, OrderId, PersonId, VehicleId};
use crate::domain::money::Currency;
use crate::domain::zone::Zone;
use crate::shops::model::Shop;

/// A record and where it came from.
#[derive(Debug, Clone)]
pub struct Placed<T> {
    pub raw: Raw,
    pub record: T,
}

/// The columns that a file has: what it says nothing about stays as it is.
#[derive(Debug, Clone)]
pub enum Said {
    All,
    Only(Vec<&'static str>),
}

impl Said {
    /// Whether the file has the column.
    #[must_use]
    pub fn has(&self, column: &str) -> bool {
        match self {
            Self::All => true,
            Self::Only(columns) => columns.contains(&column),
        }
    }

    /// Takes over the file's value where the file has the column.
    pub fn put<T>(&self, column: &str, value: T, into: &mut T) {
        if self.has(column) {
            *into = value;
        }
    }
}

/// Place of a shop in [`Known::shops`].
pub type ShopPlace = usize;

/// A shop that the files name.
#[derive(Debug)]
pub struct ShopState {
    /// Absent where a dry run only thinks of making it.
    pub shop: Option<Arc<Shop>>,
    /// Its small number; 0 where it is not made.
    pub number: i32,
    pub code: String,
    pub zone: Zone,
    pub money: Currency,
    /// The record had nothing of its work before this import, so nothing needs
    /// to be looked up in it.
    pub fresh: bool,
    /// The record had labor entries before this import.
    pub had_labor: bool,
    /// List and code.
    pub codes: HashSet<(&'static str, String)>,
    pub labels: Labels,
    pub group: Option<GroupId>,
}

/// An order met in the files.
#[derive(Debug, Clone)]
pub struct OrderEntry {
    pub place: u32,
    pub shop: ShopPlace,
    pub id: OrderId,
    pub vehicle: VehicleId,
    pub has_vin: bool,
    /// Its vehicle was made for it and has no other visit yet.
    pub own_vehicle: bool,
    pub opened_at: UtcStamp,
    pub closed_at: Option<UtcStamp>,
    /// Not in the record before this import.
    pub fresh: bool,
}

/// A job met in the files.
#[derive(Debug, Clone)]
pub struct JobEntry {
    pub id: JobId,
    /// Not in the record before this import.
    pub fresh: bool,
    /// Something of it was written by this import.
    pub touched: bool,
    /// Its lines that were met.
    pub met: MetLines,
}

impl JobEntry {
    /// A job that was just met.
    #[must_use]
    pub fn new(id: JobId, fresh: bool, touched: bool) -> Self {
        Self { id, fresh, touched, met: MetLines::default() }
    }
}

/// Lines of a job that were met, by file.
#[derive(Debug, Clone, Copy, Default)]
pub struct MetLines {
    operations: Met,
    checks: Met,
    parts: Met,
}

/// Lines of a job in one file: their numbers up to 64, and how many.
#[derive(Debug, Clone, Copy, Default)]
struct Met {
    numbers: u64,
    count: i32,
}

impl MetLines {
    fn of(&mut self, file: HistoryFile) -> &mut Met {
        match file {
            HistoryFile::Operations => &mut self.operations,
            HistoryFile::Parts => &mut self.parts,
            _ => &mut self.checks,
        }
    }
}

/// A vehicle with a VIN, or one of the record.
#[derive(Debug, Clone)]
pub struct VehicleEntry {
    pub row: VehicleRow,
    /// A row of this import has described it already.
    pub described: bool,
}

/// A comeback that a job names, to be looked up when all jobs are in.
#[derive(Debug, Clone)]
pub struct PendingLink {
    pub raw: Raw,
    pub shop: ShopPlace,
    pub later: JobKey,
    pub later_order: String,
    pub earlier_order: String,
    pub earlier_job: i32,
    pub reason: Option<String>,
}

/// Place of the order, and the job's number.
pub type JobKey = (u32, i32);

/// A technician's time that is taken: end, order and job.
#[derive(Debug, Clone)]
pub struct Clocked {
    pub ended_at: UtcStamp,
    pub order_no: Arc<str>,
    pub job_no: i32,
}

/// Everything remembered.
#[derive(Debug, Default)]
pub struct Known {
    pub shops: Vec<ShopState>,
    pub orders: HashMap<Arc<str>, OrderEntry>,
    pub jobs: HashMap<JobKey, JobEntry>,
    pub vehicles: HashMap<VehicleId, VehicleEntry>,
    pub vins: HashMap<(ShopPlace, String), VehicleId>,
    /// Vehicles of the record that stand for one visit and have no name.
    pub alone: HashSet<VehicleId>,
    pub people: HashMap<(ShopPlace, String), PersonId>,
    pub clocked: HashMap<PersonId, BTreeMap<UtcStamp, Clocked>>,
    pub links: Vec<PendingLink>,
    /// Lines met whose numbers are above 64, by file, job and number.
    pub high_lines: HashSet<(HistoryFile, JobKey, i32)>,
}

impl Known {
    /// The order of that number.
    ///
    /// # Errors
    /// A fault that names the file where it should be.
    pub fn order(&self, order_no: &str) -> Result<&OrderEntry, Fault> {
        self.orders.get(order_no).ok_or_else(|| {
            Fault::new(
                "order_no",
                format!("orders.csv has no good row for order {order_no}; add or correct it there"),
            )
        })
    }

    /// The job of that number, with its order.
    ///
    /// # Errors
    /// A fault that names the file where it should be.
    pub fn job(
        &self,
        order_no: &str,
        job_no: i32,
    ) -> Result<(&OrderEntry, JobKey, &JobEntry), Fault> {
        let order = self.order(order_no)?;
        let key = (order.place, job_no);
        let job = self.jobs.get(&key).ok_or_else(|| {
            Fault::new(
                "job_no",
                format!("jobs.csv has no good row for job {job_no} of order {order_no}; add or correct it there"),
            )
        })?;
        Ok((order, key, job))
    }

    /// The currency of an order's amounts; none known: of no currency, since
    /// the row will be rejected for its order.
    #[must_use]
    pub fn money_of(&self, order_no: Option<&str>) -> Currency {
        order_no
            .and_then(|no| self.orders.get(no))
            .and_then(|order| self.shops.get(order.shop))
            .map_or_else(Currency::none, |shop| shop.money.clone())
    }

    /// Meets a line of a job and answers its number: the one it says, or its
    /// place among the job's lines in the file.
    ///
    /// # Errors
    /// The number, where it was met before.
    pub fn meet(&mut self, key: JobKey, file: HistoryFile, said: Option<i32>) -> Result<i32, i32> {
        let Some(job) = self.jobs.get_mut(&key) else { return Ok(said.unwrap_or(1)) };
        let met = job.met.of(file);
        met.count += 1;
        let number = said.unwrap_or(met.count);
        let new = match u32::try_from(number) {
            Ok(place @ 1..=64) => {
                let bit = 1 << (place - 1);
                let new = met.numbers & bit == 0;
                met.numbers |= bit;
                new
            }
            _ => self.high_lines.insert((file, key, number)),
        };
        if new { Ok(number) } else { Err(number) }
    }
}
