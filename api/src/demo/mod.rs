//! The seeded record of an invented shop: fifty weeks of ordinary work with
//! planted stories in it, whose counts are exact whatever the last day is, and
//! more years and crews of the same kind for large records.
//!
//! Weeks are numbered from 1; week 50 is the last whole week (from Monday) on
//! or before the plan's end. A visit is opened, worked and closed in one week.

mod attended;
mod calendar;
mod catalog;
mod crews;
mod dice;
mod filler;
mod garage;
mod planned;
mod render;
mod schedule;
mod sheet;
mod sister;
mod standard;
mod stories;
mod stream;
#[cfg(test)]
mod tests;
mod today;

use std::ops::RangeInclusive;

use chrono::NaiveDate;

use crate::shops::model::ReturnCosts;

use crate::import::records::Visit;

pub use self::attended::attended;
pub use self::calendar::instant;
pub use self::sister::{MOST_SHOPS, SisterShop, sister_shop};
pub use self::stories::coolant::{FIRST_CHECK as RULE_CHECK, SYMPTOM as RULE_SYMPTOM};
pub use self::today::open_today;

pub const SHOP_CODE: &str = "four-sycamores";
pub const SHOP_NAME: &str = "Four Sycamores Motor Works";
pub const SHOP_TOWN: &str = "Ellerbeck Ferry";
pub const ZONE: &str = "America/Chicago";
pub const CURRENCY: &str = "USD";
/// What an hour of a technician costs the shop: 1.50 a minute.
pub const LABOR_COST_MINOR_PER_HOUR: i64 = 9_000;
pub const POSTED_RATE_MINOR_PER_HOUR: i64 = 14_000;
/// Comeback window.
pub const WINDOW_DAYS: i32 = 60;
/// What a return costs besides labor and part: 60.00 in all.
pub const RETURN_COSTS: ReturnCosts =
    ReturnCosts { diagnosis: 2_000, proof: 500, transport: 2_000, bay: 0, goodwill: 1_500 };
/// Number of the record's first order; no number is left out after it.
pub const FIRST_ORDER_NO: u64 = 1_001;
/// Complaint jobs of the standard scenario, about.
pub const STANDARD_JOBS: usize = 3_000;

pub const SUPPLIERS: [&str; 3] = ["Northgate Parts", "Pell & Daughters", "Quarry Lane Auto Parts"];
/// Those who work on vehicles; the last is the apprentice.
const TECHNICIANS: [&str; 4] = ["Mirela Voss", "Tomas Adeyo", "Ilse Hartigan", "Kofi Marrable"];

/// Weeks in which starting complaints double.
pub const COLD_SPELL: RangeInclusive<usize> = 3..=7;
/// Weeks in which Mirela is away and the apprentice does more.
pub const MIRELA_AWAY: RangeInclusive<usize> = 30..=33;

/// Story 5, "Ilse looks worst": the weeks, by closing day.
pub const MIX_WEEKS: RangeInclusive<usize> = 16..=41;
/// Its symptoms, by how hard they are. Nothing else in these weeks has them.
pub const EASY: &[&str] = &[
    "brakes.noise",
    "electric.light-out",
    "tires.pressure",
    "engine.belt-squeal",
    "body.wind-rattle",
];
pub const MEDIUM: &[&str] =
    &["brakes.pulsates", "cooling.overheats", "steering.wanders", "climate.no-cold"];
pub const HARD: &[&str] = &["electric.network", "electric.accessory", "brakes.light"];
/// Its lines, easy, medium and hard, of Mirela, Tomas and Ilse, returns being
/// lines of whoever mended them.
pub const MIX_LINES: [[usize; 3]; 3] = [[300, 80, 10], [150, 120, 30], [40, 70, 120]];
/// Of which came back in 60 days: 9, 11 and 15.
pub const MIX_RETURNS: [[usize; 3]; 3] = [[4, 4, 1], [2, 5, 4], [1, 2, 12]];

/// Story 6, the false alarm: weeks 1 to this, by closing day.
pub const MONDAY_WEEKS: usize = 15;
/// Its repaired complaints closed on a Monday, and those back in 60 days.
pub const MONDAY_LINES: usize = 95;
pub const MONDAY_RETURNS: usize = 7;
/// The same of the other days.
pub const OTHER_LINES: usize = 805;
pub const OTHER_RETURNS: usize = 33;

/// Story 9: the shop rule stands from the Monday of this week on.
pub const RULE_WEEK: usize = 22;
/// It is reviewed on the Monday of this one.
const RULE_REVIEW_WEEK: usize = 50;

