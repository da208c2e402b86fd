//! Comeback rows: proposing, refining, listing.

use analytics::words::{CauseState, LinkState, Outcome};
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::propose::{Earlier, Later, Proposal, Touched, proposals};
use crate::db::schema::{code_entry, comeback, job, part_return, part_use, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::codes::system_of;
use crate::domain::ids::{ComebackId, JobId, OrderId, PartUseId, PersonId, VehicleId};
use crate::domain::refusal::Refusal;
use crate::jobs::model::{Job, optional};
use crate::shops::write::ShopWrite;

/// A later job that came back for an earlier one, proposed or decided.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = comeback)]
pub struct Comeback {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: ComebackId,
    pub earlier_job_id: JobId,
    pub later_job_id: JobId,
    #[schema(value_type = LinkState)]
    pub state: Word<LinkState>,
    pub same_complaint: bool,
    pub same_system: bool,
    pub same_cause: bool,
    pub same_part: bool,
    /// Caused by our work, by the reason decided on.
    pub our_work: bool,
    /// `write_up`, `close`, `person` or `import`.
    pub proposed_by: String,
    /// Whether the customer says that it was in before for this.
    pub customer_says: Option<bool>,
    /// A code of the shop's comeback reasons.
    pub reason: Option<String>,
    pub note: Option<String>,
    pub decided_by: Option<PersonId>,
    pub decided_at: Option<UtcStamp>,
    #[serde(skip)]
    pub change_no: i64,
    pub version: i32,
}

/// A link that a person names at write-up.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewComeback {
    pub earlier_job_id: JobId,
    pub later_job_id: JobId,
    pub customer_says: Option<bool>,
    pub note: Option<String>,
}

/// One comeback.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &ComebackId) -> Answer<Comeback> {
    Ok(comeback::table.find((shop_id, id)).select(Comeback::as_select()).first(conn)?)
}

/// Comebacks by id, newest first, of one state or all.
///
/// # Errors
/// Where the database does not answer.
pub fn list(
    conn: &mut Conn,
    shop_id: i32,
    state: Option<LinkState>,
    before: Option<&ComebackId>,
    limit: i64,
) -> Answer<Vec<Comeback>> {
    let mut query = comeback::table
        .filter(comeback::shop_id.eq(shop_id))
        .order(comeback::id.desc())
        .limit(limit)
        .select(Comeback::as_select())
        .into_boxed();
    if let Some(state) = state {
        query = query.filter(comeback::state.eq(Word(state)));
    }
    if let Some(before) = before {
        query = query.filter(comeback::id.lt(before.clone()));
    }
    Ok(query.load(conn)?)
}

/// Decided comebacks by id, newest first.
///
/// # Errors
/// Where the database does not answer.
pub fn decided(
    conn: &mut Conn,
    shop_id: i32,
    before: Option<&ComebackId>,
    limit: i64,
) -> Answer<Vec<Comeback>> {
    let mut query = comeback::table
        .filter(comeback::shop_id.eq(shop_id).and(comeback::state.ne(Word(LinkState::Proposed))))
        .order(comeback::id.desc())
        .limit(limit)
        .select(Comeback::as_select())
        .into_boxed();
    if let Some(before) = before {
        query = query.filter(comeback::id.lt(before.clone()));
    }
    Ok(query.load(conn)?)
}

/// The comebacks that a job is part of, on either side.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, id: &JobId) -> Answer<Vec<Comeback>> {
    Ok(comeback::table
        .filter(comeback::shop_id.eq(shop_id))
        .filter(comeback::earlier_job_id.eq(id).or(comeback::later_job_id.eq(id)))
        .order(comeback::id)
        .select(Comeback::as_select())
        .load(conn)?)
}

fn system(conn: &mut Conn, shop_id: i32, symptom: Option<&str>) -> Answer<Option<String>> {
    let Some(symptom) = symptom else { return Ok(None) };
    let listed: Option<Option<String>> = code_entry::table
        .find((shop_id, "symptom", symptom))
        .select(code_entry::system)
        .first(conn)
        .optional()?;
    Ok(Some(listed.flatten().unwrap_or_else(|| system_of(symptom).to_owned())))
}

