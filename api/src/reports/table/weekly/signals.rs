//! What the week raises, and the chart and movers it is raised from.

use analytics::comeback::By;
use analytics::weekly::{
    AlarmSource, Answer, ChartPoint, ChartRule, ClosingChart, MoverAnswer, Movers, WeeklyReview,
};

use super::super::{Cell, Column, Row, Table, number, percent, share, text};
use super::headline;
use crate::domain::style::Style;

/// The run rule by the name that its figures have.
const RUN: &str = "nine in a row on one side";
const POINT: &str = "one beyond three sigma";

/// The alarms; the note says what the week asks for, and why.
pub(super) fn alarms(review: &WeeklyReview, style: &Style) -> Table {
    let evidence = review.alarms.iter().map(|alarm| format!("\n{}", alarm.evidence));
    Table {
        key: "alarms",
        title: super::title(review, style),
        note: Some(std::iter::once(headline::said(review)).chain(evidence).collect()),
        columns: vec![
            text("source", "Seen in"),
            text("rule", "Rule"),
            text("direction", "Which way"),
            number("jobs", "Jobs"),
            text("evidence", "Evidence"),
        ],
        rows: review
            .alarms
            .iter()
            .map(|alarm| Row {
                cells: vec![
                    Cell::text(match alarm.source {
                        AlarmSource::Arrivals => "comebacks of the week",
                        AlarmSource::Chart => "hand-over weeks",
                        AlarmSource::Mover => "what changed",
                    }),
                    Cell::text(rule_label(alarm.rule)),
                    Cell::text(alarm.direction.as_str()),
                    Cell::Count(alarm.count),
                    Cell::text(&alarm.evidence),
                ],
                jobs: Some(alarm.jobs.clone()),
            })
            .collect(),
    }
}

fn rule_label(rule: &'static str) -> &'static str {
    match rule {
        POINT => "one week out of the normal range",
        RUN => "nine weeks in a row on one side of the usual",
        other => other,
    }
}

pub(super) fn chart(chart: &ClosingChart, window_days: i32) -> Table {
    let center = chart.expected_per_week.and(chart.baseline.share);
    Table {
        key: "chart",
        title: format!("By hand-over week, {window_days} days later"),
        note: Some(said(chart)),
        columns: vec![
            text("week_from", "Delivered in the week of"),
            share("share", "Came back"),
            text("standing", "Against the normal range"),
            number("center", "Usual"),
            number("low", "Normal from"),
            number("high", "Normal to"),
            number("z", "Standard deviations off"),
        ],
        rows: chart
            .points
            .iter()
            .map(|point| Row {
                cells: vec![
                    Cell::Day(point.week_from),
                    Cell::share(&point.share),
                    standing(point),
                    Cell::percent(center),
                    Cell::percent(point.low),
                    Cell::percent(point.high),
                    Cell::number(point.z, 1),
                ],
                jobs: Some(point.share.jobs.clone()),
            })
            .collect(),
    }
}

/// Where a week stands, and why one outside is no alarm.
fn standing(point: &ChartPoint) -> Cell {
    if point.z.is_none() {
        return Cell::Blank;
    }
    let Some(outside) = point.outside() else { return Cell::text("inside") };
    let side = if outside.above { "above" } else { "below" };
    match point.probability.filter(|_| outside.by_luck) {
        None => Cell::text(side),
        Some(chance) => Cell::Text(format!("{side}; {}", no_alarm(chance))),
    }
}

/// Why a pattern that is met raises nothing.
fn no_alarm(chance: f64) -> String {
    format!("no alarm: with so few comebacks luck alone does this in {} of weeks", percent(chance))
}

/// The chart's answer, and what its rules found at the newest week.
fn said(chart: &ClosingChart) -> String {
    let answer = match chart.answer {
        Answer::WithinTheUsual => "No alarm",
        Answer::MoreThanUsual => "More comebacks than usual",
        Answer::FewerThanUsual => "Fewer comebacks than usual",
        Answer::NotYet => {
            return format!(
                "Not yet to be told ({} hand-over weeks with jobs to make a normal range from; 26 \
                 are needed, with comebacks among them)",
                chart.baseline_weeks
            );
        }
    };
    let rules = chart.rules.iter().map(|rule| format!(" {}.", found(rule)));
    format!("{answer}.{}", rules.collect::<String>())
}

/// What a rule found at the newest week, in words.
fn found(rule: &ChartRule) -> String {
    let is_run = rule.rule == RUN;
    let (seen, not_seen) = if is_run {
        (
            "Nine weeks or more in a row on one side of the usual",
            "No nine weeks in a row on one side",
        )
    } else {
        ("The newest week is out of the normal range", "The newest week is in the normal range")
    };
    match (rule.armed, rule.met, rule.raised) {
        (false, _, _) => "Comebacks are too few to look for weeks in a row".to_owned(),
        (true, false, _) => not_seen.to_owned(),
        (true, true, true) => seen.to_owned(),
        (true, true, false) => rule.probability.filter(|_| !rule.is_rare()).map_or_else(
            || format!("{seen}, as an earlier review has told"),
            |chance| format!("{seen}, {}", no_alarm(chance)),
        ),
    }
}

const MOVERS: [Column; 9] = [
    text("column", "Grouped by"),
    text("group", "Group"),
    text("answer", "Answer"),
    share("recent", "Recent"),
    share("before", "Before"),
    number("difference", "Difference"),
    text("interval", "Range"),
    number("p", "Luck alone (p)"),
    number("q", "for all groups (q)"),
];

pub(super) fn movers(movers: &Movers, style: &Style) -> Table {
    Table {
        key: "movers",
        title: movers_title(movers, style),
        note: Some(tested(movers)),
        columns: MOVERS.to_vec(),
        rows: movers
            .groups
            .iter()
            .map(|mover| Row {
                cells: vec![
                    Cell::text(column_label(mover.column)),
                    Cell::text(&mover.group),
                    Cell::text(match mover.answer {
                        MoverAnswer::MoreThanBefore => "more than before",
                        MoverAnswer::FewerThanBefore => "fewer than before",
                        MoverAnswer::NoEvidence => "no change beyond chance",
                    }),
                    Cell::share(&mover.recent),
                    Cell::share(&mover.before),
                    Cell::Percent(mover.difference),
                    mover.interval.as_ref().map_or(Cell::Blank, |interval| {
                        Cell::Text(format!(
                            "{} to {}",
                            percent(interval.low),
                            percent(interval.high)
                        ))
                    }),
                    Cell::chance(mover.p),
                    Cell::chance(mover.q),
                ],
                jobs: Some(mover.recent.jobs.clone()),
            })
            .collect(),
    }
}

/// What the jobs of a group have in common. A part on a job need not be the one
/// that failed.
const fn column_label(column: By) -> &'static str {
    match column {
        By::Part => "jobs with part",
        By::Lot => "jobs with parts of lot",
        By::Supplier => "jobs with parts of",
        other => other.as_str(),
    }
}

