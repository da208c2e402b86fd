//! A proposal of the record beside the plan as it stands.

use super::evidence::{PlanCheckEvidence, PlanEvidence};
use super::model::PlanVersion;
use super::step::PlanStep;
use crate::domain::percent::percent;
use crate::jobs::view::Words;
use crate::web::words::Pick;

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

fn saves(evidence: &PlanEvidence, same: bool) -> String {
    if same {
        return "The order as it stands is the best of its steps by the record.".to_owned();
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
        (None, ..) => {
            "Only checks that found no cause change places: no saving is claimed.".to_owned()
        }
    }
}

fn basis(evidence: &PlanEvidence, words: &Words) -> String {
    let order = match (evidence.minutes_before, evidence.minutes_after) {
        (Some(before), Some(after)) => {
            format!(
                " To the cause: {} min as it stands, {} as proposed.",
                minutes(before),
                minutes(after)
            )
        }
        _ => String::new(),
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
    EvidenceLine {
        label: words.lists.label("check", &check.check),
        found: format!("{} of {confirmed}", check.found),
        done: check.done,
        chance: percent(check.chance),
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
        let same = before == after;
        let others = evidence.checks.iter().filter(|check| !check.in_plan);
        Some(Self {
            id: proposed.id.to_string(),
            made: words.moment(proposed.made_at),
            saves: saves(evidence, same),
            basis: basis(evidence, words),
            definition: evidence.definition.clone(),
            lines: evidence.checks.iter().map(|c| line(c, evidence.confirmed, words)).collect(),
            others: others
                .map(|check| {
                    let label = words.lists.label("check", &check.check);
                    let told = format!(
                        "{label}: made {} times, found the cause in {} of {}",
                        check.done, check.found, evidence.confirmed
                    );
                    Pick::new(&*check.check, told)
                })
                .collect(),
            jobs: evidence.jobs.clone(),
            both: before.into_iter().zip(after).collect(),
            same,
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
                    chance: 0.1,
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
        assert_eq!(saves(&evidence(), false), "Saves about 2.6 min a job (0.4 to 4.8).");
        let few = PlanEvidence { confirmed: 9, too_few: true, ..evidence() };
        assert!(saves(&few, false).starts_with("Few cases: 9 confirmed causes."));
        assert!(saves(&evidence(), true).starts_with("The order as it stands"));
        let none = PlanEvidence { saved: None, ..evidence() };
        assert!(saves(&none, false).contains("no saving is claimed"));
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
