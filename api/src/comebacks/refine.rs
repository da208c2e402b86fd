//! Proposing comebacks for a job, and refining what was proposed.

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use analytics::words::{CauseState, LinkState, Outcome};
use chrono::{NaiveDate, TimeDelta};
use diesel::prelude::*;

use super::model::{Comeback, PartReturn, by_id, of_job, returned_parts};
use super::propose::{Earlier, Labels, Later, MOST_DAYS, Proposal, Touched, proposals};
use crate::codes::model as codes;
use crate::db::schema::{code_entry, comeback, part_return, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::codes::system_of;
use crate::domain::ids::{ComebackId, JobId, OrderId, PartUseId, VehicleId};
use crate::jobs::model::{Job, of_order};
use crate::orders::planned;
use crate::shops::write::ShopWrite;

/// What a symptom or cause means now, whatever it has been merged into since.
///
/// # Errors
/// Where the database does not answer.
pub fn meant(
    conn: &mut Conn,
    shop_id: i32,
    list: &str,
    code: Option<&str>,
) -> Answer<Option<String>> {
    code.map(|code| codes::meant(conn, shop_id, list, code)).transpose()
}

/// The system of a symptom.
///
/// # Errors
/// Where the database does not answer.
pub fn system(conn: &mut Conn, shop_id: i32, symptom: Option<&str>) -> Answer<Option<String>> {
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

/// What codes mean now, each looked up once for a job's proposals.
struct Meanings {
    shop_id: i32,
    known: HashMap<(&'static str, String), (String, Option<String>)>,
}

impl Meanings {
    fn of(
        &mut self,
        conn: &mut Conn,
        list: &'static str,
        code: &str,
    ) -> Answer<&(String, Option<String>)> {
        Ok(match self.known.entry((list, code.to_owned())) {
            Entry::Occupied(seen) => seen.into_mut(),
            Entry::Vacant(place) => place.insert(codes::meaning(conn, self.shop_id, list, code)?),
        })
    }

    /// The symptom that is meant, and its system.
    fn symptom(&mut self, conn: &mut Conn, row: &Job) -> Answer<(Option<String>, Option<String>)> {
        let Some(code) = row.symptom.as_deref() else { return Ok((None, None)) };
        let (symptom, system) = self.of(conn, "symptom", code)?.clone();
        let system = system.unwrap_or_else(|| system_of(&symptom).to_owned());
        Ok((Some(symptom), Some(system)))
    }

    /// The cause that is meant, where it is confirmed.
    fn cause(&mut self, conn: &mut Conn, row: &Job) -> Answer<Option<String>> {
        let confirmed = row.cause_state == Some(Word(CauseState::Confirmed));
        let Some(code) = row.cause.as_deref().filter(|_| confirmed) else { return Ok(None) };
        Ok(Some(self.of(conn, "cause", code)?.0.clone()))
    }
}

/// Repaired, handed-over jobs of the vehicle on other orders, of those days that
/// something is proposed for, with the day of their hand-over.
fn earlier_jobs(
    conn: &mut Conn,
    shop_id: i32,
    not: &OrderId,
    (vehicle, opened_on): (&VehicleId, NaiveDate),
) -> Answer<Vec<(NaiveDate, Job)>> {
    let Some(first) = opened_on.checked_sub_signed(TimeDelta::days(MOST_DAYS)) else {
        return Ok(Vec::new());
    };
    // In two steps: joined at once, every job of the shop would be looked at.
    let orders: Vec<(OrderId, Option<NaiveDate>)> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .filter(repair_order::vehicle_id.eq(vehicle).and(repair_order::status.eq("closed")))
        .filter(repair_order::closed_on.ge(first).and(repair_order::closed_on.le(opened_on)))
        .filter(repair_order::id.ne(not))
        .order(repair_order::closed_at)
        .select((repair_order::id, repair_order::closed_on))
        .load(conn)?;
    let mut earlier = Vec::new();
    for (order, closed_on) in orders {
        let Some(closed_on) = closed_on else { continue };
        let jobs = of_order(conn, shop_id, &order)?.into_iter();
        let repaired = jobs.filter(|row| row.outcome == Some(Word(Outcome::Repaired)));
        earlier.extend(repaired.map(|row| (closed_on, row)));
    }
    Ok(earlier)
}

/// Proposes comebacks for a job, or refines what was proposed: new ones are
/// added, labels of undecided ones follow what is known now. Nothing is taken
/// back: that is for the manager to decide.
///
/// # Errors
/// Where the database does not answer.
pub fn propose(write: &mut ShopWrite<'_>, row: &Job, by: &str) -> Answer<()> {
    let (vehicle, opened_on) = visit(write, row)?;
    propose_on(write, row, (&vehicle, opened_on), by).map(|_| ())
}

/// As [`propose`], where the vehicle and the day it came are known. Tells
/// whether anything is proposed.
///
/// # Errors
/// Where the database does not answer.
pub fn propose_on(
    write: &mut ShopWrite<'_>,
    row: &Job,
    visit: (&VehicleId, NaiveDate),
    by: &str,
) -> Answer<bool> {
    let proposed = found(write, row, visit)?;
    for proposal in &proposed {
        keep(write, row, proposal, by)?;
    }
    Ok(!proposed.is_empty())
}

/// The vehicle of a job, and the day it came.
fn visit(write: &mut ShopWrite<'_>, row: &Job) -> Answer<(VehicleId, NaiveDate)> {
    Ok(repair_order::table
        .find((write.shop.id, &row.order_id))
        .select((repair_order::vehicle_id, repair_order::opened_on))
        .first(write.conn)?)
}

/// As [`propose`], for a job that was corrected: what no longer holds is taken
/// back.
///
/// # Errors
/// Where the database does not answer.
pub fn propose_anew(write: &mut ShopWrite<'_>, row: &Job) -> Answer<()> {
    let (vehicle, opened_on) = visit(write, row)?;
    let proposed = found(write, row, (&vehicle, opened_on))?;
    drop_stale(write, row, &proposed, None)?;
    for proposal in &proposed {
        keep(write, row, proposal, "close")?;
    }
    Ok(())
}

/// What is to be proposed for a job as it stands. For a planned second visit the
/// visit before is not.
fn found(
    write: &mut ShopWrite<'_>,
    row: &Job,
    visit: (&VehicleId, NaiveDate),
) -> Answer<Vec<Proposal>> {
    let shop_id = write.shop.id;
    let mut before = earlier_jobs(write.conn, shop_id, &row.order_id, visit)?;
    // A vehicle that is here for the first time asks for nothing more.
    if before.is_empty() {
        return Ok(Vec::new());
    }
    let planned = planned::of_job(write.conn, shop_id, &row.id)?;
    before.retain(|(_, job)| planned.as_ref() != Some(&job.id));
    let mut meanings = Meanings { shop_id, known: HashMap::new() };
    let (symptom, system) = meanings.symptom(write.conn, row)?;
    let cause = meanings.cause(write.conn, row)?;
    let parts = touched(write.conn, shop_id, &row.id)?;
    let later = Later { opened_on: visit.1, system, symptom, cause, parts };
    // Only a part that is held for the cause can have come back.
    let suspects = later.parts.iter().any(|part| part.suspect);
    let mut earlier = Vec::with_capacity(before.len());
    for (closed_on, job) in before {
        let (symptom, system) = meanings.symptom(write.conn, &job)?;
        let cause = meanings.cause(write.conn, &job)?;
        let parts = if suspects { touched(write.conn, shop_id, &job.id)? } else { Vec::new() };
        earlier.push(Earlier { job: job.id, closed_on, symptom, system, cause, parts });
    }
    Ok(proposals(&earlier, &later))
}

/// Proposes anew for the jobs that came after a job that was corrected once its
/// vehicle was handed over: only what the correction has to do with.
///
/// # Errors
/// Where the database does not answer.
pub fn reconsider(write: &mut ShopWrite<'_>, earlier: &Job) -> Answer<()> {
    let shop_id = write.shop.id;
    let (vehicle, closed_on): (VehicleId, Option<NaiveDate>) = repair_order::table
        .find((shop_id, &earlier.order_id))
        .select((repair_order::vehicle_id, repair_order::closed_on))
        .first(write.conn)?;
    let Some(closed_on) = closed_on else { return Ok(()) };
    let after: Vec<(OrderId, NaiveDate)> = repair_order::table
        .filter(repair_order::shop_id.eq(shop_id))
        .filter(repair_order::vehicle_id.eq(&vehicle).and(repair_order::status.ne("void")))
        .filter(repair_order::id.ne(&earlier.order_id))
        .filter(repair_order::opened_on.ge(closed_on))
        .order((repair_order::opened_at, repair_order::id))
        .select((repair_order::id, repair_order::opened_on))
        .load(write.conn)?;
    for (order, opened_on) in after {
        if (opened_on - closed_on).num_days() > MOST_DAYS {
            continue;
        }
        for later in of_order(write.conn, shop_id, &order)? {
            let proposed = found(write, &later, (&vehicle, opened_on))?;
            // Another earlier job may take the place of what is taken back.
            let open = drop_stale(write, &later, &proposed, Some(&earlier.id))?;
            for proposal in &proposed {
                let own = proposal.earlier == earlier.id;
                if own || open || pair(write, &proposal.earlier, &later.id)?.is_some() {
                    keep(write, &later, proposal, "close")?;
                }
            }
        }
    }
    Ok(())
}

/// Takes back what the program proposed and would not propose now. What a
/// person said, and what is decided, stays. With `of` only where that is the
/// earlier job. Tells whether a proposal was taken back.
fn drop_stale(
    write: &mut ShopWrite<'_>,
    later: &Job,
    proposed: &[Proposal],
    of: Option<&JobId>,
) -> Answer<bool> {
    let links = of_job(write.conn, write.shop.id, &later.id)?;
    let mut dropped = false;
    for row in links.iter().filter(|row| row.later_job_id == later.id) {
        let own = row.proposed_by == "write_up" || row.proposed_by == "close";
        let unsaid = row.customer_says.is_none() && row.note.is_none();
        let asked = of.is_none_or(|of| *of == row.earlier_job_id);
        if row.state.0 != LinkState::Proposed || !own || !unsaid || !asked {
            continue;
        }
        match proposed.iter().find(|proposal| proposal.earlier == row.earlier_job_id) {
            Some(proposal) => drop_parts(write, row, &proposal.returned_parts)?,
            None => {
                take_back(write, row)?;
                dropped = true;
            }
        }
    }
    Ok(dropped)
}

/// Takes proposed part returns back, but those.
fn drop_parts(write: &mut ShopWrite<'_>, row: &Comeback, but: &[PartUseId]) -> Answer<()> {
    let shop_id = write.shop.id;
    let parts = returned_parts(write.conn, shop_id, &row.earlier_job_id, &row.later_job_id)?;
    for part in parts {
        if part.state.0 != LinkState::Proposed || but.contains(&part.part_use_id) {
            continue;
        }
        let place = (shop_id, &part.part_use_id, &part.later_job_id);
        diesel::delete(part_return::table.find(place)).execute(write.conn)?;
        write.note(&part.about(), "removed", Some(&part), None)?;
    }
    Ok(())
}

/// Takes a proposal back, with its parts.
fn take_back(write: &mut ShopWrite<'_>, row: &Comeback) -> Answer<()> {
    drop_parts(write, row, &[])?;
    diesel::delete(comeback::table.find((write.shop.id, &row.id))).execute(write.conn)?;
    write.note(&row.about(), "removed", Some(row), None)?;
    write.stamp_job(&row.earlier_job_id)?;
    write.stamp_job(&row.later_job_id)
}

fn keep(write: &mut ShopWrite<'_>, later: &Job, proposal: &Proposal, by: &str) -> Answer<()> {
    let standing = pair(write, &proposal.earlier, &later.id)?;
    let labels = proposal.labels;
    let state = match &standing {
        Some(row) => {
            if row.state.0 == LinkState::Proposed {
                relabel(write, row, labels)?;
            }
            row.state
        }
        None => insert(write, &proposal.earlier, later, by, labels, (None, None))?.state,
    };
    for part in &proposal.returned_parts {
        keep_part(write, part, &later.id, state)?;
    }
    write.stamp_job(&proposal.earlier)
}

fn relabel(write: &mut ShopWrite<'_>, row: &Comeback, labels: Labels) -> Answer<()> {
    let standing = Labels {
        same_complaint: row.same_complaint,
        same_system: row.same_system,
        same_cause: row.same_cause,
        same_part: row.same_part,
    };
    if standing == labels {
        return Ok(());
    }
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
    let after = by_id(write.conn, write.shop.id, &row.id)?;
    write.note(&row.about(), "changed", Some(row), Some(&after))
}

fn keep_part(
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
    if known > 0 {
        return Ok(());
    }
    let row = PartReturn {
        shop_id: write.shop.id,
        part_use_id: part.clone(),
        later_job_id: later.clone(),
        state,
        change_no: write.change_no,
    };
    diesel::insert_into(part_return::table).values(&row).execute(write.conn)?;
    write.note(&row.about(), "added", None, Some(&row))
}

/// What stands between two jobs.
///
/// # Errors
/// Where the database does not answer.
pub fn pair(write: &mut ShopWrite<'_>, earlier: &JobId, later: &JobId) -> Answer<Option<Comeback>> {
    Ok(comeback::table
        .filter(comeback::shop_id.eq(write.shop.id))
        .filter(comeback::earlier_job_id.eq(earlier).and(comeback::later_job_id.eq(later)))
        .select(Comeback::as_select())
        .first(write.conn)
        .optional()?)
}

/// Adds a proposal; `said` is what the customer says, and a note.
///
/// # Errors
/// Where the database does not answer.
pub fn insert(
    write: &mut ShopWrite<'_>,
    earlier: &JobId,
    later: &Job,
    by: &str,
    labels: Labels,
    said: (Option<bool>, Option<String>),
) -> Answer<Comeback> {
    let (customer_says, note) = said;
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
    write.note(&row.about(), "added", None, Some(&row))?;
    Ok(row)
}

/// Takes back what is proposed for a job, on either side, with the parts.
///
/// # Errors
/// Where the database does not answer.
pub fn withdraw(write: &mut ShopWrite<'_>, job: &Job) -> Answer<()> {
    for row in of_job(write.conn, write.shop.id, &job.id)? {
        if row.state.0 == LinkState::Proposed {
            take_back(write, &row)?;
        }
    }
    Ok(())
}
