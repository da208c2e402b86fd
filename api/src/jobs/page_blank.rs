//! What the forms of the job's page hold before anybody has typed, and the
//! choices that they offer for one tap.

use analytics::words::{CauseState, Disposition, Finding, Outcome};

use super::labor::LaborEntry;
use super::page_next;
use super::usual::Usual;
use super::view_lines::{ToldCheck, ToldPart};
use super::whole::WholeJob;
use crate::codes::lists::Lists;
use crate::domain::clock::UtcStamp;
use crate::web::form::Fields;
use crate::web::words::{Pick, Shown};

/// Causes that are offered for one tap.
const CAUSES: usize = 6;

/// Ways to confirm a cause that are not the name of a check.
const GENERAL: [&str; 4] = [
    "reading before and after",
    "seen",
    "fault gone with a known good part",
    "a second person agrees",
];

/// Minutes of an entry, until now where it runs.
#[must_use]
pub fn minutes(entry: &LaborEntry, now: UtcStamp) -> i64 {
    entry.ended_at.unwrap_or(now).minutes_since(entry.started_at).max(0)
}

/// The findings of a check that was made.
#[must_use]
pub fn made() -> Vec<Pick> {
    let mut picks = Finding::picks();
    picks.retain(|pick| pick.value != Finding::NotDone.as_str());
    picks
}

/// The causes that the record had for the complaint, with how often: but for
/// the one that is named.
#[must_use]
pub fn causes(usual: &Usual, lists: &Lists, named: Option<&str>) -> Vec<(Pick, i64)> {
    let mut causes: Vec<(Pick, i64)> = Vec::new();
    for (code, count) in &usual.causes {
        let code = lists.now("cause", code);
        match causes.iter_mut().find(|(pick, _)| pick.value == code) {
            Some((_, all)) => *all += count,
            None if lists.offers("cause", &code) && named != Some(code.as_str()) => {
                let label = lists.label("cause", &code);
                causes.push((Pick::new(code, label), *count));
            }
            None => {}
        }
    }
    causes.truncate(CAUSES);
    causes
}

/// How the cause may have been confirmed: by each check that showed something,
/// else in a way that always fits.
#[must_use]
pub fn hows(whole: &WholeJob, told: &[ToldCheck]) -> Vec<String> {
    let abnormal = whole
        .checks
        .iter()
        .zip(told)
        .filter(|(check, _)| check.finding.is_some_and(|word| word.0 == Finding::Abnormal));
    let mut hows: Vec<String> = Vec::new();
    for (_, check) in abnormal {
        let at = check.position.as_ref().map(|at| format!(", {at}")).unwrap_or_default();
        let read = check.reading.as_ref().map(|read| format!(", {read}")).unwrap_or_default();
        let how = format!("{}{at}: {}{read}", check.label, Finding::Abnormal.shown());
        if !hows.contains(&how) {
            hows.push(how);
        }
    }
    hows.extend(GENERAL.map(str::to_owned));
    hows
}

/// The form for closing.
#[must_use]
pub fn close(whole: &WholeJob, parts: &[ToldPart]) -> Fields {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let job = &whole.job;
    let held = |state: CauseState| job.cause_state.is_some_and(|word| word.0 == state);
    let how = if held(CauseState::Suspected) { String::new() } else { text(&job.cause_how) };
    Fields::of(&[
        ("outcome", Outcome::Repaired.as_str().to_owned()),
        ("cause", text(&job.cause)),
        ("cause_how", how),
        ("cause_position", text(&job.cause_position)),
        ("correction", job.correction.clone().unwrap_or_else(|| correction(whole, parts))),
    ])
}

/// What is often done without any part.
pub const CORRECTIONS: [&str; 6] =
    ["adjusted", "cleaned", "tightened", "reconnected", "topped up", "programmed anew"];

/// What was done, as the parts tell it: to be changed where it says too little.
fn correction(whole: &WholeJob, parts: &[ToldPart]) -> String {
    let done: Vec<String> = whole
        .parts
        .iter()
        .zip(parts)
        .filter(|(row, _)| {
            let done = row.part.disposition.0;
            !matches!(done, Disposition::RemovedRefitted | Disposition::TestedLeft)
        })
        .map(|(_, part)| {
            let at = part.position.as_ref().map(|at| format!(" {at}")).unwrap_or_default();
            format!("{}{at} {}", part.name, part.done)
        })
        .collect();
    done.join("; ")
}

/// The form for the plan.
#[must_use]
pub fn plan(whole: &WholeJob) -> Fields {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let job = &whole.job;
    Fields::of(&[
        ("symptom", text(&job.symptom)),
        ("lead_id", job.lead_id.as_ref().map(ToString::to_string).unwrap_or_default()),
        ("bay", text(&job.bay)),
    ])
}

/// The forms for the readings that checks of the job have by their nature, by
/// the check's id.
#[must_use]
pub fn readings(whole: &WholeJob, usual: &Usual) -> Vec<(String, Fields)> {
    let made = whole.checks.iter().filter(|check| {
        check.finding.is_none_or(|word| word.0 != Finding::NotDone) && check.reading.is_none()
    });
    made.filter_map(|check| {
        let [unit, low, high, source] = page_next::read_in(&check.code, usual)?;
        let fields = Fields::of(&[
            ("unit", unit),
            ("low_limit", low),
            ("high_limit", high),
            ("limit_source", source),
        ]);
        Some((check.id.to_string(), fields))
    })
    .collect()
}
