//! What is worked out most often, on one made-up shop of fifty thousand jobs.
//!
//!     cargo bench --bench hot
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use analytics::comeback::{self, ComebackTally, comebacks};
use analytics::figure::Query;
use analytics::history::{
    CheckRow, History, JobId, JobRow, LaborRow, OperationRow, PartReturnRow, PartRow, ReturnRow,
    Rows, ShopFacts,
};
use analytics::labor::{self, LaborTally};
use analytics::path::{PathTally, check_orders};
use analytics::reuse::ReuseTally;
use analytics::standing::{ShopOfStanding, Standing, standing};
use analytics::stats::survival::{Curve, Moment};
use analytics::weekly::{WeekQuery, weekly};
use analytics::words::{
    Activity, CauseState, Curable, Disposition, Finding, JobKind, LinkState, Outcome, PartRole,
    Payer, WorkedAs,
};
use chrono::{Days, NaiveDate};
use divan::Bencher;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

const JOBS: u64 = 50_000;
/// Ten years.
const DAYS: u64 = 3_652;
/// Part uses have ids of their own above this, links above twice this.
const FAR: JobId = 1 << 64;

fn main() {
    divan::main();
}

fn day(number: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2016, 10, 1).unwrap() + Days::new(number)
}

fn facts() -> ShopFacts {
    ShopFacts {
        code: "B1".to_owned(),
        name: "Measured Shop".to_owned(),
        currency: "USD".to_owned(),
        labor_cost_minor_per_hour: 9_000,
        posted_rate_minor_per_hour: 14_000,
        window_days: 60,
        week_start: 1,
        ceiling: 0.1,
        return_extra_minor: 6_000,
        return_clocked_minor: 0,
        links_from: None,
        assumed_cleaned_suspect: 0.3,
        assumed_bystander_tested: 0.03,
        assumed_bystander_untested: 0.06,
        assumed_replaced: 0.03,
        part_policies: BTreeMap::new(),
        check_minutes: BTreeMap::new(),
        free_looks: BTreeSet::new(),
        trained_checks: BTreeSet::new(),
        check_access: BTreeMap::new(),
        check_plans: Vec::new(),
    }
}

/// A job's row with everything that a figure looks at.
fn job(dice: &mut ChaCha8Rng, id: JobId, closed: u64) -> JobRow {
    let symptom = dice.random_range(0..40);
    let outcome = if dice.random_bool(0.9) { Outcome::Repaired } else { Outcome::NoFaultFound };
    let kind = if dice.random_bool(0.8) { JobKind::Complaint } else { JobKind::Maintenance };
    JobRow {
        id,
        order_no: format!("{id:07}"),
        job_no: 1,
        vehicle: format!("vehicle {}", dice.random_range(0..12_000)),
        model: Some(format!("model {}", dice.random_range(0..30))),
        engine: None,
        model_year: None,
        kind,
        outcome,
        symptom: Some(format!("system-{}.symptom-{symptom}", symptom % 8)),
        complaint: None,
        system: Some(format!("system-{}", symptom % 8)),
        cause: Some(format!("cause-{symptom}-{}", dice.random_range(0..4))),
        cause_state: Some(CauseState::Confirmed),
        cause_curable: Some(Curable::Depends),
        technician: Some(format!("technician {}", dice.random_range(0..12))),
        supervisor: None,
        opened_on: day(closed),
        opened_minute: 480,
        closed_on: day(closed),
        odometer_in: None,
        odometer_out: None,
        odometer_in_miles: false,
        failed_proofs: 0,
        sublet_cost_minor: 0,
        told: None,
        holds_on: Vec::new(),
    }
}

/// Checks, parts, labor and an operation of a job.
fn work(dice: &mut ChaCha8Rng, rows: &mut Rows, job: &JobRow) {
    for seq in 1..=dice.random_range(2..6) {
        rows.checks.push(CheckRow {
            job: job.id,
            seq,
            check: format!("check-{}", dice.random_range(0..2) * 6 + seq),
            finding: Some(if seq == 4 { Finding::Abnormal } else { Finding::Normal }),
            minutes: Some(dice.random_range(1..40)),
            at_close: false,
            reading: None,
            unit: None,
        });
    }
    rows.parts.push(PartRow {
        id: FAR + job.id,
        job: job.id,
        part_no: Some(format!("P-{}", dice.random_range(0..60))),
        name: "part".to_owned(),
        position: None,
        disposition: Disposition::ALL[dice.random_range(0..Disposition::ALL.len())],
        role: Some(PartRole::ALL[dice.random_range(0..PartRole::ALL.len())]),
        supplier: None,
        lot: None,
        quantity_hundredths: 100,
        unit_cost_minor: Some(dice.random_range(500..20_000)),
        bench_reading: None,
        bench_unit: None,
    });
    for activity in [Activity::Diagnosis, Activity::Repair] {
        rows.labor.push(LaborRow {
            job: job.id,
            technician: format!("technician {}", dice.random_range(0..12)),
            activity: Some(activity),
            worked_as: WorkedAs::Lead,
            started_on: job.closed_on,
            minutes: dice.random_range(5..180),
        });
    }
    rows.operations.push(OperationRow {
        job: job.id,
        code: format!("operation-{}", dice.random_range(0..50)),
        flat_rate_hundredths: Some(dice.random_range(20..400)),
        billed_hundredths: Some(100),
        labor_amount_minor: Some(14_000),
        payer: Some(Payer::Customer),
    });
}

