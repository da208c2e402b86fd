//! What is left to check, what comes next, and why: from the shop's own record,
//! and honest where that is thin.

use analytics::path::{CheckOrderLine, MinutesFrom, OrderedCheck, Uncounted};

use super::usual::Usual;
use crate::codes::lists::Lists;
use crate::codes::starting::{CHECKS, FREE_LOOKS};
use crate::plans::job::JobPlan;
use crate::plans::page_job;
use crate::plans::step::PlanStep;
use crate::plans::walk::Standing;

/// Checks shown at once; the others lie behind "more".
const AT_ONCE: usize = 4;

/// A check that is offered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offered {
    pub code: String,
    pub label: String,
    pub why: String,
}

/// What is left.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Ahead {
    pub next: Option<Offered>,
    pub left: Vec<Offered>,
    pub more: Vec<Offered>,
    /// What the order rests on.
    pub basis: String,
    /// The record has an order of its own to look at.
    pub recorded: bool,
}

/// The checks that are left of a complaint: those of the plan it follows, then
/// what the record has beside it. `order` is the record's line of its symptom,
/// `done` the codes made on this job.
#[must_use]
pub fn ahead(
    (plan, order): (Option<&JobPlan>, Option<&CheckOrderLine>),
    usual: &Usual,
    lists: &Lists,
    done: &[String],
) -> Ahead {
    let order = order.filter(|line| !line.checks.is_empty());
    let (offered, basis) = match order {
        Some(line) => (of_record(line, lists), basis_of(line)),
        None if !usual.checks.is_empty() => (
            of_habit(usual, lists),
            "Up to yesterday no closed job of this complaint is on record: these checks were made \
             on it since, the most frequent first."
                .to_owned(),
        ),
        None => (
            of_list(lists),
            "Nobody has recorded a check for this complaint yet. These are the free looks of the \
             starting list, in its order: the record says nothing of them."
                .to_owned(),
        ),
    };
    let (offered, basis) = match plan {
        None => (offered, basis),
        Some(plan) => (planned(plan, order, lists, offered), plan_basis(plan)),
    };
    let done: Vec<String> = done.iter().map(|code| lists.now("check", code)).collect();
    let mut left = offered.into_iter().filter(|check| !done.contains(&check.code));
    Ahead {
        next: left.next(),
        left: left.by_ref().take(AT_ONCE).collect(),
        more: left.collect(),
        basis,
        recorded: order.is_some(),
    }
}

/// The plan's steps in its order, those that were passed over last; then what is
/// offered without it.
fn planned(
    plan: &JobPlan,
    order: Option<&CheckOrderLine>,
    lists: &Lists,
    others: Vec<Offered>,
) -> Vec<Offered> {
    let mut steps: Vec<(usize, &(PlanStep, Standing))> = plan.steps.iter().enumerate().collect();
    steps.sort_by_key(|(_, (_, standing))| *standing == Standing::PassedOver);
    let mut all: Vec<Offered> = steps
        .into_iter()
        .map(|(at, (step, _))| {
            offered(lists, &step.check, planned_why((at, plan.steps.len()), step, order, lists))
        })
        .collect();
    let beside = |other: &Offered| plan.steps.iter().all(|(step, _)| step.check != other.code);
    all.extend(others.into_iter().filter(beside));
    all
}

fn planned_why(
    (at, of): (usize, usize),
    step: &PlanStep,
    order: Option<&CheckOrderLine>,
    lists: &Lists,
) -> String {
    let place = format!("Step {} of {of}", at + 1);
    if lists.is_for_trained(&step.check) {
        return format!("{place}. Trained people only, by its own procedure.");
    }
    let measured = order.and_then(|line| {
        let check = line.checks.iter().find(|check| check.check == step.check)?;
        check.minutes
    });
    let minutes = step.minutes.map(f64::from).or(measured);
    let minutes = minutes.map(|minutes| format!(", about {minutes:.0} min")).unwrap_or_default();
    let limits =
        step.limits.as_ref().map(|limits| format!(" Limits: {}.", page_job::limits(limits)));
    let caution = step.caution.as_ref().map(|caution| format!(" {caution}"));
    format!("{place}{minutes}.{}{}", limits.unwrap_or_default(), caution.unwrap_or_default())
}

fn plan_basis(plan: &JobPlan) -> String {
    let row = &plan.followed.plan;
    format!(
        "By the shop's check plan, version {}, {}; then what the record has beside it.",
        plan.followed.version.number,
        page_job::whom(row.model.as_deref(), row.engine.as_deref())
    )
}

fn offered(lists: &Lists, code: &str, why: String) -> Offered {
    let code = lists.now("check", code);
    Offered { label: lists.label("check", &code), code, why }
}

fn of_record(line: &CheckOrderLine, lists: &Lists) -> Vec<Offered> {
    // What has no place in the order comes last, the most often made first.
    let mut checks: Vec<&OrderedCheck> = line.checks.iter().collect();
    checks.sort_by_key(|check| (check.place.is_none(), check.place, std::cmp::Reverse(check.done)));
    checks.into_iter().map(|check| offered(lists, &check.check, why(check, line))).collect()
}

