//! Calls after the hand-over: what is owed, and how they ended.

use std::collections::{HashMap, HashSet};

use analytics::words::{CauseState, JobKind, LinkState, Outcome};
use chrono::{Days, NaiveDate};
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::due::{self, Due, INTERMITTENT_DAYS, LATEST_DAYS, Reached, Standing, Terms, USUAL_DAYS};
use crate::comebacks::outside::{self, NewOutsideReturn};
use crate::db::schema::{comeback, follow_up, job, outside_return, repair_order, vehicle};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::day;
use crate::domain::ids::{FollowUpId, JobId, OrderId, PersonId};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::jobs::model::{self as jobs, Job, no_faults, optional};
use crate::orders::change::not_void;
use crate::orders::model::Order;
use crate::shops::model::Shop;
use crate::shops::write::{About, ShopWrite};
use crate::vehicles::model::Vehicle;

/// How a call may end.
pub const ANSWERS: &[&str] = &["fixed", "not_fixed", "fixed_elsewhere", "no_contact"];
/// Nobody was reached.
pub const NO_CONTACT: &str = "no_contact";
/// The customer says that it holds.
pub const FIXED: &str = "fixed";
/// The code of a complaint that comes and goes.
const NOW_AND_THEN: &str = "now-and-then";

/// A call after the hand-over.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = follow_up)]
pub struct FollowUp {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: FollowUpId,
    pub job_id: JobId,
    /// Shop-local day.
    pub called_on: NaiveDate,
    /// `fixed`, `not_fixed`, `fixed_elsewhere` or `no_contact`.
    pub answer: String,
    pub note: Option<String>,
    /// Who called.
    pub person_id: PersonId,
    pub written_at: UtcStamp,
    pub version: i32,
}

/// A call as made.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewFollowUp {
    /// `fixed`, `not_fixed`, `fixed_elsewhere` or `no_contact`.
    pub answer: String,
    /// From the hand-over to today; absent: today.
    pub called_on: Option<NaiveDate>,
    pub note: Option<String>,
}

/// A complaint whose customer may be called.
#[derive(Debug, Clone, Queryable)]
pub struct Candidate {
    pub job: Job,
    pub order: Order,
    pub vehicle: Vehicle,
}

/// A call that is owed.
#[derive(Debug, Clone)]
pub struct Owed {
    pub of: Candidate,
    pub due: Due,
}

/// After how many days the shop calls.
#[must_use]
pub fn terms(shop: &Shop) -> Terms {
    Terms {
        days: shop.follow_up_days.unwrap_or(USUAL_DAYS),
        intermittent_days: shop.follow_up_intermittent_days.unwrap_or(INTERMITTENT_DAYS),
    }
}

impl Candidate {
    /// It comes and goes, was not reproduced, or its cause is only suspected.
    #[must_use]
    pub fn is_intermittent(&self) -> bool {
        let when = self.job.happens_when.as_deref().unwrap_or_default();
        when.split_whitespace().any(|code| code == NOW_AND_THEN)
            || self.job.outcome.is_some_and(|word| word.0 == Outcome::NotReproduced)
            || self.job.cause_state.is_some_and(|word| word.0 == CauseState::Suspected)
    }
}

/// What was said of the shop's jobs since.
#[derive(Debug, Default)]
pub struct Since {
    calls: HashMap<JobId, Vec<(NaiveDate, Reached)>>,
    returned: HashSet<JobId>,
}

impl Since {
    /// Reads it for jobs handed over from a day on.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn read(conn: &mut Conn, shop_id: i32, from: NaiveDate) -> Answer<Self> {
        let mut since = Self::default();
        let calls: Vec<(JobId, NaiveDate, String)> = follow_up::table
            .filter(follow_up::shop_id.eq(shop_id).and(follow_up::called_on.ge(from)))
            .order((follow_up::called_on, follow_up::id))
            .select((follow_up::job_id, follow_up::called_on, follow_up::answer))
            .load(conn)?;
        for (job, on, answer) in calls {
            let reached = if answer == NO_CONTACT { Reached::No } else { Reached::Yes };
            since.calls.entry(job).or_default().push((on, reached));
        }
        let told: Vec<JobId> = outside_return::table
            .filter(outside_return::shop_id.eq(shop_id).and(outside_return::told_on.ge(from)))
            .select(outside_return::job_id)
            .load(conn)?;
        let back: Vec<JobId> = comeback::table
            .inner_join(
                job::table
                    .on(job::shop_id.eq(comeback::shop_id).and(job::id.eq(comeback::later_job_id))),
            )
            .inner_join(
                repair_order::table.on(repair_order::shop_id
                    .eq(job::shop_id)
                    .and(repair_order::id.eq(job::order_id))),
            )
            .filter(comeback::shop_id.eq(shop_id).and(repair_order::opened_on.ge(from)))
            .filter(comeback::state.ne(Word(LinkState::Rejected)))
            .select(comeback::earlier_job_id)
            .load(conn)?;
        since.returned.extend(told.into_iter().chain(back));
        Ok(since)
    }

    /// What stands of one job.
    #[must_use]
    pub fn of(&self, one: &Candidate, closed_on: NaiveDate) -> Standing {
        Standing {
            closed_on,
            intermittent: one.is_intermittent(),
            returned: self.returned.contains(&one.job.id),
            calls: self.calls.get(&one.job.id).cloned().unwrap_or_default(),
        }
    }
}

