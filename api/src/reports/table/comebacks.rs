//! Comebacks, as tables.

use analytics::comeback::{
    ChainCount, ComebackDistance, ComebackFigures, ComebackLine, ComebackReport, GroupsTest,
    LinkedJob, ReasonShare,
};
use analytics::outcomes::{CaughtHere, OutcomeLine};

use super::{Cell, Column, Row, Table, number, sentence, share, text};

const FIGURES: [Column; 6] = [
    number("jobs", "Jobs"),
    share("comebacks", "Came back"),
    number("told", "Customer says not fixed, car not back"),
    share("possible", "If every undecided one counts"),
    share("closed", "Only jobs whose days are over"),
    share("first_repairs", "First repairs only"),
];

const SENSITIVITY: [Column; 2] = [
    share("seen_again", "Of the vehicles seen again"),
    share("if_unseen_returned", "Worst case: all others came back"),
];

const RETURNS: &[Column] = &[
    text("earlier", "First job"),
    text("later", "Came back as"),
    text("told", "Told"),
    text("vehicle", "Vehicle"),
    text("symptom", "Symptom"),
    text("earlier_cause", "Cause then"),
    text("later_cause", "Found this time"),
    text("technician", "Technician"),
    text("closed_on", "Handed over"),
    text("returned_on", "Back on"),
    number("days", "Days"),
    number("visit", "Time back"),
    text("reason", "Reason"),
    text("counted", "In the share"),
];

pub(super) fn tables(report: &ComebackReport) -> Vec<Table> {
    let by = report.by.map_or("all jobs", |by| by.as_str());
    let groups = report
        .groups
        .iter()
        .map(|group| figure_row(group.group.as_deref().unwrap_or("not recorded"), &group.figures));
    let mut tables = vec![
        Table {
            key: "comebacks",
            title: format!("Came back within {} days, by {by}", report.head.window_days),
            note: Some(said(report)),
            columns: [text("group", "Group")]
                .into_iter()
                .chain(FIGURES)
                .chain(SENSITIVITY)
                .collect(),
            // First, so that no cut-off list is without it.
            rows: std::iter::once(figure_row("all", &report.total)).chain(groups).collect(),
        },
        latest(report),
        chains(report.chains),
        outcomes(&report.outcomes),
        caught_here(&report.caught_here),
        curve(report),
        reasons(&report.reasons, report.head.window_days),
    ];
    tables.extend(report.groups_test.as_ref().map(groups_test));
    tables.push(distance(&report.distance));
    tables.push(sensitivity(report));
    tables
}

/// The total in words, and what each of its counts is of.
fn said(report: &ComebackReport) -> String {
    let window = report.head.window_days;
    let total = &report.total;
    format!(
        "{}\nThe counts: {} came back within {window} days, {} of them first repairs; {} among \
         the jobs whose {window} days are over. At any time, {} complaints came back, in {} visits",
        sentence(&total.share, window),
        total.share.returns,
        total.first_repairs.returns,
        total.closed_window.returns,
        report.chains.chains,
        report.chains.visits,
    )
}

/// How far lost customers could move the shares.
fn sensitivity(report: &ComebackReport) -> Table {
    let window = report.head.window_days;
    let row = |name: &str, figures: &ComebackFigures| Row {
        cells: vec![
            Cell::text(name),
            Cell::share(&figures.seen_again),
            Cell::share(&figures.if_unseen_returned),
        ],
        jobs: Some(figures.jobs.clone()),
    };
    let groups = report
        .groups
        .iter()
        .map(|group| row(group.group.as_deref().unwrap_or("not recorded"), &group.figures));
    Table {
        key: "sensitivity",
        title: "How far lost customers could move the shares".to_owned(),
        note: Some(format!(
            "Of the vehicles seen again for anything, or whose customer said after the window that \
             it holds: {}\nWorst case, every other one counted as come back: {}\nThe true number \
             can lie outside these",
            sentence(&report.total.seen_again, window),
            sentence(&report.total.if_unseen_returned, window),
        )),
        columns: [text("group", "Group")].into_iter().chain(SENSITIVITY).collect(),
        rows: std::iter::once(row("all", &report.total)).chain(groups).collect(),
    }
}

