//! Whatever is written, the live history equals one built anew, and so does every
//! answer that was kept.

mod answers;
mod beside;
mod place;

use std::sync::atomic::{AtomicBool, Ordering};

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

fn vehicle_of(write: &mut ShopWrite<'_>, wheels: u8) -> Answer<VehicleId> {
    let plate = format!("P{wheels}");
    let found: Option<VehicleId> = vehicle::table
        .filter(vehicle::shop_id.eq(write.shop.id).and(vehicle::plate.eq(&plate)))
        .select(vehicle::id)
        .first(write.conn)
        .optional()?;
    if let Some(id) = found {
        return Ok(id);
    }
    let id = VehicleId::make();
    diesel::insert_into(vehicle::table)
        .values((
            (vehicle::shop_id.eq(write.shop.id), vehicle::id.eq(&id)),
            (vehicle::plate.eq(&plate), vehicle::make.eq("Make"), vehicle::version.eq(1)),
        ))
        .execute(write.conn)?;
    Ok(id)
}

/// What the odometer of a visit reads, by its number.
fn read_at(number: usize) -> i64 {
    1_000 + 100 * i64::try_from(number).unwrap()
}

fn insert_order(
    write: &mut ShopWrite<'_>,
    visit: &Visit,
    vehicle: &VehicleId,
    number: usize,
    day: i64,
) -> Answer<()> {
    let opened = noon(day);
    diesel::insert_into(repair_order::table)
        .values((
            (repair_order::shop_id.eq(write.shop.id), repair_order::id.eq(&visit.order)),
            (repair_order::order_no.eq(number.to_string()), repair_order::vehicle_id.eq(vehicle)),
            (repair_order::status.eq("open"), repair_order::odometer_unit.eq("km")),
            (repair_order::opened_at.eq(opened), repair_order::opened_minute.eq(720)),
            repair_order::opened_on.eq(opened.naive().date()),
            repair_order::odometer_in.eq(Some(read_at(number))),
            (repair_order::change_no.eq(write.change_no), repair_order::version.eq(1)),
        ))
        .execute(write.conn)?;
    Ok(())
}

fn insert_job(
    write: &mut ShopWrite<'_>,
    visit: &Visit,
    lead: &PersonId,
    symptom: u8,
) -> Answer<()> {
    diesel::insert_into(job::table)
        .values((
            (job::shop_id.eq(write.shop.id), job::id.eq(&visit.job)),
            (job::order_id.eq(&visit.order), job::job_no.eq(1)),
            (job::kind.eq(Word(JobKind::Complaint)), job::lead_id.eq(lead)),
            job::symptom.eq(format!("test.{symptom}")),
            (job::change_no.eq(write.change_no), job::version.eq(1)),
        ))
        .execute(write.conn)?;
    Ok(())
}

