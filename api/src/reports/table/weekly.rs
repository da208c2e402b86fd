//! The weekly review, as tables.

mod signals;

use analytics::figure::Share;
use analytics::labor::ComebackCost;
use analytics::weekly::{Answer, Cohort, Tallied, TooRecent, WeekAnswer, WeeklyReview};

use super::comebacks::{caught_here, chains, linked, returns};
use super::labor::amount;
use super::{Cell, Column, Row, Table, currency, number, share, text};
use crate::domain::money::Currency;
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
        signals::alarms(review),
        arrivals(review),
        signals::chart(&review.chart),
        returns("comebacks", "Comebacks of the week", &review.comebacks),
        cost(review),
        tallied("reasons", "Their reasons", "Reason", &review.by_reason),
        tallied("systems", "Their systems", "System", &review.by_system),
        chains(review.chains),
        undecided(review),
        signals::movers(&review.movers),
        too_recent(&review.too_recent),
        sensitivity(review),
        cohorts(review),
        closed(review),
        caught_here(&review.caught_here),
    ]
}

fn arrivals(review: &WeeklyReview) -> Table {
    let arrivals = &review.arrivals;
    let row = |name: &str, observed, expected, jobs: &str| Row {
        cells: vec![Cell::text(name), Cell::Count(observed), Cell::number(expected, 1)],
        jobs: Some(jobs.to_owned()),
    };
    let all = row("all", arrivals.observed, arrivals.expected, &arrivals.jobs);
    let systems = arrivals.systems.iter().map(|line| {
        let name = line.system.as_deref().unwrap_or("not recorded");
        row(name, line.observed, Some(line.expected), &line.jobs)
    });
    let sure = arrivals.expected_standard_error.map_or_else(String::new, |error| {
        format!("\nThe expected number has a standard error of {error:.1}")
    });
    Table {
        key: "arrivals",
        title: "Came back and expected, by system".to_owned(),
        note: Some(format!("{}{sure}", verdict(review))),
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

/// What the week asks for, in a line: `Look into it (2 alarms): 9 came back this
/// week, 2.4 expected: more than usual`.
fn said(review: &WeeklyReview) -> String {
    let arrivals = verdict(review);
    match (review.answer, review.alarms.len()) {
        (WeekAnswer::LookIntoIt, 1) => format!("Look into it (1 alarm): {arrivals}"),
        (WeekAnswer::LookIntoIt, count) => format!("Look into it ({count} alarms): {arrivals}"),
        (WeekAnswer::WithinTheUsual, _) => format!("Nothing to look into: {arrivals}"),
        (WeekAnswer::UndecidedProposals, _) => {
            format!("Decide the proposals first, they would turn the answer: {arrivals}")
        }
        (WeekAnswer::NotYet, _) => arrivals,
    }
}

/// `3 came back this week, 2.4 expected: within the usual`; told ones are
/// named: `3 came back this week (1 told, not seen), ...`.
fn verdict(review: &WeeklyReview) -> String {
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

/// What the comebacks cost, the sum first.
fn cost(review: &WeeklyReview) -> Table {
    let cost = &review.cost;
    let money = currency(&review.head.currency);
    let row = |first: Cell, later: Cell, cost: Option<&ComebackCost>, jobs: Option<&str>| Row {
        cells: [first, later].into_iter().chain(cost_cells(cost, &money)).collect(),
        jobs: jobs.map(str::to_owned),
    };
    let all = row(Cell::text("all"), Cell::Blank, Some(&cost.total), Some(&cost.jobs));
    let lines = cost
        .lines
        .iter()
        .map(|line| row(linked(&line.earlier), linked(&line.later), line.cost.as_ref(), None));
    Table {
        key: "cost",
        title: "What they cost".to_owned(),
        note: (cost.open > 0)
            .then(|| format!("Not handed over yet, and in no amount: {}", cost.open)),
        columns: vec![
            text("earlier", "First job"),
            text("later", "Came back as"),
            number("clock_hours", "Clock h"),
            number("labor", "Labor"),
            number("parts", "Parts"),
            number("sublet", "Work sent out"),
            number("extra", "The rest of a return"),
            number("paid_back", "Paid back"),
            number("total", "Total"),
        ],
        rows: std::iter::once(all).chain(lines).collect(),
    }
}

/// Blank where the later job is not handed over.
fn cost_cells(cost: Option<&ComebackCost>, money: &Currency) -> Vec<Cell> {
    let Some(cost) = cost else { return vec![Cell::Blank; 7] };
    let amounts = [
        cost.labor_minor,
        cost.parts_minor,
        cost.sublet_minor,
        cost.extra_minor,
        cost.paid_back_minor,
        cost.total_minor,
    ];
    let hours = Cell::Number(cost.clock_hours, 1);
    std::iter::once(hours).chain(amounts.map(|minor| amount(minor, money))).collect()
}

fn too_recent(recent: &TooRecent) -> Table {
    let row = |name: String, count, returns, expected, jobs: &str| Row {
        cells: vec![
            Cell::Text(name),
            Cell::Count(count),
            Cell::Count(returns),
            Cell::number(expected, 1),
        ],
        jobs: Some(jobs.to_owned()),
    };
    let all = row("all".to_owned(), recent.count, recent.returns, recent.expected, &recent.jobs);
    let weeks = recent.weeks.iter().map(|line| {
        row(line.week_from.to_string(), line.count, line.returns, line.expected, &line.jobs)
    });
    Table {
        key: "too_recent",
        title: "Too recent for a share".to_owned(),
        note: None,
        columns: vec![
            text("week_from", "Closed in the week of"),
            number("jobs", "Jobs"),
            number("returns", "Came back so far"),
            number("expected", "Still expected"),
        ],
        rows: std::iter::once(all).chain(weeks).collect(),
    }
}

/// How far lost customers and undecided proposals could move the share.
fn sensitivity(review: &WeeklyReview) -> Table {
    let figures = &review.overall.figures;
    let row = |name: &str, share: &Share| Row {
        cells: vec![Cell::text(name), Cell::share(share)],
        jobs: Some(share.jobs.clone()),
    };
    Table {
        key: "sensitivity",
        title: "How far the share could be off".to_owned(),
        note: Some("All jobs up to the week. None of these is a bound of the truth".to_owned()),
        columns: vec![text("counted", "Counted"), share("share", "Came back")],
        rows: vec![
            row("as known", &figures.share),
            row("if all proposed were confirmed", &figures.possible),
            row("closed windows only", &figures.closed_window),
            row("of vehicles seen again", &figures.seen_again),
            row("worst case: all unseen came back", &figures.if_unseen_returned),
        ],
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
