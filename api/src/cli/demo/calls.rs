//! Calls of the demo shop some days after the hand-over.

use chrono::NaiveDate;
use diesel::prelude::*;

use super::circle::{Year, after, before};
use crate::db::Answer;
use crate::db::schema::repair_order;
use crate::demo;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, OrderId};
use crate::followups::due::{AGAIN_DAYS, LATEST_DAYS};
use crate::followups::model::{self as calls, NewFollowUp};
use crate::shops::write::ShopWrite;

/// Enough of a large record, too.
const MOST: usize = 600;
/// What fell due in the last days is still to be called.
const LEFT_DAYS: u64 = 2;
const MINUTE: i32 = 17 * 60;

/// Customers of the demo shop: invented.
const CUSTOMERS: [&str; 12] = [
    "Odalys Brunner",
    "Tamsin Okoro",
    "Ruben Halvorsen",
    "Inge Castellan",
    "Marek Dunmore",
    "Philippa Strand",
    "Joao Ferreyra",
    "Nadia Whitlock",
    "Cormac Adebayo",
    "Suvi Lindqvist",
    "Yusuf Tarrant",
    "Greta Monteith",
];

/// A name, and a number that nobody has: 555-0100 to 555-0199 are kept for fiction.
fn customer(order_no: usize) -> (&'static str, String) {
    let name = CUSTOMERS.get(order_no % CUSTOMERS.len()).copied().unwrap_or_default();
    (name, format!("555-01{:02}", order_no % 100))
}

/// A call that was made.
struct Made {
    job: JobId,
    day: NaiveDate,
    answer: &'static str,
}

/// How each call ended, by its place: about a quarter reach nobody at first.
const FIRST: [bool; 7] = [true, true, false, true, true, true, false];

impl Year<'_> {
    /// Who brought the vehicles of the last weeks, and those that are here.
    fn name_customers(&self) -> Answer<()> {
        let since = before(self.end, LATEST_DAYS);
        let shop_id = self.shop.id;
        self.manage(self.end, move |write| {
            let orders: Vec<(OrderId, String)> = repair_order::table
                .filter(repair_order::shop_id.eq(shop_id).and(repair_order::opened_on.ge(since)))
                .order(repair_order::id.desc())
                .limit(MOST as i64)
                .select((repair_order::id, repair_order::order_no))
                .load(write.conn)?;
            for (id, order_no) in orders {
                let (name, number) = customer(order_no.parse().unwrap_or(0));
                diesel::update(repair_order::table.find((shop_id, &id)))
                    .set((
                        repair_order::customer_name.eq(name),
                        repair_order::customer_contact.eq(number),
                    ))
                    .execute(write.conn)?;
                write.stamp_order(&id)?;
            }
            Ok(())
        })
    }

    /// Calls everybody whose call fell due up to a few days ago. Nobody says that it
    /// did not hold: what came back is in the record already.
    pub(super) fn call(&self) -> Answer<()> {
        self.name_customers()?;
        let owed = self.db.read(|conn| calls::owed(conn, self.shop, self.end))?;
        let last = before(self.end, LEFT_DAYS);
        let oldest = before(self.end, LATEST_DAYS);
        let mut made = Vec::new();
        for (one, reached) in owed.iter().take(MOST).zip(FIRST.iter().cycle()) {
            let (job, day) = (&one.of.job.id, one.due.due_on);
            let mut call = |day: NaiveDate, answer| {
                if (oldest..=last).contains(&day) {
                    made.push(Made { job: job.clone(), day, answer });
                }
            };
            if *reached {
                call(day, "fixed");
            } else {
                call(day, "no_contact");
                call(after(day, AGAIN_DAYS), "fixed");
            }
        }
        made.sort_by_key(|call| call.day);
        let (shop, adviser) = (self.shop.clone(), self.adviser.clone());
        let zone = shop.zone();
        let now = UtcStamp::new(demo::instant(zone, self.end, MINUTE));
        self.db.write_blocking(move |conn| {
            let mut write = ShopWrite::begin(conn, &shop, &adviser, now)?;
            for call in &made {
                write.now = UtcStamp::new(demo::instant(zone, call.day, MINUTE));
                let new = NewFollowUp {
                    answer: call.answer.to_owned(),
                    called_on: Some(call.day),
                    note: None,
                };
                calls::record(&mut write, &call.job, &new)?;
            }
            Ok(())
        })
    }
}
