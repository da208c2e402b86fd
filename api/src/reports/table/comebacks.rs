//! Comebacks, as tables.

use analytics::comeback::{
    ChainCount, ComebackDistance, ComebackFigures, ComebackLine, ComebackReport, GroupsTest,
    LinkedJob, ReasonShare,
};
use analytics::outcomes::{CaughtHere, OutcomeLine};

use super::{Cell, Column, Row, Table, number, sentence, share, text};

const FIGURES: [Column; 8] = [
    number("jobs", "Jobs"),
    share("comebacks", "Comebacks"),
    number("told", "Told, not seen"),
    share("possible", "If all proposed"),
    share("closed", "Closed windows"),
    share("first_repairs", "First repairs"),
    share("seen_again", "Of those seen again"),
    share("if_unseen_returned", "Worst case"),
];

const RETURNS: &[Column] = &[
    text("earlier", "First job"),
    text("later", "Came back as"),
    text("told", "Told"),
    text("vehicle", "Vehicle"),
    text("symptom", "Symptom"),
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
            title: format!("Comebacks, by {by}"),
            note: Some(said(report)),
            columns: [text("group", "Group")].into_iter().chain(FIGURES).collect(),
            // First, so that no cut-off list is without it.
            rows: std::iter::once(figure_row("all", &report.total)).chain(groups).collect(),
        },
        returns("returns", "The comebacks", &report.returns),
        chains(report.chains),
        outcomes(&report.outcomes),
        caught_here(&report.caught_here),
        curve(report),
        reasons(&report.reasons),
    ];
    tables.extend(report.groups_test.as_ref().map(groups_test));
    tables.push(distance(&report.distance));
    tables
}

/// The total in words, and how far it could be from the truth.
fn said(report: &ComebackReport) -> String {
    let window = report.head.window_days;
    let seen = &report.total.seen_again;
    let worst = &report.total.if_unseen_returned;
    format!(
        "{}\nOf the vehicles seen again for anything: {}\nWorst case, every vehicle never seen \
         again counted as come back: {}; neither is a bound of the truth",
        sentence(&report.total.share, window),
        sentence(seen, window),
        sentence(worst, window),
    )
}

/// The first cell and the comeback figures of a group.
fn figure_row(name: &str, figures: &ComebackFigures) -> Row {
    Row {
        cells: vec![
            Cell::text(name),
            Cell::Count(figures.count),
            Cell::share(&figures.share),
            Cell::Count(figures.told),
            Cell::share(&figures.possible),
            Cell::share(&figures.closed_window),
            Cell::share(&figures.first_repairs),
            Cell::share(&figures.seen_again),
            Cell::share(&figures.if_unseen_returned),
        ],
        jobs: Some(figures.jobs.clone()),
    }
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

fn return_row(line: &ComebackLine) -> Row {
    Row {
        cells: vec![
            linked(&line.earlier),
            line.later.as_ref().map_or(Cell::Blank, linked),
            Cell::maybe(line.told.map(|told| told.as_str())),
            Cell::text(&line.vehicle),
            Cell::maybe(line.symptom.as_deref()),
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
        title: "Chains".to_owned(),
        note: None,
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
fn reasons(lines: &[ReasonShare]) -> Table {
    Table {
        key: "reasons",
        title: "Why they came back".to_owned(),
        note: Some("The shares add up to the comeback share.".to_owned()),
        columns: vec![
            text("reason", "Reason"),
            number("returns", "Came back"),
            share("share", "Share of all jobs"),
            number("standard_error", "Standard error"),
        ],
        rows: lines
            .iter()
            .map(|line| Row {
                cells: vec![
                    Cell::text(line.reason.as_deref().unwrap_or("not named")),
                    Cell::Count(line.share.returns),
                    Cell::share(&line.share),
                    Cell::number(line.share.standard_error, 4),
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
            number("chi_square", "Chi-square"),
            number("degrees_of_freedom", "Degrees of freedom"),
            number("p", "p"),
        ],
        rows: vec![Row {
            cells: vec![
                Cell::Count(test.groups.len() as i64),
                Cell::Count(test.groups_left_out),
                Cell::Count(test.count),
                Cell::Count(test.left_out),
                Cell::Count(test.returns),
                Cell::number(test.chi_square, 2),
                Cell::count(test.degrees_of_freedom),
                Cell::number(test.p, 4),
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
