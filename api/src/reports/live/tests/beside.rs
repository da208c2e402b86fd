//! What is written beside jobs and links: attendance, told returns, pay-backs,
//! planned visits, merged codes, supervisors, proofs, work sent out.

use analytics::words::WorkedAs;
use chrono::Duration;
use diesel::prelude::*;
use proptest::prelude::*;

use super::{Garage, Live, noon, vehicle_of};
use crate::db::schema::{
    attendance, code_entry, job_person, outside_return, pay_back, planned_visit, proof,
    repair_order, sublet,
};
use crate::db::types::Word;
use crate::domain::ids::OrderId;
use crate::people;
use crate::shops::write::{About, ShopWrite};
use crate::vehicles::odometer_reset::{self, NewOdometerReset};

#[derive(Debug, Clone, Copy)]
pub enum Event {
    Attend { day: u8, minutes: u8 },
    Leave { day: u8 },
    Tell { visit: u8, fixed: bool },
    Untell { visit: u8 },
    PayBack { visit: u8, amount: u8 },
    Plan { earlier: u8, later: u8 },
    Merge { from: u8, into: u8 },
    Supervise { visit: u8 },
    Fail { visit: u8 },
    SendOut { visit: u8, cost: u8 },
    Replace { vehicle: u8, day: u8, known: bool },
}

pub fn event() -> impl Strategy<Value = Event> {
    use Event as E;
    let n = || any::<u8>();
    prop_oneof![
        2 => (n(), n()).prop_map(|(day, minutes)| E::Attend { day, minutes }),
        1 => n().prop_map(|day| E::Leave { day }),
        2 => (n(), any::<bool>()).prop_map(|(visit, fixed)| E::Tell { visit, fixed }),
        1 => n().prop_map(|visit| E::Untell { visit }),
        1 => (n(), n()).prop_map(|(visit, amount)| E::PayBack { visit, amount }),
        2 => (n(), n()).prop_map(|(earlier, later)| E::Plan { earlier, later }),
        2 => (n(), n()).prop_map(|(from, into)| E::Merge { from, into }),
        1 => n().prop_map(|visit| E::Supervise { visit }),
        1 => n().prop_map(|visit| E::Fail { visit }),
        1 => (n(), n()).prop_map(|(visit, cost)| E::SendOut { visit, cost }),
        2 => (n(), n(), any::<bool>())
            .prop_map(|(vehicle, day, known)| E::Replace { vehicle, day, known }),
    ]
}

impl Event {
    /// Whether two writers may do it without meeting each other's rows.
    pub const fn can_be_at_once(&self) -> bool {
        !matches!(self, Self::Attend { .. } | Self::Leave { .. } | Self::Merge { .. })
    }
}

/// An id that no other row has.
fn id() -> String {
    OrderId::make().to_string()
}

impl Garage {
    pub fn write_beside(&mut self, event: Event) {
        match event {
            Event::Attend { day, minutes } => self.attend(day % 5, i32::from(minutes)),
            Event::Leave { day } => self.leave(day % 5),
            Event::Tell { visit, fixed } => self.tell(visit, fixed),
            Event::Untell { visit } => self.untell(visit),
            Event::PayBack { visit, amount } => self.pay_back(visit, i64::from(amount) + 1),
            Event::Plan { earlier, later } => self.plan(earlier, later),
            Event::Merge { from, into } => self.merge(from % 3, into % 3),
            Event::Supervise { visit } => self.supervise(visit),
            Event::Fail { visit } => self.fail(visit),
            Event::SendOut { visit, cost } => self.send_out(visit, i64::from(cost)),
            Event::Replace { vehicle, day, known } => {
                self.replace(vehicle % 3, i64::from(day % 30), known.then_some(1_100));
            }
        }
    }

