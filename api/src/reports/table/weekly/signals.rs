//! What the week raises, and the chart and movers it is raised from.

use analytics::weekly::{Answer, ClosingChart, MoverAnswer, Movers, WeeklyReview};

use super::super::{Cell, Row, Table, number, percent, share, text};

/// The alarms; the note says what the week asks for, and why.
pub(super) fn alarms(review: &WeeklyReview) -> Table {
    let evidence = review.alarms.iter().map(|alarm| format!("\n{}", alarm.evidence));
    Table {
        key: "alarms",
        title: super::title(review),
        note: Some(std::iter::once(super::said(review)).chain(evidence).collect()),
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
                    Cell::text(alarm.source.as_str()),
                    Cell::text(alarm.rule),
                    Cell::text(alarm.direction.as_str()),
                    Cell::Count(alarm.count),
                    Cell::text(&alarm.evidence),
                ],
                jobs: Some(alarm.jobs.clone()),
            })
            .collect(),
    }
}

pub(super) fn chart(chart: &ClosingChart) -> Table {
    let center = chart.expected_per_week.and(chart.baseline.share);
    Table {
        key: "chart",
        title: "Closing weeks, one window late".to_owned(),
        note: Some(said(chart)),
        columns: vec![
            text("week_from", "Closed in the week of"),
            share("share", "Came back"),
            number("center", "Usual"),
            number("low", "Lower limit"),
            number("high", "Upper limit"),
            number("z", "Sigmas off"),
        ],
        rows: chart
            .points
            .iter()
            .map(|point| Row {
                cells: vec![
                    Cell::text(point.week_from.to_string()),
                    Cell::share(&point.share),
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

/// The chart's answer, and what its rules found at the newest week.
fn said(chart: &ClosingChart) -> String {
    let answer = match chart.answer {
        Answer::WithinTheUsual => "Within the usual",
        Answer::MoreThanUsual => "More than usual",
        Answer::FewerThanUsual => "Fewer than usual",
        Answer::NotYet => {
            return format!(
                "Not yet to be told ({} closed weeks with jobs to make limits from; 26 are \
                 needed, with comebacks among them)",
                chart.baseline_weeks
            );
        }
    };
    let rules = chart.rules.iter().map(|rule| {
        let found = match (rule.armed, rule.met, rule.raised) {
            (false, _, _) => "not looked at, comebacks are too few",
            (true, false, _) => "not met",
            (true, true, false) => "met, as chance will have it",
            (true, true, true) => "met",
        };
        format!("; {}: {found}", rule.rule)
    });
    format!("{answer}{}", rules.collect::<String>())
}

pub(super) fn movers(movers: &Movers) -> Table {
    Table {
        key: "movers",
        title: "What moved against its own past".to_owned(),
        note: Some(tested(movers)),
        columns: vec![
            text("column", "Grouped by"),
            text("group", "Group"),
            share("recent", "Last 13 weeks"),
            share("before", "Year before"),
            number("difference", "Difference"),
            text("interval", "Interval"),
            number("p", "p"),
            number("q", "q"),
            text("answer", "Answer"),
        ],
        rows: movers
            .groups
            .iter()
            .map(|mover| Row {
                cells: vec![
                    Cell::text(mover.column.as_str()),
                    Cell::text(&mover.group),
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
                    Cell::Number(mover.p, 4),
                    Cell::Number(mover.q, 3),
                    Cell::text(match mover.answer {
                        MoverAnswer::MoreThanBefore => "more than before",
                        MoverAnswer::FewerThanBefore => "fewer than before",
                        MoverAnswer::NoEvidence => "no evidence",
                    }),
                ],
                jobs: Some(mover.recent.jobs.clone()),
            })
            .collect(),
    }
}

fn tested(movers: &Movers) -> String {
    let (Some(from), Some(to)) = (movers.recent_from, movers.recent_to) else {
        return "Not yet to be told: the record is too short for a quarter and its past".to_owned();
    };
    format!(
        "Handed over {from} to {to}, windows closed, against up to a year before\n{} groups \
         tested together, {} with too few jobs; each against its own past, never against others",
        movers.tested, movers.too_few
    )
}