/// A check, a part, a finished labor entry and one that runs on.
fn insert_work(
    write: &mut ShopWrite<'_>,
    visit: &Visit,
    lead: &PersonId,
    (day, minute): (i64, i64),
) -> Answer<()> {
    let id = write.shop.id;
    diesel::insert_into(job_check::table)
        .values((
            (job_check::shop_id.eq(id), job_check::id.eq(CheckId::make())),
            (job_check::job_id.eq(&visit.job), job_check::seq.eq(1), job_check::code.eq("look")),
            (job_check::finding.eq(Word(Finding::Abnormal)), job_check::minutes.eq(5)),
            (job_check::typed_at_close.eq(false), job_check::version.eq(1)),
        ))
        .execute(write.conn)?;
    diesel::insert_into(part_use::table)
        .values((
            (part_use::shop_id.eq(id), part_use::id.eq(&visit.part)),
            (part_use::job_id.eq(&visit.job), part_use::line.eq(1), part_use::name.eq("valve")),
            (part_use::quantity_hundredths.eq(100_i64), part_use::version.eq(1)),
            part_use::disposition.eq(Word(Disposition::CleanedReused)),
            part_use::role.eq(Word(PartRole::Suspect)),
        ))
        .execute(write.conn)?;
    let started = UtcStamp::from_naive(*noon(day).naive() + Duration::minutes(minute));
    let ended = UtcStamp::from_naive(*started.naive() + Duration::minutes(40));
    diesel::insert_into(labor_entry::table)
        .values((
            (labor_entry::shop_id.eq(id), labor_entry::id.eq(LaborId::make())),
            (labor_entry::job_id.eq(&visit.job), labor_entry::person_id.eq(lead)),
            (labor_entry::worked_as.eq(Word(WorkedAs::Lead)), labor_entry::version.eq(1)),
            (labor_entry::started_at.eq(started), labor_entry::ended_at.eq(ended)),
            labor_entry::started_on.eq(started.naive().date()),
        ))
        .execute(write.conn)?;
    Ok(())
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

impl Event {
    /// Whether it goes under a change number, and meets nobody else's rows.
    fn can_be_at_once(&self) -> bool {
        match self {
            Self::Rename { .. } | Self::Recode { .. } | Self::Window { .. } => false,
            Self::Beside(event) => event.can_be_at_once(),
            _ => true,
        }
    }
}

/// Writers write while readers read: whenever a rebuild is of the same change, it
/// says the same.
fn write_at_once(garage: &Garage, live: &Live, events: &[Vec<Event>]) {
    let done = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let writers: Vec<_> = (1_u8..)
            .zip(events)
            .map(|(number, events)| {
                let mut garage = garage.writer(number);
                scope.spawn(move || events.iter().for_each(|event| garage.happen(event)))
            })
            .collect();
        let reader = scope.spawn(|| {
            let mut last = 0;
            while !done.load(Ordering::Relaxed) {
                let kept = live.history(&garage.db, &garage.shop).unwrap();
                assert!(last <= kept.change_no(), "a history went back");
                last = kept.change_no();
                let anew = anew(&garage.db, &garage.shop).unwrap();
                if kept.change_no() == anew.change_no() {
                    assert_eq!(told(&kept), told(&anew));
                }
            }
        });
        let ended: Vec<_> = writers.into_iter().map(std::thread::ScopedJoinHandle::join).collect();
        done.store(true, Ordering::Relaxed);
        ended.into_iter().for_each(Result::unwrap);
        reader.join().unwrap();
    });
}

fn at_once(ground: Ground, events: &[Vec<Event>]) {
    let garage = Garage::on(ground);
    let live = Live::default();
    write_at_once(&garage, &live, events);
    let kept = live.history(&garage.db, &garage.shop).unwrap();
    let anew = anew(&garage.db, &garage.shop).unwrap();
    assert_eq!(told(&kept), told(&anew));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3, max_shrink_iters: 10, ..ProptestConfig::default() })]
    #[test]
    fn writers_at_once_are_followed(
        events in proptest::collection::vec(
            proptest::collection::vec(event().prop_filter("at once", Event::can_be_at_once), 20..60),
            4,
        ),
    ) {
        at_once(Ground::folder(), &events);
        if let Some(ground) = Ground::database() {
            at_once(ground, &events);
        }
    }
}

#[test]
fn what_nobody_changed_is_not_read_again() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    let live = Live::default();
    let one = live.history(&garage.db, &garage.shop).unwrap();
    // The job's own figures: 40 minutes on the clock, one check.
    assert_eq!(one.labor().minutes, [40]);
    assert_eq!((one.jobs().closed_day.len(), one.checks().check.len()), (1, 1));
    let technician = one.jobs().technician[0];
    assert_eq!(one.text(technician), Some("First name"));
    // Somebody removes rows past every rule: who reads again would miss them.
    garage.db.write_blocking(|conn| Ok(diesel::delete(labor_entry::table).execute(conn)?)).unwrap();
    let two = live.clone().history(&garage.db, &garage.shop).unwrap();
    assert_eq!(two.labor().minutes, [40]);
}

#[test]
fn several_shops_are_read_at_once_in_the_order_asked() {
    let garage = Garage::new();
    let group = garage.shop.group_id.clone();
    let new = NewShop { code: "OTHER".into(), ..new_shop() };
    let other = garage.db.write_blocking(move |conn| make(conn, &group, &new)).unwrap();
    let live = Live::default();
    let asked = [other, garage.shop.clone()];
    let codes = live.with_all(&garage.db, &asked, |all| {
        all.iter().map(|(_, history)| history.facts().code.clone()).collect::<Vec<_>>()
    });
    assert_eq!(codes.unwrap(), ["OTHER", "TEST"]);
}