    /// Touches no job; the change is noted.
    fn attend(&self, day: u8, minutes: i32) {
        self.leave(day);
        let on = noon(i64::from(day)).naive().date();
        let lead = self.lead.clone();
        self.write(move |write| {
            diesel::insert_into(attendance::table)
                .values((
                    (attendance::shop_id.eq(write.shop.id), attendance::id.eq(id())),
                    (attendance::person_id.eq(&lead), attendance::worked_on.eq(on)),
                    (attendance::attended_minutes.eq(minutes), attendance::version.eq(1)),
                ))
                .execute(write.conn)?;
            write.note(&About::new("attendance", on), "added", None, Some(&minutes))
        });
    }

    fn leave(&self, day: u8) {
        let on = noon(i64::from(day)).naive().date();
        self.write(move |write| {
            let rows = attendance::table
                .filter(attendance::shop_id.eq(write.shop.id).and(attendance::worked_on.eq(on)));
            diesel::delete(rows).execute(write.conn)?;
            write.note(&About::new("attendance", on), "removed", Some(&0), None)
        });
    }

    fn tell(&self, number: u8, fixed: bool) {
        let Some((at, visit)) = self.visit(number, "closed") else { return };
        self.untell(number);
        let lead = self.lead.clone();
        let on = (*noon(i64::try_from(at).unwrap() * 3 + 5).naive()).date();
        self.write(move |write| {
            diesel::insert_into(outside_return::table)
                .values((
                    (outside_return::shop_id.eq(write.shop.id), outside_return::id.eq(id())),
                    outside_return::job_id.eq(visit.job.to_string()),
                    outside_return::told.eq(if fixed { "fixed_elsewhere" } else { "not_fixed" }),
                    (outside_return::told_on.eq(on), outside_return::reason.eq(Some("test.0"))),
                    (outside_return::person_id.eq(&lead), outside_return::version.eq(1)),
                ))
                .execute(write.conn)?;
            write.stamp_job(&visit.job)
        });
    }

    fn untell(&self, number: u8) {
        let Some((_, visit)) = self.visit(number, "closed") else { return };
        self.write(move |write| {
            let rows = outside_return::table.filter(
                outside_return::shop_id
                    .eq(write.shop.id)
                    .and(outside_return::job_id.eq(visit.job.to_string())),
            );
            diesel::delete(rows).execute(write.conn)?;
            write.stamp_job(&visit.job)
        });
    }

    fn pay_back(&self, number: u8, amount: i64) {
        let Some((_, visit)) = self.visit(number, "closed") else { return };
        self.write(move |write| {
            diesel::insert_into(pay_back::table)
                .values((
                    (pay_back::shop_id.eq(write.shop.id), pay_back::id.eq(id())),
                    pay_back::job_id.eq(visit.job.to_string()),
                    (pay_back::supplier.eq("Test"), pay_back::amount_minor.eq(amount)),
                    (pay_back::paid_on.eq(noon(9).naive().date()), pay_back::version.eq(1)),
                ))
                .execute(write.conn)?;
            write.stamp_job(&visit.job)
        });
    }

    /// Stamps the later job alone, as a write-up that plans nothing else would.
    fn plan(&self, earlier: u8, later: u8) {
        let (Some((first, earlier)), Some((second, later))) =
            (self.visit(earlier, "closed"), self.visit(later, "open"))
        else {
            return;
        };
        if first >= second {
            return;
        }
        self.write(move |write| {
            let taken: i64 = planned_visit::table
                .filter(planned_visit::later_job_id.eq(later.job.to_string()))
                .count()
                .get_result(write.conn)?;
            if taken == 0 {
                diesel::insert_into(planned_visit::table)
                    .values((
                        planned_visit::shop_id.eq(write.shop.id),
                        planned_visit::later_job_id.eq(later.job.to_string()),
                        planned_visit::earlier_job_id.eq(earlier.job.to_string()),
                    ))
                    .execute(write.conn)?;
            }
            write.stamp_job(&later.job)
        });
    }

