//! A repair that did not hold, as told later.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use crate::db::schema::outside_return;
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, OutsideReturnId, PersonId};

/// What the customer told: fixed by somebody else, or not yet.
#[derive(Debug, Clone, Queryable, Selectable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = outside_return)]
pub struct OutsideReturn {
    #[serde(skip)]
    pub shop_id: i32,
    #[schema(value_type = String, format = Uuid)]
    pub id: OutsideReturnId,
    pub job_id: JobId,
    /// `fixed_elsewhere` or `not_fixed`.
    pub told: String,
    pub told_on: NaiveDate,
    pub reason: Option<String>,
    pub note: Option<String>,
    pub person_id: PersonId,
    pub version: i32,
}

/// What was told of a job.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Option<OutsideReturn>> {
    Ok(outside_return::table
        .filter(outside_return::shop_id.eq(shop_id).and(outside_return::job_id.eq(job)))
        .select(OutsideReturn::as_select())
        .first(conn)
        .optional()?)
}
