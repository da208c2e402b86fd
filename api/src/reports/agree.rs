//! Whether a shop's history, brought up to date job by job, equals one built
//! anew from the record.

use analytics::history::History;

use super::model::{Lists, load, load_changed};
use crate::db::{Answer, Conn, Fault};
use crate::shops::model::Shop;
use crate::shops::write::last_change;

/// Builds the history, reloads every job into it as if each had just been
/// touched, and compares. Answers how many closed jobs there are.
///
/// # Errors
/// Where the database does not answer; the inner error says what differs.
pub fn agrees(conn: &mut Conn, shop: &Shop) -> Answer<Result<usize, String>> {
    let broken = |error: analytics::history::HistoryError| Fault::Unavailable(error.to_string());
    let (lists, facts) = (Lists::load(conn, shop)?, shop.facts(conn)?);
    let change_no = last_change(conn, shop.id)?;
    let rows = load(conn, shop, &lists)?;
    let anew = History::new(facts, rows, change_no).map_err(broken)?;
    let (touched, rows) = load_changed(conn, shop, &lists, 0)?;
    let mut kept = anew.clone();
    kept.apply(&touched, rows, change_no).map_err(broken)?;
    let (one, other) = (told(&kept), told(&anew));
    let differs = one.iter().zip(&other).position(|(one, other)| one != other);
    Ok(match differs.or((one.len() != other.len()).then_some(one.len().min(other.len()))) {
        None => Ok(anew.jobs().symptom.len()),
        Some(at) => Err(format!(
            "brought up to date it has '{}' where built anew it has '{}'",
            one.get(at).map_or("nothing", String::as_str),
            other.get(at).map_or("nothing", String::as_str)
        )),
    })
}

/// Everything in a history that figures are made from, in words: the places of
/// its texts may differ.
fn told(history: &History) -> Vec<String> {
    let text = |code: &u32| history.text(*code).unwrap_or("-");
    let (jobs, checks, parts) = (history.jobs(), history.checks(), history.parts());
    let mut lines = Vec::new();
    for (row, (symptom, cause)) in jobs.symptom.iter().zip(jobs.cause).enumerate() {
        let label = u32::try_from(row).ok().and_then(|row| history.job_label(row));
        let of = |column: &[u32]| column.get(row).map(text).unwrap_or("-").to_owned();
        let words = [jobs.vehicle, jobs.model, jobs.system, jobs.technician].map(of);
        let numbers = (jobs.outcome.get(row), jobs.opened_day.get(row), jobs.closed_day.get(row));
        let odometer = [jobs.odometer_in_km, jobs.odometer_out_km].map(|column| column.get(row));
        let symptom = text(symptom);
        lines.push(format!(
            "{label:?} {symptom} {} {words:?} {numbers:?} {odometer:?}",
            text(cause)
        ));
    }
    let minutes = checks.minutes.iter();
    lines.extend(
        checks
            .check
            .iter()
            .zip(checks.job)
            .zip(minutes)
            .map(|((check, job), minutes)| format!("check of {job}: {} {minutes}", text(check))),
    );
    let returned = parts.returned_day.iter();
    lines.extend(
        parts
            .part
            .iter()
            .zip(parts.job)
            .zip(returned)
            .map(|((part, job), day)| format!("part of {job}: {} {day}", text(part))),
    );
    let labor = history.labor();
    let minutes = labor.minutes.iter();
    lines.extend(
        labor
            .technician
            .iter()
            .zip(labor.job)
            .zip(minutes)
            .map(|((name, job), minutes)| format!("labor of {job}: {} {minutes}", text(name))),
    );
    lines.extend(history.links().iter().map(|link| format!("{link:?}")));
    lines
}