    /// Rings come about, and must not hang. Takes no change number.
    fn merge(&self, from: u8, into: u8) {
        let shop_id = self.shop.id;
        self.db
            .write_blocking(move |conn| {
                for list in ["symptom", "cause", "comeback_reason"] {
                    let code = |number: u8| match list {
                        "cause" => format!("cause-{number}"),
                        _ => format!("test.{number}"),
                    };
                    let entry = code_entry::table.find((shop_id, list, code(from)));
                    let into = (from != into).then(|| code(into));
                    let changed = diesel::update(entry)
                        .set(code_entry::merged_into.eq(&into))
                        .execute(conn)?;
                    if changed == 0 {
                        diesel::insert_into(code_entry::table)
                            .values((
                                (code_entry::shop_id.eq(shop_id), code_entry::list.eq(list)),
                                (code_entry::code.eq(code(from)), code_entry::label.eq("Test")),
                                (code_entry::merged_into.eq(&into), code_entry::origin.eq("shop")),
                            ))
                            .execute(conn)?;
                    }
                }
                Ok(())
            })
            .unwrap();
    }

    fn supervise(&self, number: u8) {
        let Some((_, visit)) = self.visit(number, "closed") else { return };
        let lead = self.lead.clone();
        self.write(move |write| {
            let shop = write.shop;
            let other = people::model::named(write.conn, &shop.group_id, shop.id, "Second name")?;
            let rows = job_person::table.find((shop.id, visit.job.to_string(), lead.to_string()));
            diesel::delete(rows).execute(write.conn)?;
            diesel::insert_into(job_person::table)
                .values((
                    job_person::shop_id.eq(shop.id),
                    job_person::job_id.eq(visit.job.to_string()),
                    job_person::person_id.eq(lead.to_string()),
                    job_person::worked_as.eq(Word(WorkedAs::Trainee)),
                    job_person::supervisor_id.eq(other.to_string()),
                ))
                .execute(write.conn)?;
            write.stamp_job(&visit.job)
        });
    }

    fn fail(&self, number: u8) {
        let Some((at, visit)) = self.visit(number, "open") else { return };
        let (lead, at) = (self.lead.clone(), noon(i64::try_from(at).unwrap() * 3));
        self.write(move |write| {
            diesel::insert_into(proof::table)
                .values((
                    (proof::shop_id.eq(write.shop.id), proof::id.eq(id())),
                    (proof::job_id.eq(visit.job.to_string()), proof::how.eq("road_test")),
                    (proof::passed.eq(false), proof::person_id.eq(lead.to_string())),
                    (proof::proved_at.eq(at), proof::version.eq(1)),
                ))
                .execute(write.conn)?;
            write.stamp_job(&visit.job)
        });
    }

    fn send_out(&self, number: u8, cost: i64) {
        let Some((_, visit)) = self.visit(number, "open") else { return };
        self.write(move |write| {
            let of_job = sublet::table.filter(sublet::job_id.eq(visit.job.to_string()));
            let lines: i64 = of_job.count().get_result(write.conn)?;
            diesel::insert_into(sublet::table)
                .values((
                    (sublet::shop_id.eq(write.shop.id), sublet::id.eq(id())),
                    sublet::job_id.eq(visit.job.to_string()),
                    sublet::line.eq(i32::try_from(lines).unwrap() + 1),
                    (sublet::business.eq("Test"), sublet::work.eq("Test")),
                    (sublet::cost_minor.eq(Some(cost)), sublet::version.eq(1)),
                ))
                .execute(write.conn)?;
            write.stamp_job(&visit.job)
        });
    }

    /// The odometer was replaced on a day; the new one began at 5.
    fn replace(&self, wheels: u8, day: i64, before: Option<i64>) {
        let (shop, lead) = (self.shop.clone(), self.lead.clone());
        let new = NewOdometerReset {
            reset_on: noon(day).naive().date(),
            reading_before: before,
            reading_after: 5,
            odometer_unit: Some("km".to_owned()),
            note: None,
        };
        self.db
            .write_blocking(move |conn| {
                let write = &mut ShopWrite::begin(conn, &shop, &lead, noon(400))?;
                let vehicle = vehicle_of(write, wheels)?;
                odometer_reset::add(write, &vehicle, &new).map(drop)
            })
            .unwrap();
    }
}

