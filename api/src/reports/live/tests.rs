//! Whatever is written, the live history equals one built anew, and so does every
//! answer that was kept.

mod answers;
mod at_once;
mod beside;
mod place;
mod reading;
mod rows;

use analytics::words::{
    CauseState, Disposition, Finding, JobKind, LinkState, Outcome, PartRole, WorkedAs,
};
use chrono::{Duration, NaiveDate};
use diesel::prelude::*;
use proptest::prelude::*;

use super::*;
use crate::db::schema::{
    code_entry, comeback, job, job_check, labor_entry, part_return, part_use, person, repair_order,
    shop, vehicle,
};
use crate::db::types::Word;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{
    CheckId, ComebackId, JobId as JobKey, LaborId, OrderId, PartUseId, PersonId, VehicleId,
};
use crate::domain::money::Currency;
use crate::domain::zone::Zone;
use crate::people;
use crate::shops::model::{NewShop, ReturnCosts, first_group, make};
use crate::shops::write::ShopWrite;
use place::Ground;
use rows::{insert_job, insert_order, insert_work, read_at, vehicle_of};

/// One thing that happens in the shop; the numbers choose what it happens to.
#[derive(Debug, Clone)]
enum Event {
    Open { vehicle: u8, symptom: u8 },
    HandOver { visit: u8 },
    Void { visit: u8 },
    Link { earlier: u8, later: u8, confirmed: bool },
    Decide { link: u8, confirmed: bool },
    Correct { visit: u8, cause: u8 },
    Rename { name: u8 },
    Recode { symptom: u8, system: u8 },
    Window { days: u8 },
    Beside(beside::Event),
}

fn event() -> impl Strategy<Value = Event> {
    use Event as E;
    let n = || any::<u8>();
    prop_oneof![
        4 => (n(), n()).prop_map(|(vehicle, symptom)| E::Open { vehicle, symptom }),
        4 => n().prop_map(|visit| E::HandOver { visit }),
        2 => n().prop_map(|visit| E::Void { visit }),
        5 => (n(), n(), any::<bool>())
            .prop_map(|(earlier, later, confirmed)| E::Link { earlier, later, confirmed }),
        1 => (n(), any::<bool>()).prop_map(|(link, confirmed)| E::Decide { link, confirmed }),
        2 => (n(), n()).prop_map(|(visit, cause)| E::Correct { visit, cause }),
        1 => n().prop_map(|name| E::Rename { name }),
        1 => (n(), n()).prop_map(|(symptom, system)| E::Recode { symptom, system }),
        1 => n().prop_map(|days| E::Window { days }),
        6 => beside::event().prop_map(E::Beside),
    ]
}

/// A visit with its one job and its one part.
#[derive(Debug, Clone)]
struct Visit {
    order: OrderId,
    job: JobKey,
    part: PartUseId,
    status: &'static str,
}

/// A record of its own that goes away with its last user.
struct Garage {
    db: Db,
    /// After the record, which is closed before its ground goes.
    ground: Arc<Ground>,
    shop: Shop,
    lead: PersonId,
    /// Several may write at once, each visits of its own.
    writer: u8,
    visits: Vec<Visit>,
    links: Vec<(ComebackId, JobKey, JobKey)>,
}

impl Live {
    /// As it is now, to look at at leisure.
    fn history(&self, db: &Db, shop: &Shop) -> Answer<History> {
        self.with(db, shop, History::clone)
    }
}

/// Where a PostgreSQL server for tests is.
#[expect(
    clippy::disallowed_methods,
    reason = "where the test server is, only the environment knows"
)]
fn postgres() -> String {
    let usual = "postgres://postgres@127.0.0.1:5432/test";
    std::env::var("ONETRIP_TEST_POSTGRES").unwrap_or_else(|_| usual.to_owned())
}

/// Whether a server that does not answer is a fault.
#[expect(clippy::disallowed_methods, reason = "as above")]
fn in_ci() -> bool {
    std::env::var("CI").is_ok()
}

fn temp_dir() -> std::path::PathBuf {
    std::env::temp_dir()
}

fn noon(day: i64) -> UtcStamp {
    let start = NaiveDate::from_ymd_opt(2026, 1, 5).unwrap().and_hms_opt(12, 0, 0).unwrap();
    UtcStamp::from_naive(start + Duration::days(day))
}

