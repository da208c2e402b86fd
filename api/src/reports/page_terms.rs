//! What the jobs behind a figure were selected by, as people would say it.

use analytics::history::Reading;
use analytics::select::{Limits, Selector, Term, Treatment, Visits};
use analytics::words::Disposition;

use super::page_table::Standing;
use super::query::JobsReport;
use crate::web::words::{Shown, counted, reading};

/// The terms of a selector, a sentence's piece each.
#[must_use]
pub fn terms(report: &JobsReport, standing: &Standing<'_>) -> Vec<String> {
    let Ok(selector) = Selector::parse(&report.select) else {
        return Vec::new();
    };
    let window = report.head.window_days;
    selector.terms().iter().map(|term| words(term, window, standing)).collect()
}

fn words(term: &Term, window: i32, standing: &Standing<'_>) -> String {
    let inside = |other: &Selector| {
        let terms = other.terms().iter().map(|term| words(term, window, standing));
        terms.collect::<Vec<_>>().join(", ")
    };
    let (key, value) = term.pair();
    match term {
        Term::Also(other) => format!("and also: {}", inside(other)),
        Term::Except(other) => format!("but not: {}", inside(other)),
        Term::OpenedFrom(day) => format!("written up from {}", standing.style.day(*day)),
        Term::OpenedTo(day) => format!("written up to {}", standing.style.day(*day)),
        Term::ClosedFrom(day) => format!("handed over from {}", standing.style.day(*day)),
        Term::ClosedTo(day) => format!("handed over up to {}", standing.style.day(*day)),
        Term::ReturnedFrom(day) => {
            format!("came back first on {} or later", standing.style.day(*day))
        }
        Term::ReturnedTo(day) => format!("came back first by {}", standing.style.day(*day)),
        Term::Systems(systems) => {
            let labels: Vec<String> =
                systems.iter().map(|code| standing.label("", "system", code)).collect();
            format!("systems: {}", labels.join(", "))
        }
        Term::Treatment(Treatment::Replaced) => "a part was replaced".to_owned(),
        Term::Treatment(Treatment::Untouched) => "a part stayed as it was".to_owned(),
        Term::Treatment(Treatment::PutBack) => {
            "a part was cleaned, adjusted or repaired, and put back".to_owned()
        }
        Term::Treatment(Treatment::One(one)) => format!("a part was {}", done(*one)),
        Term::BackWithinKm(_) => format!("came back within {value} km"),
        Term::Visits(Visits::Any) => "came back at least once".to_owned(),
        Term::Visits(Visits::Exactly(count)) => {
            format!("came back {}", counted(*count, "time", "times"))
        }
        Term::Visits(Visits::AtLeast(count)) => format!("came back {count} times or more"),
        Term::LeadsWith(check) => {
            let label = standing.label("", "check", check);
            format!("began with: {label}, free looks aside")
        }
        Term::ModelNamed(name) => format!("model {name}, of whichever make"),
        Term::EngineNamed(name) => format!("engine {name}"),
        Term::TookReading(check) => {
            format!("the reading was taken: {}", standing.label("", "check", check))
        }
        Term::ReadingWithin(limits) => within(limits, standing),
        Term::RuleKept(_) => "said to have followed the rule".to_owned(),
        Term::RuleAnswered(_) => "somebody said whether the rule was followed".to_owned(),
        Term::RuleReasoned(_) => "a reason was given for not following the rule".to_owned(),
        _ => yes_or_no(key, &value, window).unwrap_or_else(|| named(key, &value, standing)),
    }
}

fn within(limits: &Limits, standing: &Standing<'_>) -> String {
    let label = standing.label("", "check", &limits.check);
    let told = |limit: Reading| reading(limit.value(), Some(&limits.unit));
    let low = limits.low.map(|low| format!(" at least {}", told(low)));
    let high = limits.high.map(|high| format!(" at most {}", told(high)));
    let join = if low.is_some() && high.is_some() { " and" } else { "" };
    format!("last reading of {label}:{}{join}{}", low.unwrap_or_default(), high.unwrap_or_default())
}

fn done(disposition: Disposition) -> &'static str {
    match disposition {
        Disposition::RemovedRefitted => "taken off and put on again, untouched",
        other => other.shown(),
    }
}

