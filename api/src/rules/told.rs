//! Rules in words: what they rest on, where they stand, how often they are kept.

use analytics::effect::{Evidence, ReviewPlan, RuleCompliance};
use analytics::figure::{Share, TOO_FEW};
use analytics::words::RuleKind;
use chrono::{Days, NaiveDate};
use serde_json::Value;

use super::model::{ShopRule, State};
use crate::domain::percent::{percent, percents};
use crate::domain::style::Style;
use crate::web::words::counted;

/// Why a rule of a kind is often not followed: a tap each.
#[must_use]
pub const fn reasons(kind: RuleKind) -> [&'static str; 3] {
    let first = match kind {
        RuleKind::ReplaceSuspect | RuleKind::CleanAndTest | RuleKind::FreeText => {
            "part not available"
        }
        RuleKind::CheckFirst | RuleKind::ReadingLimit => "tool not available",
    };
    [first, "customer's wish", "does not fit this vehicle"]
}

/// What a kind of rule is called.
#[must_use]
pub const fn kind(kind: RuleKind) -> &'static str {
    match kind {
        RuleKind::ReplaceSuspect => "replace, do not clean",
        RuleKind::CleanAndTest => "test before it goes back",
        RuleKind::CheckFirst => "check this first",
        RuleKind::ReadingLimit => "reading inside limits",
        RuleKind::FreeText => "in words",
    }
}

/// What the two groups of a rule are called: those that did something else, and
/// those that did as it asks.
fn groups(kind: RuleKind, check: Option<&str>) -> (String, String) {
    let named = check.unwrap_or("the check");
    match kind {
        RuleKind::ReplaceSuspect => {
            ("suspects cleaned and put back".to_owned(), "replaced".to_owned())
        }
        RuleKind::CleanAndTest => {
            ("put back without a bench reading".to_owned(), "put back with one".to_owned())
        }
        RuleKind::CheckFirst => {
            (format!("jobs that did not begin with \u{201c}{named}\u{201d}"), "that did".to_owned())
        }
        RuleKind::ReadingLimit => ("jobs without such a reading".to_owned(), "with one".to_owned()),
        RuleKind::FreeText => ("jobs it is about".to_owned(), String::new()),
    }
}

/// `9 came back within 60 days (24%, 13-39%)`.
fn came_back(share: &Share, window: Option<i32>) -> String {
    let within = window.map(|days| format!(" within {days} days")).unwrap_or_default();
    let size = match (share.share, &share.interval) {
        _ if share.count < TOO_FEW => ", too few to compare".to_owned(),
        (Some(at), Some(interval)) => {
            format!(" ({}, {})", percent(at), percents(interval.low, interval.high))
        }
        _ => String::new(),
    };
    format!("{} came back{within}{size}", share.returns)
}

/// What a rule is taken on, in a sentence with its counts; `None` where the
/// record has no job of the kind whose window has ended.
#[must_use]
pub fn evidence(kind: RuleKind, check: Option<&str>, evidence: &Evidence) -> Option<String> {
    let asked = evidence.as_asked.as_ref().filter(|share| share.count > 0);
    let (otherwise, as_asked) = groups(kind, check);
    let first = (evidence.otherwise.count > 0).then(|| {
        format!(
            "Of {} {otherwise}, {}",
            evidence.otherwise.count,
            came_back(&evidence.otherwise, Some(evidence.window_days))
        )
    });
    match (first, asked) {
        (Some(first), Some(share)) => {
            Some(format!("{first}; of {} {as_asked}, {}.", share.count, came_back(share, None)))
        }
        (Some(first), None) => Some(format!("{first}.")),
        (None, Some(share)) => Some(format!(
            "Of {} {as_asked}, {}.",
            share.count,
            came_back(share, Some(evidence.window_days))
        )),
        (None, None) => None,
    }
}

/// The evidence in a word: `9 of 38 came back`; nothing where no figures stand.
#[must_use]
pub fn brief(rule: &ShopRule) -> Option<String> {
    let figures: Value = serde_json::from_str(rule.evidence_json.as_deref()?).ok()?;
    let number = |name: &str| figures.get("otherwise")?.get(name)?.as_i64();
    let (returns, count) = (number("returns")?, number("count")?);
    let which = match rule.kind.0 {
        RuleKind::ReplaceSuspect => " cleaned ones",
        RuleKind::CleanAndTest => " untested ones",
        RuleKind::CheckFirst | RuleKind::ReadingLimit => " without it",
        RuleKind::FreeText => "",
    };
    (count > 0).then(|| format!("{returns} of {count}{which} came back"))
}

/// Where a rule stands, on a day.
#[must_use]
pub fn state(rule: &ShopRule, today: NaiveDate, style: &Style) -> String {
    match rule.state(today) {
        State::ToCome => format!("begins {}", style.day(rule.starts_on)),
        State::InForce => format!("review on {}", style.day(rule.review_on)),
        State::DueForReview => "due for review".to_owned(),
        State::Reviewed => match rule.review_word.as_deref() {
            Some("changed") => "reviewed: changed".to_owned(),
            _ => "reviewed: it stays".to_owned(),
        },
        State::Withdrawn => match rule.withdrawn_on {
            Some(day) => format!("withdrawn on {}", style.day(day)),
            None => "withdrawn".to_owned(),
        },
    }
}

/// What a review came to, in words.
#[must_use]
pub fn review(word: &str) -> &str {
    match word {
        "kept" => "it stays",
        "changed" => "it is changed",
        "withdrawn" => "it is withdrawn",
        other => other,
    }
}

/// Of a rule whose row says what no rule can.
pub const UNREAD: &str = "cannot be read: withdraw it and take it again";

