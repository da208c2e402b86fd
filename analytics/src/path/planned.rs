//! A better order of a check plan's own steps, by the record.

mod ordering;

use chrono::NaiveDate;
use serde::Serialize;

use self::ordering::Ordering;
use super::advised::{CheckOrderSaving, OrderMethod};
use super::basis::{Basis, Candidate, MinutesFrom, places};
use super::estimate::Group;
use super::order::Method;
use super::skips::{jobs_of, plan_pairs};
use super::tally::PathTally;
use crate::figure::{Query, TOO_FEW};
use crate::follow::Period;
use crate::history::History;

/// A check beside the plan is named where at least this many jobs made it, and
/// one job in this many.
const OFTEN_JOBS: i64 = 3;
const OFTEN_ONE_IN: i64 = 4;

/// What the minutes saved are and are not.
pub const PLAN_ORDER_DEFINITION: &str = "Expected minutes to the cause in the plan's order as it stood, less those in the proposed one, \
     a job: each check's minutes times the chance that none before it found the cause; a shared \
     opening is paid once, before the first step that needs it. Chances: (causes the check found \
     + 1/2) / (confirmed causes + 1/2 for each check). A check made under ten times is not judged: \
     it keeps its place and counts for nothing in the minutes. The interval holds only the sampling of \
     causes (Dirichlet, normal approximation), with the minutes taken as known. The order was \
     chosen on the same jobs, so that the next ones tend to save less. Not claimed under ten \
     confirmed causes, nor where the checks that found causes keep their order among themselves.";

/// A step as the plan has it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PlanStepAsked {
    pub check: String,
    /// The plan's own minutes; absent: as measured, else as the list says.
    pub minutes: Option<f64>,
    /// It stays before the others, in the plan's order.
    pub mandatory: bool,
    /// Steps that come before it.
    pub after: Vec<String>,
    /// The opening that it shares, and its minutes.
    pub opening: Option<(String, f64)>,
}

/// A plan whose order is looked at.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PlanAsked {
    pub symptom: String,
    /// Only the jobs of this model, of this engine; absent: of all.
    pub model: Option<String>,
    pub engine: Option<String>,
    pub steps: Vec<PlanStepAsked>,
}

/// What a check's place was decided by.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanCheckLine {
    pub check: String,
    pub done: i64,
    pub found: i64,
    /// Between 0 and 1. Absent: made under ten times, so not judged.
    pub chance: Option<f64>,
    pub minutes: Option<f64>,
    /// Absent where the plan says the minutes itself, or none are known.
    pub minutes_from: Option<MinutesFrom>,
    /// A step of the plan; else one that the record often has beside it.
    pub in_plan: bool,
}

/// The proposed order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanOrder {
    pub as_of: NaiveDate,
    pub change_no: i64,
    pub count: i64,
    pub confirmed: i64,
    pub too_few: bool,
    pub found_otherwise: i64,
    /// Every step once.
    pub order: Vec<String>,
    /// The same with the checks beside the plan.
    pub with_others: Vec<String>,
    pub minutes_before: Option<f64>,
    pub minutes_after: Option<f64>,
    pub saved: Option<CheckOrderSaving>,
    pub method: Option<OrderMethod>,
    pub checks: Vec<PlanCheckLine>,
    /// Selects the jobs with a confirmed cause.
    pub jobs: String,
}

/// The order of the plan's own steps that finds the cause in the fewest expected
/// minutes: mandatory ones first and in their order, what comes before a step
/// before it, shared openings paid once. Steps that only trained people may do,
/// whose minutes nobody knows, or whose check was made under ten times, are in no
/// sum and keep their place.
#[must_use]
pub fn plan_order(history: &History, query: &Query, asked: &PlanAsked) -> PlanOrder {
    let facts = history.facts();
    let period = Period::new(query, facts);
    let (model, engine) = (asked.model.as_deref(), asked.engine.as_deref());
    let whole = PathTally::of(history);
    let mut apart = PathTally::symptoms_of(history, jobs_of(history, model, engine));
    let sums = apart.remove(&asked.symptom).unwrap_or_default();
    let steps: Vec<String> = asked.steps.iter().map(|step| step.check.clone()).collect();
    let basis = Basis::of(&whole, &sums, facts, &period, &steps);
    let measured = Group::of(sums.paths.values()).count(&period);
    let jobs_with = places(&sums, &period);
    let often = |known: &Candidate| {
        let jobs = jobs_with.get(known.check.as_str()).map_or(0, |(_, jobs)| *jobs);
        jobs >= OFTEN_JOBS && jobs * OFTEN_ONE_IN >= measured
    };
    let ordering = Ordering::of(asked, &basis);
    let others: Vec<PlanStepAsked> = basis
        .candidates
        .iter()
        .filter(|known| !steps.contains(&known.check) && !known.trained && often(known))
        .map(|known| PlanStepAsked { check: known.check.clone(), ..PlanStepAsked::default() })
        .collect();
    let widened = PlanAsked { steps: [asked.steps.as_slice(), &others].concat(), ..asked.clone() };
    let wide = Ordering::of(&widened, &basis);
    let too_few = basis.confirmed < TOO_FEW;
    let mut select = plan_pairs(&asked.symptom, model, engine);
    select.push(("cause_state", "confirmed"));
    PlanOrder {
        as_of: query.as_of,
        change_no: history.change_no(),
        count: Group::of(sums.all()).count(&period),
        confirmed: basis.confirmed,
        too_few,
        found_otherwise: basis.otherwise,
        order: ordering.names(),
        with_others: wide.names(),
        minutes_before: ordering.minutes_before,
        minutes_after: ordering.plan.as_ref().map(|plan| plan.expected_minutes),
        saved: ordering.saving(&basis).filter(|_| !too_few).map(|(minutes, interval)| {
            CheckOrderSaving { minutes, interval, definition: "saved_minutes" }
        }),
        method: ordering.plan.as_ref().map(|plan| match plan.method {
            Method::Ratio => OrderMethod::RatioRule,
            Method::Exact => OrderMethod::EveryOrder,
            Method::Greedy => OrderMethod::Greedy,
        }),
        checks: wide.lines(&basis, asked.steps.len()),
        jobs: period.selector(&select),
    }
}
