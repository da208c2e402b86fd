//! The advice in words.

use super::advice::{Advice, Side};
use super::choice::{Basis, HeldRole};
use super::verdict::{DecidedBy, UndecidedWhy, Verdict};

/// What must be read with every comparison of cleaned and replaced parts.
pub(super) const NOTE: &str = "Technicians choose what to clean, and clean what looks good: \
    this is a comparison, not a trial. It compares within one part and one role, and never \
    says that a part will fail.";

/// The answer, its evidence, its basis.
pub(super) fn sentence(advice: &Advice, window_days: i32) -> String {
    let held = match advice.role {
        HeldRole::Suspect => "this part was the suspect",
        HeldRole::Bystander => "this part was only in the way",
    };
    format!(
        "{}: {held}; {}, {}. {}{}{}",
        headline(advice),
        counts(&advice.clean, "cleaned", window_days),
        counts(&advice.replace, "replaced", window_days),
        basis(advice.basis),
        left_alone(advice, window_days),
        money(advice),
    )
}

/// The third choice for a part that was only in the way, with its counts.
fn left_alone(advice: &Advice, window_days: i32) -> String {
    let untouched = &advice.untouched;
    let counts = format!(
        "{} of {} left alone came back within {window_days} days",
        untouched.returns, untouched.count
    );
    match (advice.role, advice.untouched_no_worse) {
        (HeldRole::Bystander, Some(true)) => {
            format!(" Leaving it alone is a third choice: {counts}, no more often than cleaned.")
        }
        (HeldRole::Bystander, Some(false)) => format!(" {counts}, more often than cleaned."),
        (HeldRole::Bystander, None) if untouched.count > 0 => {
            format!(" {counts}: too few to compare with cleaned.")
        }
        _ => String::new(),
    }
}

fn headline(advice: &Advice) -> String {
    match (advice.verdict, advice.undecided) {
        (Verdict::Replace, _) if advice.decided_by.contains(&DecidedBy::NotCurable) => {
            "Replace, whatever the price: cleaning does not cure this cause".to_owned()
        }
        (Verdict::Replace, _) => "Replace rather than clean".to_owned(),
        (Verdict::CleanAndReuse, _) => "Clean and put back".to_owned(),
        (Verdict::Undecided, None) => "Undecided".to_owned(),
        (Verdict::Undecided, Some(undecided)) => match (undecided.why, undecided.cases) {
            (UndecidedWhy::CasesNeeded, Some(n)) => {
                format!("Undecided: about {n} more cleaned, going as before, would settle it")
            }
            (UndecidedWhy::ProposalsWaiting, Some(n)) => {
                format!("Undecided: {n} proposed returns wait for a decision that could change it")
            }
            (UndecidedWhy::CostsMissing, _) => {
                let missing: Vec<&str> = advice.missing.iter().map(|name| unknown(name)).collect();
                format!("Undecided: {} not known yet", missing.join(" and "))
            }
            _ => "Undecided: at the limit, more cases would not settle it".to_owned(),
        },
    }
}

/// What the money question lacks, as people say it.
fn unknown(name: &str) -> &str {
    match name {
        "access_minutes" => "the minutes to get at the part",
        "part_cost" => "the part's cost",
        other => other,
    }
}

fn counts(side: &Side, done: &str, window_days: i32) -> String {
    if side.cases == 0 {
        return format!("none {done} yet, {} assumed to come back", percent(side.return_share));
    }
    let whole = if side.all_roles { " in any role" } else { "" };
    format!(
        "{} of {} {done}{whole} came back within {window_days} days ({} believed, {} to {})",
        side.returns,
        side.cases,
        percent(side.return_share),
        percent(side.interval.low),
        percent(side.interval.high),
    )
}

const fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Assumption => "From the starting assumption and the shop's other parts.",
        Basis::MostlyAssumption => "Not enough cases yet: mostly the starting assumption.",
        Basis::Record => "From the shop's record.",
    }
}

/// Says so where the purse and the verdict disagree.
fn money(advice: &Advice) -> &'static str {
    let Some(ledger) = advice.together else {
        return "";
    };
    let cleaning_cheaper = ledger.clean_minor < ledger.replace_minor;
    match (advice.verdict, cleaning_cheaper) {
        (Verdict::Replace, true) => " Money alone would clean.",
        (Verdict::CleanAndReuse, false) => " Money alone would replace.",
        _ => "",
    }
}

fn percent(share: f64) -> String {
    format!("{:.1} %", share * 100.0)
}
