//! What a supplier paid back for a job.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use crate::db::schema::pay_back;
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, PayBackId};

/// A pay-back, in minor units of the shop's currency.
#[derive(Debug, Clone, Queryable, Selectable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = pay_back)]
pub struct PayBack {
    #[serde(skip)]
    pub shop_id: i32,
    #[schema(value_type = String, format = Uuid)]
    pub id: PayBackId,
    pub job_id: JobId,
    pub supplier: String,
    pub amount_minor: i64,
    pub paid_on: NaiveDate,
    pub note: Option<String>,
    pub version: i32,
}

/// What was paid back for a job, by day.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<PayBack>> {
    Ok(pay_back::table
        .filter(pay_back::shop_id.eq(shop_id).and(pay_back::job_id.eq(job)))
        .order((pay_back::paid_on, pay_back::id))
        .select(PayBack::as_select())
        .load(conn)?)
}
