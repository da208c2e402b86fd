//! Enquiries into comebacks: rows, and writing them.

use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use super::action::{self, CorrectiveAction};
use super::closure::{self, State};
use super::findings::Findings;
use super::in_use::InUse;
use super::reason;
use crate::comebacks::model::{self as comebacks, Comeback};
use crate::db::schema::enquiry;
use crate::db::{Answer, Conn};
use crate::domain::day;
use crate::domain::ids::{ComebackId, EnquiryId, PersonId};
use crate::domain::refusal::Refusal;
use crate::jobs::model::{self as jobs, known_person, no_faults, optional};
use crate::shops::write::{About, ShopWrite};

/// What the manager and the technician found about a comeback.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = enquiry, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct Enquiry {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: EnquiryId,
    pub comeback_id: ComebackId,
    /// What failed: a part, a connection, an adjustment, a step of the work.
    pub failed_item: Option<String>,
    /// Under what conditions it showed.
    pub conditions: Option<String>,
    /// Whether the return was confirmed as the same failure.
    pub verified: Option<bool>,
    pub verified_how: Option<String>,
    /// What was checked the first time, and what was not.
    pub checked: Option<String>,
    pub not_checked: Option<String>,
    /// From what was seen to the cause.
    pub analysis: Option<String>,
    /// A code of the shop's comeback reasons: the same as the comeback's own.
    pub reason: Option<String>,
    /// Another of them that had a part in it.
    pub contributing: Option<String>,
    /// `shop_work`, `shop_process`, `supplier`, `customer_choice` or `none`.
    pub attribution: Option<String>,
    pub technician_id: Option<PersonId>,
    /// The technician's own words.
    pub technician_says: Option<String>,
    /// Who wrote these words down last.
    pub said_by: Option<PersonId>,
    /// Shop-local day.
    pub held_on: NaiveDate,
    pub held_by: PersonId,
    pub closed_on: Option<NaiveDate>,
    pub closed_by: Option<PersonId>,
    pub close_note: Option<String>,
    pub version: i32,
}

impl Enquiry {
    pub(super) fn about<'a>(&'a self, comeback: &'a Comeback) -> About<'a> {
        About::new("enquiry", &self.id).job(&comeback.later_job_id)
    }
}

/// An enquiry with what both jobs say of it, and what came of it.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct WholeEnquiry {
    #[serde(flatten)]
    pub enquiry: Enquiry,
    pub in_use: InUse,
    pub actions: Vec<CorrectiveAction>,
}

/// The enquiry into a comeback, where one was held.
///
/// # Errors
/// Where the database does not answer.
pub fn of_comeback(conn: &mut Conn, shop_id: i32, id: &ComebackId) -> Answer<Option<Enquiry>> {
    Ok(enquiry::table
        .filter(enquiry::shop_id.eq(shop_id).and(enquiry::comeback_id.eq(id)))
        .select(Enquiry::as_select())
        .first(conn)
        .optional()?)
}

/// One enquiry.
///
/// # Errors
/// Not found, or the database does not answer.
pub fn by_id(conn: &mut Conn, shop_id: i32, id: &EnquiryId) -> Answer<Enquiry> {
    let row = enquiry::table.find((shop_id, id)).select(Enquiry::as_select());
    row.first(conn).optional()?.ok_or_else(|| Refusal::NotFound.into())
}

/// With both jobs' times and the actions.
///
/// # Errors
/// Where the database does not answer.
pub fn whole(conn: &mut Conn, row: Enquiry) -> Answer<WholeEnquiry> {
    let comeback = comebacks::by_id(conn, row.shop_id, &row.comeback_id)?;
    Ok(WholeEnquiry {
        in_use: InUse::read(conn, row.shop_id, &comeback)?,
        actions: action::of_enquiry(conn, row.shop_id, &row.id)?,
        enquiry: row,
    })
}