fn new_shop() -> NewShop {
    NewShop {
        code: "TEST".to_owned(),
        name: "Test".to_owned(),
        zone: Zone::UTC,
        currency: Currency::parse("USD").unwrap(),
        labor_cost_minor: 9000,
        posted_rate_minor: 14_000,
        window_days: 60,
        week_start: 1,
        date_style: None,
        return_costs: ReturnCosts { diagnosis: 6000, ..ReturnCosts::default() },
    }
}

impl Garage {
    fn new() -> Self {
        Self::on(Ground::folder())
    }

    fn on(ground: Ground) -> Self {
        let db = Db::open(&ground.place()).unwrap();
        let new = new_shop();
        let (shop, lead) = db
            .write_blocking(move |conn| {
                let group = first_group(conn, "Group", noon(0))?;
                let shop = make(conn, &group, &new)?;
                let lead = people::model::named(conn, &group, shop.id, "First name")?;
                Ok((shop, lead))
            })
            .unwrap();
        let (visits, links) = (Vec::new(), Vec::new());
        Self { db, ground: Arc::new(ground), shop, lead, writer: 0, visits, links }
    }

    /// Another one who writes into the same record.
    fn writer(&self, writer: u8) -> Self {
        Self {
            db: self.db.clone(),
            ground: Arc::clone(&self.ground),
            shop: self.shop.clone(),
            lead: self.lead.clone(),
            writer,
            visits: Vec::new(),
            links: Vec::new(),
        }
    }

