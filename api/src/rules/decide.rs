//! Whether a shop rule can be taken: what each kind needs, and when it can be
//! judged.

use std::cell::RefCell;
use std::collections::BTreeSet;

use analytics::select::{Column, Selector, Term};
use analytics::words::RuleKind;
use chrono::{Days, NaiveDate};

use crate::domain::refusal::FieldFault;

/// Days after the end of the first window before which no rule is judged.
pub const LEAST_DAYS: u64 = 30;
/// Days ahead that a rule may begin or be reviewed, at the most.
const MOST_DAYS: u64 = 3 * 366;
/// Limits lie below this: what any gauge of a shop shows does.
const MOST_LIMIT: f64 = 1e9;
/// The lists whose codes the jobs of a rule in words are looked up in. Operations are
/// written as they come.
const LISTS: [&str; 4] = ["symptom", "system", "cause", "check"];

/// What a rule says, as far as it decides whether it can be taken.
#[derive(Debug, Clone, Copy, Default)]
pub struct Says<'a> {
    pub symptom: Option<&'a str>,
    pub part: Option<&'a str>,
    pub check: Option<&'a str>,
    pub unit: Option<&'a str>,
    pub low: Option<f64>,
    pub high: Option<f64>,
    pub limit_source: Option<&'a str>,
    pub about: Option<&'a str>,
}

/// What a kind of rule does with a field.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Wants {
    Owed,
    Taken,
    Not,
}

/// What each kind wants of symptom, part, check, reading, and jobs.
const fn wants(kind: RuleKind) -> [Wants; 5] {
    use Wants::{Not, Owed, Taken};
    match kind {
        RuleKind::ReplaceSuspect => [Taken, Owed, Not, Not, Not],
        RuleKind::CleanAndTest => [Not, Owed, Not, Not, Not],
        RuleKind::CheckFirst => [Owed, Not, Owed, Not, Not],
        RuleKind::ReadingLimit => [Taken, Not, Owed, Owed, Not],
        RuleKind::FreeText => [Not, Not, Not, Not, Taken],
    }
}

/// What is wrong with the fields of a kind.
#[must_use]
pub fn fields(kind: RuleKind, says: &Says<'_>) -> Vec<FieldFault> {
    let [symptom, part, check, reading, about] = wants(kind);
    let limit = says.low.is_some() || says.high.is_some();
    let given = [
        ("symptom", symptom, says.symptom.is_some(), "name the symptom"),
        ("part", part, says.part.is_some(), "name the part: its number, else its name"),
        ("check", check, says.check.is_some(), "name the check"),
        ("unit", reading, says.unit.is_some(), "name the unit that is read in"),
        ("low_limit", reading, limit, "write a low or a high limit"),
        ("limit_source", reading, says.limit_source.is_some(), "say where the limit is from"),
        ("about", about, says.about.is_some(), ""),
    ];
    let mut faults: Vec<FieldFault> = given
        .into_iter()
        .filter_map(|(field, wants, there, what)| match (wants, there) {
            (Wants::Owed, false) => Some(FieldFault::new(field, "required", what)),
            (Wants::Not, true) => {
                Some(FieldFault::new(field, "not_here", "a rule of this kind has none"))
            }
            _ => None,
        })
        .collect();
    if says.low.zip(says.high).is_some_and(|(low, high)| low > high) {
        faults.push(FieldFault::new("high_limit", "range", "write a limit above the low one"));
    }
    for (field, limit) in [("low_limit", says.low), ("high_limit", says.high)] {
        // What is no number is not below it either.
        if limit.is_some_and(|limit| limit.is_nan() || limit.abs() >= MOST_LIMIT) {
            let detail = "write a number under a thousand million";
            faults.push(FieldFault::new(field, "number", detail));
        }
    }
    if let Some(Err(fault)) = says.about.map(jobs) {
        faults.push(fault);
    }
    faults
}

/// The jobs that a rule in words is about. What became of them, and what other
/// jobs of the vehicle say, is no part of how they were done.
///
/// # Errors
/// What is no selector, or one of that kind.
pub fn jobs(text: &str) -> Result<Selector, FieldFault> {
    let selector = Selector::parse(text)
        .map_err(|error| FieldFault::new("about", "value", error.to_string()))?;
    if selector.tells_the_outcome() || looks_beyond(&selector) {
        let detail = "a rule is about jobs as they were done, not about what came before or after";
        return Err(FieldFault::new("about", "value", detail));
    }
    Ok(selector)
}

