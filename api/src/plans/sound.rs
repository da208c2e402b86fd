//! Whether steps make a plan that can be followed.

use std::collections::{BTreeMap, BTreeSet};

use super::step::{PlanFinding, PlanLimits, PlanOpening, PlanStep};
use crate::domain::refusal::FieldFault;
use crate::domain::text;

/// Steps of a plan at most: a longer list is read by nobody.
pub const MOST_STEPS: usize = 30;
/// Findings of a step at most.
const MOST_FINDINGS: usize = 12;
const MOST_MINUTES: i32 = 10_000;

/// The codes that a plan may name.
#[derive(Debug, Clone, Default)]
pub struct Known {
    pub checks: BTreeSet<String>,
    pub causes: BTreeSet<String>,
    /// Checks for trained people only.
    pub trained: BTreeSet<String>,
}

/// The faults of steps, and where in the list they stand.
struct Faults(Vec<FieldFault>);

impl Faults {
    fn at(&mut self, step: usize, field: &str, code: &'static str, detail: impl Into<String>) {
        self.0.push(FieldFault::new(&format!("steps/{step}/{field}"), code, detail));
    }

    fn text(&mut self, step: usize, field: &str, text: &str, most: usize) {
        self.0.extend(text::required(&format!("steps/{step}/{field}"), text, most).err());
    }

    fn minutes(&mut self, step: usize, field: &str, minutes: i32) {
        if !(0..=MOST_MINUTES).contains(&minutes) {
            let detail = format!("write minutes between 0 and {MOST_MINUTES}");
            self.at(step, field, "range", detail);
        }
    }
}

/// What is wrong with the steps; nothing where they can be followed: every code
/// known, none twice, what has to come before a step before it, mandatory ones
/// before the others, a shared opening of one length.
#[must_use]
pub fn faults(steps: &[PlanStep], known: &Known) -> Vec<FieldFault> {
    let mut faults = Faults(Vec::new());
    if steps.is_empty() {
        return vec![FieldFault::new("steps", "required", "choose at least one check")];
    }
    if steps.len() > MOST_STEPS {
        let detail = format!("a plan has at most {MOST_STEPS} steps");
        return vec![FieldFault::new("steps", "length", detail)];
    }
    let mut openings: BTreeMap<&str, i32> = BTreeMap::new();
    let mut optional = false;
    for (at, step) in steps.iter().enumerate() {
        let before = steps.get(..at).unwrap_or_default();
        check(&mut faults, at, step, before, known);
        waits(&mut faults, at, step, (before, steps));
        if step.mandatory && optional {
            let detail = "mandatory steps stand before the others: move it up";
            faults.at(at, "mandatory", "order", detail);
        }
        optional |= !step.mandatory;
        step.minutes.into_iter().for_each(|minutes| faults.minutes(at, "minutes", minutes));
        if let Some(opening) = &step.opening {
            opened(&mut faults, at, opening, &mut openings);
        }
        if let Some(limits) = &step.limits {
            limited(&mut faults, at, limits);
        }
        step.caution.iter().for_each(|text| faults.text(at, "caution", text, 400));
        pointing(&mut faults, at, &step.points_to, known);
    }
    faults.0
}

fn check(faults: &mut Faults, at: usize, step: &PlanStep, before: &[PlanStep], known: &Known) {
    let code = &step.check;
    if code.is_empty() {
        faults.at(at, "check", "required", "choose a check");
    } else if !known.checks.contains(code) {
        let detail = format!("'{code}' is not in the shop's list of checks, or not offered");
        faults.at(at, "check", "unknown_code", detail);
    } else if before.iter().any(|other| other.check == *code) {
        faults.at(at, "check", "twice", "the plan has this check already");
    }
    let coached = step.limits.is_some() || !step.points_to.is_empty() || step.opening.is_some();
    if known.trained.contains(code) && coached {
        let detail = "trained people do this check by its own procedure: keep no limits, openings \
                      or findings here";
        faults.at(at, "check", "trained_only", detail);
    }
}

/// What comes before a step stands before it; a mandatory step waits only for
/// mandatory ones, since it comes first.
fn waits(
    faults: &mut Faults,
    at: usize,
    step: &PlanStep,
    (before, all): (&[PlanStep], &[PlanStep]),
) {
    for code in &step.after {
        if *code == step.check {
            faults.at(at, "after", "order", "a check does not come after itself");
        } else if !all.iter().any(|other| other.check == *code) {
            let detail = format!("'{code}' is not a step of this plan");
            faults.at(at, "after", "unknown_code", detail);
        } else if !before.iter().any(|other| other.check == *code) {
            let detail = format!("'{code}' has to stand above it");
            faults.at(at, "after", "order", detail);
        }
    }
}

