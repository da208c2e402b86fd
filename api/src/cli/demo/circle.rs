//! What the demo shop made of its year: enquiries with what came of them, shop
//! rules, calls, readings. Each is written as of the day on which it happened.

use analytics::words::LinkState;
use chrono::{Days, NaiveDate};

use crate::comebacks::model::{self as comebacks, Comeback};
use crate::db::{Answer, Conn, Db};
use crate::demo;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::PersonId;
use crate::jobs::model as jobs;
use crate::orders::model as orders;
use crate::shops::model::Shop;
use crate::shops::write::ShopWrite;

/// Comebacks that are looked through, and how many at once.
const MOST_PAGES: usize = 50;
const PAGE: i64 = 200;
/// Minutes of the day at which things are written.
pub(super) const MORNING: i32 = 8 * 60;
pub(super) const EVENING: i32 = 17 * 60 + 30;

/// The shop, who leads it, and until when its record goes.
pub(super) struct Year<'a> {
    pub db: &'a Db,
    pub shop: &'a Shop,
    pub manager: &'a PersonId,
    /// Who calls.
    pub adviser: &'a PersonId,
    pub end: NaiveDate,
    pub seed: u64,
}

pub(super) fn before(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_sub_days(Days::new(days)).unwrap_or(day)
}

pub(super) fn after(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_add_days(Days::new(days)).unwrap_or(day)
}

impl Year<'_> {
    /// A write of that person on a day.
    pub fn write<T: Send + 'static>(
        &self,
        (person, day, minute): (&PersonId, NaiveDate, i32),
        work: impl Fn(&mut ShopWrite<'_>) -> Answer<T> + Send + 'static,
    ) -> Answer<T> {
        let (shop, person) = (self.shop.clone(), person.clone());
        let now = UtcStamp::new(demo::instant(shop.zone(), day, minute));
        self.db.write_blocking(move |conn| work(&mut ShopWrite::begin(conn, &shop, &person, now)?))
    }

    /// A write of the manager in the evening of a day.
    pub fn manage<T: Send + 'static>(
        &self,
        day: NaiveDate,
        work: impl Fn(&mut ShopWrite<'_>) -> Answer<T> + Send + 'static,
    ) -> Answer<T> {
        self.write((self.manager, day, EVENING), work)
    }

    /// All of it, day after day.
    pub fn round(&self) -> Answer<()> {
        let rule_day = demo::rule_day(self.end);
        self.name_operations(before(rule_day, 70))?;
        self.take_plans(before(rule_day, 70))?;
        let asked = self.ask_about_coolant(rule_day)?;
        let rule = self.take_coolant_rule(rule_day, asked.as_ref())?;
        self.withdraw_untested_rule(rule_day)?;
        self.take_valve_rule()?;
        self.review_coolant_rule(&rule, asked.as_ref())?;
        self.ask_about_lately()?;
        self.take_readings()?;
        self.call()
    }

    /// The latest confirmed comebacks that fit, at most so many.
    pub fn comebacks(
        &self,
        most: usize,
        fits: impl Fn(&mut Conn, &Comeback) -> Answer<bool>,
    ) -> Answer<Vec<Comeback>> {
        let mut found = Vec::new();
        let mut last = None;
        for _ in 0..MOST_PAGES {
            let page = self.db.read(|conn| {
                let state = Some(LinkState::Confirmed);
                let page = comebacks::list(conn, self.shop.id, state, last.as_ref(), PAGE)?;
                let mut fitting = Vec::new();
                for row in &page {
                    if fits(conn, row)? {
                        fitting.push(row.clone());
                    }
                }
                Ok((page.last().map(|row| row.id.clone()), fitting))
            })?;
            found.extend(page.1);
            if found.len() >= most || page.0.is_none() {
                break;
            }
            last = page.0;
        }
        found.truncate(most);
        Ok(found)
    }

    /// When the later order of a comeback was opened and closed.
    pub fn came_on(
        &self,
        conn: &mut Conn,
        row: &Comeback,
    ) -> Answer<(NaiveDate, Option<NaiveDate>)> {
        let later = jobs::by_id(conn, self.shop.id, &row.later_job_id)?;
        let order = orders::by_id(conn, self.shop.id, &later.order_id)?;
        Ok((order.opened_on, order.closed_on))
    }
}
