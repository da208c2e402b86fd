//! What skipping a step of a check plan went with.

use std::collections::HashSet;

use serde::Serialize;

use super::estimate::{Group, MinuteFigures, PathFigures};
use super::report::pairs;
use super::tally::{PathTally, SymptomTally};
use crate::figure::Query;
use crate::follow::Period;
use crate::history::{History, PlanFacts};
use crate::select::{engines_named, escaped, models_named};

pub(super) const DEFINITIONS: &[(&str, &str)] = &[(
    "plan_steps",
    "Complaint jobs of a plan's symptom (and model and engine, where it names them: make and model \
     that end with the model's name, capitals aside) with checks in a measured order, whether or \
     not the plan was in force then: those that made a step against those that did not. A \
     comparison of jobs as they came, not a trial: a job on which a check is left out differs in \
     other ways, too. Minutes to the cause: of the jobs whose cause was confirmed. Under ten jobs \
     on either side nothing is to be compared.",
)];

/// One step of a plan, made and skipped.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StepSkips {
    pub check: String,
    pub mandatory: bool,
    pub made: PathFigures,
    pub skipped: PathFigures,
    /// Of the jobs with a confirmed cause.
    pub made_to_cause: MinuteFigures,
    pub skipped_to_cause: MinuteFigures,
    /// Fewer than ten jobs made it, or fewer than ten skipped it.
    pub too_few: bool,
}

/// A plan's steps, in its order.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlanSkips {
    pub symptom: String,
    /// The model and the engine that the plan is for, where it names them.
    pub model: Option<String>,
    pub engine: Option<String>,
    pub steps: Vec<StepSkips>,
}

/// The jobs that a plan names, by symptom.
pub(super) fn jobs_of(
    history: &History,
    model: Option<&str>,
    engine: Option<&str>,
) -> impl Fn(usize) -> bool {
    let jobs = history.jobs();
    let models = model.map(|name| models_named(history, name));
    let engines = engine.map(|name| engines_named(history, name));
    let fits = |column: &[u32], row: usize, named: Option<&HashSet<u32>>| {
        named.is_none_or(|named| column.get(row).is_some_and(|code| named.contains(code)))
    };
    move |row| fits(jobs.model, row, models.as_ref()) && fits(jobs.engine, row, engines.as_ref())
}

/// What selects the jobs that a plan names.
pub(super) fn plan_pairs<'a>(
    symptom: &'a str,
    model: Option<&'a str>,
    engine: Option<&'a str>,
) -> Vec<(&'a str, &'a str)> {
    let named = [("model_named", model), ("engine_named", engine)];
    let named = named.into_iter().filter_map(|(key, name)| Some((key, name?)));
    pairs(symptom, None).into_iter().chain(named).collect()
}

/// The shop's plans with a job in the period.
pub(super) fn plan_skips(history: &History, tally: &PathTally, query: &Query) -> Vec<PlanSkips> {
    let period = Period::new(query, history.facts());
    let mut plans = Vec::new();
    for plan in &history.facts().check_plans {
        let narrow = (plan.model.as_deref(), plan.engine.as_deref());
        let apart = match narrow {
            (None, None) => None,
            (model, engine) => PathTally::symptoms_of(history, jobs_of(history, model, engine))
                .remove(&plan.symptom),
        };
        let whole = || tally.symptoms.get(&plan.symptom).filter(|_| narrow == (None, None));
        if let Some(sums) = apart.as_ref().or_else(whole) {
            plans.extend(skips(plan, sums, &period));
        }
    }
    plans
}

/// `None` where no job falls into the period.
fn skips(plan: &PlanFacts, sums: &SymptomTally, period: &Period) -> Option<PlanSkips> {
    if Group::of(sums.paths.values()).count(period) == 0 {
        return None;
    }
    let step = |(check, mandatory): &(String, bool)| step(plan, (check, *mandatory), sums, period);
    Some(PlanSkips {
        symptom: plan.symptom.clone(),
        model: plan.model.clone(),
        engine: plan.engine.clone(),
        steps: plan.steps.iter().map(step).collect(),
    })
}

fn step(
    plan: &PlanFacts,
    (check, mandatory): (&str, bool),
    sums: &SymptomTally,
    period: &Period,
) -> StepSkips {
    let group = |makes: bool| {
        let paths = sums.paths.iter();
        Group::of(
            paths
                .filter(move |(path, _)| path.iter().any(|done| done == check) == makes)
                .map(|(_, counts)| counts),
        )
    };
    let named = plan_pairs(&plan.symptom, plan.model.as_deref(), plan.engine.as_deref());
    let except = format!("skipped_check={}", escaped(check));
    let made_by: Vec<(&str, &str)> =
        named.iter().copied().chain([("path_starts", ""), ("except", except.as_str())]).collect();
    let skipped_by: Vec<(&str, &str)> =
        named.iter().copied().chain([("skipped_check", check)]).collect();
    let (made, skipped) = (group(true), group(false));
    let (made_figures, skipped_figures) =
        (made.figures(period, &made_by), skipped.figures(period, &skipped_by));
    StepSkips {
        check: check.to_owned(),
        mandatory,
        too_few: made_figures.too_few || skipped_figures.too_few,
        made: made_figures,
        skipped: skipped_figures,
        made_to_cause: made.minutes_to_cause(period),
        skipped_to_cause: skipped.minutes_to_cause(period),
    }
}
