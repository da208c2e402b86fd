//! The weekly review, as tables.

use analytics::weekly::{Answer, Cohort, Tallied, WeeklyReview};

use super::comebacks::{caught_here, chains, returns};
use super::{Cell, Column, Row, Table, number, share, text};
use crate::domain::week;

const COHORTS: &[Column] = &[
    text("week_from", "Closed in the week of"),
    number("jobs", "Jobs"),
    number("followed_days", "Followed days"),
    share("comebacks", "Comebacks"),
    share("comebacks_30", "At 30 days"),
    share("so_far", "So far"),
    share("possible", "If all proposed"),
    share("closed", "Closed windows"),
];

pub(super) fn tables(review: &WeeklyReview) -> Vec<Table> {
    vec![
        arrivals(review),
        returns("comebacks", "Comebacks of the week", &review.comebacks),
        tallied("reasons", "Their reasons", "Reason", &review.by_reason),
        tallied("systems", "Their systems", "System", &review.by_system),
        undecided(review),
        closed(review),
        caught_here(&review.caught_here),
        cohorts(review),
        chains(review.chains),
    ]
}

fn arrivals(review: &WeeklyReview) -> Table {
    let arrivals = &review.arrivals;
    let row = |name: &str, observed, expected| Row {
        cells: vec![Cell::text(name), Cell::Count(observed), Cell::number(expected, 1)],
        jobs: None,
    };
    let all = row("all", arrivals.observed, arrivals.expected);
    let systems = arrivals.systems.iter().map(|line| {
        let name = line.system.as_deref().unwrap_or("not recorded");
        row(name, line.observed, Some(line.expected))
    });
    Table {
        key: "arrivals",
        title: title(review),
        note: Some(verdict(review)),
        columns: vec![
            text("system", "System"),
            number("observed", "Came back"),
            number("expected", "Expected"),
        ],
        rows: std::iter::once(all).chain(systems).collect(),
    }
}

fn title(review: &WeeklyReview) -> String {
    let over = if review.partial { ", not over yet" } else { "" };
    format!(
        "Week {}, {} to {}{over}",
        week::name(review.week_from),
        review.week_from,
        review.week_to
    )
}

/// `3 came back this week, 2.4 expected: within the usual`; told ones are
/// named: `3 came back this week (1 told, not seen), ...`.
#[must_use]
pub fn verdict(review: &WeeklyReview) -> String {
    let arrivals = &review.arrivals;
    let expected =
        arrivals.expected.map_or_else(String::new, |expected| format!(", {expected:.1} expected"));
    let learned = match arrivals.answer {
        Answer::NotYet => format!(" ({} weeks of record before it)", arrivals.weeks_learned),
        Answer::WithinTheUsual | Answer::MoreThanUsual | Answer::FewerThanUsual => String::new(),
    };
    let told = match arrivals.told {
        0 => String::new(),
        told => format!(" ({told} told, not seen)"),
    };
    format!(
        "{} came back this week{told}{expected}: {}{learned}",
        arrivals.observed,
        answer_label(arrivals.answer)
    )
}

const fn answer_label(answer: Answer) -> &'static str {
    match answer {
        Answer::WithinTheUsual => "within the usual",
        Answer::MoreThanUsual => "more than usual",
        Answer::FewerThanUsual => "fewer than usual",
        Answer::NotYet => "not yet to be told",
    }
}

fn tallied(key: &'static str, title: &str, label: &'static str, lines: &[Tallied]) -> Table {
    Table {
        key,
        title: title.to_owned(),
        note: None,
        columns: vec![text("name", label), number("comebacks", "Comebacks")],
        rows: lines
            .iter()
            .map(|line| Row {
                cells: vec![
                    Cell::text(line.name.as_deref().unwrap_or("not named")),
                    Cell::Count(line.count),
                ],
                jobs: None,
            })
            .collect(),
    }
}

fn undecided(review: &WeeklyReview) -> Table {
    let waiting = &review.undecided;
    Table {
        key: "undecided",
        title: "Proposed, to be decided".to_owned(),
        note: None,
        columns: vec![
            number("of_the_week", "Of the week"),
            number("all", "All"),
            number("same_complaint", "Same complaint"),
        ],
        rows: vec![Row {
            cells: vec![
                Cell::Count(waiting.of_the_week),
                Cell::Count(waiting.all),
                Cell::Count(waiting.same_complaint),
            ],
            jobs: None,
        }],
    }
}

fn closed(review: &WeeklyReview) -> Table {
    Table {
        key: "closed",
        title: "Jobs handed over".to_owned(),
        note: None,
        columns: vec![
            text("kind", "Kind"),
            text("outcome", "Outcome"),
            number("jobs", "Jobs"),
            number("second_visits", "Second visit made"),
        ],
        rows: review
            .closed
            .iter()
            .map(|line| Row {
                cells: vec![
                    Cell::text(line.kind.as_str()),
                    Cell::text(line.outcome.as_str()),
                    Cell::Count(line.count),
                    Cell::count(line.second_visits),
                ],
                jobs: Some(line.jobs.clone()),
            })
            .collect(),
    }
}

fn cohorts(review: &WeeklyReview) -> Table {
    let lines = review.cohorts.iter().chain([&review.overall]);
    Table {
        key: "cohorts",
        title: "How the closing weeks stand".to_owned(),
        note: None,
        columns: COHORTS.to_vec(),
        rows: lines.map(cohort_row).collect(),
    }
}

fn cohort_row(cohort: &Cohort) -> Row {
    let name = cohort.week_from.map_or_else(|| "all".to_owned(), |day| day.to_string());
    let figures = &cohort.figures;
    Row {
        cells: vec![
            Cell::Text(name),
            Cell::Count(figures.count),
            Cell::Count(i64::from(cohort.followed_days)),
            Cell::share(&figures.share),
            Cell::share(&cohort.share_30),
            cohort.so_far.as_ref().map_or(Cell::Blank, Cell::share),
            Cell::share(&figures.possible),
            Cell::share(&figures.closed_window),
        ],
        jobs: Some(figures.jobs.clone()),
    }
}