fn why(check: &OrderedCheck, line: &CheckOrderLine) -> String {
    if check.uncounted == Some(Uncounted::TrainedPeopleOnly) {
        return "Trained people only, by its own procedure.".to_owned();
    }
    let found = match (check.found.returns, line.confirmed) {
        (_, 0) => format!("Made {} so far; no cause is confirmed yet", times(check.done)),
        (0, all) => format!("Found none of {all} confirmed causes"),
        (found, all) => format!("Found the cause in {found} of {all}"),
    };
    let minutes = match (check.minutes, check.minutes_from) {
        (Some(minutes), Some(MinutesFrom::List)) => {
            format!(", about {minutes:.0} min by the list")
        }
        (Some(minutes), _) => format!(", about {minutes:.0} min"),
        (None, _) => ", its minutes are not known".to_owned(),
    };
    let look = if check.first { "; a free look, so it comes first" } else { "" };
    format!("{found}{minutes}{look}.")
}

fn times(count: i64) -> String {
    if count == 1 { "once".to_owned() } else { format!("{count} times") }
}

fn basis_of(line: &CheckOrderLine) -> String {
    let jobs = if line.count == 1 { "1 job".to_owned() } else { format!("{} jobs", line.count) };
    match line.confirmed {
        0 => format!(
            "{jobs} of this complaint, none with a confirmed cause: the order is that of short \
             checks first, and no finding."
        ),
        few if line.too_few => format!(
            "Few cases: {few} confirmed causes in {jobs} of this complaint. The order is a \
             beginning, no finding."
        ),
        causes => format!(
            "The order that finds the cause in the fewest minutes, by {causes} confirmed causes \
             in {jobs} of this complaint. What must come off stands before what lies under it."
        ),
    }
}

fn of_habit(usual: &Usual, lists: &Lists) -> Vec<Offered> {
    let made = |count: i64| format!("Made {} for this complaint.", times(count));
    let checks = usual.checks.iter();
    checks.map(|(code, count)| offered(lists, code, made(*count))).collect()
}

fn of_list(lists: &Lists) -> Vec<Offered> {
    let minutes = |code: &str| CHECKS.iter().find(|check| check.code == code).map(|c| c.minutes);
    let live = |code: &&&str| lists.offers("check", code);
    FREE_LOOKS
        .iter()
        .filter(live)
        .filter_map(|code| {
            let why = format!("About {} min by the list.", minutes(code)?);
            Some(offered(lists, code, why))
        })
        .collect()
}

/// What a check of the starting list is read in, where it has a reading by its
/// nature; an empty unit where shops differ.
const READ_IN: &[(&str, &str)] = &[
    ("terminals-resting-voltage", "V"),
    ("gravity-six-cells", "1"),
    ("charging-voltage", "V"),
    ("voltage-drop-cranking", "V"),
    ("key-off-drain", "mA"),
    ("starter-control", "V"),
    ("fuel-pressure", ""),
    ("compression", ""),
    ("cylinder-leakage", "%"),
    ("vacuum-gauge", ""),
    ("oil-pressure", ""),
    ("lifter-leak-down", "s"),
    ("cooling-pressure", ""),
    ("rotor-runout", ""),
    ("glow-current", "A"),
];

/// The unit, low limit, high limit and their source, as a form's texts, that a
/// check's reading begins with; `None` where it has no reading by its nature
/// and none was taken for the complaint.
#[must_use]
pub fn read_in(code: &str, usual: &Usual) -> Option<[String; 4]> {
    let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    if let Some(last) = usual.readings.get(code) {
        return Some([
            last.unit.clone().unwrap_or_default(),
            number(last.low_limit),
            number(last.high_limit),
            last.limit_source.clone().unwrap_or_default(),
        ]);
    }
    let (_, unit) = READ_IN.iter().find(|(known, _)| *known == code)?;
    Some([(*unit).to_owned(), String::new(), String::new(), String::new()])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_read_by_its_nature_is_on_the_starting_list() {
        for (code, _) in READ_IN {
            assert!(CHECKS.iter().any(|check| check.code == *code), "{code}");
        }
    }

    #[test]
    fn a_complaint_without_a_record_says_so() {
        let lists = Lists::default();
        let usual = Usual {
            checks: vec![("road-test".to_owned(), 1), ("compression".to_owned(), 1)],
            ..Usual::default()
        };
        let left = ahead((None, None), &usual, &lists, &["road-test".to_owned()]);
        let next = left.next.as_ref().map(|check| (check.code.as_str(), check.why.as_str()));
        assert_eq!(next, Some(("compression", "Made once for this complaint.")));
        assert!(!left.recorded && left.basis.starts_with("Up to yesterday"));
        assert!(ahead((None, None), &Usual::default(), &lists, &[]).basis.starts_with("Nobody"));
    }
}
