//! How often the vehicles of a period come back, by one column.

use std::collections::BTreeMap;

use serde::Serialize;

use super::By;
use super::estimate::{RepeatFigures, RepeatStep, Unit, figures, steps, visit_curve};
use super::tally::RepeatTally;
use crate::figure::{Head, Query};
use crate::follow::{Period, day_number, head};
use crate::history::{History, ShopFacts};

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "vehicles",
        "Vehicles with a repaired complaint closed in the period, each followed from the first such \
         hand-over to the as-of.",
    ),
    (
        "repeat_visits",
        "Comeback visits of a vehicle by so many days, on average: mean cumulative function \
         (Nelson). A visit is the order of a confirmed comeback, however many of its jobs came \
         back, for any complaint repaired and handed over since the vehicle's first; a return that \
         was told and not seen counts once, on the day it was told. Robust standard error (Lawless \
         and Nadeau), interval on the logarithm. Absent where fewer than ten vehicles are followed \
         so far, and past 400 days.",
    ),
    (
        "repeat_cost",
        "What those comebacks cost a vehicle by so many days, on average, in minor units: each on \
         the day its job was handed over, as under comeback_cost, and what suppliers paid back on \
         the day they did. Returns that were told and not seen cost nothing here. Robust standard \
         error, normal interval.",
    ),
    (
        "comeback_cost",
        "Clock hours of comebacks at the shop's labor cost, the parts they were given (cost of \
         one by quantity), work on them sent to other businesses, and what a return costs besides that is not \
         on the clock (diagnosis and proof again are), \
         less labor a supplier paid for and what suppliers paid back on them by the as-of.",
    ),
    (
        "by_visits",
        "Vehicles by their visits so far. They are followed for different lengths of time: compare \
         the averages, not these counts.",
    ),
];

/// One group of the report's column.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RepeatGroup {
    /// Absent for vehicles without a value in the column.
    pub group: Option<String>,
    pub figures: RepeatFigures,
}

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RepeatReport {
    pub head: Head,
    pub by: Option<By>,
    pub total: RepeatFigures,
    /// Groups with the most vehicles first.
    pub groups: Vec<RepeatGroup>,
    /// The total's mean visits by day, where they step.
    pub curve: Vec<RepeatStep>,
}

impl RepeatReport {
    /// Leaves out every amount of money: visits stay.
    pub fn withhold_costs(&mut self) {
        let groups = self.groups.iter_mut().map(|group| &mut group.figures);
        for figures in groups.chain([&mut self.total]) {
            figures.cost = None;
            figures.points.iter_mut().for_each(|point| point.cost_minor = None);
        }
    }
}

/// The returns of the vehicles repaired in the query's closing days, by its
/// column; the total alone where it names none.
///
/// # Errors
/// The word that is no column of [`By`].
pub fn repeats(history: &History, query: &Query) -> Result<RepeatReport, String> {
    let by = match &query.by {
        None => None,
        Some(word) => Some(By::parse(word).ok_or_else(|| word.clone())?),
    };
    let tally = RepeatTally::of(history, by);
    Ok(repeats_from(&tally, history.facts(), history.change_no(), query))
}

/// The same from a tally already made; its column stands, not the query's.
#[must_use]
pub fn repeats_from(
    tally: &RepeatTally,
    facts: &ShopFacts,
    change_no: i64,
    query: &Query,
) -> RepeatReport {
    // Jobs closed before links were recorded are in no tally; the selectors
    // leave them out too.
    let linked = facts.links_from.map_or(i32::MIN, day_number);
    let period = Period::new(query, facts).within(linked, i32::MAX);
    let units: Vec<Unit<'_>> =
        tally.vehicles.iter().filter_map(|vehicle| Unit::of(vehicle, &period)).collect();
    let all: Vec<&Unit<'_>> = units.iter().collect();
    let mut by_group: BTreeMap<Option<&str>, Vec<&Unit<'_>>> = BTreeMap::new();
    for unit in units.iter().filter(|_| tally.by.is_some()) {
        by_group.entry(unit.group).or_default().push(unit);
    }
    let mut groups: Vec<RepeatGroup> = tally
        .by
        .into_iter()
        .flat_map(|by| by_group.iter().map(move |group| (by, group)))
        .map(|(by, (group, units))| RepeatGroup {
            group: group.map(str::to_owned),
            figures: figures(units, facts, &period, &[(by.as_str(), group.unwrap_or_default())]),
        })
        .collect();
    groups.sort_by_key(|group| std::cmp::Reverse(group.figures.vehicles));
    RepeatReport {
        head: head("repeats", facts, change_no, query, DEFINITIONS),
        by: tally.by,
        total: figures(&all, facts, &period, &[]),
        groups,
        curve: steps(&visit_curve(&all)),
    }
}
