//! Sublets: work sent to another business. The shop stays answerable.

use analytics::words::Payer;
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::model::{no_faults, optional};
use super::parts::MoneyRights;
use super::writable;
use crate::db::schema::sublet;
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::day::known;
use crate::domain::ids::{JobId, SubletId};
use crate::domain::money::MOST_MINOR;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::shops::write::ShopWrite;
use crate::web::body::present;

/// Work sent to another business. Cost and price are minor units of the shop's
/// currency, null for who may not see them.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = sublet, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct Sublet {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: SubletId,
    pub job_id: JobId,
    pub line: i32,
    pub business: String,
    /// What it was sent for.
    pub work: String,
    pub sent_on: Option<NaiveDate>,
    pub due_on: Option<NaiveDate>,
    pub back_on: Option<NaiveDate>,
    pub cost_minor: Option<i64>,
    pub price_minor: Option<i64>,
    #[schema(value_type = Option<Payer>)]
    pub payer: Option<Word<Payer>>,
    pub version: i32,
}

/// A sublet as recorded.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewSublet {
    pub business: String,
    /// What it is sent for.
    pub work: String,
    pub sent_on: Option<NaiveDate>,
    pub due_on: Option<NaiveDate>,
    pub back_on: Option<NaiveDate>,
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub cost_minor: Option<i64>,
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub price_minor: Option<i64>,
    pub payer: Option<Payer>,
}

/// A change to a sublet. Absent fields stay, null removes.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SubletPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub business: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub work: Option<Option<String>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<NaiveDate>)]
    pub sent_on: Option<Option<NaiveDate>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<NaiveDate>)]
    pub due_on: Option<Option<NaiveDate>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<NaiveDate>)]
    pub back_on: Option<Option<NaiveDate>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub cost_minor: Option<Option<i64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub price_minor: Option<Option<i64>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Payer>)]
    pub payer: Option<Option<Payer>>,
}

impl SubletPatch {
    /// The sublet as it is to be.
    fn over(self, row: &Sublet) -> NewSublet {
        let text = |to: Option<Option<String>>, stands: &String| {
            to.unwrap_or_else(|| Some(stands.clone())).unwrap_or_default()
        };
        NewSublet {
            business: text(self.business, &row.business),
            work: text(self.work, &row.work),
            sent_on: self.sent_on.unwrap_or(row.sent_on),
            due_on: self.due_on.unwrap_or(row.due_on),
            back_on: self.back_on.unwrap_or(row.back_on),
            cost_minor: self.cost_minor.unwrap_or(row.cost_minor),
            price_minor: self.price_minor.unwrap_or(row.price_minor),
            payer: self.payer.unwrap_or(row.payer.map(|word| word.0)),
        }
    }
}

impl Sublet {
    /// Without what the asker may not see.
    #[must_use]
    pub fn for_eyes(mut self, rights: MoneyRights) -> Self {
        if !rights.costs {
            self.cost_minor = None;
        }
        if !rights.prices {
            self.price_minor = None;
        }
        self
    }
}

/// A job's sublets, by line.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<Sublet>> {
    Ok(sublet::table
        .filter(sublet::shop_id.eq(shop_id).and(sublet::job_id.eq(job)))
        .order(sublet::line)
        .select(Sublet::as_select())
        .load(conn)?)
}

fn faults(new: &NewSublet, today: NaiveDate) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    let mut say = |field: &str, code: &'static str, detail: &str| {
        faults.push(FieldFault::new(field, code, detail));
    };
    for (field, amount) in [("cost_minor", new.cost_minor), ("price_minor", new.price_minor)] {
        if amount.is_some_and(|m| !(0..=MOST_MINOR).contains(&m)) {
            say(field, "range", "write an amount between zero and 1000000000000");
        }
    }
    let days = [("sent_on", new.sent_on), ("due_on", new.due_on), ("back_on", new.back_on)];
    for fault in days.into_iter().filter_map(|(field, day)| known(field, day?).err()) {
        say(fault.pointer.trim_start_matches('/'), fault.code, &fault.detail);
    }
    for (field, day) in [("sent_on", new.sent_on), ("back_on", new.back_on)] {
        if day.is_some_and(|day| day > today) {
            say(field, "range", "give today or an earlier day; leave it out until then");
        }
    }
    for (field, day) in [("due_on", new.due_on), ("back_on", new.back_on)] {
        if day.zip(new.sent_on).is_some_and(|(day, sent)| day < sent) {
            say(field, "range", "give a day on or after the day it was sent");
        }
    }
    faults
}