/// The codes that jobs are chosen by, with the list of each: selectors inside them too.
#[must_use]
pub fn named(jobs: Selector) -> BTreeSet<(String, String)> {
    let found = RefCell::new(BTreeSet::new());
    let note = |list: &str, code: &str| {
        if LISTS.contains(&list) {
            found.borrow_mut().insert((list.to_owned(), code.to_owned()));
        }
        code.to_owned()
    };
    drop(jobs.following(&note));
    found.into_inner()
}

fn looks_beyond(jobs: &Selector) -> bool {
    jobs.terms().iter().any(|term| match term {
        Term::FirstRepair(_) | Term::Text(Column::Answers, _) => true,
        Term::Also(other) | Term::Except(other) => looks_beyond(other),
        _ => false,
    })
}

/// The first day on which a rule can be reviewed.
#[must_use]
pub fn earliest_review(starts_on: NaiveDate, window_days: i32) -> NaiveDate {
    let days = u64::try_from(window_days).unwrap_or(0) + LEAST_DAYS;
    starts_on.checked_add_days(Days::new(days)).unwrap_or(starts_on)
}

/// What is wrong with the days: a rule binds nobody in the past, and is judged
/// when the windows of its first month have ended.
#[must_use]
pub fn days(
    (starts_on, review_on): (NaiveDate, NaiveDate),
    today: NaiveDate,
    window_days: i32,
) -> Vec<FieldFault> {
    let last = today.checked_add_days(Days::new(MOST_DAYS)).unwrap_or(today);
    if starts_on < today || starts_on > last {
        let detail = format!("write a day from {today} to {last}");
        return vec![FieldFault::new("starts_on", "range", detail)];
    }
    review((starts_on, review_on), today, window_days).err().into_iter().collect()
}

/// Whether a review day can stand.
///
/// # Errors
/// The fault.
pub fn review(
    (starts_on, review_on): (NaiveDate, NaiveDate),
    today: NaiveDate,
    window_days: i32,
) -> Result<(), FieldFault> {
    let earliest = earliest_review(starts_on, window_days).max(today);
    let last = today.max(starts_on).checked_add_days(Days::new(MOST_DAYS)).unwrap_or(earliest);
    if (earliest..=last).contains(&review_on) {
        return Ok(());
    }
    let detail = format!(
        "write a day from {earliest} to {last}: the window of {window_days} days has to end, and \
         {LEAST_DAYS} days of jobs to be seen"
    );
    Err(FieldFault::new("review_on", "range", detail))
}

