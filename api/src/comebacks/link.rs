//! Linking two jobs because a person says so.

use analytics::words::LinkState;
use diesel::prelude::*;
use serde::Deserialize;

use super::model::{Comeback, by_id};
use super::propose::Labels;
use super::refine::{insert, meant, pair, system};
use crate::db::Answer;
use crate::db::schema::comeback;
use crate::domain::ids::JobId;
use crate::domain::refusal::Refusal;
use crate::jobs::model::{self as jobs, Job, optional};
use crate::orders::change::not_void;
use crate::orders::model as orders;
use crate::orders::planned;
use crate::shops::write::ShopWrite;

/// A link that a person names at write-up.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewComeback {
    pub earlier_job_id: JobId,
    pub later_job_id: JobId,
    pub customer_says: Option<bool>,
    pub note: Option<String>,
}

/// Links two jobs; on a pair that is proposed already, notes what the customer
/// says. A decided pair is left to who decides.
///
/// # Errors
/// Faulty fields: not the same vehicle, not earlier. A conflict where the pair is
/// decided, or the later visit was planned.
pub fn link(write: &mut ShopWrite<'_>, new: &NewComeback, decides: bool) -> Answer<Comeback> {
    link_at(write, new, "earlier_job_id", decides)
}

/// As [`link`], with the faults of the earlier job at `field`.
///
/// # Errors
/// As there.
pub fn link_at(
    write: &mut ShopWrite<'_>,
    new: &NewComeback,
    field: &str,
    decides: bool,
) -> Answer<Comeback> {
    let shop_id = write.shop.id;
    let unknown =
        |field: &str| Refusal::field(field, "unknown_job", "no job of this shop has that id");
    let later =
        jobs::by_id(write.conn, shop_id, &new.later_job_id).map_err(|_| unknown("later_job_id"))?;
    let earlier =
        jobs::by_id(write.conn, shop_id, &new.earlier_job_id).map_err(|_| unknown(field))?;
    refuse_unfit(write, &earlier, &later, field)?;
    let note = optional("note", new.note.as_deref(), 2000)?;
    if let Some(row) = pair(write, &earlier.id, &later.id)? {
        if row.state.0 != LinkState::Proposed && !decides {
            return Err(Refusal::Conflict(format!(
                "the service manager has {} it already",
                row.state.0.as_str()
            ))
            .into());
        }
        return said(write, &row, new.customer_says, note);
    }
    let one = meant(write.conn, shop_id, "symptom", earlier.symptom.as_deref())?;
    let other = meant(write.conn, shop_id, "symptom", later.symptom.as_deref())?;
    let same_complaint = one.is_some() && one == other;
    let same_system = {
        let one = system(write.conn, shop_id, one.as_deref())?;
        one.is_some() && one == system(write.conn, shop_id, other.as_deref())?
    };
    let labels = Labels { same_complaint, same_system, ..Labels::default() };
    let row = insert(write, &earlier.id, &later, "person", labels, (new.customer_says, note))?;
    write.stamp_job(&earlier.id)?;
    write.stamp_job(&later.id)?;
    Ok(row)
}

/// Refuses jobs that cannot be a comeback of one another.
fn refuse_unfit(write: &mut ShopWrite<'_>, earlier: &Job, later: &Job, field: &str) -> Answer<()> {
    let shop_id = write.shop.id;
    let now = orders::by_id(write.conn, shop_id, &later.order_id)?;
    let before = orders::by_id(write.conn, shop_id, &earlier.order_id)?;
    let fault = |code: &'static str, detail: &str| Refusal::field(field, code, detail);
    if now.vehicle_id != before.vehicle_id {
        return Err(fault("other_vehicle", "choose a job of the same vehicle").into());
    }
    if before.closed_at.is_none_or(|at| at > now.opened_at) || later.order_id == earlier.order_id {
        return Err(fault("not_earlier", "choose a job that was handed over before").into());
    }
    not_void(write, &now.id)?;
    if planned::of_job(write.conn, shop_id, &later.id)?.as_ref() == Some(&earlier.id) {
        return Err(Refusal::Conflict(
            "this visit was planned when the earlier job ended: it is no comeback".into(),
        )
        .into());
    }
    Ok(())
}

/// Notes what the customer says of a pair that stands.
fn said(
    write: &mut ShopWrite<'_>,
    row: &Comeback,
    customer_says: Option<bool>,
    note: Option<String>,
) -> Answer<Comeback> {
    diesel::update(comeback::table.find((write.shop.id, &row.id)))
        .set((
            comeback::customer_says.eq(customer_says.or(row.customer_says)),
            comeback::note.eq(note.as_ref().or(row.note.as_ref())),
            comeback::change_no.eq(write.change_no),
            comeback::version.eq(row.version + 1),
        ))
        .execute(write.conn)?;
    let after = by_id(write.conn, write.shop.id, &row.id)?;
    write.note(&row.about(), "changed", Some(row), Some(&after))?;
    write.stamp_job(&row.earlier_job_id)?;
    write.stamp_job(&row.later_job_id)?;
    Ok(after)
}
