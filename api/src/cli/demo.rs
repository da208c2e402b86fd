//! `onetrip demo`: an invented shop with a year of work behind it.

mod calls;
mod circle;
mod enquiries;
mod lists;
mod plans;
mod readings;
mod rules;
mod sisters;

use std::process::ExitCode;

use chrono::{Days, NaiveDate};

use super::{fail, print, serve};
use crate::app::App;
use crate::attendance::model as attendance;
use crate::auth::{cost, password};
use crate::comebacks::model as comebacks;
use crate::config::Config;
use crate::db::{Answer, Claim, Conn, Db, Fault};
use crate::demo::{self, DemoPlan};
use crate::domain::clock::{Clock, UtcStamp};
use crate::domain::ids::PersonId;
use crate::domain::money::Currency;
use crate::domain::refusal::Refusal;
use crate::domain::role::Role;
use crate::domain::zone::Zone;
use crate::import::records::Visit;
use crate::import::visits::import_visits;
use crate::jobs::model as jobs;
use crate::orders::model::{self as orders, Filter, OrderPatch};
use crate::people::model as people;
use crate::problem::Problem;
use crate::shops::model::{self as shops, NewShop, Shop};
use crate::shops::part_policy;
use crate::shops::write::ShopWrite;

/// The demo's people share it: their data is invented, and the server listens
/// on this machine alone unless told otherwise.
const PASSWORD: &str = "demo four sycamores";

/// Name, sign-in and role of those who sign in besides the shop's people.
const OFFICE: (&str, &str, Role) = ("Demo Administrator", "office", Role::Administrator);

/// Longer than the longest record.
const MOST_DAYS: Days = Days::new(11 * 366);

#[derive(clap::Args)]
pub struct DemoArgs {
    /// Make the demo shop and stop.
    #[arg(long)]
    prepare_only: bool,
    /// Last day of the record; absent: yesterday, shop-local.
    #[arg(long)]
    end: Option<NaiveDate>,
    /// Complaint jobs, about; more than the standard 3000 lengthen the record,
    /// and more than 50000 are shared by sister shops.
    #[arg(long, default_value_t = demo::STANDARD_JOBS)]
    jobs: usize,
    /// Shops that share the jobs [default: one for each 50000]. People of the
    /// sister shops sign in as first.last.
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=demo::MOST_SHOPS as i64))]
    shops: Option<u8>,
    /// Seed of the invented record.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    #[command(flatten)]
    pub serve: serve::ServeArgs,
}

/// Makes the shop where there is none, then serves it.
pub fn run(args: &DemoArgs, config: &Config, clock: Clock) -> ExitCode {
    let tls = match serve::encryption(config) {
        Ok(tls) => tls,
        Err(why) => return serve::refused(&why),
    };
    let place = config.place();
    let claim = match Claim::take(&place) {
        Ok(claim) => claim,
        Err(error) => return fail(error),
    };
    let db = match Db::open(&place) {
        Ok(db) => db,
        Err(error) => return fail(error),
    };
    if let Err(fault) = prepare(&db, args, config, clock) {
        return fail(Problem::from(fault));
    }
    if args.prepare_only {
        eprintln!("The demo shop is in {}.", place.show());
        return ExitCode::SUCCESS;
    }
    let served = serve::serve(App::new(db, clock), config, tls, |base| {
        eprintln!("\n{} is open. Sign in with the password: {PASSWORD}\n", demo::SHOP_NAME);
        for (name, sign_in, role) in sign_ins() {
            eprintln!("  {sign_in:<8} {:<16} {name}", role.label());
        }
        eprintln!("\nLook here, and stop with Ctrl-C:");
        print(format!("{base}/\n").as_bytes());
    });
    drop(claim);
    match served {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => fail(error),
    }
}

/// Who signs in: the shop's people by first name, and the administrator.
fn sign_ins() -> impl Iterator<Item = (&'static str, String, Role)> {
    let of_shop = demo::people().iter().filter_map(|person| {
        let first = person.name.split(' ').next()?.to_lowercase();
        Some((person.name, first, Role::parse(person.role)?))
    });
    of_shop.chain(std::iter::once((OFFICE.0, OFFICE.1.to_owned(), OFFICE.2)))
}

fn prepare(db: &Db, args: &DemoArgs, config: &Config, clock: Clock) -> Answer<()> {
    let now = clock.now();
    let known = db.read(shops::all)?;
    if known.iter().any(|shop| shop.code == demo::SHOP_CODE) {
        eprintln!("The demo shop is there already.");
        return Ok(());
    }
    if !known.is_empty() {
        return Err(Refusal::Conflict(
            "this record holds another shop; choose an empty place with --data".into(),
        )
        .into());
    }
    let zone = Zone::parse(demo::ZONE).unwrap_or(Zone::UTC);
    let end = args.end.unwrap_or_else(|| zone.last_complete_day(now));
    let (shops, jobs) = demo::shared(args.jobs, args.shops.map(usize::from));
    let plan = DemoPlan { seed: args.seed, end, jobs };
    let hash = password::hash(PASSWORD, cost::of(db, config)?).map_err(Fault::Unavailable)?;
    let (shop, manager, adviser) = db.write_blocking({
        let hash = hash.clone();
        move |conn| make_shop(conn, zone, &hash, now)
    })?;
    eprintln!("Making a year of work up to {end} ...");
    take_in(db, &shop, demo::visits(&plan), now)?;
    keep_attendance(db, &shop, &manager, end, now)?;
    circle::Year { db, shop: &shop, manager: &manager, adviser: &adviser, end, seed: args.seed }
        .round()?;
    if args.end.is_none() {
        open_orders(db, &shop, &manager, &plan, zone.day(now), now)?;
    }
    sisters::open(db, &shop, &plan, shops - 1, &hash, now)
}