#[test]
fn a_reader_that_panics_leaves_the_history_as_it_was() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    let live = Live::default();
    let broken = std::thread::scope(|scope| {
        let reader = || live.with(&garage.db, &garage.shop, |_| panic!("a report breaks off"));
        scope.spawn(reader).join().is_err()
    });
    assert!(broken);
    garage.open(1, 1);
    garage.hand_over(0);
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!(history.jobs().closed_day.len(), 2);
}

/// Its readers wait for no shop.
fn impatient() -> Live {
    Live(Arc::new(Shared { small: 0, ..Shared::default() }))
}

#[test]
fn nobody_waits_for_a_large_history() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    let live = impatient();
    let ask = || live.history(&garage.db, &garage.shop);
    let Err(Fault::NotReady(how_far)) = ask() else { panic!("somebody waited") };
    assert_eq!(how_far, "the record is being read for reports: 0 of 1 shop done");
    let history = loop {
        match ask() {
            Ok(history) => break history,
            Err(Fault::NotReady(_)) => std::thread::yield_now(),
            Err(fault) => panic!("{fault:?}"),
        }
    };
    assert_eq!(history.jobs().closed_day.len(), 1);
    // Once it is there, what is new is in every answer.
    garage.open(1, 1);
    garage.hand_over(0);
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!(history.jobs().closed_day.len(), 2);
    // Another name may stand on every row: all is read anew.
    garage.rename(1);
    assert!(matches!(live.history(&garage.db, &garage.shop), Err(Fault::NotReady(_))));
}

#[test]
fn histories_are_read_in_the_background() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    let live = Live::default();
    assert_eq!(live.progress(1), Progress { ready: 1, of: 1 });
    live.begin(&garage.db).unwrap();
    let slot = live.slot(garage.shop.id);
    while live.progress(1) != (Progress { ready: 1, of: 1 }) {
        std::thread::yield_now();
    }
    assert!(slot.is_filled());
    garage.open(1, 1);
    garage.hand_over(0);
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!(history.jobs().closed_day.len(), 2);
}

#[test]
fn typical_minutes_are_followed_though_no_job_is_touched() {
    let garage = Garage::new();
    let live = Live::default();
    let listed = |live: &Live| {
        let history = live.history(&garage.db, &garage.shop).unwrap();
        history.facts().check_minutes.get("terminals-resting-voltage").copied()
    };
    let set = |minutes: Option<i32>| {
        garage.write(move |write| {
            let check = code_entry::table.filter(
                code_entry::shop_id
                    .eq(write.shop.id)
                    .and(code_entry::list.eq("check"))
                    .and(code_entry::code.eq("terminals-resting-voltage")),
            );
            diesel::update(check)
                .set(code_entry::typical_minutes.eq(minutes))
                .execute(write.conn)?;
            Ok(())
        });
    };
    for minutes in [Some(9), None, Some(4)] {
        set(minutes);
        assert_eq!(listed(&live), minutes.map(i64::from));
    }
}

#[test]
fn readers_at_once_get_one_history() {
    let mut garage = Garage::new();
    for visit in 0..4 {
        garage.open(visit, 0);
        garage.hand_over(0);
    }
    let live = Live::default();
    let seen: Vec<usize> = std::thread::scope(|scope| {
        let readers: Vec<_> = (0..8)
            .map(|_| scope.spawn(|| live.history(&garage.db, &garage.shop).unwrap()))
            .collect();
        readers.into_iter().map(|r| r.join().unwrap().jobs().closed_day.len()).collect()
    });
    assert_eq!(seen, [4; 8]);
}

#[test]
fn a_void_visit_takes_its_links_along() {
    let mut garage = Garage::new();
    garage.open(0, 0);
    garage.hand_over(0);
    garage.open(0, 0);
    garage.link(0, 0, true);
    let live = Live::default();
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!((history.links().len(), history.jobs().closed_day.len()), (1, 1));
    // Only the later order is stamped; the earlier job must come anew as well.
    garage.void(0);
    let history = live.history(&garage.db, &garage.shop).unwrap();
    assert_eq!((history.links().len(), history.jobs().closed_day.len()), (0, 1));
    let part_came_back = history.parts().returned_day[0];
    assert_eq!(part_came_back, i32::MAX, "a part return of a visit that never was");
}