/// The first cell and the comeback figures of a group.
fn figure_row(name: &str, figures: &ComebackFigures) -> Row {
    Row {
        cells: vec![
            Cell::text(name),
            Cell::Count(figures.count),
            Cell::share_beside(&figures.share, &figures.closed_window),
            Cell::Count(figures.told),
            Cell::share_beside(&figures.possible, &figures.closed_window),
            Cell::share(&figures.closed_window),
            Cell::share(&figures.first_repairs),
            Cell::share(&figures.seen_again),
            Cell::share(&figures.if_unseen_returned),
        ],
        jobs: Some(figures.jobs.clone()),
    }
}

/// How far lost customers could move the shares has a table of its own: beside
/// the shares it reads like one of them.
pub(super) fn for_people(mut tables: Vec<Table>) -> Vec<Table> {
    for table in tables.iter_mut().filter(|table| table.key == "comebacks") {
        table.columns.truncate(1 + FIGURES.len());
        table.rows.iter_mut().for_each(|row| row.cells.truncate(1 + FIGURES.len()));
    }
    tables
}

/// One line a comeback.
pub(super) fn returns(key: &'static str, title: &str, lines: &[ComebackLine]) -> Table {
    Table {
        key,
        title: title.to_owned(),
        note: None,
        columns: RETURNS.to_vec(),
        rows: lines.iter().map(return_row).collect(),
    }
}

/// Of many the latest.
fn latest(report: &ComebackReport) -> Table {
    let table = returns("returns", "The comebacks", &report.returns);
    let (listed, all) = (report.returns.len() as i64, report.returns_count);
    let note = (all > listed).then(|| {
        format!("The latest {listed} of {all}. Ask for a shorter period, or take this table as a file, to see earlier ones.")
    });
    Table { note, ..table }
}

fn return_row(line: &ComebackLine) -> Row {
    Row {
        cells: vec![
            linked(&line.earlier),
            line.later.as_ref().map_or(Cell::Blank, linked),
            Cell::maybe(line.told.map(|told| told.as_str())),
            Cell::text(&line.vehicle),
            Cell::maybe(line.symptom.as_deref()),
            Cell::maybe(line.earlier_cause.as_deref()),
            Cell::maybe(line.later_cause.as_deref()),
            Cell::maybe(line.technician.as_deref()),
            Cell::day(Some(line.closed_on)),
            Cell::day(Some(line.returned_on)),
            Cell::Count(i64::from(line.days)),
            Cell::Count(line.visit),
            Cell::maybe(line.reason.as_deref()),
            Cell::text(if line.counted { "yes" } else { "no" }),
        ],
        jobs: None,
    }
}

/// Order and job number, as people say them.
pub(super) fn linked(job: &LinkedJob) -> Cell {
    Cell::Text(format!("{}/{}", job.order_no, job.job_no))
}

/// Chains and visits of a list of comebacks.
pub(super) fn chains(count: ChainCount) -> Table {
    Table {
        key: "chains",
        title: "Complaints and visits".to_owned(),
        note: Some(
            "A vehicle back twice for one complaint is one complaint and two visits.".to_owned(),
        ),
        columns: vec![
            number("chains", "Complaints that came back"),
            number("visits", "Visits"),
            number("most_visits", "Most for one complaint"),
        ],
        rows: vec![Row {
            cells: vec![
                Cell::Count(count.chains),
                Cell::Count(count.visits),
                Cell::Count(count.most_visits),
            ],
            jobs: None,
        }],
    }
}

/// How complaints ended, whatever the outcome.
pub(super) fn outcomes(lines: &[OutcomeLine]) -> Table {
    Table {
        key: "outcomes",
        title: "How complaints ended".to_owned(),
        note: Some("Only repaired jobs enter a share.".to_owned()),
        columns: vec![
            text("outcome", "Outcome"),
            number("jobs", "Jobs"),
            number("second_visits", "Second visit made"),
        ],
        rows: lines
            .iter()
            .map(|line| Row {
                cells: vec![
                    Cell::text(line.outcome.as_str()),
                    Cell::Count(line.count),
                    Cell::count(line.second_visits),
                ],
                jobs: Some(line.jobs.clone()),
            })
            .collect(),
    }
}

