//! The weekly review, as tables.

mod headline;
mod signals;

use analytics::figure::Share;
use analytics::labor::ComebackCost;
use analytics::weekly::{Cohort, Tallied, TooRecent, WeeklyReview};

use super::comebacks::{caught_here, chains, linked, returns};
use super::labor::{COST, cost_cells, other_cost};
use super::{Cell, Column, Row, Table, currency, number, share, text};
use crate::domain::style::Style;
use crate::domain::week;

pub(in crate::reports) use headline::verdict;

const COHORTS: &[Column] = &[
    text("week_from", "Delivered in the week of"),
    number("jobs", "Jobs"),
    number("followed_days", "Followed days"),
    share("comebacks", "Came back"),
    share("comebacks_30", "At 30 days"),
    share("so_far", "So far"),
    share("possible", "If every undecided one counts"),
    share("closed", "Only jobs whose days are over"),
];

pub(super) fn tables(review: &WeeklyReview, style: &Style) -> Vec<Table> {
    vec![
        signals::alarms(review, style),
        arrivals(review),
        returns("comebacks", "Comebacks of the week", &review.comebacks),
        undecided(review),
        cost(review, style),
        tallied("reasons", "Why they came back", "Reason", &review.by_reason),
        tallied("systems", "Systems", "System", &review.by_system),
        chains(review.chains),
        signals::movers(&review.movers, style),
        too_recent(&review.too_recent),
        sensitivity(review),
        signals::chart(&review.chart, review.head.window_days),
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
    Table {
        key: "arrivals",
        title: "Came back and expected, by system".to_owned(),
        note: arrivals.expected_standard_error.map(|error| {
            format!(
                "Expected is learned from earlier comebacks, and is itself only known to about \
                 {error:.1} either way"
            )
        }),
        columns: vec![
            text("system", "System"),
            number("observed", "Came back"),
            number("expected", "Expected"),
        ],
        rows: std::iter::once(all).chain(systems).collect(),
    }
}

fn title(review: &WeeklyReview, style: &Style) -> String {
    let over = if review.partial { ", not over yet" } else { "" };
    format!(
        "Week {}, {}{over}",
        week::name(review.week_from),
        style.span(review.week_from, review.week_to)
    )
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
fn cost(review: &WeeklyReview, style: &Style) -> Table {
    let cost = &review.cost;
    let money = currency(&review.head.currency);
    let row = |first: Cell, later: Cell, cost: Option<&ComebackCost>, jobs: Option<&str>| {
        // Blank where the later job is not handed over.
        let cells = cost.map_or(vec![Cell::Blank; COST.len()], |cost| cost_cells(cost, &money));
        Row {
            cells: [first, later].into_iter().chain(cells).collect(),
            jobs: jobs.map(str::to_owned),
        }
    };
    let all = row(Cell::text("all"), Cell::Blank, Some(&cost.total), Some(&cost.jobs));
    let lines = cost
        .lines
        .iter()
        .map(|line| row(linked(&line.earlier), linked(&line.later), line.cost.as_ref(), None));
    let open =
        (cost.open > 0).then(|| format!("Not handed over yet, and in no amount: {}", cost.open));
    let notes: Vec<String> = open.into_iter().chain(other_cost(&cost.total, style)).collect();
    Table {
        key: "cost",
        title: "What they cost".to_owned(),
        note: (!notes.is_empty()).then(|| notes.join("\n")),
        columns: [text("earlier", "First job"), text("later", "Came back as")]
            .into_iter()
            .chain(COST)
            .collect(),
        rows: std::iter::once(all).chain(lines).collect(),
    }
}

fn too_recent(recent: &TooRecent) -> Table {
    let row = |name: Cell, count, returns, expected, jobs: &str| Row {
        cells: vec![name, Cell::Count(count), Cell::Count(returns), Cell::number(expected, 1)],
        jobs: Some(jobs.to_owned()),
    };
    let all = row(Cell::text("all"), recent.count, recent.returns, recent.expected, &recent.jobs);
    let weeks = recent.weeks.iter().map(|line| {
        row(Cell::Day(line.week_from), line.count, line.returns, line.expected, &line.jobs)
    });
    Table {
        key: "too_recent",
        title: "Too new to judge".to_owned(),
        note: None,
        columns: vec![
            text("week_from", "Delivered in the week of"),
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
    let closed = &figures.closed_window;
    let row = |name: &str, share: &Share| Row {
        cells: vec![Cell::text(name), Cell::share_beside(share, closed)],
        jobs: Some(share.jobs.clone()),
    };
    let over = format!("only jobs whose {} days are over", review.head.window_days);
    Table {
        key: "sensitivity",
        title: "How far the share could be off".to_owned(),
        note: Some(
            "All jobs handed over up to this week. The true number can lie outside these"
                .to_owned(),
        ),
        columns: vec![text("counted", "Counted"), share("share", "Came back")],
        rows: vec![
            row("as known", &figures.share),
            row("if every undecided one counts", &figures.possible),
            row(&over, closed),
            row("only vehicles seen again", &figures.seen_again),
            row("worst case: all vehicles not seen again came back", &figures.if_unseen_returned),
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
        title: "By hand-over week, so far".to_owned(),
        note: None,
        columns: COHORTS.to_vec(),
        rows: lines.map(cohort_row).collect(),
    }
}

fn cohort_row(cohort: &Cohort) -> Row {
    let name = cohort.week_from.map_or_else(|| Cell::text("all"), Cell::Day);
    let figures = &cohort.figures;
    // All weeks together have no one length of time.
    let followed = cohort.week_from.map(|_| i64::from(cohort.followed_days));
    let followed = Cell::count(followed);
    Row {
        cells: vec![
            name,
            Cell::Count(figures.count),
            followed,
            Cell::share_beside(&figures.share, &figures.closed_window),
            Cell::share(&cohort.share_30),
            cohort.so_far.as_ref().map_or(Cell::Blank, Cell::share),
            Cell::share_beside(&figures.possible, &figures.closed_window),
            Cell::share(&figures.closed_window),
        ],
        jobs: Some(figures.jobs.clone()),
    }
}
