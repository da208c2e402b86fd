//! Labor against flat-rate, by one column.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::by::By;
use super::costs::cost_of;
use super::estimate::{PeriodSums, Ratio, week_ratios};
use super::sums::{ComebackSums, HoursSums};
use super::tally::LaborTally;
use crate::comeback::week_start_of;
use crate::figure::{Head, Query};
use crate::follow::{Period, date_of, day_number, head};
use crate::history::{History, ShopFacts};
use crate::outcomes::{self, OutcomeLine};
use crate::stats::ratio::RatioSums;

/// Hundredths of an hour over minutes, as hours over hours.
const HOURS_PER_HOUR: f64 = 60.0 / 100.0;
/// Minor units over hundredths of an hour, as minor units per hour.
const PER_HOUR: f64 = 100.0;

/// Flat-rate hours over clock hours, from hundredths of an hour over minutes.
pub(crate) fn efficiency_of(sums: &RatioSums, jobs: String) -> Ratio {
    Ratio::new(sums, HOURS_PER_HOUR, "efficiency", jobs).credited(sums)
}

pub(super) const DEFINITIONS: &[(&str, &str)] = &[
    (
        "efficiency",
        "Flat-rate hours over clock hours of the jobs closed in the period, sum over sum. A \
         comeback's clock hours count, its flat-rate hours are not credited. Jobs without any \
         clock time are left out and counted beside it. Absent where no flat-rate hours were \
         credited at all. Interval: linearized standard error.",
    ),
    ("efficiency_without_comebacks", "The same with comebacks left out altogether."),
    (
        "effective_labor_rate",
        "Labor amount over billed hours, in minor units per hour, over operations that have \
         both.",
    ),
    (
        "lost_hours",
        "Clock hours less credited flat-rate hours; below zero where hours were gained. The \
         table shows it the other way round: hours gained above zero, hours lost below.",
    ),
    (
        "comebacks_worked_on",
        "Comebacks with clock time, whoever answers for the first job: who mends one is not who \
         caused it. Comeback shares count it to who led the first job.",
    ),
    (
        "attended_hours",
        "Hours that people were there for work in the period, less unpaid breaks. Kept by person \
         and day: by technician, by week and for the shop, not by job.",
    ),
    (
        "productivity",
        "Hours on the clock over attended hours of the period: every finished labor entry started \
         in it, whatever became of its job, open and void ones too. Absent where no attendance is \
         kept.",
    ),
    (
        "overall",
        "Flat-rate hours credited on the jobs closed in the period, on the clock or not, over \
         attended hours of the period. Absent where no attendance is kept.",
    ),
    ("diagnosis_share", "Clock hours on diagnosis over all clock hours."),
    (
        "split",
        "A job's flat-rate hours go to its technicians by clock share. By operation, diagnosis \
         minutes go to the operation of diagnosis and all others to the other operations by \
         flat-rate share; where a job has no operation of diagnosis, its hours are meant for all \
         of the work, and all minutes are theirs.",
    ),
    (
        "comeback_cost",
        "Clock hours of comebacks at the shop's labor cost, the parts they were given (cost of \
         one by quantity), work on them sent to other businesses, and what a return costs besides that is not \
         on the clock (diagnosis and proof again are), \
         less labor a supplier paid for and what suppliers paid back on them by the as-of.",
    ),
];

/// One group's labor.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LaborLine {
    /// Absent for what has no value in the column, and for the total.
    pub group: Option<String>,
    pub count: i64,
    /// Credited flat-rate hours of jobs with clock time.
    pub flat_rate_hours: f64,
    pub clock_hours: f64,
    pub lost_hours: f64,
    pub efficiency: Ratio,
    pub efficiency_without_comebacks: Ratio,
    /// Absent by operation, symptom and payer, and where no attendance is kept.
    pub attended_hours: Option<f64>,
    /// Hours of labor entries started in the period, whatever became of their
    /// jobs; absent by operation, symptom and payer.
    pub started_clock_hours: Option<f64>,
    /// Clock over attended hours of the period.
    pub productivity: Option<f64>,
    /// Flat-rate over attended hours of the period.
    pub overall: Option<f64>,
    pub billed_hours: f64,
    /// Absent where it is withheld.
    pub labor_amount_minor: Option<i64>,
    pub effective_labor_rate: Ratio,
    /// Absent where nothing was clocked.
    pub diagnosis_share: Option<f64>,
    /// Comebacks that were worked on, whoever answers for the first job.
    pub comebacks: i64,
    /// Selects them.
    pub comeback_jobs: String,
    pub comeback_hours: f64,
    /// Jobs without clock time, and their flat-rate hours: in no efficiency.
    pub unclocked: i64,
    pub unclocked_flat_rate_hours: f64,
    pub jobs: String,
}

