//! What an order of checks is made from: for each check of a symptom how often
//! it found the cause, its minutes, and its place in the shop's own orders.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::estimate::Group;
use super::order::MAX_MINUTES;
use super::tally::{CheckFact, PathTally, SymptomTally};
use crate::counts::Counts;
use crate::follow::Period;
use crate::history::ShopFacts;
use crate::stats::quantile::median;
use crate::words::Access;

/// What each check starts with: half a confirmed cause.
const PRIOR: f64 = 0.5;
/// A look that was punched as 0 minutes took less than one, not nothing.
const LEAST_MINUTES: f64 = 0.5;

/// Where a check's minutes come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum MinutesFrom {
    /// Measured on jobs of the symptom.
    Symptom,
    /// Measured on jobs of other symptoms only.
    Shop,
    /// The shop's list of checks; nothing was measured.
    List,
}

/// A check's minutes, more than 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Minutes {
    pub value: f64,
    /// Measured times behind it.
    pub timed: i64,
    pub from: MinutesFrom,
}

/// A check that a symptom's order is made of.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Candidate {
    pub check: String,
    /// Times it was done on jobs of the symptom.
    pub done: i64,
    /// Confirmed causes it found.
    pub found: i64,
    /// Chance that it finds the cause.
    pub probability: f64,
    pub minutes: Option<Minutes>,
    /// What must be open before it, where that is known.
    pub access: Option<Access>,
    /// Mean place, from 1, among the jobs that did it in a measured order.
    pub mean_place: Option<f64>,
    /// Only trained people may do it.
    pub trained: bool,
}

/// The basis of one symptom.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Basis {
    /// Jobs with a confirmed cause.
    pub confirmed: i64,
    /// Those of them whose cause no recorded check found.
    pub otherwise: i64,
    /// By name.
    pub candidates: Vec<Candidate>,
}

impl Basis {
    /// Of the checks done for the symptom in the period, and of `first`, whether or
    /// not they were recorded.
    pub fn of(
        whole: &PathTally,
        symptom: &SymptomTally,
        facts: &ShopFacts,
        period: &Period,
        first: &[String],
    ) -> Self {
        let held = |days: &Counts<i32>| -> i64 {
            days.iter().filter(|(day, _)| period.holds(*day)).map(|(_, count)| count).sum()
        };
        let found =
            |check: Option<&str>| symptom.found_by.get(&check.map(str::to_owned)).map_or(0, held);
        let confirmed = symptom.found_by.values().map(held).sum();
        let places = places(symptom, period);
        let mut checks: BTreeMap<&str, i64> = symptom
            .checks
            .iter()
            .map(|(check, counts)| {
                (check.as_str(), times(counts, period).map(|(_, count)| count).sum())
            })
            .filter(|(_, done)| *done > 0)
            .collect();
        for check in first {
            checks.entry(check).or_default();
        }
        let total = confirmed as f64 + PRIOR * checks.len() as f64;
        let candidates = checks.iter().map(|(&check, &done)| Candidate {
            check: check.to_owned(),
            done,
            found: found(Some(check)),
            probability: (found(Some(check)) as f64 + PRIOR) / total,
            minutes: minutes(whole, symptom, facts, period, check),
            access: facts.check_access.get(check).copied(),
            mean_place: places.get(check).map(|(sum, jobs)| *sum as f64 / *jobs as f64),
            trained: facts.trained_checks.contains(check),
        });
        Self { confirmed, otherwise: found(None), candidates: candidates.collect() }
    }

    /// Whether a check lies behind something that has to be opened.
    pub fn opens(&self) -> bool {
        self.candidates.iter().filter_map(|known| known.access).any(Access::is_opening)
    }

    /// Confirmed causes and what each check starts with, together.
    pub fn weight(&self) -> f64 {
        self.confirmed as f64 + PRIOR * self.candidates.len() as f64
    }
}

fn times<'a>(
    counts: &'a Counts<CheckFact>,
    period: &'a Period,
) -> impl Iterator<Item = (CheckFact, i64)> + 'a {
    counts.iter().filter(|(fact, _)| period.holds(fact.closed_day))
}

/// The median of the symptom's own measured minutes; else of the shop's; else
/// what its list says.
fn minutes(
    whole: &PathTally,
    symptom: &SymptomTally,
    facts: &ShopFacts,
    period: &Period,
    check: &str,
) -> Option<Minutes> {
    let of_symptom = || measured([symptom], period, check, MinutesFrom::Symptom);
    let of_shop = || measured(whole.symptoms.values(), period, check, MinutesFrom::Shop);
    let of_list = || {
        let listed = *facts.check_minutes.get(check)?;
        Some(Minutes { value: sound(listed as f64), timed: 0, from: MinutesFrom::List })
    };
    of_symptom().or_else(of_shop).or_else(of_list)
}

fn measured<'a>(
    symptoms: impl IntoIterator<Item = &'a SymptomTally>,
    period: &Period,
    check: &str,
    from: MinutesFrom,
) -> Option<Minutes> {
    let mut histogram: BTreeMap<i64, i64> = BTreeMap::new();
    for counts in symptoms.into_iter().filter_map(|symptom| symptom.checks.get(check)) {
        for (fact, count) in times(counts, period) {
            if let Some(minutes) = fact.minutes {
                *histogram.entry(minutes).or_default() += count;
            }
        }
    }
    let value = sound(median(&histogram)?);
    Some(Minutes { value, timed: histogram.values().sum(), from })
}

fn sound(minutes: f64) -> f64 {
    minutes.clamp(LEAST_MINUTES, MAX_MINUTES)
}

/// The sum of a check's places and the jobs it is over. A check done twice
/// counts where it was done first.
pub(super) fn places<'a>(
    symptom: &'a SymptomTally,
    period: &Period,
) -> BTreeMap<&'a str, (i64, i64)> {
    let mut places: BTreeMap<&str, (i64, i64)> = BTreeMap::new();
    for (path, counts) in &symptom.paths {
        let jobs = Group::of([counts]).count(period);
        if jobs == 0 {
            continue;
        }
        let mut seen = BTreeSet::new();
        for (place, check) in (1_i64..).zip(path) {
            if seen.insert(check) {
                let sums = places.entry(check).or_default();
                *sums = (sums.0 + place * jobs, sums.1 + jobs);
            }
        }
    }
    places
}
