//! Visits that were planned when an earlier one ended: not comebacks.

use diesel::prelude::*;

use crate::db::schema::planned_visit;
use crate::db::{Answer, Conn};
use crate::domain::ids::JobId;

/// The job whose planned second visit a job is.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Option<JobId>> {
    Ok(planned_visit::table
        .find((shop_id, job))
        .select(planned_visit::earlier_job_id)
        .first(conn)
        .optional()?)
}