fn opened<'a>(
    faults: &mut Faults,
    at: usize,
    opening: &'a PlanOpening,
    openings: &mut BTreeMap<&'a str, i32>,
) {
    faults.text(at, "opening", &opening.name, 80);
    faults.minutes(at, "opening", opening.minutes);
    let minutes = *openings.entry(&opening.name).or_insert(opening.minutes);
    if minutes != opening.minutes {
        let detail = format!("a step above says {minutes} min for the same opening");
        faults.at(at, "opening", "differs", detail);
    }
}

fn limited(faults: &mut Faults, at: usize, limits: &PlanLimits) {
    faults.text(at, "limits", &limits.unit, 40);
    let numbers = [limits.low, limits.high];
    if numbers.iter().all(Option::is_none) {
        faults.at(at, "limits", "required", "write a lower limit, an upper one, or both");
    }
    if numbers.into_iter().flatten().any(|number| !number.is_finite()) {
        faults.at(at, "limits", "number", "write numbers");
    }
    if let (Some(low), Some(high)) = (limits.low, limits.high)
        && low > high
    {
        faults.at(at, "limits", "range", "the upper limit lies below the lower one");
    }
    if limits.source.is_empty() {
        let detail = "say where the limits are from: the vehicle maker, a document, or 'common \
                      practice'";
        faults.at(at, "limits", "required", detail);
    } else {
        faults.text(at, "limits", &limits.source, 300);
    }
    limits.edition.iter().for_each(|text| faults.text(at, "limits", text, 80));
}

fn pointing(faults: &mut Faults, at: usize, points: &[PlanFinding], known: &Known) {
    if points.len() > MOST_FINDINGS {
        let detail = format!("a step has at most {MOST_FINDINGS} findings");
        faults.at(at, "points_to", "length", detail);
    }
    for (line, point) in points.iter().enumerate() {
        let field = |name: &str| format!("points_to/{line}/{name}");
        faults.text(at, &field("finding"), &point.finding, 200);
        point.correction.iter().for_each(|text| faults.text(at, &field("correction"), text, 300));
        if let Some(cause) = point.cause.as_ref().filter(|cause| !known.causes.contains(*cause)) {
            let detail = format!("'{cause}' is not in the shop's list of causes, or not offered");
            faults.at(at, &field("cause"), "unknown_code", detail);
        }
    }
}

/// Mandatory checks that a proposal leaves out, or no longer holds for
/// mandatory.
#[must_use]
pub fn dropped(before: &[PlanStep], after: &[PlanStep]) -> Vec<String> {
    let kept = |code: &str| after.iter().any(|step| step.mandatory && step.check == code);
    let mandatory = before.iter().filter(|step| step.mandatory && !kept(&step.check));
    mandatory.map(|step| step.check.clone()).collect()
}