/// By hand: visits 1 and 2 on days 0 and 3 read 1100 and 1200 as they came, 1110
/// at the first hand-over on day 1. The odometer replaced on day 2 had 1100 and
/// began at 5: 1095 are lacking after it.
#[test]
fn a_replaced_odometer_is_reckoned_in() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    garage.open(0, 0);
    garage.link(0, 0, true);
    let live = Live::default();
    let read = |garage: &Garage| {
        let history = live.history(&garage.db, &garage.shop).unwrap();
        let (jobs, returns) = (history.jobs(), history.returns());
        let first = (jobs.odometer_in_km[0], jobs.odometer_out_km[0]);
        (first, returns.later_odometer_km[0], returns.later_odometer_series[0])
    };
    assert_eq!(read(&garage), ((1_100, 1_110), 1_200, 0));
    garage.replace(0, 2, Some(1_100));
    assert_eq!(read(&garage), ((1_100, 1_110), 2_295, 0));
    garage.replace(0, 2, None);
    assert_eq!(read(&garage), ((1_100, 1_110), 2_295, 1));
    // On the day of a replacement nobody knows which one was read.
    garage.replace(0, 1, None);
    assert_eq!(read(&garage), ((1_100, analytics::history::NO_NUMBER), 2_295, 2));
}

#[test]
fn a_chain_of_merges_is_read_as_its_last_entry() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    garage.tell(0, true);
    garage.recode(2, 1);
    let live = Live::default();
    let symptom = |live: &Live| {
        let history = live.history(&garage.db, &garage.shop).unwrap();
        let jobs = history.jobs();
        [jobs.symptom[0], jobs.system[0], jobs.told_reason[0]]
            .map(|code| history.text(code).unwrap().to_owned())
    };
    assert_eq!(symptom(&live), ["test.0", "test", "test.0"]);
    garage.merge(0, 1);
    garage.merge(1, 2);
    assert_eq!(symptom(&live), ["test.2", "system-1", "test.2"]);
    // A ring leaves every code what it is.
    garage.merge(2, 0);
    assert_eq!(symptom(&live), ["test.0", "test", "test.0"]);
}

#[test]
fn a_void_second_visit_was_none() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    garage.open(0, 0);
    garage.link(0, 0, true);
    garage.plan(0, 0);
    let live = Live::default();
    let seen = |garage: &Garage| {
        let history = live.history(&garage.db, &garage.shop).unwrap();
        (history.links().len(), history.jobs().second_visit_day[0])
    };
    // The plan wins over the link.
    let opened = noon(3).naive().date().signed_duration_since(chrono::NaiveDate::default());
    assert_eq!(seen(&garage), (0, i32::try_from(opened.num_days()).unwrap()));
    garage.void(0);
    assert_eq!(seen(&garage), (0, i32::MAX));
}

#[test]
fn what_hangs_on_no_job_is_seen_all_the_same() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    let live = Live::default();
    let before = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!((before.attendance().len(), before.unclosed_labor().len()), (0, 1));
    garage.attend(2, 480);
    let after = live.history(&garage.db, &garage.shop).unwrap();
    let row = after.attendance().first().unwrap();
    assert_eq!((row.technician.as_str(), row.minutes), ("First name", 480));
    assert_eq!(row.worked_on, (*noon(0).naive() + Duration::days(2)).date());
    garage.hand_over(0);
    let closed = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!((closed.unclosed_labor().len(), closed.labor().minutes.len()), (0, 1));
}

#[test]
fn a_proof_counts_as_failed_before_the_hand_over_only() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.fail(0);
    garage.hand_over(0);
    garage.supervise(0);
    let live = Live::default();
    let history = live.history(&garage.db, &garage.shop).unwrap();
    let text = |code: u32| history.text(code).unwrap().to_owned();
    assert_eq!(history.jobs().failed_proofs, [1]);
    assert_eq!(text(history.jobs().technician[0]), "Second name");
    assert_eq!(text(history.jobs().lead[0]), "First name");
    garage.write(|write| {
        diesel::update(proof::table).set(proof::proved_at.eq(noon(2))).execute(write.conn)?;
        let order = repair_order::table.select(repair_order::id).first(write.conn)?;
        write.stamp_order(&order)
    });
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!(history.jobs().failed_proofs, [0]);
}