/// Complaints handed over between two days whose customers the shop may call.
///
/// # Errors
/// Where the database does not answer.
pub fn candidates(
    conn: &mut Conn,
    shop_id: i32,
    (from, to): (NaiveDate, NaiveDate),
) -> Answer<Vec<Candidate>> {
    let outcomes = [Word(Outcome::Repaired), Word(Outcome::NotReproduced)];
    Ok(repair_order::table
        .inner_join(
            job::table
                .on(job::shop_id.eq(repair_order::shop_id).and(job::order_id.eq(repair_order::id))),
        )
        .inner_join(
            vehicle::table.on(vehicle::shop_id
                .eq(repair_order::shop_id)
                .and(vehicle::id.eq(repair_order::vehicle_id))),
        )
        .filter(repair_order::shop_id.eq(shop_id).and(repair_order::status.eq("closed")))
        .filter(repair_order::closed_on.between(from, to))
        .filter(job::kind.eq(Word(JobKind::Complaint)).and(job::outcome.eq_any(outcomes)))
        .order((repair_order::closed_on, job::id))
        .select((Job::as_select(), Order::as_select(), Vehicle::as_select()))
        .load(conn)?)
}

/// The first day of hand-over that a call of today may be about.
#[must_use]
pub fn oldest(terms: Terms, today: NaiveDate) -> NaiveDate {
    let days = u64::try_from(terms.days.max(terms.intermittent_days)).unwrap_or_default();
    today.checked_sub_days(Days::new(days + LATEST_DAYS)).unwrap_or(today)
}

/// The calls owed today: those with a number at hand first, then those longest due.
///
/// # Errors
/// Where the database does not answer.
pub fn owed(conn: &mut Conn, shop: &Shop, today: NaiveDate) -> Answer<Vec<Owed>> {
    let terms = terms(shop);
    let from = oldest(terms, today);
    let since = Since::read(conn, shop.id, from)?;
    let mut owed: Vec<Owed> = candidates(conn, shop.id, (from, today))?
        .into_iter()
        .filter_map(|of| {
            let standing = since.of(&of, of.order.closed_on?);
            let due = due::due(&standing, terms, today)?;
            Some(Owed { of, due })
        })
        .collect();
    owed.sort_by_key(|one| (one.of.order.customer_contact.is_none(), one.due.due_on));
    Ok(owed)
}

/// A job's calls, by day.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, id: &JobId) -> Answer<Vec<FollowUp>> {
    Ok(follow_up::table
        .filter(follow_up::shop_id.eq(shop_id).and(follow_up::job_id.eq(id)))
        .order((follow_up::called_on, follow_up::id))
        .select(FollowUp::as_select())
        .load(conn)?)
}

/// Calls by id, the latest written first.
///
/// # Errors
/// Where the database does not answer.
pub fn list(
    conn: &mut Conn,
    shop_id: i32,
    before: Option<&FollowUpId>,
    limit: i64,
) -> Answer<Vec<FollowUp>> {
    let mut query = follow_up::table
        .filter(follow_up::shop_id.eq(shop_id))
        .order(follow_up::id.desc())
        .limit(limit)
        .select(FollowUp::as_select())
        .into_boxed();
    if let Some(before) = before {
        query = query.filter(follow_up::id.lt(before.clone()));
    }
    Ok(query.load(conn)?)
}

/// One call, where the shop has it.
///
/// # Errors
/// Where the database does not answer.
pub fn find(conn: &mut Conn, shop_id: i32, id: &FollowUpId) -> Answer<Option<FollowUp>> {
    let one = follow_up::table.find((shop_id, id)).select(FollowUp::as_select());
    Ok(one.first(conn).optional()?)
}

