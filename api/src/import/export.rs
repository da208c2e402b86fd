//! A shop's record as history files, read in one snapshot and written as it is
//! read. Importing the files again changes nothing.

use std::collections::HashMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use diesel::prelude::*;

use analytics::words::LinkState;

use super::rows::{CheckRow, JobRow, LaborRow, OperationRow, OrderRow, PartRow, VehicleRow};
use super::sheets::{Counts, Out};
use crate::db::schema::{
    comeback, job, job_check, job_operation, labor_entry, part_use, person, repair_order, vehicle,
};
use crate::db::types::Word;
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, PersonId, VehicleId};
use crate::shops::model::Shop;

/// Orders that are read at once.
const PAGE: i64 = 500;

/// Why an export did not come about.
#[derive(Debug)]
pub enum ExportError {
    Record(Fault),
    File(PathBuf, io::Error),
}

/// Writes one shop's files into a folder, which is made. They appear under
/// their names when all are whole. For a spreadsheet, texts are kept from being
/// formulas.
///
/// # Errors
/// See [`ExportError`].
pub fn export_shop(
    conn: &mut Conn,
    shop: &Shop,
    folder: &Path,
    spreadsheet: bool,
) -> Result<Counts, ExportError> {
    let failed = |e| ExportError::File(folder.to_owned(), e);
    fs::create_dir_all(folder).map_err(failed)?;
    let mut out = Out::open(folder, shop.money(), spreadsheet).map_err(failed)?;
    let mut after: Option<(UtcStamp, OrderId)> = None;
    loop {
        let orders = page(conn, shop.id, after.as_ref()).map_err(ExportError::Record)?;
        let Some(last) = orders.last() else { break };
        after = Some((last.opened_at, last.id.clone()));
        let detail = Detail::load(conn, shop.id, &orders).map_err(ExportError::Record)?;
        for order in &orders {
            out.visit(&shop.code, order, &detail).map_err(failed)?;
        }
    }
    out.finish().map_err(failed)
}

fn page(
    conn: &mut Conn,
    shop_id: i32,
    after: Option<&(UtcStamp, OrderId)>,
) -> Answer<Vec<OrderRow>> {
    let mut query = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .filter(repair_order::status.ne("void"))
        .order((repair_order::opened_at, repair_order::id))
        .limit(PAGE)
        .select(OrderRow::as_select())
        .into_boxed();
    if let Some((at, id)) = after {
        let later = repair_order::opened_at
            .gt(*at)
            .or(repair_order::opened_at.eq(*at).and(repair_order::id.gt(id)));
        query = query.filter(repair_order::opened_at.ge(*at)).filter(later);
    }
    Ok(query.load(conn)?)
}

/// What a job came back from: order, job, and the reason.
pub(super) type Link = (String, i32, Option<String>);

/// Everything that belongs to a page of orders.
pub(super) struct Detail {
    pub(super) vehicles: HashMap<VehicleId, VehicleRow>,
    pub(super) jobs: HashMap<OrderId, Vec<JobRow>>,
    pub(super) operations: HashMap<JobId, Vec<OperationRow>>,
    pub(super) checks: HashMap<JobId, Vec<CheckRow>>,
    pub(super) parts: HashMap<JobId, Vec<PartRow>>,
    pub(super) labor: HashMap<JobId, Vec<LaborRow>>,
    pub(super) people: HashMap<PersonId, String>,
    /// By later job.
    pub(super) links: HashMap<JobId, Link>,
}

impl Detail {
    fn load(conn: &mut Conn, shop_id: i32, orders: &[OrderRow]) -> Answer<Self> {
        let order_ids: Vec<&OrderId> = orders.iter().map(|row| &row.id).collect();
        let vehicle_ids: Vec<&VehicleId> = orders.iter().map(|row| &row.vehicle_id).collect();
        let vehicles: Vec<VehicleRow> = vehicle::table
            .filter(vehicle::shop_id.eq(shop_id).and(vehicle::id.eq_any(vehicle_ids)))
            .select(VehicleRow::as_select())
            .load(conn)?;
        let jobs: Vec<JobRow> = job::table
            .filter(job::shop_id.eq(shop_id).and(job::order_id.eq_any(order_ids)))
            .order((job::order_id, job::job_no))
            .select(JobRow::as_select())
            .load(conn)?;
        let ids: Vec<&JobId> = jobs.iter().map(|row| &row.id).collect();
        macro_rules! of_jobs {
            ($table:ident, $row:ident, $order:expr) => {{
                let rows: Vec<$row> = $table::table
                    .filter($table::shop_id.eq(shop_id))
                    .filter($table::job_id.eq_any(ids.iter().copied()))
                    .order($order)
                    .select($row::as_select())
                    .load(conn)?;
                grouped(rows, |row| row.job_id.clone())
            }};
        }
        let operations =
            of_jobs!(job_operation, OperationRow, (job_operation::job_id, job_operation::line));
        let checks = of_jobs!(job_check, CheckRow, (job_check::job_id, job_check::seq));
        let parts = of_jobs!(part_use, PartRow, (part_use::job_id, part_use::line));
        let labor = of_jobs!(
            labor_entry,
            LaborRow,
            (labor_entry::job_id, labor_entry::started_at, labor_entry::id)
        );
        let links = links(conn, shop_id, &ids)?;
        let people = people(conn, shop_id)?;
        Ok(Self {
            vehicles: vehicles.into_iter().map(|row| (row.id.clone(), row)).collect(),
            jobs: grouped(jobs, |row| row.order_id.clone()),
            operations,
            checks,
            parts,
            labor,
            people,
            links,
        })
    }
}

fn grouped<K: std::hash::Hash + Eq, T>(rows: Vec<T>, key: impl Fn(&T) -> K) -> HashMap<K, Vec<T>> {
    let mut groups: HashMap<K, Vec<T>> = HashMap::new();
    for row in rows {
        groups.entry(key(&row)).or_default().push(row);
    }
    groups
}

/// The names of everybody in the shop's group.
fn people(conn: &mut Conn, shop_id: i32) -> Answer<HashMap<PersonId, String>> {
    use crate::db::schema::shop;
    let rows: Vec<(PersonId, String)> = person::table
        .inner_join(shop::table.on(shop::group_id.eq(person::group_id)))
        .filter(shop::id.eq(shop_id))
        .select((person::id, person::name))
        .load(conn)?;
    Ok(rows.into_iter().collect())
}

fn links(conn: &mut Conn, shop_id: i32, later: &[&JobId]) -> Answer<HashMap<JobId, Link>> {
    let rows: Vec<(JobId, String, i32, Option<String>)> = comeback::table
        .inner_join(
            job::table
                .on(job::shop_id.eq(comeback::shop_id).and(job::id.eq(comeback::earlier_job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(comeback::shop_id.eq(shop_id))
        .filter(comeback::later_job_id.eq_any(later.iter().copied()))
        .filter(comeback::state.eq(Word(LinkState::Confirmed)))
        .filter(repair_order::status.ne("void"))
        .select((comeback::later_job_id, repair_order::order_no, job::job_no, comeback::reason))
        .load(conn)?;
    Ok(rows
        .into_iter()
        .map(|(later, order, number, reason)| (later, (order, number, reason)))
        .collect())
}
