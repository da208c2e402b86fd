//! Of what a job has lines at all: one look before the lists are read, since
//! most of them are empty.

use diesel::dsl::exists;
use diesel::prelude::*;

use crate::db::schema::{
    comeback, job_check, job_operation, job_person, job_wait, labor_entry, outside_return,
    part_use, pay_back, planned_visit, proof, sublet,
};
use crate::db::{Answer, Conn};
use crate::domain::ids::JobId;

/// Of what a job has lines.
#[derive(Debug, Clone, Copy, Queryable)]
pub struct Hanging {
    pub people: bool,
    pub checks: bool,
    pub parts: bool,
    pub operations: bool,
    pub labor: bool,
    pub waits: bool,
    pub sublets: bool,
    pub proofs: bool,
    pub comebacks: bool,
    pub planned: bool,
    pub outside_return: bool,
    pub pay_backs: bool,
}

macro_rules! any {
    ($table:ident, $shop_id:expr, $job:expr) => {
        exists($table::table.filter($table::shop_id.eq($shop_id).and($table::job_id.eq($job))))
    };
}

/// Looks what hangs on a job.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Hanging> {
    let links = comeback::table
        .filter(comeback::shop_id.eq(shop_id))
        .filter(comeback::earlier_job_id.eq(job).or(comeback::later_job_id.eq(job)));
    Ok(diesel::select((
        any!(job_person, shop_id, job),
        any!(job_check, shop_id, job),
        any!(part_use, shop_id, job),
        any!(job_operation, shop_id, job),
        any!(labor_entry, shop_id, job),
        any!(job_wait, shop_id, job),
        any!(sublet, shop_id, job),
        any!(proof, shop_id, job),
        exists(links),
        exists(planned_visit::table.find((shop_id, job))),
        any!(outside_return, shop_id, job),
        any!(pay_back, shop_id, job),
    ))
    .get_result(conn)?)
}
