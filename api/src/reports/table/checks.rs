//! Advised orders of checks, as tables.

use analytics::path::{
    CheckOrderLine, CheckOrderReport, LeadingCheck, MinutesFrom, OrderMethod, OrderedCheck,
    PlannedOrder, Uncounted, WhyFirst,
};

use super::{Cell, Column, Row, Table, number, share, text};

const ORDERS: &[Column] = &[
    text("symptom", "Symptom"),
    number("saved_minutes", "Saved a job, min"),
    text("path", "Advised order"),
    text("first", "Comes first"),
    text("too_few", "Basis"),
    number("confirmed", "Causes confirmed"),
    number("habit_minutes", "Our usual order, min"),
    number("habit_with_first_minutes", "Our order with your first checks, min"),
    number("advised_minutes", "Advised order, min"),
    number("best_minutes", "Best with nothing first, min"),
    share("habit_first", "Began with our usual first check"),
    number("saved_low", "Saved, at least"),
    number("saved_high", "Saved, at most"),
    text("method", "How the order was found"),
    number("bound_minutes", "No order is shorter than, min"),
];

const CHECKS: &[Column] = &[
    text("symptom", "Symptom"),
    number("place", "Advised place"),
    text("check", "Check"),
    text("note", "Note"),
    share("found_share", "Found the cause"),
    number("minutes", "Min"),
    text("minutes_from", "Minutes from"),
    number("habit_place", "Our usual place"),
    number("done", "Times done"),
    number("timed", "Times measured"),
    number("found", "Causes found"),
    number("chance", "Chance to find the cause"),
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
            note: Some(
                "Found the cause: it was the last check that showed something. One that only \
                 narrows the search gets no credit, and may still be worth its minutes"
                    .to_owned(),
            ),
            columns: CHECKS.to_vec(),
            rows: report.symptoms.iter().flat_map(check_rows).collect(),
        },
    ]
}

/// What stands over any order, and what comes first.
fn said(report: &CheckOrderReport) -> String {
    let first = match report.first.as_deref() {
        None => "Free looks come first unless you ask otherwise: those you do on at least half of \
                 the jobs, in your usual order"
            .to_owned(),
        Some([]) => "You asked for no check to come first: free looks stand where the minutes put \
                     them"
            .to_owned(),
        Some(first) => format!("First, as you asked: {}", first.join(", ")),
    };
    format!(
        "{}\n{first}\nSaved: our usual order with the same first checks, less the advised order",
        report.caution
    )
}

/// What the saving rests on, or why none is claimed.
fn basis(line: &CheckOrderLine) -> &'static str {
    if line.too_few {
        "too few causes"
    } else if line.saved.is_some() {
        "our record"
    } else if line.advised.expected_minutes.is_none() {
        "no minutes known"
    } else if line.habit.is_none() {
        "no usual order known"
    } else {
        "no saving: it only puts off checks that found no cause"
    }
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
    let first: Vec<&str> = line.first.iter().map(|first| first.check.as_str()).collect();
    Row {
        cells: vec![
            Cell::text(&line.symptom),
            Cell::number(saved.map(|saved| saved.minutes), 1),
            Cell::Text(checks),
            Cell::maybe((!first.is_empty()).then(|| first.join(" > ")).as_deref()),
            Cell::text(basis(line)),
            Cell::Count(line.confirmed),
            Cell::number(habit.and_then(|habit| habit.expected_minutes), 1),
            Cell::number(habit.and_then(|habit| habit.expected_minutes_with_first), 1),
            Cell::number(plan.expected_minutes, 1),
            Cell::number(line.best.expected_minutes, 1),
            habit.map_or(Cell::Blank, |habit| Cell::share(&habit.began)),
            Cell::number(interval.map(|interval| interval.low), 1),
            Cell::number(interval.map(|interval| interval.high), 1),
            Cell::maybe(plan.method.map(|method| match method {
                OrderMethod::RatioRule => "best, by chance per minute",
                OrderMethod::EveryOrder => "best of every order",
                OrderMethod::Greedy => "a good one, maybe not the best",
            })),
            Cell::number(plan.bound_minutes, 1),
        ],
        jobs: Some(line.jobs.clone()),
    }
}

fn check_rows(line: &CheckOrderLine) -> Vec<Row> {
    let checks = line.checks.iter().map(|check| check_row(line, check));
    let otherwise = (line.confirmed > 0).then(|| otherwise_row(line));
    checks.chain(otherwise).collect()
}

/// Why a check comes first, and how often the shop does it.
fn why_first(first: &LeadingCheck) -> String {
    let why = match first.why {
        WhyFirst::Asked => "first, as asked",
        WhyFirst::FreeLook => "first: a free look",
    };
    match first.done.count {
        0 => why.to_owned(),
        jobs => format!("{why}, done on {} of {jobs} jobs", first.done.returns),
    }
}

fn check_row(line: &CheckOrderLine, check: &OrderedCheck) -> Row {
    let leading = line.first.iter().find(|first| first.check == check.check);
    let mut notes: Vec<String> = leading.map(why_first).into_iter().collect();
    notes.extend(check.uncounted.map(|why| {
        let why = match why {
            Uncounted::NoMinutesKnown => "no minutes known",
            Uncounted::TooManyChecks => "left out: too many checks",
            Uncounted::TrainedPeopleOnly => "high voltage: trained people only, in no order",
        };
        why.to_owned()
    }));
    Row {
        cells: vec![
            Cell::text(&line.symptom),
            Cell::count(check.place),
            Cell::text(&check.check),
            Cell::maybe((!notes.is_empty()).then(|| notes.join("; ")).as_deref()),
            Cell::share(&check.found),
            Cell::number(check.minutes, 1),
            Cell::maybe(check.minutes_from.map(|from| match from {
                MinutesFrom::Symptom => "this complaint",
                MinutesFrom::Shop => "all complaints",
                MinutesFrom::List => "the list",
            })),
            Cell::count(check.habit_place),
            Cell::Count(check.done),
            Cell::Count(check.timed),
            Cell::Count(check.found.returns),
            Cell::Percent(check.chance),
        ],
        jobs: Some(check.jobs.clone()),
    }
}

/// The causes that no recorded check found, below the checks.
fn otherwise_row(line: &CheckOrderLine) -> Row {
    let mut cells = vec![
        Cell::text(&line.symptom),
        Cell::Blank,
        Cell::Blank,
        Cell::text("found by none of the recorded checks"),
        Cell::share(&line.found_otherwise),
    ];
    cells.resize(CHECKS.len(), Cell::Blank);
    let found = CHECKS.iter().position(|column| column.key == "found");
    if let Some(cell) = found.and_then(|at| cells.get_mut(at)) {
        *cell = Cell::Count(line.found_otherwise.returns);
    }
    Row { cells, jobs: Some(line.otherwise_jobs.clone()) }
}
