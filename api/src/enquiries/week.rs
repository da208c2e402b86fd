//! What the weekly review and today's page show of the circle: actions, comebacks
//! that nobody has looked into, calls to make.

use analytics::words::LinkState;
use chrono::NaiveDate;
use diesel::prelude::*;

use super::action;
use super::closure::State;
use super::page_action::by_day;
use super::view::{ToldAction, is_overdue};
use crate::comebacks::model::{self as comebacks, Comeback};
use crate::comebacks::view::{ListedComeback, listed};
use crate::db::schema::{comeback, corrective_action, enquiry, job, repair_order};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::{ComebackId, PersonId};
use crate::followups::model as followups;
use crate::jobs::brief;
use crate::jobs::view::Words;

/// Comebacks without an enquiry that are named.
const NAMED: i64 = 12;
/// Open actions that are named.
const ACTIONS: i64 = 200;

/// What waits beside the week's figures.
pub struct Waiting {
    /// Past their day first.
    pub actions: Vec<ToldAction>,
    pub overdue: usize,
    /// Confirmed, back in the time asked for, and nobody has held an enquiry.
    pub without: Vec<ListedComeback>,
    pub calls: usize,
}

impl Waiting {
    /// Reads it; of comebacks, those back between two days.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn read(conn: &mut Conn, words: &Words, days: (NaiveDate, NaiveDate)) -> Answer<Self> {
        let today = words.shop.zone().day(words.now);
        let mut rows = action::list(conn, words.shop.id, Some(State::Open), None, ACTIONS)?;
        by_day(&mut rows);
        let overdue = rows.iter().filter(|row| is_overdue(row, today)).count();
        let without = without(conn, words.shop.id, days)?;
        Ok(Self {
            overdue,
            actions: rows
                .iter()
                .map(|row| ToldAction::read(conn, words, row))
                .collect::<Answer<_>>()?,
            without: listed(conn, words, &without)?,
            calls: followups::owed(conn, &words.shop, today)?.len(),
        })
    }
}

fn without(
    conn: &mut Conn,
    shop_id: i32,
    (from, to): (NaiveDate, NaiveDate),
) -> Answer<Vec<Comeback>> {
    let ids: Vec<ComebackId> = comeback::table
        .inner_join(
            job::table
                .on(job::shop_id.eq(comeback::shop_id).and(job::id.eq(comeback::later_job_id))),
        )
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .left_join(
            enquiry::table.on(enquiry::shop_id
                .eq(comeback::shop_id)
                .and(enquiry::comeback_id.eq(comeback::id))),
        )
        .filter(comeback::shop_id.eq(shop_id).and(comeback::state.eq(Word(LinkState::Confirmed))))
        .filter(repair_order::status.ne("void"))
        .filter(repair_order::opened_on.between(from, to))
        .filter(enquiry::id.nullable().is_null())
        .order((repair_order::opened_on.desc(), comeback::id.desc()))
        .limit(NAMED)
        .select(comeback::id)
        .load(conn)?;
    ids.iter().map(|id| comebacks::by_id(conn, shop_id, id)).collect()
}

/// What today's page shows of it.
#[derive(Default)]
pub struct Today {
    pub calls: usize,
    pub overdue: i64,
    /// Enquiries that wait for the viewer's own words: the comeback, and the job
    /// that it is about.
    pub asked: Vec<(String, String)>,
}

impl Today {
    /// Reads it for a viewer who calls customers, or does not, and who sees to
    /// actions, or does not.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn read(
        conn: &mut Conn,
        words: &Words,
        person: &PersonId,
        (calls, acts): (bool, bool),
    ) -> Answer<Self> {
        let shop_id = words.shop.id;
        let today = words.shop.zone().day(words.now);
        let mut found = Self::default();
        if calls {
            found.calls = followups::owed(conn, &words.shop, today)?.len();
        }
        if acts {
            found.overdue = corrective_action::table
                .filter(corrective_action::shop_id.eq(shop_id))
                .filter(corrective_action::state.eq(State::Open.as_str()))
                .filter(corrective_action::due_on.lt(today))
                .count()
                .get_result(conn)?;
        }
        let asked: Vec<ComebackId> = enquiry::table
            .filter(enquiry::shop_id.eq(shop_id).and(enquiry::technician_id.eq(person)))
            .filter(enquiry::closed_on.is_null().and(enquiry::technician_says.is_null()))
            .order(enquiry::id)
            .select(enquiry::comeback_id)
            .load(conn)?;
        for id in asked {
            let earlier = comebacks::by_id(conn, shop_id, &id)?.earlier_job_id;
            found.asked.push((id.to_string(), brief::of(conn, shop_id, &earlier)?.number()));
        }
        Ok(found)
    }
}
