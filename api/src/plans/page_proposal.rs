//! A proposal of the record beside the plan as it stands.

use super::evidence::{PlanCheckEvidence, PlanEvidence};
use super::job::as_now;
use super::model::PlanVersion;
use super::step::PlanStep;
use crate::domain::percent::percent;
use crate::jobs::view::Words;
use crate::web::words::{Pick, counted};

/// A check and what its place was decided by.
pub struct EvidenceLine {
    pub label: String,
    pub found: String,
    pub done: i64,
    pub chance: String,
    pub minutes: String,
}

/// The proposal as people read it.
pub struct ToldProposal {
    pub id: String,
    pub made: String,
    /// The answer first: what it saves, or that nothing is claimed.
    pub saves: String,
    pub basis: String,
    pub definition: String,
    /// By place, the step as it stands and the one proposed.
    pub both: Vec<(String, String)>,
    /// The order is the one that stands.
    pub same: bool,
    pub lines: Vec<EvidenceLine>,
    /// Checks that the record often has beside the plan.
    pub others: Vec<Pick>,
    /// Query of the jobs behind it.
    pub jobs: String,
}

/// A number of minutes to one decimal.
fn minutes(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// How the proposed order differs from the one that stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Moved {
    Nothing,
    /// The checks that found causes keep their order among themselves.
    OnlyOthers,
    Finders,
}

impl Moved {
    fn of(stands: &[PlanStep], proposed: &[PlanStep], evidence: &PlanEvidence) -> Self {
        let codes = |steps: &[PlanStep]| -> Vec<String> {
            steps.iter().map(|step| step.check.clone()).collect()
        };
        let found = |code: &String| {
            evidence.checks.iter().any(|check| check.check == *code && check.found > 0)
        };
        let (before, after) = (codes(stands), codes(proposed));
        if before == after {
            Self::Nothing
        } else if before.iter().filter(|c| found(c)).eq(after.iter().filter(|c| found(c))) {
            Self::OnlyOthers
        } else {
            Self::Finders
        }
    }
}

/// What is said of an order that stays.
fn stays(evidence: &PlanEvidence) -> String {
    let steps = || evidence.checks.iter().filter(|check| check.in_plan);
    let judged = steps().filter(|check| check.chance.is_some()).count();
    if judged == steps().count() {
        "The order as it stands is the best of its steps by the record.".to_owned()
    } else if judged < 2 {
        "The order stays as it stands: its checks were made too seldom to be judged.".to_owned()
    } else {
        "The order stays as it stands: it is the best by the record of the checks that were made \
         often enough to be judged."
            .to_owned()
    }
}

fn saves(evidence: &PlanEvidence, moved: Moved) -> String {
    if moved == Moved::Nothing {
        return stays(evidence);
    }
    match (evidence.saved, evidence.saved_low, evidence.saved_high) {
        _ if evidence.too_few => format!(
            "Few cases: {} confirmed causes. The order is a beginning; no saving is claimed.",
            evidence.confirmed
        ),
        (Some(saved), Some(low), Some(high)) => format!(
            "Saves about {} min a job ({} to {}).",
            minutes(saved),
            minutes(low),
            minutes(high)
        ),
        (Some(saved), ..) => format!("Saves about {} min a job.", minutes(saved)),
        (None, ..) if moved == Moved::OnlyOthers => {
            "The checks that found causes keep their order among themselves: no saving is claimed."
                .to_owned()
        }
        (None, ..) => "No saving is claimed for this order.".to_owned(),
    }
}

fn basis(evidence: &PlanEvidence, words: &Words) -> String {
    // Two figures beside no claim would be read as one.
    let claimed = evidence.saved.and(evidence.minutes_before.zip(evidence.minutes_after));
    let order = match claimed {
        Some((before, after)) => {
            format!(
                " To the cause: {} min as it stands, {} as proposed.",
                minutes(before),
                minutes(after)
            )
        }
        None => String::new(),
    };
    let otherwise = match evidence.found_otherwise {
        0 => String::new(),
        count => format!(" {count} of them no recorded check found."),
    };
    format!(
        "From {} confirmed causes in {} jobs up to {}.{otherwise}{order}",
        evidence.confirmed,
        evidence.count,
        words.day(evidence.as_of)
    )
}

fn line(check: &PlanCheckEvidence, confirmed: i64, words: &Words) -> EvidenceLine {
    let from = match check.minutes_from.as_deref() {
        Some("plan") => "by the plan",
        Some("symptom") => "measured on these jobs",
        Some("shop") => "measured on other jobs",
        Some("list") => "by the list",
        _ => "not known",
    };
    let made = counted(check.done, "time", "times");
    EvidenceLine {
        label: words.lists.label("check", &check.check),
        found: match check.chance {
            Some(_) => format!("{} of {confirmed}", check.found),
            None => format!("made {made}: not judged"),
        },
        done: check.done,
        chance: check.chance.map_or_else(String::new, percent),
        minutes: match check.minutes {
            Some(value) => format!("{}, {from}", minutes(value)),
            None => from.to_owned(),
        },
    }
}

