//! Vehicles with their repaired complaints and what came of them. No as-of: what
//! happened keeps its day.

use std::collections::BTreeSet;

use super::By;
use crate::comeback::in_population;
use crate::follow::{LONGEST_WINDOW, NEVER};
use crate::hashed::HashMap;
use crate::history::{History, NONE};
use crate::labor::{ComebackJob, comeback_costs};
use crate::words::LinkState;

/// The closed later job of a comeback.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Later {
    /// Its place among the vehicle's later jobs: one of two links counts once.
    place: usize,
    closed_day: i32,
    cost: ComebackJob,
}

/// A confirmed comeback of a repair.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Return {
    opened_day: i32,
    /// Its order's place among the vehicle's: two jobs of one order are one visit.
    order: usize,
    /// Absent while the later job is open.
    later: Option<Later>,
}

/// One repaired complaint.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Repair {
    pub closed_day: i32,
    pub group: Option<String>,
    /// Day on which it was told not to have held; [`NEVER`] where it was not.
    told_day: i32,
    /// By day.
    returns: Vec<Return>,
}

/// One vehicle: its repaired complaints in the order of closing.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Vehicle {
    pub repairs: Vec<Repair>,
}

/// All vehicles with a repaired complaint. Those of two shops add up; a vehicle
/// that two shops repaired is one of each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RepeatTally {
    pub(super) by: Option<By>,
    pub(super) vehicles: Vec<Vehicle>,
}

impl RepeatTally {
    /// The jobs of kind complaint with the outcome repaired, closed since the
    /// shop's links are recorded, by vehicle.
    #[must_use]
    pub fn of(history: &History, by: Option<By>) -> Self {
        let vehicles = vehicles(history, by).into_iter().map(|(vehicle, _)| vehicle);
        Self { by, vehicles: vehicles.collect() }
    }

    /// Adds another shop's vehicles, by the same column.
    pub fn add(&mut self, other: &Self) {
        self.vehicles.extend(other.vehicles.iter().cloned());
    }
}

/// What a vehicle went through after one repair, by the as-of.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Course {
    /// Days after the repair's closing on which it came back, ascending.
    pub visits: Vec<i32>,
    /// Days after it on which its comebacks were closed, with what they took.
    pub costs: Vec<(i32, ComebackJob)>,
}

impl Vehicle {
    /// From the repair in a place on. Comebacks of earlier repairs are theirs,
    /// and what happened more than 400 days later is not looked at.
    pub fn course(&self, from: usize, as_of: i32) -> Course {
        let mut course = Course::default();
        let Some(start) = self.repairs.get(from).map(|repair| repair.closed_day) else {
            return course;
        };
        let last = as_of.min(start.saturating_add(LONGEST_WINDOW));
        // Orders count from 1; 0 stands for what was told on a day.
        let (mut visits, mut seen) = (BTreeSet::new(), BTreeSet::new());
        for repair in self.repairs.iter().skip(from) {
            let days = repair.closed_day..=last;
            let mut told = days.contains(&repair.told_day).then_some(repair.told_day);
            for back in repair.returns.iter().filter(|back| days.contains(&back.opened_day)) {
                // It was told of, and then it came: once, when it came.
                told = told.filter(|told| *told > back.opened_day);
                visits.insert((back.opened_day, back.order + 1));
                let later = back.later.as_ref().filter(|later| days.contains(&later.closed_day));
                if let Some(later) = later.filter(|later| seen.insert(later.place)) {
                    course.costs.push((later.closed_day - start, later.cost.clone()));
                }
            }
            visits.extend(told.map(|day| (day, 0)));
        }
        course.visits = visits.into_iter().map(|(day, _)| day - start).collect();
        course
    }

    /// The place of the first repair closed between two days.
    pub fn first(&self, (first, last): (i32, i32)) -> Option<usize> {
        self.repairs.iter().position(|repair| (first..=last).contains(&repair.closed_day))
    }
}

