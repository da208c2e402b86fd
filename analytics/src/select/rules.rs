//! Which job rows fit what shop rules ask for: readings inside limits, and what
//! was said of a rule on the job.

use super::limits::Limits;
use super::matching::code_of;
use super::term::Term;
use crate::history::{History, NO_WORD, Reading};
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
/// Readings taken before the vehicle left are later than any check; of several
/// places all have to lie inside.
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
    let readings = history.readings();
    let mut before_leaving = rows(history, None);
    let read =
        readings.job.iter().zip(readings.line).zip(readings.reading.iter().zip(readings.unit));
    for ((job, line), (reading, in_unit)) in read {
        let Some(reading) = Reading::new(*reading) else { continue };
        if *line == check
            && *in_unit == unit
            && let Some(slot) = before_leaving.get_mut(*job as usize)
        {
            *slot = Some(slot.unwrap_or(true) && limits.hold(reading));
        }
    }
    let both = before_leaving.into_iter().zip(last);
    both.map(|(before_leaving, last)| before_leaving.or(last) == Some(true)).collect()
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
