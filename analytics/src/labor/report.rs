//! Labor against flat-rate, by one column.

use std::cmp::Reverse;

use serde::Serialize;

use super::by::By;
use super::estimate::{PeriodSums, Ratio};
use super::sums::{ByKind, ComebackSums};
use super::tally::LaborTally;
use crate::figure::{Head, Query};
use crate::follow::{Period, day_number, head};
use crate::history::{History, ShopFacts};

/// Hundredths of an hour over minutes, as hours over hours.
const HOURS_PER_HOUR: f64 = 60.0 / 100.0;
/// Minor units over hundredths of an hour, as minor units per hour.
const PER_HOUR: f64 = 100.0;

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "efficiency",
        "Flat-rate hours over clock hours of the jobs closed in the period, sum over sum. A \
         comeback's clock hours count, its flat-rate hours are not credited. Jobs without any \
         clock time are left out and counted beside it. Interval: linearized standard error.",
    ),
    ("efficiency_without_comebacks", "The same with comebacks left out altogether."),
    (
        "effective_labor_rate",
        "Labor amount over billed hours, in minor units per hour, over operations that have \
         both.",
    ),
    (
        "lost_hours",
        "Clock hours less credited flat-rate hours; below zero where hours were gained.",
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
        "Clock hours of comebacks at the shop's labor cost, the parts they were given, and what \
         a return costs besides, less labor a supplier paid for.",
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
    pub billed_hours: f64,
    pub labor_amount_minor: i64,
    pub effective_labor_rate: Ratio,
    /// Absent where nothing was clocked.
    pub diagnosis_share: Option<f64>,
    pub comebacks: i64,
    pub comeback_hours: f64,
    /// Jobs without clock time, and their flat-rate hours: in no efficiency.
    pub unclocked: i64,
    pub unclocked_flat_rate_hours: f64,
    pub jobs: String,
}

/// What the comebacks closed in the period cost, in minor units.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComebackCost {
    pub count: i64,
    pub clock_hours: f64,
    pub labor_minor: i64,
    pub parts_minor: i64,
    /// What a return costs besides, for all of them.
    pub extra_minor: i64,
    pub paid_back_minor: i64,
    pub total_minor: i64,
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
    let total = line(None, &tally.total, &period, period.selector(&[]));
    let mut lines: Vec<LaborLine> = tally
        .groups
        .iter()
        .map(|(group, sums)| {
            let jobs = selector(tally.by, group.as_deref(), &period);
            line(group.clone(), sums, &period, jobs)
        })
        .filter(|line| line.count > 0)
        .collect();
    match tally.by {
        // People are never ranked: they stand by name, as weeks by date.
        By::Technician | By::Week => {}
        By::Operation | By::Symptom | By::Payer => {
            lines.sort_by_key(|line| Reverse(hundredths(line.lost_hours)));
        }
    }
    LaborReport {
        head: head("labor", facts, change_no, query, DEFINITIONS),
        by: tally.by,
        total,
        lines,
        comebacks: comeback_cost(tally, facts, &period),
    }
}

/// A whole number to sort by.
fn hundredths(hours: f64) -> i64 {
    (hours * 100.0).round() as i64
}

fn selector(by: By, group: Option<&str>, period: &Period) -> String {
    match (by, group) {
        (By::Week, Some(first)) => first.parse().map_or_else(
            |_| period.selector(&[]),
            |first| {
                let first = day_number(first);
                period.within(first, first + 6).selector(&[])
            },
        ),
        // Whoever worked on the job, not only who led it.
        (By::Technician, Some(name)) => period.selector(&[("worked", name)]),
        (_, group) => period.selector(&[(by.as_str(), group.unwrap_or_default())]),
    }
}

fn line(group: Option<String>, by_kind: &ByKind, period: &Period, jobs: String) -> LaborLine {
    let sums = PeriodSums::new(by_kind, period);
    let with = sums.efficiency();
    let without = sums.first.efficiency;
    let rate = sums.rate();
    let hours = |minutes: i64| minutes as f64 / 60.0;
    let from_hundredths = |hundredths: i64| hundredths as f64 / 100.0;
    let diagnosis = sums.first.diagnosis_minutes + sums.comeback.diagnosis_minutes;
    let ratio = |sums, factor, definition| Ratio::new(sums, factor, definition, jobs.clone());
    LaborLine {
        group,
        count: sums.jobs(),
        flat_rate_hours: from_hundredths(with.numerator),
        clock_hours: hours(with.denominator),
        lost_hours: hours(with.denominator) - from_hundredths(with.numerator),
        efficiency: ratio(&with, HOURS_PER_HOUR, "efficiency"),
        efficiency_without_comebacks: ratio(
            &without,
            HOURS_PER_HOUR,
            "efficiency_without_comebacks",
        ),
        billed_hours: from_hundredths(rate.denominator),
        labor_amount_minor: rate.numerator,
        effective_labor_rate: ratio(&rate, PER_HOUR, "effective_labor_rate"),
        diagnosis_share: (with.denominator > 0).then(|| diagnosis as f64 / with.denominator as f64),
        comebacks: sums.comeback.efficiency.cases,
        comeback_hours: hours(sums.comeback.efficiency.denominator),
        unclocked: sums.unclocked.efficiency.cases,
        unclocked_flat_rate_hours: from_hundredths(sums.unclocked.efficiency.numerator),
        jobs,
    }
}

fn comeback_cost(tally: &LaborTally, facts: &ShopFacts, period: &Period) -> ComebackCost {
    let mut sums = ComebackSums::default();
    for (_, more) in tally.comebacks.iter().filter(|(day, _)| period.holds(**day)) {
        sums += *more;
    }
    // Half a minor unit is rounded away from zero, once for the whole sum.
    let labor = sums.clock_minutes as f64 * facts.labor_cost_minor_per_hour as f64 / 60.0;
    let labor_minor = labor.round() as i64;
    let extra_minor = sums.jobs * facts.return_extra_minor;
    ComebackCost {
        count: sums.jobs,
        clock_hours: sums.clock_minutes as f64 / 60.0,
        labor_minor,
        parts_minor: sums.parts_minor,
        extra_minor,
        paid_back_minor: sums.paid_back_minor,
        total_minor: labor_minor + sums.parts_minor + extra_minor - sums.paid_back_minor,
        definition: "comeback_cost",
    }
}
