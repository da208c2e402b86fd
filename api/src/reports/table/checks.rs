//! Advised orders of checks, as tables.

use analytics::path::{
    CheckOrderLine, CheckOrderReport, MinutesFrom, OrderMethod, OrderedCheck, PlannedOrder,
    Uncounted,
};

use super::{Cell, Column, Row, Table, number, share, text};

const ORDERS: &[Column] = &[
    text("symptom", "Symptom"),
    number("confirmed", "Causes confirmed"),
    text("path", "Advised order"),
    number("habit_minutes", "Habit, min"),
    number("habit_with_first_minutes", "Habit, first checks moved up, min"),
    number("advised_minutes", "Advised, min"),
    number("best_minutes", "Best possible, min"),
    number("saved_minutes", "Saved a job, min"),
    number("saved_low", "Saved, low"),
    number("saved_high", "Saved, high"),
    text("too_few", "Basis"),
    share("habit_first", "Began with the habit's first check"),
    text("method", "Found by"),
    number("bound_minutes", "No order below, min"),
];

const CHECKS: &[Column] = &[
    text("symptom", "Symptom"),
    number("place", "Advised place"),
    text("check", "Check"),
    number("habit_place", "Place in use"),
    number("found", "Causes found"),
    share("found_share", "Share of causes"),
    number("chance", "Chance"),
    number("minutes", "Min"),
    number("timed", "Timed"),
    text("minutes_from", "Minutes from"),
    number("done", "Done"),
    text("note", "Note"),
];

pub(super) fn tables(report: &CheckOrderReport) -> Vec<Table> {
    vec![
        Table {
            key: "orders",
            title: "The order of checks, by symptom".to_owned(),
            note: Some(said(report)),
            columns: ORDERS.to_vec(),
            rows: report.symptoms.iter().map(order_row).collect(),
        },
        Table {
            key: "checks",
            title: "The checks, in the advised order".to_owned(),
            note: None,
            columns: CHECKS.to_vec(),
            rows: report.symptoms.iter().flat_map(check_rows).collect(),
        },
    ]
}

/// What comes first, and what stands over any order.
fn said(report: &CheckOrderReport) -> String {
    let first = if report.first.is_empty() {
        "No check was asked to come first".to_owned()
    } else {
        format!("First in any order: {}", report.first.join(", "))
    };
    format!("{}\n{first}", report.caution)
}

fn order_row(line: &CheckOrderLine) -> Row {
    let habit = line.habit.as_ref();
    let saved = line.saved.as_ref();
    let interval = saved.and_then(|saved| saved.interval.as_ref());
    let plan: &PlannedOrder = &line.advised;
    let checks = if plan.checks.is_empty() {
        "no checks with known minutes".to_owned()
    } else {
        plan.checks.join(" > ")
    };
    Row {
        cells: vec![
            Cell::text(&line.symptom),
            Cell::Count(line.confirmed),
            Cell::Text(checks),
            Cell::number(habit.and_then(|habit| habit.expected_minutes), 1),
            Cell::number(habit.and_then(|habit| habit.expected_minutes_with_first), 1),
            Cell::number(plan.expected_minutes, 1),
            Cell::number(line.best.expected_minutes, 1),
            Cell::number(saved.map(|saved| saved.minutes), 1),
            Cell::number(interval.map(|interval| interval.low), 1),
            Cell::number(interval.map(|interval| interval.high), 1),
            Cell::text(if line.too_few { "too few" } else { "record" }),
            habit.map_or(Cell::Blank, |habit| Cell::share(&habit.began)),
            Cell::maybe(plan.method.map(|method| match method {
                OrderMethod::RatioRule => "ratio rule",
                OrderMethod::EveryOrder => "every order",
                OrderMethod::Greedy => "a good order",
            })),
            Cell::number(plan.bound_minutes, 1),
        ],
        jobs: Some(line.jobs.clone()),
    }
}

fn check_rows(line: &CheckOrderLine) -> Vec<Row> {
    let checks = line.checks.iter().map(|check| check_row(&line.symptom, check));
    let otherwise = (line.confirmed > 0).then(|| otherwise_row(line));
    checks.chain(otherwise).collect()
}

fn check_row(symptom: &str, check: &OrderedCheck) -> Row {
    let mut notes = Vec::new();
    if check.first {
        notes.push("asked to come first");
    }
    notes.extend(check.uncounted.map(|why| match why {
        Uncounted::NoMinutesKnown => "no minutes known",
        Uncounted::TooManyChecks => "too many checks",
    }));
    Row {
        cells: vec![
            Cell::text(symptom),
            Cell::count(check.place),
            Cell::text(&check.check),
            Cell::count(check.habit_place),
            Cell::Count(check.found.returns),
            Cell::share(&check.found),
            Cell::Percent(check.chance),
            Cell::number(check.minutes, 1),
            Cell::Count(check.timed),
            Cell::maybe(check.minutes_from.map(|from| match from {
                MinutesFrom::Symptom => "this symptom",
                MinutesFrom::Shop => "all complaints",
                MinutesFrom::List => "the list",
            })),
            Cell::Count(check.done),
            Cell::maybe((!notes.is_empty()).then(|| notes.join(", ")).as_deref()),
        ],
        jobs: Some(check.jobs.clone()),
    }
}

/// The causes that no recorded check found, below the checks.
fn otherwise_row(line: &CheckOrderLine) -> Row {
    Row {
        cells: vec![
            Cell::text(&line.symptom),
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
            Cell::Count(line.found_otherwise.returns),
            Cell::share(&line.found_otherwise),
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
            Cell::text("found otherwise"),
        ],
        jobs: Some(line.otherwise_jobs.clone()),
    }
}