/// How often it was kept, as a sentence.
#[must_use]
pub fn kept_sentence(compliance: &RuleCompliance, stands: bool) -> String {
    let stood = if stands { "since it stands" } else { "while it stood" };
    if compliance.about.count == 0 {
        return format!("No job that it is about was handed over {stood}.");
    }
    let kept = kept(compliance);
    let mut letters = kept.chars();
    let first = letters.next().map(|letter| letter.to_ascii_uppercase());
    let begun: String = first.into_iter().chain(letters).collect();
    format!("{begun}, handed over {stood}.")
}

/// What may come before, where a rule says what comes first.
#[must_use]
pub const fn beside(kind: RuleKind) -> Option<&'static str> {
    match kind {
        RuleKind::CheckFirst => Some(
            "Free looks may come before it and are no breach: asking the customer, reading the \
             stored codes, a look under the hood and the like.",
        ),
        _ => None,
    }
}

/// What is meant by coming back, and which closing days the evidence covers.
#[must_use]
pub fn covers(kind: RuleKind, as_of: NaiveDate, window_days: i32, style: &Style) -> String {
    let days = u64::try_from(window_days).unwrap_or(0);
    let last = as_of.checked_sub_days(Days::new(days)).unwrap_or(as_of);
    let jobs = format!(
        "Counted are jobs handed over up to {}, whose {window_days} days were over by {}.",
        style.day(last),
        style.day(as_of)
    );
    match kind {
        RuleKind::ReplaceSuspect | RuleKind::CleanAndTest => {
            format!("{jobs} Came back means here: the part itself came back.")
        }
        _ => jobs,
    }
}

/// The same of a rule that was taken, by the figures kept with it.
#[must_use]
pub fn covered(rule: &ShopRule, style: &Style) -> Option<String> {
    let figures: Value = serde_json::from_str(rule.evidence_json.as_deref()?).ok()?;
    let as_of: NaiveDate = figures.get("as_of")?.as_str()?.parse().ok()?;
    let window = i32::try_from(figures.get("window_days")?.as_i64()?).ok()?;
    Some(covers(rule.kind.0, as_of, window, style))
}

/// How often it was kept: `kept on 3 of 4 jobs (75%)`.
#[must_use]
pub fn kept(compliance: &RuleCompliance) -> String {
    let known = compliance.about.count - compliance.not_known.count;
    let share = compliance.share.map(|share| format!(" ({})", percent(share)));
    match (compliance.about.count, known) {
        (0, _) => "no job yet".to_owned(),
        (_, 0) => format!("not known of {}", counted(compliance.about.count, "job", "jobs")),
        (_, known) => format!(
            "kept on {} of {}{}",
            compliance.kept.count,
            counted(known, "job", "jobs"),
            share.unwrap_or_default()
        ),
    }
}

/// How the day of the review was found.
#[must_use]
pub fn plan(plan: &ReviewPlan, style: &Style) -> String {
    let day = style.day(plan.day);
    let pace = match plan.jobs {
        0 => format!("No job of this kind was closed in the last {} days.", plan.days),
        jobs => format!(
            "In the last {} days {} of this kind {} closed.",
            plan.days,
            counted(jobs, "job", "jobs"),
            if jobs == 1 { "was" } else { "were" }
        ),
    };
    if plan.too_few {
        return format!(
            "{pace} At that pace ten of them will not have been followed for {} days by any day \
             worth waiting for: on {day} the answer will likely be \u{201c}too few\u{201d}.",
            plan.window_days
        );
    }
    let before = if plan.before < TOO_FEW {
        format!(
            " Of jobs before the start only {} will be there to compare with: the answer may be \
             \u{201c}too few\u{201d}.",
            plan.before
        )
    } else {
        String::new()
    };
    format!(
        "{pace} At that pace about {:.0} will have been closed since the start and followed for {} \
         days by {day}: ten at least, in four cases of five.{before}",
        plan.expected_after, plan.window_days
    )
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use analytics::figure::Interval;

    use super::*;

    fn share(returns: i64, count: i64, (low, high): (f64, f64)) -> Share {
        Share {
            count,
            returns,
            share: (count > 0).then(|| returns as f64 / count as f64),
            standard_error: None,
            interval: Some(Interval { low, high, level: 0.95, method: "wilson" }),
            too_few: count < TOO_FEW,
            definition: "evidence",
            jobs: String::new(),
        }
    }

    /// Wilson (1927) for 9 of 38: 13.0 to 39.2 %; for 2 of 60: 0.9 to 11.4 %.
    #[test]
    fn evidence_has_its_counts_and_how_sure_they_are() {
        let day = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
        let both = Evidence {
            as_of: day,
            change_no: 7,
            window_days: 60,
            otherwise: share(9, 38, (0.130, 0.392)),
            as_asked: Some(share(2, 60, (0.009, 0.114))),
        };
        let said = |evidence: &Evidence| super::evidence(RuleKind::ReplaceSuspect, None, evidence);
        assert_eq!(
            said(&both).unwrap(),
            "Of 38 suspects cleaned and put back, 9 came back within 60 days (24%, 13-39%); of 60 \
             replaced, 2 came back (3.3%, 0.9-11%)."
        );
        let few = Evidence { otherwise: share(1, 3, (0.0, 0.8)), as_asked: None, ..both.clone() };
        assert_eq!(
            said(&few).unwrap(),
            "Of 3 suspects cleaned and put back, 1 came back within 60 days, too few to compare."
        );
        let nothing = Evidence { otherwise: share(0, 0, (0.0, 1.0)), as_asked: None, ..both };
        assert_eq!(said(&nothing), None);
    }
}