/// Whether a review day may be moved. Once the rule stands its jobs are being counted:
/// who could bring the day forward would judge when it looks best.
///
/// # Errors
/// The fault.
pub fn moved(
    (starts_on, review_on): (NaiveDate, NaiveDate),
    to: NaiveDate,
    today: NaiveDate,
    window_days: i32,
) -> Result<(), FieldFault> {
    if starts_on <= today && to < review_on {
        let detail = format!("the rule stands already: write a day after {review_on}");
        return Err(FieldFault::new("review_on", "range", detail));
    }
    review((starts_on, to), today, window_days)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn pointers(kind: RuleKind, says: &Says<'_>) -> Vec<String> {
        fields(kind, says).into_iter().map(|fault| fault.pointer).collect()
    }

    #[test]
    fn each_kind_has_its_own_fields() {
        let nothing = Says::default();
        assert_eq!(pointers(RuleKind::ReplaceSuspect, &nothing), ["/part"]);
        assert_eq!(pointers(RuleKind::CleanAndTest, &nothing), ["/part"]);
        assert_eq!(pointers(RuleKind::CheckFirst, &nothing), ["/symptom", "/check"]);
        let owed = ["/check", "/unit", "/low_limit", "/limit_source"];
        assert_eq!(pointers(RuleKind::ReadingLimit, &nothing), owed);
        assert!(pointers(RuleKind::FreeText, &nothing).is_empty());
        let part = Says { part: Some("IAV-100"), symptom: Some("engine.stalls"), ..nothing };
        assert!(pointers(RuleKind::ReplaceSuspect, &part).is_empty());
        assert_eq!(pointers(RuleKind::CleanAndTest, &part), ["/symptom"]);
        assert_eq!(pointers(RuleKind::FreeText, &part), ["/symptom", "/part"]);
    }

    #[test]
    fn limits_are_numbers_in_order() {
        let says = |low, high| Says {
            check: Some("charging-voltage"),
            unit: Some("V"),
            limit_source: Some("the shop"),
            low,
            high,
            ..Says::default()
        };
        let wrong = |low, high| pointers(RuleKind::ReadingLimit, &says(low, high));
        assert!(wrong(Some(13.5), None).is_empty() && wrong(Some(13.5), Some(13.5)).is_empty());
        assert_eq!(wrong(Some(14.8), Some(13.5)), ["/high_limit"]);
        assert_eq!(wrong(Some(f64::NAN), None), ["/low_limit"]);
    }

    #[test]
    fn limits_are_of_this_world() {
        let says = |low, high| Says {
            check: Some("charging-voltage"),
            unit: Some("V"),
            limit_source: Some("the shop"),
            low,
            high,
            ..Says::default()
        };
        let wrong = |low, high| pointers(RuleKind::ReadingLimit, &says(low, high));
        assert!(wrong(Some(-999_999_999.0), Some(999_999_999.0)).is_empty());
        assert_eq!(wrong(Some(-1e9), Some(1e300)), ["/low_limit", "/high_limit"]);
        assert_eq!(wrong(None, Some(f64::INFINITY)), ["/high_limit"]);
    }

    #[test]
    fn the_codes_of_jobs_are_found_wherever_they_stand() {
        let jobs = jobs("symptom=engine.tick&also=check%3Dcompression&operation=flush").unwrap();
        let named: Vec<(String, String)> = named(jobs).into_iter().collect();
        let pair = |list: &str, code: &str| (list.to_owned(), code.to_owned());
        assert_eq!(named, [pair("check", "compression"), pair("symptom", "engine.tick")]);
    }

    #[test]
    fn what_became_of_a_job_is_no_part_of_a_rule() {
        for sound in ["", "symptom=engine.tick", "also=kind%3Dcomplaint", "rule_kept=x"] {
            assert!(jobs(sound).is_ok(), "{sound}");
        }
        for wrong in ["returned=true", "first_repair=true", "except=answers%3DIlse", "color=red"] {
            assert_eq!(jobs(wrong).unwrap_err().pointer, "/about", "{wrong}");
        }
    }

    #[test]
    fn a_rule_begins_today_and_is_judged_after_its_window() {
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        let today = day("2026-03-02");
        let wrong = |start: &str, review: &str| -> Vec<String> {
            let faults = days((day(start), day(review)), today, 60);
            faults.into_iter().map(|fault| fault.pointer).collect()
        };
        // 60 and 30 days after March 2 is May 31.
        assert_eq!(earliest_review(today, 60), day("2026-05-31"));
        assert!(wrong("2026-03-02", "2026-05-31").is_empty());
        assert_eq!(wrong("2026-03-02", "2026-05-30"), ["/review_on"]);
        assert_eq!(wrong("2026-03-01", "2026-05-31"), ["/starts_on"]);
        assert_eq!(wrong("2036-03-01", "2036-09-01"), ["/starts_on"]);
    }

    #[test]
    fn a_review_day_is_only_moved_later_once_the_rule_stands() {
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        let days = (day("2026-03-02"), day("2026-08-01"));
        let moves = |to: &str, today: &str| moved(days, day(to), day(today), 60).is_ok();
        // The day before it begins it is free, after its window.
        assert!(moves("2026-05-31", "2026-03-01") && moves("2026-09-01", "2026-03-01"));
        assert!(!moves("2026-05-30", "2026-03-01"));
        for today in ["2026-03-02", "2026-07-31"] {
            assert!(!moves("2026-07-31", today), "{today}");
            assert!(moves("2026-08-02", today), "{today}");
        }
    }
}