/// What failed a proof before the hand-over.
pub(super) fn caught_here(caught: &CaughtHere) -> Table {
    Table {
        key: "caught_here",
        title: "Caught here".to_owned(),
        note: Some("Failed a proof before hand-over: rework, not a comeback.".to_owned()),
        columns: vec![number("jobs", "Jobs"), number("failed_proofs", "Failed proofs")],
        rows: vec![Row {
            cells: vec![Cell::Count(caught.count), Cell::Count(caught.failed_proofs)],
            jobs: Some(caught.jobs.clone()),
        }],
    }
}

fn curve(report: &ComebackReport) -> Table {
    Table {
        key: "curve",
        title: "Share that came back, by day".to_owned(),
        note: None,
        columns: vec![
            number("days", "Days"),
            number("share", "Share"),
            number("low", "Low"),
            number("high", "High"),
            number("at_risk", "Followed"),
        ],
        rows: report
            .curve
            .iter()
            .map(|point| Row {
                cells: vec![
                    Cell::Count(i64::from(point.days)),
                    Cell::Percent(point.share),
                    Cell::percent(point.low),
                    Cell::percent(point.high),
                    Cell::Count(point.at_risk),
                ],
                jobs: None,
            })
            .collect(),
    }
}

/// The total's share by reason.
fn reasons(lines: &[ReasonShare], window_days: i32) -> Table {
    let all: i64 = lines.iter().map(|line| line.share.returns).sum();
    let part = |returns: i64| (all > 0).then(|| returns as f64 / all as f64);
    Table {
        key: "reasons",
        title: format!("Why they came back within {window_days} days"),
        note: Some("The shares of all jobs add up to the comeback share.".to_owned()),
        columns: vec![
            text("reason", "Reason"),
            number("returns", "Came back"),
            number("of_comebacks", "Share of comebacks"),
            share("share", "Share of all jobs"),
        ],
        rows: lines
            .iter()
            .map(|line| Row {
                cells: vec![
                    Cell::text(line.reason.as_deref().unwrap_or("not named")),
                    Cell::Count(line.share.returns),
                    Cell::percent(part(line.share.returns)),
                    Cell::share(&line.share),
                ],
                jobs: Some(line.share.jobs.clone()),
            })
            .collect(),
    }
}

/// Whether the groups differ at all.
fn groups_test(test: &GroupsTest) -> Table {
    Table {
        key: "groups_test",
        title: "Do the groups differ?".to_owned(),
        note: Some(test.says.clone()),
        columns: vec![
            number("groups", "Groups compared"),
            number("groups_left_out", "Groups too small, left out"),
            number("jobs", "Jobs in them"),
            number("left_out", "In several groups, left out"),
            number("returns", "Came back"),
            number("p", "Luck alone (p)"),
            number("chi_square", "Chi-square"),
            number("degrees_of_freedom", "Degrees of freedom"),
        ],
        rows: vec![Row {
            cells: vec![
                Cell::Count(test.groups.len() as i64),
                Cell::Count(test.groups_left_out),
                Cell::Count(test.count),
                Cell::Count(test.left_out),
                Cell::Count(test.returns),
                test.p.map_or(Cell::Blank, Cell::chance),
                Cell::number(test.chi_square, 2),
                Cell::count(test.degrees_of_freedom),
            ],
            jobs: None,
        }],
    }
}

/// Comebacks by odometer.
fn distance(distance: &ComebackDistance) -> Table {
    let ComebackDistance { unit, known, returned_unread, no_later_reading, .. } = distance;
    Table {
        key: "distance",
        title: "Share that came back, by odometer".to_owned(),
        note: Some(format!(
            "{} jobs with a known distance. Left out: {} that came back after an unknown one, and {} \
             not seen again, distance unknown.\n{}",
            known.count, returned_unread.count, no_later_reading.count, distance.note
        )),
        columns: vec![
            number("distance", "Within"),
            text("unit", "Unit"),
            number("returns", "Came back"),
            share("share", "Share"),
            number("at_risk", "Followed"),
        ],
        rows: distance
            .points
            .iter()
            .map(|point| Row {
                cells: vec![
                    Cell::Count(point.distance),
                    Cell::text(*unit),
                    Cell::Count(point.share.returns),
                    Cell::share(&point.share),
                    Cell::Count(point.at_risk),
                ],
                jobs: Some(point.returned_jobs.clone()),
            })
            .collect(),
    }
}
