//! The plans that a shop is offered at first, for the symptoms that public charts
//! cover. Order, wording and minutes of opening are our own; each limit names who
//! says it. They are no rows of a shop until it takes them.

mod brakes;
mod cooling;
mod engine;
mod start;
mod steering;

use super::step::{PlanFinding, PlanLimits, PlanOpening, PlanSensitivity, PlanStep};

/// A plan that is offered.
#[derive(Debug, Clone, Copy)]
pub struct StartingPlan {
    /// A code of the starting list of symptoms.
    pub symptom: &'static str,
    /// What it stands on.
    pub basis: &'static str,
    rows: &'static [Row],
}

/// A step, as the tables write it.
#[derive(Debug, Clone, Copy)]
struct Row {
    check: &'static str,
    /// Where the check's minutes hold the opening, too: those without it.
    minutes: Option<i32>,
    mandatory: bool,
    after: &'static [&'static str],
    opening: Option<(&'static str, i32)>,
    may_miss: bool,
    limits: Option<Limit>,
    caution: Option<&'static str>,
    points: &'static [Point],
}

/// A finding, the cause it points to where there is one, what is done then.
type Point = (&'static str, Option<&'static str>, &'static str);

#[derive(Debug, Clone, Copy)]
struct Limit {
    unit: &'static str,
    low: Option<f64>,
    high: Option<f64>,
    source: &'static str,
    edition: Option<&'static str>,
}

const STEP: Row = Row {
    check: "",
    minutes: None,
    mandatory: false,
    after: &[],
    opening: None,
    may_miss: false,
    limits: None,
    caution: None,
    points: &[],
};

const fn limit(
    unit: &'static str,
    (low, high): (Option<f64>, Option<f64>),
    source: &'static str,
) -> Option<Limit> {
    Some(Limit { unit, low, high, source, edition: None })
}

/// All that are offered, by symptom.
#[must_use]
pub fn all() -> Vec<StartingPlan> {
    let of_systems = [start::PLANS, engine::PLANS, cooling::PLANS, brakes::PLANS, steering::PLANS];
    let mut plans: Vec<StartingPlan> = of_systems.into_iter().flatten().copied().collect();
    plans.sort_by_key(|plan| plan.symptom);
    plans
}

/// The one for a symptom.
#[must_use]
pub fn of(symptom: &str) -> Option<StartingPlan> {
    all().into_iter().find(|plan| plan.symptom == symptom)
}

impl StartingPlan {
    /// Its steps, as a version keeps them.
    #[must_use]
    pub fn steps(&self) -> Vec<PlanStep> {
        self.rows.iter().map(Row::step).collect()
    }
}

impl Row {
    fn step(&self) -> PlanStep {
        PlanStep {
            check: self.check.to_owned(),
            minutes: self.minutes,
            mandatory: self.mandatory,
            after: self.after.iter().map(|code| (*code).to_owned()).collect(),
            opening: self
                .opening
                .map(|(name, minutes)| PlanOpening { name: name.to_owned(), minutes }),
            sensitivity: if self.may_miss {
                PlanSensitivity::MayMiss
            } else {
                PlanSensitivity::Conclusive
            },
            limits: self.limits.map(|limit| PlanLimits {
                unit: limit.unit.to_owned(),
                low: limit.low,
                high: limit.high,
                source: limit.source.to_owned(),
                edition: limit.edition.map(str::to_owned),
            }),
            caution: self.caution.map(str::to_owned),
            points_to: self
                .points
                .iter()
                .map(|(finding, cause, correction)| PlanFinding {
                    finding: (*finding).to_owned(),
                    cause: cause.map(str::to_owned),
                    correction: (!correction.is_empty()).then(|| (*correction).to_owned()),
                })
                .collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use analytics::words::Access;

    use super::super::sound::{Known, faults};
    use super::*;
    use crate::codes::starting::{CAUSES, CHECKS, SYMPTOMS};

    #[test]
    fn every_starting_plan_can_be_followed_in_a_new_shop() {
        let trained = CHECKS.iter().filter(|check| check.access == Access::Trained);
        let known = Known {
            checks: CHECKS.iter().map(|check| check.code.to_owned()).collect(),
            causes: CAUSES.iter().map(|cause| cause.code.to_owned()).collect(),
            trained: trained.map(|check| check.code.to_owned()).collect(),
        };
        for plan in all() {
            assert_eq!(faults(&plan.steps(), &known), [], "{}", plan.symptom);
            assert!(SYMPTOMS.iter().any(|symptom| symptom.code == plan.symptom));
            assert!(plan.basis.len() > 20 && plan.steps().len() >= 4, "{}", plan.symptom);
            let points = plan.steps().iter().map(|step| step.points_to.len()).sum::<usize>();
            assert!(points >= plan.steps().len() / 2, "{}", plan.symptom);
        }
    }

    #[test]
    fn the_charts_symptoms_are_all_there_once() {
        let there: Vec<&str> = all().iter().map(|plan| plan.symptom).collect();
        assert_eq!(
            there,
            [
                "brakes.noise",
                "brakes.pull",
                "brakes.pulsates",
                "charge.battery-flat",
                "cooling.overheats",
                "engine.tick",
                "engine.uses-oil",
                "start.crank-no-start",
                "start.no-crank",
                "steering.vibration",
            ]
        );
    }

    #[test]
    fn what_can_hurt_says_so() {
        // Fuel under pressure, acid and gas, a hot cooling system, brake dust, a
        // vehicle on stands, a turning or running engine, a short circuit, a tool
        // under load.
        let hurting = [
            "brake-strip",
            "compression",
            "cooling-pressure",
            "crank-signal",
            "cylinder-leakage",
            "drain-trace",
            "fuel-pressure",
            "glow-current",
            "gravity-six-cells",
            "intake-valve-look",
            "key-off-drain",
            "lifter-leak-down",
            "visual-under-hood",
        ];
        let cautioned: BTreeSet<String> = all()
            .iter()
            .flat_map(StartingPlan::steps)
            .filter(|step| step.caution.is_some())
            .map(|step| step.check)
            .collect();
        for check in hurting {
            assert!(cautioned.contains(check), "{check}");
        }
        for step in all().iter().flat_map(StartingPlan::steps) {
            let hurts = hurting.contains(&step.check.as_str());
            assert!(!hurts || step.caution.is_some(), "{}", step.check);
        }
    }
}
