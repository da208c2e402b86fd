//! Vehicles' courses to mean cumulative counts and costs.

use serde::Serialize;

use super::tally::{Course, Vehicle};
use crate::figure::{Interval, TOO_FEW};
use crate::follow::{LEVEL, LONGEST_WINDOW, Period};
use crate::history::ShopFacts;
use crate::labor::{ComebackCost, cost_of};
use crate::stats::recurrence::{Estimate, Event, History, MeanCurve, Scale};

/// Days at which the means are told.
const DAYS: [i32; 6] = [30, 60, 90, 180, 365, LONGEST_WINDOW];
/// Vehicles with so many visits or more stand on one line.
const MANY: i64 = 3;

/// A mean of a vehicle.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct VehicleMean {
    /// Vehicles still followed on that day.
    pub count: i64,
    /// Absent where fewer than ten are.
    pub value: Option<f64>,
    /// Robust: it holds whether or not a vehicle's visits hang together.
    pub standard_error: Option<f64>,
    pub interval: Option<Interval>,
    pub too_few: bool,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
    /// Selects the first repairs of the vehicles still followed.
    pub jobs: String,
}

/// What vehicles had had by one day.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RepeatPoint {
    pub days: i32,
    /// Comeback visits.
    pub visits: VehicleMean,
    /// What the comebacks cost, in minor units; absent where it is withheld.
    pub cost_minor: Option<VehicleMean>,
}

/// Vehicles by how often they came back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct VisitCount {
    pub visits: i64,
    /// So many or more.
    pub or_more: bool,
    pub vehicles: i64,
    /// Selects the first repair of each.
    pub jobs: String,
}

/// The returns of a group's vehicles.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RepeatFigures {
    /// Vehicles with a repaired complaint closed in the period.
    pub vehicles: i64,
    /// Comeback visits so far.
    pub visits: i64,
    /// Vehicles by their visits so far: none, one, two, three or more.
    pub by_visits: Vec<VisitCount>,
    pub points: Vec<RepeatPoint>,
    /// What the comebacks closed so far cost; absent where it is withheld.
    pub cost: Option<ComebackCost>,
    /// Selects the first repair of each vehicle.
    pub jobs: String,
}

/// Mean visits right after a day on which a vehicle came back.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RepeatStep {
    pub days: i32,
    pub mean: f64,
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// Vehicles followed on that day.
    pub at_risk: i64,
}

/// One vehicle of a group.
pub(super) struct Unit<'a> {
    pub group: Option<&'a str>,
    /// Days from its first repair to the as-of.
    end: i32,
    course: Course,
}

impl<'a> Unit<'a> {
    /// `None` for a vehicle without a repair closed in the period.
    pub fn of(vehicle: &'a Vehicle, period: &Period) -> Option<Self> {
        let first = vehicle.first((period.first, period.last))?;
        let repair = vehicle.repairs.get(first)?;
        Some(Self {
            group: repair.group.as_deref(),
            end: period.as_of.saturating_sub(repair.closed_day),
            course: vehicle.course(first, period.as_of),
        })
    }

    fn visits(&self) -> Vec<Event> {
        self.course.visits.iter().map(|&time| Event { time, amount: 1 }).collect()
    }

    /// What each comeback cost, on the day it was closed, and what suppliers
    /// paid back on it, on the day they did.
    fn costs(&self, facts: &ShopFacts, start: i32) -> Vec<Event> {
        let mut events = Vec::new();
        for (time, job) in &self.course.costs {
            let amount = cost_of(&job.sums, 0, facts).total_minor.unwrap_or_default();
            events.push(Event { time: *time, amount });
            events.extend(job.pay_backs.iter().map(|(paid, amount)| Event {
                time: paid.saturating_sub(start).max(*time),
                amount: amount.saturating_neg(),
            }));
        }
        events
    }
}