/// The shop, who leads it, and who stands at its counter.
type Made = (Shop, PersonId, PersonId);

/// A shop of the group, before it has people.
fn new_shop(code: &str, name: &str, zone: Zone) -> NewShop {
    NewShop {
        code: code.to_owned(),
        name: name.to_owned(),
        zone,
        currency: Currency::parse(demo::CURRENCY).unwrap_or_else(Currency::none),
        labor_cost_minor: demo::LABOR_COST_MINOR_PER_HOUR,
        posted_rate_minor: demo::POSTED_RATE_MINOR_PER_HOUR,
        window_days: demo::WINDOW_DAYS,
        week_start: 1,
        date_style: None,
        return_costs: demo::RETURN_COSTS,
    }
}

fn make_shop(conn: &mut Conn, zone: Zone, hash: &str, now: UtcStamp) -> Answer<Made> {
    let group = shops::make_group(conn, demo::SHOP_TOWN, now)?;
    let shop = shops::make(conn, &group, &new_shop(demo::SHOP_CODE, demo::SHOP_NAME, zone))?;
    for policy in demo::part_policies() {
        let entered = analytics::history::PartPolicy {
            access_minutes: Some(policy.access_minutes),
            clean_minutes: Some(policy.clean_minutes),
            fit_minutes: Some(policy.fit_minutes),
            cost_minor: Some(policy.cost_minor),
        };
        part_policy::set(conn, shop.id, policy.part_no, &entered)?;
    }
    let (mut manager, mut adviser) = (None, None);
    for (name, sign_in, role) in sign_ins() {
        let id = people::make(conn, &group, name, Some((&sign_in, hash)))?;
        people::grant(conn, &id, role, (!role.is_of_group()).then_some(shop.id))?;
        match role {
            Role::ServiceManager => manager = Some(id),
            Role::Adviser => adviser = adviser.or(Some(id)),
            _ => {}
        }
    }
    let (manager, adviser) = manager
        .zip(adviser)
        .ok_or_else(|| Fault::Unavailable("nobody leads the demo shop".into()))?;
    Ok((shop, manager, adviser))
}

/// Takes visits in by the road of real data.
fn take_in(db: &Db, shop: &Shop, visits: impl Iterator<Item = Visit>, now: UtcStamp) -> Answer<()> {
    import_visits(db, shop, visits, now).map_err(|error| Fault::Unavailable(error.to_string()))?;
    Ok(())
}

/// How long the shop's technicians were there, on every day of the record.
fn keep_attendance(
    db: &Db,
    shop: &Shop,
    manager: &PersonId,
    end: NaiveDate,
    now: UtcStamp,
) -> Answer<()> {
    let span = (end.checked_sub_days(MOST_DAYS).unwrap_or(end), end);
    let (shop, manager) = (shop.clone(), manager.clone());
    db.write_blocking(move |conn| {
        let mut write = ShopWrite::begin(conn, &shop, &manager, now)?;
        let mut crew = people::of_shop(write.conn, shop.id)?;
        crew.retain(|(person, role)| {
            *role == Role::Technician && demo::people().iter().any(|own| own.name == person.name)
        });
        let mut clocked = Vec::new();
        for (person, _) in &crew {
            clocked.push(attendance::clocked(write.conn, shop.id, &person.id, span)?);
        }
        for ((person, _), days) in crew.iter().zip(demo::attended(&clocked)) {
            attendance::take_in(&mut write, &person.id, &days)?;
        }
        Ok(())
    })
}

/// Today's open orders: written up, so that comebacks are proposed for them.
fn open_orders(
    db: &Db,
    shop: &Shop,
    manager: &PersonId,
    plan: &DemoPlan,
    today: NaiveDate,
    now: UtcStamp,
) -> Answer<()> {
    let open = demo::open_today(plan, today);
    take_in(db, shop, open.iter().map(|(visit, _)| visit.clone()), now)?;
    for (visit, promised_at) in open {
        let (shop, manager) = (shop.clone(), manager.clone());
        db.write_blocking(move |conn| {
            let mut write = ShopWrite::begin(conn, &shop, &manager, now)?;
            let filter = Filter {
                order_no: Some(visit.order.order_no.clone()),
                limit: 1,
                ..Filter::default()
            };
            for order in orders::list(write.conn, shop.id, &filter)? {
                let promise = OrderPatch {
                    promised_at: Some(Some(UtcStamp::new(promised_at))),
                    ..OrderPatch::default()
                };
                orders::patch(&mut write, &order.id, order.version, &promise)?;
                for job in jobs::of_order(write.conn, shop.id, &order.id)? {
                    comebacks::propose(&mut write, &job, "write_up")?;
                }
            }
            Ok(())
        })?;
    }
    Ok(())
}