fn movers_title(movers: &Movers, style: &Style) -> String {
    let recent = movers.recent_from.zip(movers.recent_to);
    match recent.zip(movers.before_from.zip(movers.before_to)) {
        Some((recent, before)) => {
            let [recent, before] = [recent, before].map(|(from, to)| style.span(from, to));
            format!("What changed: handed over {recent} against {before}")
        }
        None => "What changed".to_owned(),
    }
}

fn tested(movers: &Movers) -> String {
    if movers.recent_from.is_none() {
        return "Not yet to be told: the record is too short for a quarter and its past".to_owned();
    }
    let changed =
        movers.groups.iter().filter(|mover| mover.answer != MoverAnswer::NoEvidence).count();
    let answer = match changed {
        0 if movers.groups.is_empty() => {
            format!("Nothing changed beyond chance ({} groups looked at)", movers.tested)
        }
        0 => format!(
            "Nothing changed beyond chance ({} groups looked at). Below are only those that came \
             closest",
            movers.tested
        ),
        changed => format!("{changed} of {} groups changed beyond chance", movers.tested),
    };
    format!(
        "{answer}\nA job with a part is one on which it was fitted or handled, not one on which it \
         failed. The same cars can stand in several lines\nGroups with too few jobs to look at: {}. \
         Each is held against its own past, never against others",
        movers.too_few
    )
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use analytics::figure::Share;
    use chrono::NaiveDate;

    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn point(z: f64, probability: f64) -> ChartPoint {
        ChartPoint {
            week_from: day("2026-09-07"),
            week_to: day("2026-09-13"),
            share: Share {
                count: 54,
                returns: 6,
                share: Some(6.0 / 54.0),
                standard_error: None,
                interval: None,
                too_few: false,
                definition: "chart_week",
                jobs: String::new(),
            },
            low: Some(0.0),
            high: Some(0.1),
            z: Some(z),
            probability: Some(probability),
        }
    }

    #[test]
    fn a_week_outside_without_an_alarm_says_why() {
        assert_eq!(standing(&point(2.9, 0.04)).to_string(), "inside");
        assert_eq!(
            standing(&point(3.4, 0.04)).to_string(),
            "above; no alarm: with so few comebacks luck alone does this in 4.0% of weeks"
        );
        assert_eq!(standing(&point(3.4, 0.001)).to_string(), "above");
        assert_eq!(standing(&point(-3.4, 0.001)).to_string(), "below");
        assert_eq!(standing(&ChartPoint { z: None, ..point(0.0, 1.0) }), Cell::Blank);
    }

    fn rule(rule: &'static str, probability: Option<f64>) -> ChartRule {
        ChartRule {
            rule,
            armed: true,
            met: probability.is_some(),
            probability,
            raised: false,
            count: 0,
            jobs: None,
        }
    }

    #[test]
    fn rules_are_told_in_plain_words() {
        assert_eq!(found(&rule(POINT, None)), "The newest week is in the normal range");
        assert_eq!(found(&rule(RUN, None)), "No nine weeks in a row on one side");
        assert_eq!(
            found(&rule(POINT, Some(0.04))),
            "The newest week is out of the normal range, no alarm: with so few comebacks luck \
             alone does this in 4.0% of weeks"
        );
        assert_eq!(
            found(&rule(RUN, Some(0.001))),
            "Nine weeks or more in a row on one side of the usual, as an earlier review has told"
        );
        let unarmed = ChartRule { armed: false, ..rule(RUN, None) };
        assert_eq!(found(&unarmed), "Comebacks are too few to look for weeks in a row");
    }
}
