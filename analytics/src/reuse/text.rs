//! The advice in words.

use super::advice::{Advice, Side};
use super::choice::{Basis, HeldRole};
use super::verdict::{DecidedBy, SURE, Undecided, UndecidedWhy, Verdict};
use crate::figure::TOO_FEW;

/// What must be read with every comparison of cleaned and replaced parts.
pub(super) const NOTE: &str = "Technicians choose what to clean, and clean what looks good: \
    this is a comparison, not a trial. It compares within one part and one role, and never \
    says that a part will fail.";

/// Where no share of returns decides. Common practice, no source.
pub const CAUTION: &str = "Brakes, steering, restraints and high-voltage parts: the \
    vehicle maker's procedure decides, never this figure.";

/// The answer, its evidence, its basis. Money stands apart: not everybody who
/// reads the answer may see it.
pub(super) fn sentence(advice: &Advice, window_days: i32) -> String {
    let sentences = [
        Some(format!("{}.", headline(advice))),
        Some(at_the_counter(advice, window_days)),
        estimates(advice),
        incurable(advice),
        Some(basis(advice.basis).to_owned()),
        left_alone(advice, window_days),
    ];
    sentences.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// Whether the verdict rests on the cause, not on the record of returns.
fn not_curable(advice: &Advice) -> bool {
    advice.decided_by.contains(&DecidedBy::NotCurable)
}

/// The third choice for a part that was only in the way, with its counts.
fn left_alone(advice: &Advice, window_days: i32) -> Option<String> {
    let untouched = &advice.untouched;
    let counts = format!(
        "{} of {} left alone came back within {window_days} days",
        untouched.returns, untouched.count
    );
    match (advice.role, advice.untouched_no_worse) {
        (HeldRole::Bystander, Some(true)) => Some(format!(
            "Leaving it alone is a third choice: {counts}, no more often than cleaned."
        )),
        (HeldRole::Bystander, Some(false)) => Some(format!("{counts}, more often than cleaned.")),
        (HeldRole::Bystander, None) if untouched.count > 0 => {
            Some(format!("{counts}: too few to compare with cleaned."))
        }
        _ => None,
    }
}

/// The answer in a few words.
#[must_use]
pub fn headline(advice: &Advice) -> String {
    let untried = advice.clean.cases == 0;
    match (advice.verdict, advice.undecided) {
        (Verdict::Replace, _) if not_curable(advice) => {
            "Replace, whatever the price: cleaning does not cure this cause".to_owned()
        }
        (Verdict::Replace, _) => "Replace rather than clean".to_owned(),
        (Verdict::CleanAndReuse, _) if untried => {
            "Clean and put back where the vehicle maker allows it, else replace; no cases of our \
             own"
            .to_owned()
        }
        (Verdict::CleanAndReuse, _) => "Clean and put back".to_owned(),
        (Verdict::Undecided, None) => "Undecided".to_owned(),
        (Verdict::Undecided, Some(undecided)) => open(advice, undecided),
    }
}

/// Why there is no answer. Where none was ever cleaned nobody is asked to try.
fn open(advice: &Advice, undecided: Undecided) -> String {
    match (undecided.why, undecided.cases) {
        (UndecidedWhy::ProposalsWaiting, Some(n)) => {
            format!("Undecided: {n} proposed returns wait for a decision that could change it")
        }
        (UndecidedWhy::CostsMissing, _) if advice.clean.cases > 0 => {
            format!("Undecided: {} not known yet", missing(advice))
        }
        (why, _) if advice.clean.cases == 0 => {
            let missing = match why {
                UndecidedWhy::CostsMissing => format!(" ({} not known yet)", missing(advice)),
                _ => String::new(),
            };
            format!(
                "No cases of our own: follow the vehicle maker; replace unless the maker allows \
                 cleaning{missing}"
            )
        }
        (UndecidedWhy::CasesNeeded, Some(n)) if n >= TOO_FEW => format!(
            "Undecided: about {n} more cleaned would settle it, if they come back at the same rate"
        ),
        (UndecidedWhy::CasesNeeded, _) => {
            "Undecided so far: the cases that come in anyway will tell".to_owned()
        }
        _ => at_the_limit(advice),
    }
}

/// What the two choices are level in. Says nothing of further cases: at the
/// rates believed now they would leave it level.
fn at_the_limit(advice: &Advice) -> String {
    let open = |p: f64| p > 1.0 - SURE && p < SURE;
    let level = [
        open(advice.probability_over_ceiling).then(|| {
            format!(
                "cleaned ones come back about as often as the shop's limit of {} allows",
                percent(advice.ceiling)
            )
        }),
        advice
            .together
            .is_some_and(|ledger| open(ledger.probability_replace_cheaper))
            .then(|| "the cost is about the same either way".to_owned()),
    ];
    let level: Vec<String> = level.into_iter().flatten().collect();
    format!("Too close to call: {}", level.join(", and "))
}

/// What the money question lacks, as people say it.
fn missing(advice: &Advice) -> String {
    let told = advice.missing.iter().map(|name| match *name {
        "access_minutes" => "the minutes to get at the part",
        "part_cost" => "the part's cost",
        other => other,
    });
    told.collect::<Vec<_>>().join(" and ")
}

/// What was done and came back, as it can be told at the counter.
#[must_use]
pub fn at_the_counter(advice: &Advice, window_days: i32) -> String {
    let held = match advice.role {
        HeldRole::Suspect => "as the suspect",
        HeldRole::Bystander => "that were only in the way",
    };
    let (clean, replace) = (&advice.clean, &advice.replace);
    let back = |returns: i64| format!("{returns} came back within {window_days} days");
    let any = if replace.all_roles { " for any reason" } else { "" };
    let cleaned = match clean.cases {
        0 => format!("We have cleaned none of these {held}."),
        cases => format!("We cleaned {cases} of these {held}; {}.", back(clean.returns)),
    };
    let replaced = match (replace.cases, clean.cases) {
        (0, _) => "We have replaced none.".to_owned(),
        (cases, 0) => format!("Of {cases} replaced{any} {}.", back(replace.returns)),
        (cases, _) => format!("Of {cases} replaced{any} {} did.", replace.returns),
    };
    format!("{cleaned} {replaced}")
}

/// What is believed of either choice. Nothing of cleaned ones where cleaning
/// cannot cure and none was tried.
fn estimates(advice: &Advice) -> Option<String> {
    let told = |side: &Side, done: &str| {
        format!(
            "{} of {done} ({} to {})",
            percent(side.return_share),
            percent(side.interval.low),
            percent(side.interval.high)
        )
    };
    let replaced = told(&advice.replace, "replaced ones");
    if not_curable(advice) && advice.clean.cases == 0 {
        return Some(format!("Best estimate: {replaced} come back."));
    }
    Some(format!(
        "Best estimate: {} and {replaced} come back.",
        told(&advice.clean, "cleaned ones")
    ))
}

/// Causes that cleaning could not cure, where they do not decide by themselves.
fn incurable(advice: &Advice) -> Option<String> {
    let open = advice.verdict != Verdict::Replace && advice.incurable_causes > 0;
    open.then(|| {
        format!(
            "Where the part is worn or broken, replace it: cleaning could not cure {} of {} \
             confirmed causes.",
            advice.incurable_causes, advice.confirmed_causes
        )
    })
}

const fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Assumption => "From the starting assumption and the shop's other parts.",
        Basis::MostlyAssumption => {
            "Fewer than ten cleaned of our own: this rests mostly on the starting assumption."
        }
        Basis::Record => "From the shop's record.",
    }
}

/// Two figures are as many as such shares are sure of.
fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if percent == 0.0 || percent >= 9.95 {
        format!("{percent:.0}%")
    } else {
        format!("{percent:.1}%")
    }
}