fn touched(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<Touched>> {
    let rows = crate::jobs::parts::of_job(conn, shop_id, job)?;
    Ok(rows
        .into_iter()
        .map(|row| Touched {
            part: row.key().to_owned(),
            suspect: row.role == Some(Word(analytics::words::PartRole::Suspect)),
            position: row.position,
            id: row.id,
        })
        .collect())
}

fn confirmed_cause(row: &Job) -> Option<String> {
    let confirmed = row.cause_state == Some(Word(CauseState::Confirmed));
    row.cause.clone().filter(|_| confirmed)
}

/// Repaired, handed-over jobs of the vehicle on other orders.
fn earlier_jobs(
    conn: &mut Conn,
    shop_id: i32,
    vehicle: &VehicleId,
    not: &OrderId,
) -> Answer<Vec<Earlier>> {
    let rows: Vec<(Job, Option<chrono::NaiveDate>)> = job::table
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .filter(job::shop_id.eq(shop_id))
        .filter(repair_order::vehicle_id.eq(vehicle).and(repair_order::status.eq("closed")))
        .filter(job::outcome.eq(Word(Outcome::Repaired)).and(job::order_id.ne(not)))
        .select((Job::as_select(), repair_order::closed_on))
        .load(conn)?;
    let mut earlier = Vec::with_capacity(rows.len());
    for (row, closed_on) in rows {
        let Some(closed_on) = closed_on else { continue };
        earlier.push(Earlier {
            closed_on,
            system: system(conn, shop_id, row.symptom.as_deref())?,
            cause: confirmed_cause(&row),
            parts: touched(conn, shop_id, &row.id)?,
            symptom: row.symptom,
            job: row.id,
        });
    }
    Ok(earlier)
}

/// Proposes comebacks for a job, or refines what was proposed: new ones are
/// added, labels of undecided ones follow what is known now.
///
/// # Errors
/// Where the database does not answer.
pub fn propose(write: &mut ShopWrite<'_>, row: &Job, by: &str) -> Answer<Vec<Comeback>> {
    let shop_id = write.shop.id;
    let (vehicle, opened_on): (VehicleId, chrono::NaiveDate) = repair_order::table
        .find((shop_id, &row.order_id))
        .select((repair_order::vehicle_id, repair_order::opened_on))
        .first(write.conn)?;
    let earlier = earlier_jobs(write.conn, shop_id, &vehicle, &row.order_id)?;
    let later = Later {
        opened_on,
        symptom: row.symptom.clone(),
        system: system(write.conn, shop_id, row.symptom.as_deref())?,
        cause: confirmed_cause(row),
        parts: touched(write.conn, shop_id, &row.id)?,
    };
    for proposal in proposals(&earlier, &later) {
        note(write, row, &proposal, by)?;
    }
    let all = of_job(write.conn, shop_id, &row.id)?;
    Ok(all.into_iter().filter(|c| c.later_job_id == row.id).collect())
}

fn note(write: &mut ShopWrite<'_>, later: &Job, proposal: &Proposal, by: &str) -> Answer<()> {
    let standing: Option<Comeback> = pair(write, &proposal.earlier, &later.id)?;
    let labels = proposal.labels;
    let state = match &standing {
        Some(row) if row.state != Word(LinkState::Proposed) => row.state,
        Some(row) => {
            diesel::update(comeback::table.find((write.shop.id, &row.id)))
                .set((
                    comeback::same_complaint.eq(labels.same_complaint),
                    comeback::same_system.eq(labels.same_system),
                    comeback::same_cause.eq(labels.same_cause),
                    comeback::same_part.eq(labels.same_part),
                    comeback::change_no.eq(write.change_no),
                    comeback::version.eq(row.version + 1),
                ))
                .execute(write.conn)?;
            row.state
        }
        None => {
            insert(write, &proposal.earlier, later, by, labels, None, None)?;
            Word(LinkState::Proposed)
        }
    };
    for part in &proposal.returned_parts {
        note_part(write, part, &later.id, state)?;
    }
    write.stamp_job(&proposal.earlier)
}

fn note_part(
    write: &mut ShopWrite<'_>,
    part: &PartUseId,
    later: &JobId,
    state: Word<LinkState>,
) -> Answer<()> {
    let known: i64 = part_return::table
        .filter(part_return::shop_id.eq(write.shop.id))
        .filter(part_return::part_use_id.eq(part).and(part_return::later_job_id.eq(later)))
        .count()
        .get_result(write.conn)?;
    if known == 0 {
        diesel::insert_into(part_return::table)
            .values((
                part_return::shop_id.eq(write.shop.id),
                part_return::part_use_id.eq(part),
                part_return::later_job_id.eq(later),
                part_return::state.eq(state),
                part_return::change_no.eq(write.change_no),
            ))
            .execute(write.conn)?;
    }
    Ok(())
}

fn pair(write: &mut ShopWrite<'_>, earlier: &JobId, later: &JobId) -> Answer<Option<Comeback>> {
    Ok(comeback::table
        .filter(comeback::shop_id.eq(write.shop.id))
        .filter(comeback::earlier_job_id.eq(earlier).and(comeback::later_job_id.eq(later)))
        .select(Comeback::as_select())
        .first(write.conn)
        .optional()?)
}

fn insert(
    write: &mut ShopWrite<'_>,
    earlier: &JobId,
    later: &Job,
    by: &str,
    labels: super::propose::Labels,
    customer_says: Option<bool>,
    note: Option<String>,
) -> Answer<Comeback> {
    let row = Comeback {
        shop_id: write.shop.id,
        id: ComebackId::make(),
        earlier_job_id: earlier.clone(),
        later_job_id: later.id.clone(),
        state: Word(LinkState::Proposed),
        same_complaint: labels.same_complaint,
        same_system: labels.same_system,
        same_cause: labels.same_cause,
        same_part: labels.same_part,
        our_work: false,
        proposed_by: by.to_owned(),
        customer_says,
        reason: None,
        note,
        decided_by: None,
        decided_at: None,
        change_no: write.change_no,
        version: 1,
    };
    diesel::insert_into(comeback::table).values(&row).execute(write.conn)?;
    Ok(row)
}

/// Links two jobs because a person says so; on a pair that is proposed already,
/// notes what the customer says.
///
/// # Errors
/// Faulty fields: not the same vehicle, not earlier.
pub fn link(write: &mut ShopWrite<'_>, new: &NewComeback) -> Answer<Comeback> {
    let shop_id = write.shop.id;
    let later = crate::jobs::model::by_id(write.conn, shop_id, &new.later_job_id)?;
    let earlier = crate::jobs::model::by_id(write.conn, shop_id, &new.earlier_job_id)?;
    let order = |conn: &mut Conn,
                 id: &OrderId|
     -> Answer<(VehicleId, UtcStamp, String, Option<UtcStamp>)> {
        Ok(repair_order::table
            .find((shop_id, id))
            .select((
                repair_order::vehicle_id,
                repair_order::opened_at,
                repair_order::status,
                repair_order::closed_at,
            ))
            .first(conn)?)
    };
    let (vehicle, opened_at, ..) = order(write.conn, &later.order_id)?;
    let (before, _, status, closed_at) = order(write.conn, &earlier.order_id)?;
    if vehicle != before {
        return Err(Refusal::field(
            "earlier_job_id",
            "other_vehicle",
            "choose a job of the same vehicle",
        )
        .into());
    }
    if status != "closed"
        || closed_at.is_none_or(|at| at > opened_at)
        || later.order_id == earlier.order_id
    {
        return Err(Refusal::field(
            "earlier_job_id",
            "not_earlier",
            "choose a job that was handed over before",
        )
        .into());
    }
    let text = optional("note", new.note.as_deref(), 2000)?;
    if let Some(row) = pair(write, &earlier.id, &later.id)? {
        diesel::update(comeback::table.find((shop_id, &row.id)))
            .set((
                comeback::customer_says.eq(new.customer_says.or(row.customer_says)),
                comeback::note.eq(text.or(row.note)),
                comeback::change_no.eq(write.change_no),
                comeback::version.eq(row.version + 1),
            ))
            .execute(write.conn)?;
        return by_id(write.conn, shop_id, &row.id);
    }
    let same_complaint = earlier.symptom.is_some() && earlier.symptom == later.symptom;
    let same_system = {
        let one = system(write.conn, shop_id, earlier.symptom.as_deref())?;
        one.is_some() && one == system(write.conn, shop_id, later.symptom.as_deref())?
    };
    let labels = super::propose::Labels { same_complaint, same_system, ..Default::default() };
    let row = insert(write, &earlier.id, &later, "person", labels, new.customer_says, text)?;
    write.stamp_job(&earlier.id)?;
    write.stamp_job(&later.id)?;
    Ok(row)
}

/// The undecided part returns of a later job for parts of an earlier one.
///
/// # Errors
/// Where the database does not answer.
pub fn returned_parts(
    conn: &mut Conn,
    shop_id: i32,
    earlier: &JobId,
    later: &JobId,
) -> Answer<Vec<PartUseId>> {
    Ok(part_return::table
        .inner_join(
            part_use::table.on(part_use::shop_id
                .eq(part_return::shop_id)
                .and(part_use::id.eq(part_return::part_use_id))),
        )
        .filter(part_return::shop_id.eq(shop_id).and(part_return::later_job_id.eq(later)))
        .filter(part_use::job_id.eq(earlier))
        .select(part_return::part_use_id)
        .load(conn)?)
}