/// The vehicles in the order of their first repair, each with its job rows.
fn vehicles(history: &History, by: Option<By>) -> Vec<(Vehicle, Vec<u32>)> {
    let jobs = history.jobs();
    let group = by.map(|by| by.column(&jobs));
    let mut vehicles: Vec<(Vehicle, Vec<u32>)> = Vec::new();
    let mut places: HashMap<u32, usize> = HashMap::default();
    // Where each repair stands: its vehicle and its place there.
    let mut repairs = vec![None; jobs.closed_day.len()];
    let rows = (0_u32..).zip(jobs.vehicle).zip(in_population(history)).zip(&mut repairs);
    for (((row, &vehicle), _), repair) in rows.filter(|((_, inside), _)| **inside) {
        let at = row as usize;
        let place = *places.entry(vehicle).or_insert(vehicles.len());
        if place == vehicles.len() {
            vehicles.push((Vehicle::default(), Vec::new()));
        }
        let (Some((vehicle, rows)), Some(&closed_day)) =
            (vehicles.get_mut(place), jobs.closed_day.get(at))
        else {
            continue;
        };
        *repair = Some((place, vehicle.repairs.len()));
        let code = group.and_then(|column| column.get(at)).copied().unwrap_or(NONE);
        vehicle.repairs.push(Repair {
            closed_day,
            group: history.text(code).map(str::to_owned),
            told_day: jobs.told_day.get(at).copied().unwrap_or(NEVER),
            returns: Vec::new(),
        });
        rows.push(row);
    }
    add_returns(history, &repairs, &mut vehicles);
    vehicles
}

/// Puts confirmed comebacks to their repairs.
fn add_returns(
    history: &History,
    repairs: &[Option<(usize, usize)>],
    vehicles: &mut [(Vehicle, Vec<u32>)],
) {
    let (returns, closed) = (history.returns(), history.jobs().closed_day);
    let costs = comeback_costs(history);
    let (mut orders, mut laters) = (Places::default(), Places::default());
    let links = history.links().iter().zip(returns.earlier).zip(returns.later);
    // In the order of links: by earlier job, then by day.
    for (((link, &earlier), &row), &opened_day) in links.zip(returns.later_opened_day) {
        let repair = repairs.get(earlier as usize).copied().flatten();
        let (Some((vehicle, at)), LinkState::Confirmed) = (repair, link.state) else {
            continue;
        };
        let order = orders.place(vehicle, link.later_order_no.as_str());
        let cost = costs.get(&row).cloned();
        let later = cost.zip(closed.get(row as usize)).map(|(cost, &closed_day)| {
            let place = laters.place(vehicle, row);
            Later { place, closed_day, cost }
        });
        let slot = vehicles.get_mut(vehicle).and_then(|(vehicle, _)| vehicle.repairs.get_mut(at));
        if let Some(repair) = slot {
            repair.returns.push(Return { opened_day, order, later });
        }
    }
}

/// Numbers what belongs to each vehicle, in the order of first sight.
struct Places<T>(HashMap<usize, Vec<T>>);

impl<T> Default for Places<T> {
    fn default() -> Self {
        Self(HashMap::default())
    }
}

impl<T: PartialEq> Places<T> {
    fn place(&mut self, vehicle: usize, what: T) -> usize {
        let known = self.0.entry(vehicle).or_default();
        known.iter().position(|one| *one == what).unwrap_or_else(|| {
            known.push(what);
            known.len() - 1
        })
    }
}

/// The job row of each vehicle's first repaired complaint closed between two
/// days, with how often the vehicle came back after it by the as-of.
pub(crate) fn first_rows(history: &History, closed: (i32, i32), as_of: i32) -> Vec<(u32, i64)> {
    vehicles(history, None)
        .iter()
        .filter_map(|(vehicle, rows)| {
            let first = vehicle.first(closed)?;
            Some((*rows.get(first)?, vehicle.course(first, as_of).visits.len() as i64))
        })
        .collect()
}