/// The figures of a group's vehicles; `pairs` say what makes the group.
pub(super) fn figures(
    units: &[&Unit<'_>],
    facts: &ShopFacts,
    period: &Period,
    pairs: &[(&str, &str)],
) -> RepeatFigures {
    let visits: Vec<_> = units.iter().map(|unit| (unit.end, unit.visits())).collect();
    let costs = units
        .iter()
        .map(|unit| (unit.end, unit.costs(facts, period.as_of.saturating_sub(unit.end))));
    let costs: Vec<_> = costs.collect();
    let (visit_curve, cost_curve) = (mean_curve(&visits), mean_curve(&costs));
    let point = |days: i32| {
        let jobs = selector(&followed_since(period, days), pairs, "any");
        let mean = |curve, scale, definition| mean_at(curve, days, scale, definition, jobs.clone());
        RepeatPoint {
            days,
            visits: mean(&visit_curve, (Scale::Log, "log"), "repeat_visits"),
            cost_minor: Some(mean(&cost_curve, (Scale::Plain, "normal"), "repeat_cost")),
        }
    };
    RepeatFigures {
        vehicles: units.len() as i64,
        visits: units.iter().map(|unit| unit.course.visits.len() as i64).sum(),
        by_visits: (0..=MANY).map(|visits| visit_count(units, visits, period, pairs)).collect(),
        points: DAYS.map(point).to_vec(),
        cost: Some(cost(units, facts, period.as_of)),
        jobs: selector(period, pairs, "any"),
    }
}

/// The closing days from which the as-of lies so many days off.
fn followed_since(period: &Period, days: i32) -> Period {
    period.within(i32::MIN, period.as_of.saturating_sub(days))
}

fn selector(period: &Period, pairs: &[(&str, &str)], visits: &str) -> String {
    period.selector(&[pairs, &[("visits", visits)]].concat())
}

/// Units by their end, with their events.
pub(super) fn mean_curve(units: &[(i32, Vec<Event>)]) -> MeanCurve {
    MeanCurve::new(units.iter().map(|(end, events)| History { end: *end, events, units: 1 }))
}

/// The curve of a group's visits.
pub(super) fn visit_curve(units: &[&Unit<'_>]) -> MeanCurve {
    let visits: Vec<_> = units.iter().map(|unit| (unit.end, unit.visits())).collect();
    mean_curve(&visits)
}

fn mean_at(
    curve: &MeanCurve,
    days: i32,
    (scale, method): (Scale, &'static str),
    definition: &'static str,
    jobs: String,
) -> VehicleMean {
    let count = curve.at_risk(days);
    let known = (count >= TOO_FEW).then(|| curve.at(days));
    let spread = known.filter(|estimate| estimate.mean != 0.0);
    let interval = spread.and_then(|estimate| estimate.interval(scale, LEVEL));
    VehicleMean {
        count,
        value: known.map(|estimate| estimate.mean),
        standard_error: spread.and_then(|estimate| estimate.standard_error()),
        interval: interval.map(|(low, high)| Interval { low, high, level: LEVEL, method }),
        too_few: count < TOO_FEW,
        definition,
        jobs,
    }
}

fn visit_count(
    units: &[&Unit<'_>],
    visits: i64,
    period: &Period,
    pairs: &[(&str, &str)],
) -> VisitCount {
    let or_more = visits == MANY;
    let held = units.iter().filter(|unit| (unit.course.visits.len() as i64).min(MANY) == visits);
    let word = if or_more { format!("{visits}_or_more") } else { visits.to_string() };
    VisitCount {
        visits,
        or_more,
        vehicles: held.count() as i64,
        jobs: selector(period, pairs, &word),
    }
}

/// What the comebacks of all vehicles cost, less what was paid back by the as-of.
fn cost(units: &[&Unit<'_>], facts: &ShopFacts, as_of: i32) -> ComebackCost {
    let (mut sums, mut paid_back) = (crate::labor::ComebackSums::default(), 0_i64);
    for (_, job) in units.iter().flat_map(|unit| &unit.course.costs) {
        sums += job.sums;
        paid_back = paid_back.saturating_add(job.paid_back_by(as_of));
    }
    cost_of(&sums, paid_back, facts)
}

/// The steps of the mean visits, as long as ten vehicles are followed.
pub(super) fn steps(curve: &MeanCurve) -> Vec<RepeatStep> {
    let told = |time: i32, at: Estimate, at_risk| {
        let interval = at.interval(Scale::Log, LEVEL);
        RepeatStep {
            days: time,
            mean: at.mean,
            low: interval.map(|(low, _)| low),
            high: interval.map(|(_, high)| high),
            at_risk,
        }
    };
    curve
        .steps()
        .iter()
        .filter(|step| step.at_risk >= TOO_FEW)
        .map(|step| told(step.time, curve.at(step.time), step.at_risk))
        .collect()
}