/// Terms that hold or do not.
fn yes_or_no(key: &str, value: &str, window: i32) -> Option<String> {
    let no = if value == "true" { "" } else { "not " };
    let (did, without) = if value == "true" { ("", "with") } else { ("did not ", "without") };
    let came = if value == "true" { "came" } else { "come" };
    Some(match key {
        "returned" => format!("{did}{came} back within {window} days"),
        "part_returned" => format!("the part {did}{came} back within {window} days"),
        "seen_again" => {
            format!("the vehicle was {no}seen again, or its customer heard of after {window} days")
        }
        "told" => format!("{no}told by the customer not to have held"),
        "failed_proof" => format!("{without} a failed proof before the hand-over"),
        "clocked" => format!("{without} punched time"),
        "second_visit" => format!("the planned second visit was {no}made"),
        "bench_read" => format!("{without} a bench reading"),
        "done" => format!("something was {no}done about the complaint"),
        "first_repair" if value == "true" => "first repairs".to_owned(),
        "first_repair" => "repairs of comebacks".to_owned(),
        _ => return None,
    })
}

/// Terms that name something.
fn named(key: &str, value: &str, standing: &Standing<'_>) -> String {
    let column = if key.starts_with("path") || key.ends_with("_check") {
        "path"
    } else if key == "found_by" {
        "check"
    } else if key == "return_reason" {
        "comeback_reason"
    } else {
        key
    };
    let label = standing.label("", column, &value.replace('>', " > ")).replace('_', " ");
    let (is, nothing) = match key {
        "kind" => ("kind of job", "no kind of job"),
        "outcome" => ("ended as", "no outcome"),
        "symptom" => ("complaint", "no symptom recorded"),
        "cause" => ("cause", "no cause recorded"),
        "cause_state" => ("the cause is", "no word on how sure the cause is"),
        "curable" => ("cleaning cures the cause", "not recorded whether cleaning cures the cause"),
        "technician" => ("answers for the job", "nobody answers for the job"),
        "answers" => ("answers for the first repair", "nobody answers for the first repair"),
        "worked" => ("worked on it", "nobody worked on it"),
        "credited" => ("its hours count to", "its hours count to nobody"),
        "part" => ("with the part", "no part named"),
        "position" => ("the part sits at", "no position of the part"),
        "supplier" => ("the part came from", "no supplier of the part"),
        "lot" => ("the part is of lot", "no lot of the part"),
        "role" => ("the part was held as", "not recorded what the part was held as"),
        "bench_unit" => ("bench reading in", "bench reading without a unit"),
        "reading_from" => ("bench reading of at least", "no bench reading"),
        "reading_to" => ("bench reading of at most", "no bench reading"),
        "hand_over_line" => ("read before the hand-over", "nothing read before the hand-over"),
        "hand_over_unit" => ("read at the hand-over in", "read at the hand-over without a unit"),
        "hand_over_from" => ("read at the hand-over: at least", "nothing read"),
        "hand_over_to" => ("read at the hand-over: at most", "nothing read"),
        "check" => ("check made", "no check made"),
        "finding" => ("a check found", "no finding"),
        "activity" => ("time was punched for", "time was punched for nothing named"),
        "worked_as" => ("somebody worked as", "nobody worked as anything"),
        "payer" => ("paid by", "no payer"),
        "path" => ("exactly these checks", "no checks in order"),
        "path_starts" => ("these checks first", "no checks in order"),
        "first_check" => ("first check", "no first check"),
        "later_check" => ("checked, but not first", "no later check"),
        "skipped_check" => ("never checked", "no check skipped"),
        "order" => ("order of checks", "no order of checks"),
        "found_by" => ("cause found by", "cause found by no recorded check"),
        "return_reason" => ("came back because", "came back, no reason named"),
        "distance" => ("distance driven", "no distance driven"),
        other => return other_term(other, &label),
    };
    if value.is_empty() { nothing.to_owned() } else { format!("{is}: {label}") }
}

fn other_term(key: &str, label: &str) -> String {
    let key = key.replace('_', " ");
    if label.is_empty() { format!("no {key}") } else { format!("{key}: {label}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_holds_and_what_does_not() {
        let said = |key, value| yes_or_no(key, value, 60);
        assert_eq!(said("returned", "true").as_deref(), Some("came back within 60 days"));
        assert_eq!(said("returned", "false").as_deref(), Some("did not come back within 60 days"));
        assert_eq!(said("clocked", "false").as_deref(), Some("without punched time"));
        assert_eq!(said("first_repair", "true").as_deref(), Some("first repairs"));
        assert_eq!(said("symptom", "engine.tick"), None);
    }
}
