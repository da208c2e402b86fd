//! A job whose work is being written: while it is open by everybody who works
//! on it, afterwards as a correction.

use chrono::NaiveDate;
use diesel::prelude::*;

use super::model::{Job, by_id};
use super::reach::{Reach, reach};
use crate::comebacks::refine;
use crate::db::Answer;
use crate::db::schema::{job, repair_order};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId, VehicleId};
use crate::domain::refusal::Refusal;
use crate::shops::write::{About, ShopWrite};

/// A job that may be written to.
#[derive(Debug, Clone)]
pub struct Writable {
    pub job: Job,
    pub reach: Reach,
}

fn order_status(write: &mut ShopWrite<'_>, id: &OrderId) -> Answer<String> {
    Ok(repair_order::table
        .find((write.shop.id, id))
        .select(repair_order::status)
        .first(write.conn)?)
}

/// Opens a job for writing: as work, or, by who may, as a correction, which
/// marks the whole write.
///
/// # Errors
/// Not found; a conflict where it has ended and the writer may not correct it.
pub fn open(write: &mut ShopWrite<'_>, id: &JobId) -> Answer<Writable> {
    let job = by_id(write.conn, write.shop.id, id)?;
    let status = order_status(write, &job.order_id)?;
    let reach = reach(&status, job.outcome.is_some(), write.corrects)?;
    write.correction |= reach.is_correction();
    Ok(Writable { job, reach })
}

/// The visit that a job is worked on.
#[derive(Debug, Clone)]
pub struct Visit {
    pub vehicle: VehicleId,
    pub opened_at: UtcStamp,
    pub opened_on: NaiveDate,
}

type AtWork = (Job, String, VehicleId, UtcStamp, NaiveDate);

/// The job and its visit in one look, where its work is under way.
///
/// # Errors
/// As [`unfinished`].
pub fn at_work(write: &mut ShopWrite<'_>, id: &JobId) -> Answer<(Job, Visit)> {
    let (row, status, vehicle, opened_at, opened_on): AtWork = job::table
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(job::shop_id.eq(write.shop.id).and(job::id.eq(id)))
        .select((
            Job::as_select(),
            repair_order::status,
            repair_order::vehicle_id,
            repair_order::opened_at,
            repair_order::opened_on,
        ))
        .first(write.conn)?;
    reach(&status, row.outcome.is_some(), false)?;
    Ok((row, Visit { vehicle, opened_at, opened_on }))
}

/// The job, where its work is under way: the job unfinished, its order open.
///
/// # Errors
/// Not found; a conflict where it is finished or handed over.
pub fn unfinished(write: &mut ShopWrite<'_>, id: &JobId) -> Answer<Job> {
    let row = by_id(write.conn, write.shop.id, id)?;
    let status = order_status(write, &row.order_id)?;
    reach(&status, row.outcome.is_some(), false)?;
    Ok(row)
}

/// The job, where it has ended and the vehicle is still here.
///
/// # Errors
/// Not found; a conflict where it is open, handed over or void.
pub fn finished(write: &mut ShopWrite<'_>, id: &JobId) -> Answer<Job> {
    let row = by_id(write.conn, write.shop.id, id)?;
    let why = match order_status(write, &row.order_id)?.as_str() {
        "open" if row.outcome.is_some() => return Ok(row),
        "open" => "the job is open already",
        "closed" => "the vehicle was handed over: nothing is reopened, a return is a new order",
        _ => "the order is void: nothing on it can be changed",
    };
    Err(Refusal::Conflict(why.to_owned()).into())
}

impl Writable {
    /// A line of the change on this job.
    #[must_use]
    pub fn about(&self, record: &'static str, id: impl std::fmt::Display) -> About<'_> {
        About::new(record, id).job(&self.job.id).order(&self.job.order_id)
    }

    /// Stamps what was written: the job, and with a correction its order, which
    /// both keep when.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn stamp(&self, write: &mut ShopWrite<'_>) -> Answer<()> {
        write.stamp_job(&self.job.id)?;
        self.mark(write)
    }

    /// As [`Self::stamp`], where the job's own row is stamped already.
    ///
    /// # Errors
    /// As there.
    pub fn mark(&self, write: &mut ShopWrite<'_>) -> Answer<()> {
        if !self.reach.is_correction() {
            return Ok(());
        }
        diesel::update(job::table.find((write.shop.id, &self.job.id)))
            .set(job::corrected_at.eq(write.now))
            .execute(write.conn)?;
        if self.reach == Reach::HandedOver {
            diesel::update(repair_order::table.find((write.shop.id, &self.job.order_id)))
                .set(repair_order::corrected_at.eq(write.now))
                .execute(write.conn)?;
        }
        write.stamp_order(&self.job.order_id)
    }

    /// After a correction of what comebacks are told by, proposes them anew.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn propose(&self, write: &mut ShopWrite<'_>) -> Answer<()> {
        if !self.reach.is_correction() {
            return Ok(());
        }
        let now = by_id(write.conn, write.shop.id, &self.job.id)?;
        refine::propose_anew(write, &now)?;
        if self.reach == Reach::HandedOver {
            refine::reconsider(write, &now)?;
        }
        Ok(())
    }

    /// Refuses where the writer has not seen the version that stands.
    ///
    /// # Errors
    /// Stale.
    pub fn seen(&self, seen: i32) -> Answer<()> {
        super::model::same_version(&self.job, seen)
    }
}

/// The version that stands after a write, for the answer's ETag.
///
/// # Errors
/// Where the database does not answer.
pub fn version(write: &mut ShopWrite<'_>, id: &JobId) -> Answer<i32> {
    Ok(job::table.find((write.shop.id, id)).select(job::version).first(write.conn)?)
}