/// Whether the enquiry is about the person's own work: the person led one of the
/// two jobs, or is named in it.
///
/// # Errors
/// Where the database does not answer.
pub fn is_about(
    conn: &mut Conn,
    comeback: &Comeback,
    row: Option<&Enquiry>,
    person: &PersonId,
) -> Answer<bool> {
    if row.is_some_and(|row| row.technician_id.as_ref() == Some(person)) {
        return Ok(true);
    }
    for job in [&comeback.earlier_job_id, &comeback.later_job_id] {
        if jobs::by_id(conn, comeback.shop_id, job)?.lead_id.as_ref() == Some(person) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Writes what is found: of a comeback without an enquiry it begins one.
///
/// # Errors
/// Not found, stale, faulty fields; a conflict where the comeback is rejected, or
/// the enquiry closed.
pub fn write(
    write: &mut ShopWrite<'_>,
    comeback: &ComebackId,
    seen: Option<i32>,
    found: &Findings,
) -> Answer<Enquiry> {
    let shop_id = write.shop.id;
    let of = comebacks::by_id(write.conn, shop_id, comeback)?;
    let before = of_comeback(write.conn, shop_id, comeback)?;
    let mut row = match (&before, seen) {
        (Some(row), Some(seen)) => same_version(row, seen)?.clone(),
        (Some(_), None) => {
            return Err(Refusal::Conflict("an enquiry is held into it already".into()).into());
        }
        (None, Some(_)) => return Err(Refusal::NotFound.into()),
        (None, None) => blank(write, &of)?,
    };
    reason::refuse_rejected(&of)?;
    refuse_closed(&row)?;
    // At first it is about who led the first job, unless somebody else is named.
    let named = found.technician_id.clone();
    let technician_id =
        if before.is_none() { named.or_else(|| row.technician_id.clone()) } else { named };
    let found = Findings { technician_id, ..found.clone() };
    fill(write, &mut row, &found, of.reason.as_deref())?;
    match &before {
        None => {
            diesel::insert_into(enquiry::table).values(&row).execute(write.conn)?;
        }
        Some(_) => save(write, &mut row)?,
    }
    let action = if before.is_some() { "changed" } else { "added" };
    write.note(&row.about(&of), action, before.as_ref(), Some(&row))?;
    reason::decide(write, &of, row.reason.as_deref())?;
    Ok(row)
}

fn same_version(row: &Enquiry, seen: i32) -> Answer<&Enquiry> {
    if row.version == seen { Ok(row) } else { Err(Refusal::Stale(row.version).into()) }
}

fn refuse_closed(row: &Enquiry) -> Answer<()> {
    if row.closed_on.is_none() {
        return Ok(());
    }
    Err(Refusal::Conflict("the enquiry is closed: reopen it first".into()).into())
}

pub(super) fn save(write: &mut ShopWrite<'_>, row: &mut Enquiry) -> Answer<()> {
    row.version += 1;
    diesel::update(enquiry::table.find((row.shop_id, &row.id))).set(&*row).execute(write.conn)?;
    Ok(())
}

/// Before anything is found: about who led the first job, with the reason that
/// was decided on.
fn blank(write: &mut ShopWrite<'_>, comeback: &Comeback) -> Answer<Enquiry> {
    let first = jobs::by_id(write.conn, write.shop.id, &comeback.earlier_job_id)?;
    Ok(Enquiry {
        shop_id: write.shop.id,
        id: EnquiryId::make(),
        comeback_id: comeback.id.clone(),
        failed_item: None,
        conditions: None,
        verified: None,
        verified_how: None,
        checked: None,
        not_checked: None,
        analysis: None,
        reason: comeback.reason.clone(),
        contributing: None,
        attribution: None,
        technician_id: first.lead_id,
        technician_says: None,
        said_by: None,
        held_on: write.shop.zone().day(write.now),
        held_by: write.person.clone(),
        closed_on: None,
        closed_by: None,
        close_note: None,
        version: 1,
    })
}

/// A reason that was decided on is never emptied here: that is taking the decision
/// back.
fn fill(
    write: &mut ShopWrite<'_>,
    row: &mut Enquiry,
    found: &Findings,
    decided: Option<&str>,
) -> Answer<()> {
    row.failed_item = optional("failed_item", found.failed_item.as_deref(), 400)?;
    row.conditions = optional("conditions", found.conditions.as_deref(), 2000)?;
    row.verified = found.verified;
    row.verified_how = optional("verified_how", found.verified_how.as_deref(), 2000)?;
    row.checked = optional("checked", found.checked.as_deref(), 4000)?;
    row.not_checked = optional("not_checked", found.not_checked.as_deref(), 4000)?;
    row.analysis = optional("analysis", found.analysis.as_deref(), 4000)?;
    let says = optional("technician_says", found.technician_says.as_deref(), 4000)?;
    if says != row.technician_says {
        // Whoever wrote it last stands beside it: nobody puts words into another's mouth.
        row.said_by = says.as_ref().map(|_| write.person.clone());
        row.technician_says = says;
    }
    let named = optional("reason", found.reason.as_deref(), 80)?.or(decided.map(str::to_owned));
    let more = optional("contributing", found.contributing.as_deref(), 80)?;
    let mut faults = closure::faults(
        row.verified,
        row.verified_how.as_deref(),
        (named.as_deref(), more.as_deref()),
    );
    if let Some(on) = found.held_on {
        faults.extend(day::past("held_on", on, write.shop.zone().day(write.now)).err());
        row.held_on = on;
    }
    no_faults(faults)?;
    reason::usable(write, "reason", named.as_deref(), row.reason.as_deref())?;
    reason::usable(write, "contributing", more.as_deref(), row.contributing.as_deref())?;
    row.attribution = reason::attribution(write, named.as_deref(), found.attribution.as_deref())?;
    row.reason = named;
    row.contributing = more;
    if found.technician_id != row.technician_id {
        known_person(write, "technician_id", found.technician_id.as_ref())?;
    }
    row.technician_id = found.technician_id.clone();
    Ok(())
}

/// Keeps what the technician says, who may write this part alone.
///
/// # Errors
/// Not found; forbidden to whom it is not about; a conflict where it is closed.
pub fn say(write: &mut ShopWrite<'_>, comeback: &ComebackId, words: &str) -> Answer<Enquiry> {
    let shop_id = write.shop.id;
    let of = comebacks::by_id(write.conn, shop_id, comeback)?;
    let before = of_comeback(write.conn, shop_id, comeback)?.ok_or(Refusal::NotFound)?;
    let own = [&before.technician_id, &before.said_by];
    if !own.into_iter().flatten().any(|person| person == write.person) {
        let why = "only the technician whom the enquiry names writes here".to_owned();
        return Err(Refusal::Forbidden(why).into());
    }
    refuse_closed(&before)?;
    let mut row = before.clone();
    row.technician_says = optional("technician_says", Some(words), 4000)?;
    row.said_by = row.technician_says.as_ref().map(|_| write.person.clone());
    save(write, &mut row)?;
    write.note(&row.about(&of), "changed", Some(&before), Some(&row))?;
    Ok(row)
}

/// Closes an enquiry.
///
/// # Errors
/// Not found, stale; what [`closure::close`] answers.
pub fn close(
    write: &mut ShopWrite<'_>,
    comeback: &ComebackId,
    seen: i32,
    note: Option<&str>,
) -> Answer<Enquiry> {
    let shop_id = write.shop.id;
    let of = comebacks::by_id(write.conn, shop_id, comeback)?;
    let before = of_comeback(write.conn, shop_id, comeback)?.ok_or(Refusal::NotFound)?;
    let mut row = same_version(&before, seen)?.clone();
    let actions = action::of_enquiry(write.conn, shop_id, &row.id)?;
    let actions: Vec<State> = actions.iter().filter_map(|row| State::parse(&row.state)).collect();
    closure::close(closure::Standing {
        closed: row.closed_on.is_some(),
        reason: row.reason.as_deref(),
        actions: &actions,
    })?;
    row.closed_on = Some(write.shop.zone().day(write.now));
    row.closed_by = Some(write.person.clone());
    row.close_note = optional("close_note", note, 2000)?;
    save(write, &mut row)?;
    write.note(&row.about(&of), "closed", Some(&before), Some(&row))?;
    Ok(row)
}

/// Opens a closed enquiry again.
///
/// # Errors
/// Not found, stale; a conflict where it is open.
pub fn reopen(write: &mut ShopWrite<'_>, comeback: &ComebackId, seen: i32) -> Answer<Enquiry> {
    let shop_id = write.shop.id;
    let of = comebacks::by_id(write.conn, shop_id, comeback)?;
    let before = of_comeback(write.conn, shop_id, comeback)?.ok_or(Refusal::NotFound)?;
    let mut row = same_version(&before, seen)?.clone();
    if row.closed_on.is_none() {
        return Err(Refusal::Conflict("the enquiry is open".into()).into());
    }
    (row.closed_on, row.closed_by, row.close_note) = (None, None, None);
    save(write, &mut row)?;
    write.note(&row.about(&of), "reopened", Some(&before), Some(&row))?;
    Ok(row)
}