impl ToldProposal {
    /// `None` where the version has no evidence.
    #[must_use]
    pub fn of(proposed: &PlanVersion, stands: &[PlanStep], words: &Words) -> Option<Self> {
        let evidence = proposed.evidence.as_ref()?;
        let labels = |steps: &[PlanStep]| -> Vec<String> {
            steps.iter().map(|step| words.lists.label("check", &step.check)).collect()
        };
        let (before, after) = (labels(stands), labels(&proposed.steps));
        // The evidence has the codes that count as now.
        let now = |steps: &[PlanStep]| as_now(&words.lists, steps);
        let moved = Moved::of(&now(stands), &now(&proposed.steps), evidence);
        let others = evidence.checks.iter().filter(|check| !check.in_plan);
        Some(Self {
            id: proposed.id.to_string(),
            made: words.moment(proposed.made_at),
            saves: saves(evidence, moved),
            basis: basis(evidence, words),
            definition: evidence.definition.clone(),
            lines: evidence.checks.iter().map(|c| line(c, evidence.confirmed, words)).collect(),
            others: others
                .map(|check| {
                    let label = words.lists.label("check", &check.check);
                    let made = counted(check.done, "time", "times");
                    let told = match check.chance {
                        Some(_) => format!(
                            "{label}: made {made}, found the cause in {} of {}",
                            check.found, evidence.confirmed
                        ),
                        None => format!("{label}: made {made}: not judged"),
                    };
                    Pick::new(&*check.check, told)
                })
                .collect(),
            jobs: evidence.jobs.clone(),
            both: before.into_iter().zip(after).collect(),
            same: moved == Moved::Nothing,
        })
    }
}

/// The proposed steps with some of the checks beside the plan, in the order that
/// the record has for them together. Mandatory ones stay first.
#[must_use]
pub fn with_others(steps: &[PlanStep], evidence: &PlanEvidence, added: &[String]) -> Vec<PlanStep> {
    let beside = |check: &String| {
        let known = evidence.checks.iter().any(|line| !line.in_plan && line.check == *check);
        (known && added.contains(check)).then(|| PlanStep::plain(check.clone()))
    };
    let own = |check: &String| steps.iter().find(|step| step.check == *check).cloned();
    evidence
        .order_with_others
        .iter()
        .filter_map(|check| own(check).or_else(|| beside(check)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn evidence() -> PlanEvidence {
        PlanEvidence {
            as_of: chrono::NaiveDate::default(),
            change_no: 1,
            count: 40,
            confirmed: 30,
            too_few: false,
            found_otherwise: 2,
            minutes_before: Some(36.3),
            minutes_after: Some(33.7),
            saved: Some(2.6),
            saved_low: Some(0.4),
            saved_high: Some(4.8),
            method: "every_order".into(),
            checks: ["a", "b", "x"]
                .into_iter()
                .map(|check| PlanCheckEvidence {
                    check: check.into(),
                    done: 9,
                    found: 3,
                    chance: Some(0.1),
                    minutes: Some(5.0),
                    minutes_from: Some("symptom".into()),
                    in_plan: check != "x",
                })
                .collect(),
            order_with_others: ["b", "x", "a"].map(str::to_owned).to_vec(),
            definition: String::new(),
            jobs: String::new(),
        }
    }

    #[test]
    fn a_saving_is_told_only_where_it_is_claimed() {
        let told = |evidence: &PlanEvidence| saves(evidence, Moved::Finders);
        assert_eq!(told(&evidence()), "Saves about 2.6 min a job (0.4 to 4.8).");
        let few = PlanEvidence { confirmed: 9, too_few: true, ..evidence() };
        assert!(told(&few).starts_with("Few cases: 9 confirmed causes."));
        assert!(saves(&evidence(), Moved::Nothing).starts_with("The order as it stands"));
        let none = PlanEvidence { saved: None, ..evidence() };
        assert_eq!(told(&none), "No saving is claimed for this order.");
        assert!(saves(&none, Moved::OnlyOthers).starts_with("The checks that found causes keep"));
    }

    #[test]
    fn an_order_that_stays_says_by_how_much_of_it() {
        let judged = |which: &[&str]| {
            let mut evidence = evidence();
            for check in &mut evidence.checks {
                check.chance = which.contains(&check.check.as_str()).then_some(0.1);
            }
            stays(&evidence)
        };
        assert!(judged(&["a", "b"]).contains("the best of its steps"));
        assert!(judged(&["a"]).contains("too seldom to be judged"));
    }

    #[test]
    fn only_checks_without_a_cause_move() {
        let steps = |codes: &[&str]| -> Vec<PlanStep> {
            codes.iter().map(|code| PlanStep::plain(*code)).collect()
        };
        let mut evidence = evidence();
        evidence.checks.iter_mut().filter(|c| c.check == "x").for_each(|c| c.found = 0);
        let moved = |to: &[&str]| Moved::of(&steps(&["a", "x", "b"]), &steps(to), &evidence);
        assert_eq!(moved(&["a", "x", "b"]), Moved::Nothing);
        assert_eq!(moved(&["x", "a", "b"]), Moved::OnlyOthers);
        assert_eq!(moved(&["b", "x", "a"]), Moved::Finders);
    }

    #[test]
    fn only_what_the_record_has_and_was_ticked_comes_in() {
        let steps = [PlanStep::plain("b"), PlanStep::plain("a")];
        let codes = |added: &[&str]| -> Vec<String> {
            let added: Vec<String> = added.iter().map(|code| (*code).to_owned()).collect();
            with_others(&steps, &evidence(), &added).into_iter().map(|step| step.check).collect()
        };
        assert_eq!(codes(&["x", "other"]), ["b", "x", "a"]);
        assert_eq!(codes(&[]), ["b", "a"]);
    }
}