/// A job that came back as a later one, and its part with it.
fn link(rows: &mut Rows, earlier: JobId, later: &JobRow) {
    rows.returns.push(ReturnRow {
        id: 2 * FAR + later.id,
        earlier,
        later: later.id,
        later_order_no: later.order_no.clone(),
        later_job_no: 1,
        later_opened_on: later.opened_on,
        later_odometer: None,
        state: LinkState::Confirmed,
        same_complaint: true,
        reason: Some("workmanship".to_owned()),
    });
    rows.part_returns.push(PartReturnRow {
        part_use: FAR + earlier,
        later: later.id,
        later_opened_on: later.opened_on,
        state: LinkState::Confirmed,
    });
}

fn shop() -> &'static History {
    static SHOP: OnceLock<History> = OnceLock::new();
    SHOP.get_or_init(|| {
        let mut dice = ChaCha8Rng::seed_from_u64(7);
        let mut rows = Rows::default();
        for number in 0..JOBS {
            let job = job(&mut dice, JobId::from(number) + 1, number * DAYS / JOBS);
            work(&mut dice, &mut rows, &job);
            let back = JobId::from(dice.random_range(1..700_u64));
            if dice.random_bool(0.05) && job.id > back {
                link(&mut rows, job.id - back, &job);
            }
            rows.jobs.push(job);
        }
        History::new(facts(), rows, 1).unwrap()
    })
}

fn query(by: Option<&str>) -> Query {
    Query { as_of: day(DAYS), from: None, to: None, window_days: None, by: by.map(str::to_owned) }
}

#[divan::bench]
fn tally_of_comebacks(bencher: Bencher<'_, '_>) {
    let shop = shop();
    bencher.bench(|| ComebackTally::of(shop, Some(comeback::By::Symptom)));
}

#[divan::bench]
fn tally_of_part_uses(bencher: Bencher<'_, '_>) {
    let shop = shop();
    bencher.bench(|| ReuseTally::of(shop));
}

#[divan::bench]
fn tally_of_paths(bencher: Bencher<'_, '_>) {
    let shop = shop();
    bencher.bench(|| PathTally::of(shop));
}

#[divan::bench(args = [labor::By::Technician, labor::By::Symptom])]
fn tally_of_labor(bencher: Bencher<'_, '_>, by: labor::By) {
    let shop = shop();
    bencher.bench(|| LaborTally::of(shop, by));
}

/// Counts of two shops that are added up.
#[divan::bench]
fn tallies_added(bencher: Bencher<'_, '_>) {
    let tally = ComebackTally::of(shop(), Some(comeback::By::Symptom));
    bencher.with_inputs(|| tally.clone()).bench_refs(|sum| sum.add(&tally));
}

#[divan::bench]
fn curve_of_a_thousand_moments(bencher: Bencher<'_, '_>) {
    let moments: Vec<Moment> = (0..1_000)
        .map(|at| Moment { time: at % 400, events: 1 + i64::from(at % 3), censored: 4 })
        .collect();
    bencher.bench(|| Curve::new(moments.iter().copied()));
}

#[divan::bench]
fn one_more_closed_job(bencher: Bencher<'_, '_>) {
    let mut dice = ChaCha8Rng::seed_from_u64(8);
    let mut rows = Rows::default();
    let row = job(&mut dice, JobId::from(JOBS) + 1, DAYS - 1);
    work(&mut dice, &mut rows, &row);
    rows.jobs.push(row);
    let inputs = || (shop().clone(), rows.clone());
    bencher.with_inputs(inputs).bench_values(|(mut shop, rows)| {
        shop.apply(&[], rows, 2).unwrap();
        shop
    });
}

#[divan::bench]
fn weekly_review(bencher: Bencher<'_, '_>) {
    let shop = shop();
    let week = WeekQuery { as_of: day(DAYS), week_from: day(DAYS - 6), window_days: None };
    bencher.bench(|| weekly(shop, &week));
}

#[divan::bench]
fn comebacks_by_symptom(bencher: Bencher<'_, '_>) {
    let (shop, query) = (shop(), query(Some("symptom")));
    bencher.bench(|| comebacks(shop, &query));
}

#[divan::bench]
fn search_for_the_order_of_checks(bencher: Bencher<'_, '_>) {
    let (shop, query) = (shop(), query(None));
    bencher.bench(|| check_orders(shop, &query, None));
}

fn of_shop() -> Standing<'static> {
    Standing::of(&[ShopOfStanding { history: shop(), as_of: day(DAYS) }])
}

#[divan::bench]
fn standing_cohorts(bencher: Bencher<'_, '_>) {
    let shop = of_shop();
    bencher.bench(|| shop.cohorts());
}

#[divan::bench]
fn standing_shares(bencher: Bencher<'_, '_>) {
    let shop = of_shop();
    bencher.bench(|| (shop.symptoms(), shop.technicians(), shop.parts()));
}

#[divan::bench]
fn standing_orders(bencher: Bencher<'_, '_>) {
    let shop = of_shop();
    bencher.bench(|| shop.orders());
}

#[divan::bench]
fn standing_efficiency(bencher: Bencher<'_, '_>) {
    let shop = of_shop();
    bencher.bench(|| (shop.efficiency_by_technician(), shop.efficiency_by_symptom()));
}

/// Twenty shops of fifty thousand jobs each.
#[divan::bench]
fn standing_of_a_million_jobs(bencher: Bencher<'_, '_>) {
    let one = ShopOfStanding { history: shop(), as_of: day(DAYS) };
    let shops = vec![one; 20];
    bencher.bench(|| standing(&shops).orders.len());
}