/// What the comebacks closed in the period cost, in minor units. Amounts are
/// absent where they are withheld.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComebackCost {
    pub count: i64,
    pub clock_hours: f64,
    pub labor_minor: Option<i64>,
    pub parts_minor: Option<i64>,
    /// Work sent to other businesses.
    pub sublet_minor: Option<i64>,
    /// What a return costs besides, for all of them.
    pub extra_minor: Option<i64>,
    pub paid_back_minor: Option<i64>,
    pub total_minor: Option<i64>,
    pub definition: &'static str,
}

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LaborReport {
    pub head: Head,
    pub by: By,
    pub total: LaborLine,
    pub lines: Vec<LaborLine>,
    pub comebacks: ComebackCost,
    /// How the period's complaints ended.
    pub outcomes: Vec<OutcomeLine>,
}

/// Labor by the query's column; by technician where it names none.
///
/// # Errors
/// The word that is no column of labor.
pub fn labor(history: &History, query: &Query) -> Result<LaborReport, String> {
    let by = match &query.by {
        None => By::Technician,
        Some(word) => By::parse(word).ok_or_else(|| word.clone())?,
    };
    let tally = LaborTally::of(history, by);
    Ok(labor_from(&tally, history.facts(), history.change_no(), query))
}

/// The same from a tally already made; its column stands, not the query's.
#[must_use]
pub fn labor_from(
    tally: &LaborTally,
    facts: &ShopFacts,
    change_no: i64,
    query: &Query,
) -> LaborReport {
    let period = Period::new(query, facts);
    let hours = Hours::of(tally, &period, facts.week_start);
    let sums = PeriodSums::new(&tally.total, &period);
    let total = line(None, &sums, Some(hours.all), of_all(&period));
    // Who was there and closed no job has a line as well.
    let groups: BTreeSet<&Option<String>> =
        tally.groups.keys().chain(hours.groups.keys()).collect();
    let mut lines: Vec<LaborLine> = groups
        .into_iter()
        .map(|group| {
            let sums = tally.groups.get(group).map(|sums| PeriodSums::new(sums, &period));
            let jobs = selectors(tally.by, group.as_deref(), &period);
            line(group.clone(), &sums.unwrap_or_default(), hours.group(tally.by, group), jobs)
        })
        .filter(|line| line.count > 0 || line.attended_hours.is_some())
        .collect();
    match tally.by {
        // People are never ranked: they stand by name, as weeks by date.
        By::Technician | By::Week => {}
        By::Operation | By::Symptom | By::Payer => {
            lines.sort_by_key(|line| Reverse(hundredths(line.lost_hours)));
        }
    }
    LaborReport {
        head: head(
            "labor",
            facts,
            change_no,
            query,
            &[DEFINITIONS, outcomes::DEFINITIONS].concat(),
        ),
        by: tally.by,
        total,
        lines,
        comebacks: comeback_cost(tally, facts, &period),
        outcomes: tally.outcomes.lines(&period, &[]),
    }
}

/// Hours of the period, for the shop and for each group that has them.
pub(super) struct Hours {
    pub all: HoursSums,
    groups: BTreeMap<Option<String>, HoursSums>,
}

impl Hours {
    pub fn of(tally: &LaborTally, period: &Period, week_start: u8) -> Self {
        let mut hours = Self { all: HoursSums::default(), groups: BTreeMap::new() };
        let mut weeks: BTreeMap<i32, HoursSums> = BTreeMap::new();
        for (technician, days) in &tally.hours {
            let mut sum = HoursSums::default();
            for (day, sums) in days.iter().filter(|(day, _)| period.holds(*day)) {
                sum += *sums;
                if tally.by == By::Week {
                    *weeks.entry(week_start_of(*day, week_start)).or_default() += *sums;
                }
            }
            hours.all += sum;
            if tally.by == By::Technician {
                hours.groups.insert(Some(technician.clone()), sum);
            }
        }
        let weeks = weeks.into_iter().map(|(first, sum)| (Some(date_of(first).to_string()), sum));
        hours.groups.extend(weeks);
        hours
    }

    /// `None` where the column has no hours of its own.
    fn group(&self, by: By, group: &Option<String>) -> Option<HoursSums> {
        matches!(by, By::Technician | By::Week)
            .then(|| self.groups.get(group).copied().unwrap_or_default())
    }
}