#[cfg(test)]
#[expect(clippy::indexing_slicing, clippy::unwrap_used, reason = "tests")]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn known() -> Known {
        let codes = |codes: &[&str]| codes.iter().map(|code| (*code).to_owned()).collect();
        Known {
            checks: ('a'..='z').map(String::from).chain(["hv".to_owned()]).collect(),
            causes: codes(&["worn"]),
            trained: codes(&["hv"]),
        }
    }

    fn told(steps: &[PlanStep]) -> Vec<(String, &'static str)> {
        faults(steps, &known()).into_iter().map(|fault| (fault.pointer, fault.code)).collect()
    }

    fn one(change: impl FnOnce(&mut PlanStep)) -> Vec<(String, &'static str)> {
        let mut step = PlanStep::plain("a");
        change(&mut step);
        told(&[step])
    }

    #[test]
    fn a_plan_has_steps_and_not_too_many() {
        assert_eq!(told(&[]), [("/steps".to_owned(), "required")]);
        let many = vec![PlanStep::plain("a"); MOST_STEPS + 1];
        assert_eq!(told(&many), [("/steps".to_owned(), "length")]);
        assert_eq!(told(&[PlanStep::plain("a")]), []);
    }

    #[test]
    fn every_field_is_looked_at() {
        let at = |field: &str| format!("/steps/0/{field}");
        assert_eq!(one(|s| s.check = "none".into()), [(at("check"), "unknown_code")]);
        assert_eq!(one(|s| s.check.clear()), [(at("check"), "required")]);
        assert_eq!(one(|s| s.minutes = Some(-1)), [(at("minutes"), "range")]);
        assert_eq!(one(|s| s.after = vec!["a".into()]), [(at("after"), "order")]);
        assert_eq!(one(|s| s.after = vec!["z".into()]), [(at("after"), "unknown_code")]);
        assert_eq!(one(|s| s.caution = Some("x".repeat(401))), [(at("caution"), "too_long")]);
        let limits = PlanLimits {
            unit: "V".into(),
            low: Some(13.0),
            high: Some(15.5),
            source: "common practice".into(),
            edition: None,
        };
        assert_eq!(one(|s| s.limits = Some(limits.clone())), []);
        let wrong = PlanLimits { high: Some(12.0), source: String::new(), ..limits.clone() };
        let both = [(at("limits"), "range"), (at("limits"), "required")];
        assert_eq!(one(|s| s.limits = Some(wrong)), both);
        let none = PlanLimits { low: None, high: None, ..limits.clone() };
        assert_eq!(one(|s| s.limits = Some(none)), [(at("limits"), "required")]);
        let point = |cause: &str| PlanFinding {
            finding: "low".into(),
            cause: Some(cause.into()),
            correction: None,
        };
        assert_eq!(one(|s| s.points_to = vec![point("worn")]), []);
        let cause = at("points_to/0/cause");
        assert_eq!(one(|s| s.points_to = vec![point("gone")]), [(cause, "unknown_code")]);
        // High voltage is recorded, never coached.
        let trained = |limits| {
            one(|s| {
                s.check = "hv".into();
                s.limits = limits;
            })
        };
        assert_eq!(trained(Some(limits)), [(at("check"), "trained_only")]);
        assert_eq!(trained(None), []);
    }

    #[test]
    fn one_opening_takes_one_time() {
        let open = |check: &str, minutes| PlanStep {
            opening: Some(PlanOpening { name: "cover off".into(), minutes }),
            ..PlanStep::plain(check)
        };
        assert_eq!(told(&[open("a", 40), open("b", 40)]), []);
        let differs = [("/steps/1/opening".to_owned(), "differs")];
        assert_eq!(told(&[open("a", 40), open("b", 30)]), differs);
    }

    #[test]
    fn a_proposal_keeps_what_is_mandatory() {
        let must = PlanStep { mandatory: true, ..PlanStep::plain("a") };
        let free = PlanStep { mandatory: false, ..must.clone() };
        let plan = [must.clone(), PlanStep::plain("b")];
        assert_eq!(dropped(&plan, std::slice::from_ref(&must)), Vec::<String>::new());
        assert_eq!(dropped(&plan, &[PlanStep::plain("b")]), ["a"]);
        assert_eq!(dropped(&plan, &[free]), ["a"]);
    }

    /// Steps with waits upward and mandatory ones first: sound as they stand.
    fn sound() -> impl Strategy<Value = Vec<PlanStep>> {
        let step = (any::<bool>(), prop::collection::vec(0_usize..30, 0..3));
        prop::collection::vec(step, 1..12).prop_map(|mut raw| {
            raw.sort_by_key(|(mandatory, _)| !*mandatory);
            let code = |at: usize| char::from(b'a' + u8::try_from(at).unwrap()).to_string();
            let step = |(at, (mandatory, after)): (usize, (bool, Vec<usize>))| PlanStep {
                mandatory,
                after: after.into_iter().filter(|_| at > 0).map(|n| code(n % at.max(1))).collect(),
                ..PlanStep::plain(code(at))
            };
            raw.into_iter().enumerate().map(step).collect()
        })
    }

    /// The rules once more, as plain as they can be said.
    fn can_be_followed(steps: &[PlanStep]) -> bool {
        steps.iter().enumerate().all(|(at, step)| {
            let done: Vec<&str> = steps[..at].iter().map(|one| one.check.as_str()).collect();
            step.after.iter().all(|code| done.contains(&code.as_str()))
                && (!step.mandatory || steps[..at].iter().all(|one| one.mandatory))
                && !done.contains(&step.check.as_str())
        })
    }

    proptest! {
        #[test]
        fn any_order_is_taken_exactly_where_it_can_be_followed(
            steps in sound(),
            keys in prop::collection::vec(any::<u32>(), 12),
        ) {
            prop_assert_eq!(told(&steps), vec![]);
            let mut keyed: Vec<(u32, PlanStep)> = keys.into_iter().zip(steps).collect();
            keyed.sort_by_key(|(key, _)| *key);
            let moved: Vec<PlanStep> = keyed.into_iter().map(|(_, step)| step).collect();
            prop_assert_eq!(told(&moved).is_empty(), can_be_followed(&moved));
        }

        #[test]
        fn a_check_twice_is_refused(steps in sound(), pick in any::<prop::sample::Index>()) {
            let mut twice = steps.clone();
            twice.push(PlanStep { mandatory: false, ..steps[pick.index(steps.len())].clone() });
            prop_assert!(told(&twice).iter().any(|(_, code)| *code == "twice"));
        }

        #[test]
        fn mandatory_ones_are_missed(steps in sound()) {
            let optional: Vec<PlanStep> =
                steps.iter().filter(|step| !step.mandatory).cloned().collect();
            let mandatory = steps.iter().filter(|step| step.mandatory).count();
            prop_assert_eq!(dropped(&steps, &optional).len(), mandatory);
            prop_assert!(dropped(&steps, &steps).is_empty());
        }
    }
}