/// The first day of the shop rule, in the record that ends so.
#[must_use]
pub fn rule_day(end: NaiveDate) -> NaiveDate {
    monday(end, RULE_WEEK)
}

/// The day on which the shop rule is reviewed.
#[must_use]
pub fn rule_review(end: NaiveDate) -> NaiveDate {
    monday(end, RULE_REVIEW_WEEK)
}

fn monday(end: NaiveDate, week: usize) -> NaiveDate {
    calendar::later(calendar::first_monday(end), (week as u64 - 1) * 7)
}

/// What is to be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DemoPlan {
    pub seed: u64,
    /// The last complete shop-local day: the record ends here.
    pub end: NaiveDate,
    /// Jobs of a shop, about: complaints, with maintenance beside them. At least
    /// the standard scenario is made; more lengthen the record to at most ten
    /// years, then add crews.
    pub jobs: usize,
}

/// Jobs of one shop; more of them make sister shops.
pub const SHOP_JOBS: usize = 50_000;

/// How many shops share so many jobs, and how many each of them has. `shops`:
/// as many as are wanted, where somebody has said.
#[must_use]
pub fn shared(jobs: usize, shops: Option<usize>) -> (usize, usize) {
    let shops = shops.unwrap_or(jobs.div_ceil(SHOP_JOBS)).clamp(1, MOST_SHOPS);
    let each = jobs.div_ceil(shops).min(stream::most_jobs(shops));
    (shops, each.max(STANDARD_JOBS))
}

/// The closed visits of the record, by opening, numbered without gaps. Large
/// plans are made week by week and never held as a whole.
pub fn visits(plan: &DemoPlan) -> impl Iterator<Item = Visit> + use<> {
    stream::Stream::new(plan)
}

/// The same of the sister shop of that number, from 1.
pub fn sister_visits(plan: &DemoPlan, number: usize) -> impl Iterator<Item = Visit> + use<> {
    stream::Stream::sister(plan, number)
}

/// Those who work on the vehicles of a sister shop.
#[must_use]
pub fn sister_technicians(plan: &DemoPlan, number: usize) -> Vec<String> {
    stream::sister_crews(plan.jobs, number).flat_map(crews::names).collect()
}

/// A person of the demo shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DemoPerson {
    pub name: &'static str,
    /// A role's word.
    pub role: &'static str,
}

const fn person(name: &'static str, role: &'static str) -> DemoPerson {
    DemoPerson { name, role }
}

const PEOPLE: [DemoPerson; 8] = [
    person("Adaeze Thornquist", "owner"),
    person("Piotr Lanham", "service_manager"),
    person("Wren Castellane", "adviser"),
    person(TECHNICIANS[0], "technician"),
    person(TECHNICIANS[1], "technician"),
    person(TECHNICIANS[2], "technician"),
    person(TECHNICIANS[3], "technician"),
    person("Lena Ostwick", "adviser"),
];

/// The people of the standard scenario. An apprentice is a technician, and who
/// keeps the parts has the rights of an adviser.
#[must_use]
pub const fn people() -> &'static [DemoPerson] {
    &PEOPLE
}

/// What the shop entered for a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DemoPartPolicy {
    pub part_no: &'static str,
    /// Minutes to get at it and to put back what was in the way.
    pub access_minutes: i64,
    /// Minutes to clean it.
    pub clean_minutes: i64,
    /// Minutes to fit a new one.
    pub fit_minutes: i64,
    /// Minor units.
    pub cost_minor: i64,
}

const fn policy(part: &catalog::parts::Part, access: i64, clean: i64, fit: i64) -> DemoPartPolicy {
    DemoPartPolicy {
        part_no: part.no,
        access_minutes: access,
        clean_minutes: clean,
        fit_minutes: fit,
        cost_minor: part.cost,
    }
}

/// What the shop entered per part: the shallow idle air valve, the deep lifter,
/// and the parts that are cleaned most.
const POLICIES: [DemoPartPolicy; 6] = [
    policy(&catalog::parts::IDLE_VALVE, 30, 20, 10),
    policy(&catalog::parts::LIFTER, 240, 40, 15),
    policy(&catalog::parts::THROTTLE, 26, 22, 12),
    policy(&catalog::parts::EGR_VALVE, 38, 25, 12),
    policy(&catalog::parts::INJECTOR, 65, 40, 20),
    policy(&catalog::parts::CALIPER, 12, 22, 25),
];

/// The entries per part.
#[must_use]
pub const fn part_policies() -> &'static [DemoPartPolicy] {
    &POLICIES
}