/// Costs and prices are not for everybody to write.
fn money_faults(cost: bool, price: bool, rights: MoneyRights) -> Vec<FieldFault> {
    [
        (cost && !rights.costs, "cost_minor", "leave the cost to the service manager"),
        (price && !rights.prices, "price_minor", "leave the price to the adviser"),
    ]
    .into_iter()
    .filter(|(wrong, ..)| *wrong)
    .map(|(_, field, detail)| FieldFault::new(field, "forbidden", detail))
    .collect()
}

fn owed(field: &str, text: &str, most: usize, what: &str) -> Answer<String> {
    match optional(field, Some(text), most)? {
        Some(text) => Ok(text),
        None => Err(Refusal::field(field, "required", what).into()),
    }
}

fn fill(row: &mut Sublet, new: &NewSublet, today: NaiveDate) -> Answer<()> {
    no_faults(faults(new, today))?;
    row.business = owed("business", &new.business, 200, "name the business")?;
    row.work = owed("work", &new.work, 1000, "say what it is sent for")?;
    row.sent_on = new.sent_on;
    row.due_on = new.due_on;
    row.back_on = new.back_on;
    row.cost_minor = new.cost_minor;
    row.price_minor = new.price_minor;
    row.payer = new.payer.map(Word);
    Ok(())
}

/// Adds a sublet.
///
/// # Errors
/// Faulty fields; a conflict where the job has ended and the writer may not
/// correct it.
pub fn add(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    new: &NewSublet,
    rights: MoneyRights,
) -> Answer<Sublet> {
    let target = writable::open(write, job)?;
    no_faults(money_faults(new.cost_minor.is_some(), new.price_minor.is_some(), rights))?;
    let mut row = Sublet {
        shop_id: write.shop.id,
        id: SubletId::make(),
        job_id: job.clone(),
        line: 0,
        business: String::new(),
        work: String::new(),
        sent_on: None,
        due_on: None,
        back_on: None,
        cost_minor: None,
        price_minor: None,
        payer: None,
        version: 1,
    };
    fill(&mut row, new, write.shop.zone().day(write.now))?;
    let last: Option<i32> = sublet::table
        .filter(sublet::shop_id.eq(write.shop.id).and(sublet::job_id.eq(job)))
        .select(diesel::dsl::max(sublet::line))
        .first(write.conn)?;
    row.line = last.unwrap_or(0) + 1;
    diesel::insert_into(sublet::table).values(&row).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("sublet", &row.id), "added", None, Some(&row))?;
    Ok(row.for_eyes(rights))
}

fn of(write: &mut ShopWrite<'_>, job: &JobId, id: &SubletId) -> Answer<Sublet> {
    Ok(sublet::table
        .find((write.shop.id, id))
        .filter(sublet::job_id.eq(job))
        .select(Sublet::as_select())
        .first(write.conn)?)
}

/// Applies a merge patch to a sublet, on the job's version.
///
/// # Errors
/// Not found, stale, faulty fields, a conflict where the job has ended and the
/// writer may not correct it.
pub fn change(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &SubletId,
    seen: i32,
    (change, rights): (SubletPatch, MoneyRights),
) -> Answer<Sublet> {
    let target = writable::open(write, job)?;
    target.seen(seen)?;
    let before = of(write, job, id)?;
    no_faults(money_faults(change.cost_minor.is_some(), change.price_minor.is_some(), rights))?;
    let mut row = before.clone();
    fill(&mut row, &change.over(&before), write.shop.zone().day(write.now))?;
    row.version += 1;
    diesel::update(sublet::table.find((row.shop_id, &row.id))).set(&row).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("sublet", &row.id), "changed", Some(&before), Some(&row))?;
    Ok(row.for_eyes(rights))
}

/// Takes a sublet back.
///
/// # Errors
/// Not found; a conflict where the job has ended and the writer may not correct
/// it, or where it was closed as sublet and this is what it was sent out for.
pub fn remove(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &SubletId,
    rights: MoneyRights,
) -> Answer<()> {
    let target = writable::open(write, job)?;
    let row = of(write, job, id)?;
    rights.may_take(row.cost_minor, row.price_minor)?;
    let sublet_job = target.job.outcome == Some(Word(analytics::words::Outcome::Sublet));
    if sublet_job && of_job(write.conn, write.shop.id, job)?.len() == 1 {
        return Err(Refusal::Conflict(
            "the job ended as sublet: correct how it ended before taking its only sublet back"
                .into(),
        )
        .into());
    }
    diesel::delete(sublet::table.find((row.shop_id, &row.id))).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("sublet", &row.id), "removed", Some(&row), None)
}