/// What is wrong with a call.
fn faults(new: &NewFollowUp, closed_on: NaiveDate, today: NaiveDate) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    if !ANSWERS.contains(&new.answer.as_str()) {
        let detail = format!("choose one of: {}", ANSWERS.join(", "));
        faults.push(FieldFault::new("answer", "word", detail));
    }
    let called_on = new.called_on.unwrap_or(today);
    faults.extend(day::past("called_on", called_on, today).err());
    if called_on < closed_on {
        let detail = format!("the vehicle was handed over on {closed_on}: write that day or later");
        faults.push(FieldFault::new("called_on", "range", detail));
    }
    faults
}

/// The job of a call with its order, handed over.
fn called_about(write: &mut ShopWrite<'_>, id: &JobId) -> Answer<(Job, Order)> {
    let of = jobs::by_id(write.conn, write.shop.id, id)?;
    let order = not_void(write, &of.order_id)?;
    Ok((of, order))
}

/// Keeps a call. One that says it did not hold is a return told on that day.
///
/// # Errors
/// Not found; faulty fields; a conflict where the vehicle is not handed over, or a
/// return is told already.
pub fn record(write: &mut ShopWrite<'_>, id: &JobId, new: &NewFollowUp) -> Answer<FollowUp> {
    let shop_id = write.shop.id;
    let (of, order) = called_about(write, id)?;
    let today = write.shop.zone().day(write.now);
    let Some(closed_on) = order.closed_on else {
        return Err(Refusal::Conflict("the vehicle is not handed over".into()).into());
    };
    if of.kind.0 != JobKind::Complaint {
        return Err(Refusal::Conflict("only a complaint is asked after".into()).into());
    }
    no_faults(faults(new, closed_on, today))?;
    let before = of_job(write.conn, shop_id, id)?;
    // Who said that it holds may be asked again: later on it says more.
    if before.iter().any(|call| tells_a_return(&call.answer)) {
        let why = "the customer said already that it did not hold: take that call back first";
        return Err(Refusal::Conflict(why.into()).into());
    }
    let row = FollowUp {
        shop_id,
        id: FollowUpId::make(),
        job_id: id.clone(),
        called_on: new.called_on.unwrap_or(today),
        answer: new.answer.clone(),
        note: optional("note", new.note.as_deref(), 2000)?,
        person_id: write.person.clone(),
        written_at: write.now,
        version: 1,
    };
    diesel::insert_into(follow_up::table).values(&row).execute(write.conn)?;
    write.note(&about(&row, &of.order_id), "added", None, Some(&row))?;
    write.stamp_job(id)?;
    let repaired = of.outcome.is_some_and(|word| word.0 == Outcome::Repaired);
    // What was never repaired cannot come back; that it still shows stays said.
    if repaired && tells_a_return(&row.answer) {
        let told = NewOutsideReturn {
            told: row.answer.clone(),
            told_on: row.called_on,
            reason: None,
            note: row.note.clone(),
        };
        outside::tell(write, id, &told)?;
    }
    Ok(row)
}

fn tells_a_return(answer: &str) -> bool {
    outside::TOLD.contains(&answer)
}

fn about<'a>(row: &'a FollowUp, order: &'a OrderId) -> About<'a> {
    About::new("follow_up", &row.id).order(order).job(&row.job_id)
}

/// Takes a call back, with the return that it told of.
///
/// # Errors
/// Not found; a conflict where the order is void.
pub fn remove(write: &mut ShopWrite<'_>, job: &JobId, id: &FollowUpId) -> Answer<()> {
    let shop_id = write.shop.id;
    let (of, _) = called_about(write, job)?;
    let row = find(write.conn, shop_id, id)?.filter(|row| row.job_id == *job);
    let row = row.ok_or(Refusal::NotFound)?;
    diesel::delete(follow_up::table.find((shop_id, id))).execute(write.conn)?;
    write.note(&about(&row, &of.order_id), "removed", Some(&row), None)?;
    let told = outside::of_job(write.conn, shop_id, job)?;
    let same = |told: &outside::OutsideReturn| {
        told.told == row.answer && told.told_on == row.called_on && told.person_id == row.person_id
    };
    if told.as_ref().is_some_and(same) {
        outside::withdraw(write, job)?;
    }
    write.stamp_job(job)
}
