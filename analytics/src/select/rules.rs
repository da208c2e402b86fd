//! Which job rows fit what shop rules ask for: readings inside limits, and what
//! was said of a rule on the job.

use super::limits::Limits;
use super::matching::code_of;
use super::term::Term;
use crate::history::{History, NO_WORD, NONE, Reading};
use crate::words::Finding;

/// The rows that a term of this file fits; `None` for other terms.
pub(super) fn fitting(history: &History, term: &Term) -> Option<Vec<bool>> {
    Some(match term {
        Term::TookReading(check) => took(history, check),
        Term::ReadingWithin(limits) => within(history, limits),
        Term::RuleKept(rule) => said(history, rule, |kept, _| kept == 1),
        Term::RuleAnswered(rule) => said(history, rule, |kept, _| kept != NO_WORD),
        Term::RuleReasoned(rule) => said(history, rule, |_, reasoned| reasoned == 1),
        _ => return None,
    })
}

fn rows<T: Clone>(history: &History, value: T) -> Vec<T> {
    vec![value; history.jobs().closed_day.len()]
}

/// Jobs on which the check was made, or the reading of that name taken.
fn took(history: &History, check: &str) -> Vec<bool> {
    let wanted = code_of(history, Some(check));
    let (checks, readings) = (history.checks(), history.readings());
    let made = checks.job.iter().zip(checks.check.iter().zip(checks.finding));
    let made = made
        .filter(|(_, (code, finding))| **code == wanted && **finding != Finding::NotDone.code())
        .map(|(job, _)| *job);
    let read = readings.job.iter().zip(readings.line);
    let read = read.filter(|(_, line)| **line == wanted).map(|(job, _)| *job);
    let mut fits = rows(history, false);
    for job in made.chain(read) {
        if let Some(fit) = fits.get_mut(job as usize) {
            *fit = true;
        }
    }
    fits
}

/// Jobs whose last reading of the check in that unit lies inside the limits.
/// Readings taken before the vehicle left are later than any check; where only
/// places were read (cells, wheels), all of them have to lie inside.
fn within(history: &History, limits: &Limits) -> Vec<bool> {
    let (check, unit) =
        (code_of(history, Some(&limits.check)), code_of(history, Some(&limits.unit)));
    let checks = history.checks();
    let mut last = rows(history, None);
    let read = checks.job.iter().zip(checks.check).zip(checks.reading.iter().zip(checks.unit));
    for ((job, code), (reading, in_unit)) in read {
        let Some(reading) = Reading::new(*reading) else { continue };
        if *code == check
            && *in_unit == unit
            && let Some(slot) = last.get_mut(*job as usize)
        {
            // Checks stand in their sequence: a later one takes the place.
            *slot = Some(limits.hold(reading));
        }
    }
    let (whole, places) = before_leaving(history, limits, (check, unit));
    let both = whole.into_iter().zip(places).zip(last);
    both.map(|((whole, places), last)| whole.or(places).or(last) == Some(true)).collect()
}

/// Whether readings taken before the vehicle left lie inside: of the whole, and of
/// all its places (cells, wheels).
fn before_leaving(
    history: &History,
    limits: &Limits,
    (check, unit): (u32, u32),
) -> (Vec<Option<bool>>, Vec<Option<bool>>) {
    let readings = history.readings();
    let (mut whole, mut places) = (rows(history, None), rows(history, None));
    let names = readings.line.iter().zip(readings.place);
    let read = readings.job.iter().zip(names).zip(readings.reading.iter().zip(readings.unit));
    for ((job, (line, place)), (reading, in_unit)) in read {
        let Some(reading) = Reading::new(*reading) else { continue };
        let of = if *place == NONE { &mut whole } else { &mut places };
        if *line == check
            && *in_unit == unit
            && let Some(slot) = of.get_mut(*job as usize)
        {
            *slot = Some(slot.unwrap_or(true) && limits.hold(reading));
        }
    }
    (whole, places)
}

/// Jobs on which something was said of the rule.
fn said(history: &History, rule: &str, fits: impl Fn(u8, u8) -> bool) -> Vec<bool> {
    let wanted = code_of(history, Some(rule));
    let answers = history.rule_answers();
    let mut kept = rows(history, false);
    let columns =
        answers.job.iter().zip(answers.rule).zip(answers.kept.iter().zip(answers.reasoned));
    for ((job, of), (said, reasoned)) in columns {
        if *of == wanted
            && let Some(slot) = kept.get_mut(*job as usize)
        {
            *slot |= fits(*said, *reasoned);
        }
    }
    kept
}
