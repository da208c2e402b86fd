//! The week in a few sentences: what it asks for, what came back beside a normal
//! week, what waits.

use analytics::weekly::{Answer, Arrivals, WeekAnswer, WeeklyReview};

/// Below this chance a week inside the normal range is told to be high or low
/// (common practice; it raises nothing).
const WORTH_A_LOOK: f64 = 0.10;
/// Weeks of record that say what is usual.
const LEAST_WEEKS: i32 = 26;

/// `No alarm. 7 came back, about 3 expected (a normal week: 0 to 7). High, but
/// luck alone is as far off in about one week of 25; read the 7 jobs. 2
/// proposals wait for your decision.`
pub(super) fn said(review: &WeeklyReview) -> String {
    let alarms = match (review.answer, review.alarms.len()) {
        (WeekAnswer::LookIntoIt, 1) => "1 alarm: look into it.".to_owned(),
        (WeekAnswer::LookIntoIt, count) => format!("{count} alarms: look into them."),
        (WeekAnswer::WithinTheUsual, _) => "No alarm.".to_owned(),
        (WeekAnswer::NotYet, _) => "Too early for alarms.".to_owned(),
        (WeekAnswer::UndecidedProposals, _) => {
            "Decide the proposals first: they would turn the answer.".to_owned()
        }
    };
    let waiting = match review.undecided.all {
        0 => None,
        1 => Some("1 proposal waits for your decision.".to_owned()),
        count => Some(format!("{count} proposals wait for your decision.")),
    };
    let arrivals = &review.arrivals;
    let sentences =
        [Some(alarms), Some(counts(arrivals, review.partial)), remark(arrivals), waiting];
    sentences.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// `7 came back, about 3 expected (a normal week: 0 to 7).`
fn counts(arrivals: &Arrivals, partial: bool) -> String {
    let so_far = if partial { " so far" } else { "" };
    let told = match arrivals.told {
        0 => String::new(),
        told => format!(" ({told} told by the customer, car not back)"),
    };
    let back = format!("{} came back{so_far}{told}", arrivals.observed);
    let normal = arrivals.normal_low.zip(arrivals.normal_high);
    match arrivals.expected.zip(normal) {
        Some((expected, (low, high))) => {
            let week = if partial { "a normal week by this day" } else { "a normal week" };
            format!("{back}, {} expected ({week}: {}).", about(expected), range(low, high))
        }
        None if arrivals.weeks_learned < LEAST_WEEKS => format!(
            "{back}; what is expected takes {LEAST_WEEKS} weeks of record, there are {} before \
             this week.",
            arrivals.weeks_learned
        ),
        None => format!("{back}; the week has not begun."),
    }
}

/// The week in one sentence, and what is to be known of its count.
pub(in crate::reports) struct Verdict {
    pub verdict: String,
    pub remark: Option<String>,
}

/// `A usual week: 3 came back, about 3 expected (a normal week: 0 to 7).`
pub(in crate::reports) fn verdict(review: &WeeklyReview) -> Verdict {
    let arrivals = &review.arrivals;
    let counted = counts(arrivals, review.partial);
    let opening = match review.answer {
        WeekAnswer::LookIntoIt => "Look into it",
        WeekAnswer::WithinTheUsual => "A usual week",
        WeekAnswer::NotYet => "Too early to judge",
        WeekAnswer::UndecidedProposals => {
            "Decide the proposals first, since they would turn the answer"
        }
    };
    Verdict { verdict: format!("{opening}: {counted}"), remark: remark(arrivals) }
}

fn about(expected: f64) -> String {
    // To one decimal while a whole number would say too little.
    if expected < 0.05 {
        "none".to_owned()
    } else if expected < 0.95 {
        format!("about {expected:.1}")
    } else {
        format!("about {expected:.0}")
    }
}

fn range(low: i64, high: i64) -> String {
    if low == high { low.to_string() } else { format!("{low} to {high}") }
}

/// A word on a count that is off, whether or not it is an alarm.
fn remark(arrivals: &Arrivals) -> Option<String> {
    let (expected, chance) = arrivals.expected.zip(arrivals.probability)?;
    let high = arrivals.observed as f64 > expected;
    match (arrivals.answer, high) {
        (Answer::NotYet, _) => None,
        (Answer::MoreThanUsual, _) => Some("More than usual.".to_owned()),
        (Answer::FewerThanUsual, _) => Some("Fewer than usual.".to_owned()),
        (Answer::WithinTheUsual, _) if chance >= WORTH_A_LOOK => None,
        (Answer::WithinTheUsual, true) => Some(format!(
            "High, but luck alone is as far off in about one week of {}; read the {} jobs.",
            one_in(chance),
            arrivals.observed
        )),
        (Answer::WithinTheUsual, false) => Some(format!(
            "Low, but luck alone is as far off in about one week of {}.",
            one_in(chance)
        )),
    }
}

/// Of how many weeks one is, to the next five.
fn one_in(chance: f64) -> i64 {
    ((1.0 / chance / 5.0).round() as i64).max(1) * 5
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seven where 2.7 are expected: 2.06 % or more extreme on its side, 4.1 %
    /// on both, and up to seven no alarm (sums of exp(-2.7) 2.7^k / k! in
    /// Python 3).
    fn seven() -> Arrivals {
        Arrivals {
            observed: 7,
            told: 0,
            observed_interval: None,
            expected: Some(2.7),
            expected_standard_error: Some(0.3),
            probability_at_least: Some(0.020_569),
            probability_at_most: Some(0.993),
            probability: Some(0.041_139),
            normal_low: Some(0),
            normal_high: Some(7),
            answer: Answer::WithinTheUsual,
            weeks_learned: 52,
            systems: Vec::new(),
            definition: "arrivals",
            jobs: String::new(),
        }
    }

    #[test]
    fn a_high_week_without_an_alarm_is_told_as_high() {
        let week = seven();
        assert_eq!(counts(&week, false), "7 came back, about 3 expected (a normal week: 0 to 7).");
        assert_eq!(
            remark(&week).as_deref(),
            Some("High, but luck alone is as far off in about one week of 25; read the 7 jobs.")
        );
        let usual = Arrivals { observed: 3, probability: Some(0.9), ..seven() };
        assert_eq!(remark(&usual), None);
        let alarm = Arrivals { observed: 9, answer: Answer::MoreThanUsual, ..seven() };
        assert_eq!(remark(&alarm).as_deref(), Some("More than usual."));
        let low = Arrivals { observed: 1, expected: Some(5.0), probability: Some(0.08), ..seven() };
        assert_eq!(
            remark(&low).as_deref(),
            Some("Low, but luck alone is as far off in about one week of 15.")
        );
    }

    #[test]
    fn what_is_not_known_yet_is_not_expected() {
        let early = Arrivals {
            expected: None,
            probability: None,
            normal_low: None,
            normal_high: None,
            answer: Answer::NotYet,
            weeks_learned: 12,
            told: 1,
            ..seven()
        };
        assert_eq!(
            counts(&early, true),
            "7 came back so far (1 told by the customer, car not back); what is expected takes 26 \
             weeks of record, there are 12 before this week."
        );
        assert_eq!(remark(&early), None);
        let unbegun = Arrivals { weeks_learned: 40, observed: 0, told: 0, ..early };
        assert_eq!(counts(&unbegun, false), "0 came back; the week has not begun.");
    }

    #[test]
    fn small_numbers_keep_a_decimal() {
        for (expected, shown) in [(0.0, "none"), (0.4, "about 0.4"), (0.96, "about 1")] {
            assert_eq!(about(expected), shown);
        }
        assert_eq!((range(0, 0), range(1, 4)), ("0".to_owned(), "1 to 4".to_owned()));
    }
}
