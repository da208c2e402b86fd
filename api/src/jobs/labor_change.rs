//! Changes to a labor entry that stands, and its removal.

use analytics::words::{Activity, WorkedAs};
use diesel::prelude::*;
use serde::Deserialize;

use super::crew::counts_as;
use super::labor::{LaborEntry, fault, members, of, refuse_overlap};
use super::model::known_person;
use super::stretch::{self, Stretch};
use super::writable::{self, Writable};
use crate::db::Answer;
use crate::db::schema::labor_entry;
use crate::db::types::Word;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, LaborId, PersonId};
use crate::domain::refusal::Refusal;
use crate::shops::write::ShopWrite;
use crate::web::body::{given, present};

/// A change to a labor entry. Absent fields stay, null removes.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LaborPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Activity>)]
    pub activity: Option<Option<Activity>>,
    #[serde(default, deserialize_with = "given")]
    pub worked_as: Option<WorkedAs>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<PersonId>)]
    pub supervisor_id: Option<Option<PersonId>>,
    #[serde(default, deserialize_with = "given")]
    pub started_at: Option<UtcStamp>,
    /// An entry that runs is ended so; one that has ended does not run again.
    #[serde(default, deserialize_with = "given")]
    pub ended_at: Option<UtcStamp>,
}

/// Opens an entry for changing: the own for a week, anybody's for who may.
fn changeable(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &LaborId,
    anybody: bool,
) -> Answer<(Writable, LaborEntry)> {
    let target = writable::open(write, job)?;
    let row = of(write, job, id)?;
    let own = row.person_id == *write.person && stretch::is_recent(row.started_at, write.now);
    if anybody || own {
        return Ok((target, row));
    }
    Err(Refusal::Forbidden(format!(
        "change your own time within {} days; an adviser or the service manager changes other time",
        stretch::OWN_DAYS
    ))
    .into())
}

/// Applies a merge patch to a labor entry, on the job's version; `anybody`: also
/// another person's.
///
/// # Errors
/// Not found, stale, forbidden, faulty times; a conflict with another entry of
/// the person, or where the job has ended and the writer may not correct it.
pub fn change(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &LaborId,
    seen: i32,
    (change, anybody): (&LaborPatch, bool),
) -> Answer<LaborEntry> {
    let (target, before) = changeable(write, job, id, anybody)?;
    target.seen(seen)?;
    let mut row = before.clone();
    if let Some(activity) = change.activity {
        row.activity = activity.map(Word);
    }
    if change.worked_as.is_some() || change.supervisor_id.is_some() {
        let worked_as = change.worked_as.unwrap_or(row.worked_as.0);
        let trainee = worked_as == WorkedAs::Trainee;
        let kept = row.supervisor_id.clone().filter(|_| trainee);
        let under = change.supervisor_id.clone().unwrap_or(kept);
        known_person(write, "supervisor_id", under.as_ref())?;
        let on_job = members(write, job)?;
        let said = (Some(worked_as), under.as_ref());
        let (worked_as, under) = counts_as(&row.person_id, said, &on_job).map_err(fault)?;
        row.worked_as = Word(worked_as);
        row.supervisor_id = under;
    }
    row.started_at = change.started_at.unwrap_or(row.started_at);
    row.ended_at = change.ended_at.or(row.ended_at);
    stretch::decide(Stretch {
        from: row.started_at,
        to: row.ended_at,
        now: write.now,
        from_typed: row.started_at != before.started_at,
        correction: target.reach.is_correction(),
    })
    .map_err(fault)?;
    refuse_overlap(write, &row)?;
    row.started_on = write.shop.zone().day(row.started_at);
    row.version += 1;
    diesel::update(labor_entry::table.find((row.shop_id, &row.id)))
        .set(&row)
        .execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("labor", &row.id), "changed", Some(&before), Some(&row))?;
    Ok(row)
}

/// Takes a labor entry back; `anybody`: also another person's.
///
/// # Errors
/// Not found, forbidden; a conflict where the job has ended and the writer may
/// not correct it.
pub fn remove(write: &mut ShopWrite<'_>, job: &JobId, id: &LaborId, anybody: bool) -> Answer<()> {
    let (target, row) = changeable(write, job, id, anybody)?;
    diesel::delete(labor_entry::table.find((row.shop_id, &row.id))).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("labor", &row.id), "removed", Some(&row), None)
}
