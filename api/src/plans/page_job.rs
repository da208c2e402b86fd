//! The plan as the job's page shows it: every step, what became of it, and a tap
//! that says why one was skipped.

use super::job::JobPlan;
use super::step::{PlanFinding, PlanLimits, PlanSensitivity, PlanStep};
use super::walk::{REASONS, Standing};
use crate::codes::lists::Lists;
use crate::codes::starting::CHECKS;
use crate::web::words::{Pick, Shown, counted, reading};

/// A finding, what it points to, what is done then.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToldPoint {
    pub finding: String,
    pub cause: Option<String>,
    pub correction: Option<String>,
}

/// A step as people read it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToldStep {
    pub code: String,
    pub label: String,
    pub mandatory: bool,
    /// Trained people only: nothing of how it is done is told.
    pub trained: bool,
    pub minutes: Option<i32>,
    /// Labels of what has to come before.
    pub after: Vec<String>,
    /// `Valve cover off, 40 min`.
    pub opening: Option<String>,
    pub may_miss: bool,
    /// `13 V to 15.5 V`.
    pub limits: Option<String>,
    pub source: Option<String>,
    pub caution: Option<String>,
    pub points: Vec<ToldPoint>,
}

/// A step of a job's plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WalkedStep {
    pub step: ToldStep,
    pub word: String,
    /// Nobody has said why it was skipped.
    pub asks: bool,
    pub next: bool,
    pub done: bool,
}

/// The plan of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToldPlan {
    /// Of the plan's page, below the shop's.
    pub id: String,
    pub number: i32,
    /// `for every vehicle`.
    pub whom: String,
    /// `2 of 7 steps made`.
    pub made: String,
    pub steps: Vec<WalkedStep>,
    /// Steps that were skipped without a word.
    pub unsaid: usize,
    pub reasons: Vec<Pick>,
}

/// Which vehicles a plan is for.
#[must_use]
pub fn whom(model: Option<&str>, engine: Option<&str>) -> String {
    match (model, engine) {
        (None, None) => "for every vehicle".to_owned(),
        (Some(model), None) => format!("for every {model}"),
        (None, Some(engine)) => format!("for every vehicle with the engine {engine}"),
        (Some(model), Some(engine)) => format!("for every {model} with the engine {engine}"),
    }
}

/// `at least 12.4 V`, `13 V to 15.5 V`.
#[must_use]
pub fn limits(limits: &PlanLimits) -> String {
    let told = |value: f64| reading(value, Some(&limits.unit));
    match (limits.low, limits.high) {
        (Some(low), Some(high)) => format!("{} to {}", told(low), told(high)),
        (Some(low), None) => format!("at least {}", told(low)),
        (None, Some(high)) => format!("at most {}", told(high)),
        (None, None) => String::new(),
    }
}

/// Where limits are from.
#[must_use]
pub fn source(limits: &PlanLimits) -> String {
    match &limits.edition {
        Some(edition) => format!("{}, {edition}", limits.source),
        None => limits.source.clone(),
    }
}

impl ToldStep {
    /// A step as people read it.
    #[must_use]
    pub fn of(step: &PlanStep, lists: &Lists) -> Self {
        let trained = lists.is_for_trained(&step.check);
        let shown = step.limits.as_ref().filter(|_| !trained);
        Self {
            code: step.check.clone(),
            label: lists.label("check", &step.check),
            mandatory: step.mandatory,
            trained,
            minutes: step.minutes,
            after: step.after.iter().map(|code| lists.label("check", code)).collect(),
            opening: step
                .opening
                .as_ref()
                .map(|opening| format!("{}, {} min", opening.name, opening.minutes)),
            may_miss: step.sensitivity == PlanSensitivity::MayMiss,
            limits: shown.map(limits),
            source: shown.map(source),
            caution: step.caution.clone(),
            points: if trained {
                Vec::new()
            } else {
                step.points_to.iter().map(|point| point_of(point, lists)).collect()
            },
        }
    }
}

impl ToldStep {
    /// A step that is offered: a check that the shop does not have yet is called
    /// as the starting list calls it.
    #[must_use]
    pub fn of_offer(step: &PlanStep, lists: &Lists) -> Self {
        let told = Self::of(step, lists);
        let label = CHECKS.iter().find(|check| check.code == told.code && told.label == told.code);
        Self { label: label.map_or(told.label, |check| check.label.to_owned()), ..told }
    }
}

fn point_of(point: &PlanFinding, lists: &Lists) -> ToldPoint {
    let cause = point.cause.as_deref().map(|cause| lists.now("cause", cause));
    ToldPoint {
        finding: point.finding.clone(),
        cause: cause.map(|cause| lists.label("cause", &cause)),
        correction: point.correction.clone(),
    }
}

impl ToldPlan {
    /// The plan as people read it.
    #[must_use]
    pub fn of(plan: &JobPlan, lists: &Lists) -> Self {
        let row = &plan.followed.plan;
        let made = plan.steps.iter().filter(|(_, standing)| matches!(standing, Standing::Made(_)));
        Self {
            id: row.id.to_string(),
            number: plan.followed.version.number,
            whom: whom(row.model.as_deref(), row.engine.as_deref()),
            made: format!(
                "{} of {} made",
                made.count(),
                counted(i64::try_from(plan.steps.len()).unwrap_or(i64::MAX), "step", "steps")
            ),
            unsaid: plan.steps.iter().filter(|(_, at)| *at == Standing::PassedOver).count(),
            steps: plan.steps.iter().map(|(step, at)| walked(step, at, lists)).collect(),
            reasons: REASONS.iter().map(|(value, label)| Pick::new(*value, *label)).collect(),
        }
    }
}

fn walked(step: &PlanStep, standing: &Standing, lists: &Lists) -> WalkedStep {
    let word = match standing {
        Standing::Made(Some(finding)) => format!("made: {}", finding.shown()),
        Standing::Made(None) => "made".to_owned(),
        Standing::Said(reason) => format!("skipped: {reason}"),
        Standing::PassedOver => "skipped".to_owned(),
        Standing::Next => "next".to_owned(),
        Standing::Ahead => "not made".to_owned(),
    };
    WalkedStep {
        step: ToldStep::of(step, lists),
        word,
        asks: *standing == Standing::PassedOver,
        next: *standing == Standing::Next,
        done: matches!(standing, Standing::Made(_)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_said_with_their_unit() {
        let of = |low, high| {
            limits(&PlanLimits {
                unit: "V".into(),
                low,
                high,
                source: "common practice".into(),
                edition: None,
            })
        };
        assert_eq!(of(Some(13.0), Some(15.5)), "13 V to 15.5 V");
        assert_eq!(of(Some(12.4), None), "at least 12.4 V");
        assert_eq!(of(None, Some(0.4)), "at most 0.4 V");
    }

    #[test]
    fn whom_a_plan_is_for() {
        assert_eq!(whom(None, None), "for every vehicle");
        assert_eq!(whom(Some("Corvane"), Some("2.4")), "for every Corvane with the engine 2.4");
    }
}
