//! How far a job has come in its plan: what was made, what was passed over, and
//! what comes next.

use analytics::words::Finding;

use super::step::PlanStep;

/// A check of the job, by the code that it counts as now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    pub check: String,
    pub finding: Option<Finding>,
    /// Why it was not done.
    pub reason: Option<String>,
}

/// Where a step stands on a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// Made, with what the last one showed.
    Made(Option<Finding>),
    /// Not made, and somebody said why.
    Said(String),
    /// Not made though a later step was, or though the job is about to end and
    /// it is mandatory; nobody said why.
    PassedOver,
    Next,
    Ahead,
}

/// Where each step stands. `ending`: the cause is confirmed or the job has
/// ended, so that no more checks are to be expected.
#[must_use]
pub fn standings(steps: &[PlanStep], made: &[Made], ending: bool) -> Vec<Standing> {
    let done = |step: &PlanStep| {
        let mut rows = made.iter().filter(|row| row.check == step.check);
        rows.rfind(|row| row.finding != Some(Finding::NotDone))
    };
    let reason = |step: &PlanStep| {
        let rows = made.iter().filter(|row| row.check == step.check);
        rows.filter_map(|row| row.reason.clone()).next_back()
    };
    let last = steps.iter().rposition(|step| done(step).is_some());
    let mut next_open = !ending;
    let mut standings = Vec::with_capacity(steps.len());
    for (at, step) in steps.iter().enumerate() {
        standings.push(match (done(step), reason(step)) {
            (Some(row), _) => Standing::Made(row.finding),
            (None, Some(reason)) => Standing::Said(reason),
            (None, None) if last.is_some_and(|last| at < last) => Standing::PassedOver,
            (None, None) if ending && step.mandatory => Standing::PassedOver,
            (None, None) if next_open => {
                next_open = false;
                Standing::Next
            }
            (None, None) => Standing::Ahead,
        });
    }
    standings
}

/// Reasons that a tap gives, with their labels.
pub const REASONS: &[(&str, &str)] = &[
    ("not needed", "Not needed"),
    ("no tool", "No tool"),
    ("no authority", "Not authorized"),
    ("forgot", "Forgot"),
];

#[cfg(test)]
mod tests {
    use super::*;

    fn plan() -> Vec<PlanStep> {
        let must = PlanStep { mandatory: true, ..PlanStep::plain("look") };
        vec![must, PlanStep::plain("load"), PlanStep::plain("drain"), PlanStep::plain("trace")]
    }

    fn made(check: &str, finding: Finding) -> Made {
        Made { check: check.into(), finding: Some(finding), reason: None }
    }

    fn not_done(check: &str, why: &str) -> Made {
        Made { check: check.into(), finding: Some(Finding::NotDone), reason: Some(why.into()) }
    }

    use Standing::{Ahead, Next, PassedOver};

    #[test]
    fn the_first_step_is_next_on_a_new_job() {
        assert_eq!(standings(&plan(), &[], false), [Next, Ahead, Ahead, Ahead]);
    }

    #[test]
    fn a_step_before_one_that_was_made_was_passed_over() {
        let rows = [made("drain", Finding::Normal)];
        let drain = Standing::Made(Some(Finding::Normal));
        assert_eq!(standings(&plan(), &rows, false), [PassedOver, PassedOver, drain, Next]);
        let rows = [made("drain", Finding::Normal), not_done("look", "forgot")];
        let told = standings(&plan(), &rows, false);
        assert_eq!(told.first(), Some(&Standing::Said("forgot".into())));
    }

    #[test]
    fn a_reason_alone_moves_on() {
        let rows = [not_done("look", "no tool")];
        let said = Standing::Said("no tool".into());
        assert_eq!(standings(&plan(), &rows, false), [said, Next, Ahead, Ahead]);
    }

    #[test]
    fn what_was_made_later_all_the_same_was_made() {
        let rows = [not_done("look", "forgot"), made("look", Finding::Abnormal)];
        let told = standings(&plan(), &rows, false);
        assert_eq!(told.first(), Some(&Standing::Made(Some(Finding::Abnormal))));
    }

    #[test]
    fn at_the_end_only_mandatory_steps_are_missed() {
        assert_eq!(standings(&plan(), &[], true), [PassedOver, Ahead, Ahead, Ahead]);
    }

    #[test]
    fn checks_that_are_no_steps_change_nothing() {
        let rows = [made("other", Finding::Abnormal)];
        assert_eq!(standings(&plan(), &rows, false), [Next, Ahead, Ahead, Ahead]);
    }
}