    /// Writes under a new change number, as every write of the program does.
    fn write(&self, work: impl Fn(&mut ShopWrite<'_>) -> Answer<()> + Send + 'static) {
        let (shop, lead) = (self.shop.clone(), self.lead.clone());
        self.db
            .write_blocking(move |conn| work(&mut ShopWrite::begin(conn, &shop, &lead, noon(0))?))
            .unwrap();
    }

    /// A visit in the given state, by a number that may be past the end.
    fn visit(&self, number: u8, status: &str) -> Option<(usize, Visit)> {
        let fitting: Vec<(usize, &Visit)> =
            self.visits.iter().enumerate().filter(|(_, v)| v.status == status).collect();
        let place = usize::from(number).checked_rem(fitting.len())?;
        fitting.get(place).map(|(at, visit)| (*at, (*visit).clone()))
    }

    fn happen(&mut self, event: &Event) {
        match *event {
            Event::Open { vehicle, symptom } => self.open(vehicle % 3, symptom % 3),
            Event::HandOver { visit } => self.hand_over(visit),
            Event::Void { visit } => self.void(visit),
            Event::Link { earlier, later, confirmed } => self.link(earlier, later, confirmed),
            Event::Decide { link, confirmed } => self.decide(link, confirmed),
            Event::Correct { visit, cause } => self.correct(visit, cause % 3),
            Event::Rename { name } => self.rename(name % 3),
            Event::Recode { symptom, system } => self.recode(symptom % 3, system % 2),
            Event::Window { days } => self.set_window(i32::from(days) + 1),
            Event::Beside(event) => self.write_beside(event),
        }
    }

    /// The order's number of a visit, by its place: each writer has a thousand.
    fn number(&self, at: usize) -> usize {
        at + 1 + 1_000 * usize::from(self.writer)
    }

    fn open(&mut self, wheels: u8, symptom: u8) {
        let day = i64::try_from(self.visits.len()).unwrap() * 3;
        let number = self.number(self.visits.len());
        let minute = i64::from(self.writer);
        let visit = Visit {
            order: OrderId::make(),
            job: JobKey::make(),
            part: PartUseId::make(),
            status: "open",
        };
        let (new, lead) = (visit.clone(), self.lead.clone());
        self.write(move |write| {
            let vehicle = vehicle_of(write, wheels)?;
            insert_order(write, &new, &vehicle, number, day)?;
            insert_job(write, &new, &lead, symptom)?;
            insert_work(write, &new, &lead, (day, minute))
        });
        self.visits.push(visit);
    }

    fn hand_over(&mut self, number: u8) {
        let Some((at, visit)) = self.visit(number, "open") else { return };
        let closed = noon(i64::try_from(at).unwrap() * 3 + 1);
        let number = self.number(at);
        self.write(move |write| {
            let id = write.shop.id;
            diesel::update(job::table.find((id, &visit.job)))
                .set((
                    job::outcome.eq(Some(Word(Outcome::Repaired))),
                    job::finished_at.eq(Some(closed)),
                ))
                .execute(write.conn)?;
            diesel::update(repair_order::table.find((id, &visit.order)))
                .set((
                    repair_order::status.eq("closed"),
                    repair_order::odometer_out.eq(Some(read_at(number) + 10)),
                    repair_order::closed_at.eq(Some(closed)),
                    repair_order::closed_on.eq(Some(closed.naive().date())),
                ))
                .execute(write.conn)?;
            write.stamp_job(&visit.job)?;
            write.stamp_order(&visit.order)
        });
        self.visits[at].status = "closed";
    }

    /// Stamps the order alone: the links that hang on its job must go all the
    /// same.
    fn void(&mut self, number: u8) {
        let Some((at, visit)) = self.visit(number, "open") else { return };
        self.write(move |write| {
            diesel::update(repair_order::table.find((write.shop.id, &visit.order)))
                .set(repair_order::status.eq("void"))
                .execute(write.conn)?;
            write.stamp_order(&visit.order)
        });
        self.visits[at].status = "void";
    }

    fn link(&mut self, earlier: u8, later: u8, confirmed: bool) {
        let (Some((first, earlier)), Some((second, later))) =
            (self.visit(earlier, "closed"), self.visit(later, "open"))
        else {
            return;
        };
        let taken = self.links.iter().any(|(_, _, job)| *job == later.job);
        if first >= second || taken {
            return;
        }
        let id = ComebackId::make();
        self.links.push((id.clone(), earlier.job.clone(), later.job.clone()));
        let state = Word(if confirmed { LinkState::Confirmed } else { LinkState::Proposed });
        self.write(move |write| {
            diesel::insert_into(comeback::table)
                .values((
                    (comeback::shop_id.eq(write.shop.id), comeback::id.eq(&id)),
                    comeback::earlier_job_id.eq(&earlier.job),
                    comeback::later_job_id.eq(&later.job),
                    (comeback::state.eq(state), comeback::same_complaint.eq(true)),
                    (comeback::same_system.eq(true), comeback::same_cause.eq(false)),
                    (comeback::same_part.eq(true), comeback::our_work.eq(false)),
                    comeback::proposed_by.eq("write_up"),
                    comeback::decided_at.eq(confirmed.then(|| noon(0))),
                    (comeback::change_no.eq(write.change_no), comeback::version.eq(1)),
                ))
                .execute(write.conn)?;
            diesel::insert_into(part_return::table)
                .values((
                    part_return::shop_id.eq(write.shop.id),
                    part_return::part_use_id.eq(&earlier.part),
                    part_return::later_job_id.eq(&later.job),
                    part_return::state.eq(state),
                    part_return::change_no.eq(write.change_no),
                ))
                .execute(write.conn)?;
            write.stamp_job(&earlier.job)?;
            write.stamp_job(&later.job)
        });
    }

    fn decide(&mut self, number: u8, confirmed: bool) {
        let Some(place) = usize::from(number).checked_rem(self.links.len()) else { return };
        let (id, earlier, later) = self.links[place].clone();
        let state = if confirmed { LinkState::Confirmed } else { LinkState::Rejected };
        self.write(move |write| {
            diesel::update(comeback::table.find((write.shop.id, &id)))
                .set((
                    comeback::state.eq(Word(state)),
                    comeback::reason.eq(Some("misdiagnosis")),
                    comeback::decided_at.eq(Some(noon(0))),
                ))
                .execute(write.conn)?;
            write.stamp_job(&earlier)?;
            write.stamp_job(&later)
        });
    }

    fn correct(&mut self, number: u8, cause: u8) {
        let Some((_, visit)) = self.visit(number, "closed") else { return };
        self.write(move |write| {
            let id = write.shop.id;
            let checks = job_check::table
                .filter(job_check::shop_id.eq(id).and(job_check::job_id.eq(&visit.job)));
            diesel::delete(checks).execute(write.conn)?;
            diesel::update(job::table.find((id, &visit.job)))
                .set((
                    job::cause.eq(Some(format!("cause-{cause}"))),
                    job::cause_state.eq(Some(Word(CauseState::Confirmed))),
                ))
                .execute(write.conn)?;
            write.stamp_job(&visit.job)
        });
    }

    /// Takes no change number: people belong to the group.
    fn rename(&mut self, name: u8) {
        let lead = self.lead.clone();
        self.db
            .write_blocking(move |conn| {
                diesel::update(person::table.find(&lead))
                    .set(person::name.eq(format!("Name {name}")))
                    .execute(conn)?;
                Ok(())
            })
            .unwrap();
    }

    fn recode(&mut self, symptom: u8, system: u8) {
        let (shop_id, code) = (self.shop.id, format!("test.{symptom}"));
        self.db
            .write_blocking(move |conn| {
                let entry = code_entry::table.find((shop_id, "symptom", &code));
                let changed = diesel::update(entry)
                    .set(code_entry::system.eq(Some(format!("system-{system}"))))
                    .execute(conn)?;
                if changed == 0 {
                    diesel::insert_into(code_entry::table)
                        .values((
                            (code_entry::shop_id.eq(shop_id), code_entry::list.eq("symptom")),
                            (code_entry::code.eq(&code), code_entry::label.eq("Test")),
                            code_entry::system.eq(Some(format!("system-{system}"))),
                            code_entry::origin.eq("shop"),
                        ))
                        .execute(conn)?;
                }
                Ok(())
            })
            .unwrap();
    }

    fn set_window(&mut self, days: i32) {
        let shop_id = self.shop.id;
        self.db
            .write_blocking(move |conn| {
                diesel::update(shop::table.find(shop_id))
                    .set(shop::window_days.eq(days))
                    .execute(conn)?;
                Ok(())
            })
            .unwrap();
    }
}

/// All that a history says, without the codes of its texts, which follow first
/// sight.
fn told(history: &History) -> Vec<String> {
    let text = |code: &u32| history.text(*code).unwrap_or("-").to_owned();
    let jobs = history.jobs();
    let mut lines = vec![format!("{:?} {}", history.facts(), history.change_no())];
    for (row, symptom) in jobs.symptom.iter().enumerate() {
        let label = history.job_label(u32::try_from(row).unwrap()).unwrap();
        lines.push(format!(
            "{label:?} {} {} {} {} {} {} {:?}",
            text(symptom),
            text(&jobs.system[row]),
            text(&jobs.cause[row]),
            text(&jobs.vehicle[row]),
            text(&jobs.technician[row]),
            text(&jobs.model[row]),
            (jobs.outcome[row], jobs.cause_state[row], jobs.opened_day[row], jobs.closed_day[row]),
        ));
        lines.push(format!(
            "{} {} {:?} {:?}",
            text(&jobs.lead[row]),
            text(&jobs.told_reason[row]),
            (jobs.told[row], jobs.told_day[row], jobs.second_visit_day[row]),
            (jobs.failed_proofs[row], jobs.sublet_cost_minor[row]),
        ));
        lines.push(format!(
            "{:?} {:?}",
            (jobs.odometer_in_km[row], jobs.odometer_in_series[row], jobs.odometer_in_miles[row]),
            (jobs.odometer_out_km[row], jobs.odometer_out_series[row]),
        ));
    }
    lines.push(format!("{:?}", history.attendance()));
    lines.push(format!("{:?} {:?}", history.unclosed_labor(), history.pay_backs()));
    let checks = history.checks();
    lines.extend(checks.check.iter().zip(checks.job).map(|(c, job)| format!("{job} {}", text(c))));
    let parts = history.parts();
    lines.extend(
        parts.part.iter().enumerate().map(|(at, part)| {
            format!("{} {} {}", parts.job[at], text(part), parts.returned_day[at])
        }),
    );
    let labor = history.labor();
    lines.extend(
        labor
            .technician
            .iter()
            .enumerate()
            .map(|(at, name)| format!("{} {} {}", labor.job[at], text(name), labor.minutes[at])),
    );
    lines.extend(history.links().iter().map(|link| format!("{link:?}")));
    lines
}

/// Follows what happens, and compares with a rebuild after each step.
fn follow(garage: &mut Garage, events: &[Event]) -> Result<(), TestCaseError> {
    let live = Live::default();
    for (step, event) in events.iter().enumerate() {
        garage.happen(event);
        let kept = live.history(&garage.db, &garage.shop).unwrap();
        let anew = anew(&garage.db, &garage.shop).unwrap();
        prop_assert_eq!(told(&kept), told(&anew), "after {:?}", event);
        answers::compare(garage, &live, (&anew, step))?;
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, max_shrink_iters: 60, ..ProptestConfig::default() })]
    #[test]
    fn live_equals_a_rebuild(events in proptest::collection::vec(event(), 1..40)) {
        follow(&mut Garage::new(), &events)?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4, max_shrink_iters: 30, ..ProptestConfig::default() })]
    #[test]
    fn live_equals_a_rebuild_on_postgres(events in proptest::collection::vec(event(), 10..40)) {
        if let Some(ground) = Ground::database() {
            follow(&mut Garage::on(ground), &events)?;
        }
    }
}