/// A whole number to sort by.
fn hundredths(hours: f64) -> i64 {
    (hours * 100.0).round() as i64
}

/// What selects a line's jobs, and of them the comebacks with clock time.
pub(super) struct Selectors {
    jobs: String,
    comebacks: String,
}

impl Selectors {
    fn new(period: &Period, pairs: &[(&str, &str)]) -> Self {
        let comebacks = [pairs, &[("first_repair", "false"), ("clocked", "true")]].concat();
        Self { jobs: period.selector(pairs), comebacks: period.selector(&comebacks) }
    }

    /// Of several shops together: a job is found in its own shop alone.
    pub const fn none() -> Self {
        Self { jobs: String::new(), comebacks: String::new() }
    }
}

impl LaborLine {
    /// Takes the amounts out.
    pub fn withhold_money(&mut self) {
        self.labor_amount_minor = None;
        self.effective_labor_rate.value = None;
        self.effective_labor_rate.standard_error = None;
        self.effective_labor_rate.interval = None;
    }
}

pub(super) fn of_all(period: &Period) -> Selectors {
    Selectors::new(period, &[])
}

fn selectors(by: By, group: Option<&str>, period: &Period) -> Selectors {
    match (by, group) {
        (By::Week, Some(first)) => first.parse().map_or_else(
            |_| of_all(period),
            |first| {
                let first = day_number(first);
                of_all(&period.within(first, first + 6))
            },
        ),
        // Whoever worked on the job, not only who led it.
        (By::Technician, Some(name)) => Selectors::new(period, &[("credited", name)]),
        (_, group) => Selectors::new(period, &[(by.as_str(), group.unwrap_or_default())]),
    }
}

pub(super) fn line(
    group: Option<String>,
    sums: &PeriodSums,
    present: Option<HoursSums>,
    Selectors { jobs, comebacks: comeback_jobs }: Selectors,
) -> LaborLine {
    let with = sums.efficiency();
    let without = sums.first.efficiency;
    let rate = sums.rate();
    let hours = |minutes: i64| minutes as f64 / 60.0;
    let from_hundredths = |hundredths: i64| hundredths as f64 / 100.0;
    let diagnosis = sums.first.diagnosis_minutes + sums.comeback.diagnosis_minutes;
    let here = present.unwrap_or_default();
    let ratios =
        week_ratios(hours(here.attended), hours(here.clock), from_hundredths(sums.credited));
    let ratio = |sums, factor, definition| Ratio::new(sums, factor, definition, jobs.clone());
    LaborLine {
        group,
        count: sums.jobs(),
        flat_rate_hours: from_hundredths(with.numerator),
        clock_hours: hours(with.denominator),
        lost_hours: hours(with.denominator) - from_hundredths(with.numerator),
        efficiency: efficiency_of(&with, jobs.clone()),
        efficiency_without_comebacks: ratio(
            &without,
            HOURS_PER_HOUR,
            "efficiency_without_comebacks",
        )
        .credited(&without),
        attended_hours: present.map(|sums| hours(sums.attended)).filter(|hours| *hours > 0.0),
        started_clock_hours: present.map(|sums| hours(sums.clock)),
        productivity: ratios.productivity,
        overall: ratios.overall,
        billed_hours: from_hundredths(rate.denominator),
        labor_amount_minor: Some(rate.numerator),
        effective_labor_rate: ratio(&rate, PER_HOUR, "effective_labor_rate"),
        diagnosis_share: (with.denominator > 0).then(|| diagnosis as f64 / with.denominator as f64),
        comebacks: sums.comeback.efficiency.cases,
        comeback_jobs,
        comeback_hours: hours(sums.comeback.efficiency.denominator),
        unclocked: sums.unclocked.efficiency.cases,
        unclocked_flat_rate_hours: from_hundredths(sums.unclocked.efficiency.numerator),
        jobs,
    }
}

pub(super) fn comeback_cost(
    tally: &LaborTally,
    facts: &ShopFacts,
    period: &Period,
) -> ComebackCost {
    let mut sums = ComebackSums::default();
    for (_, more) in tally.comebacks.iter().filter(|(day, _)| period.holds(**day)) {
        sums += *more;
    }
    let paid_back: i64 = tally
        .paid_back
        .iter()
        .filter(|((closed, paid), _)| period.holds(*closed) && *paid <= period.as_of)
        .map(|(_, amount)| amount)
        .sum();
    cost_of(&sums, paid_back, facts)
}
