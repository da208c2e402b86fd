//! People, suppliers, lots, engines and models compared, as tables.

use analytics::comeback::By;
use analytics::compare::{Answer, CompareGroup, CompareReport, FunnelPoint, Limits};
use analytics::figure::Interval;

use super::{Cell, Column, Row, Table, number, share, text};

const GROUPS: &[Column] = &[
    text("group", "Group"),
    text("answer", "Answer"),
    share("comebacks", "Came back"),
    number("expected", "Expected"),
    number("ratio", "Against expected"),
    number("low", "at least"),
    number("high", "at most"),
    number("drawn", "Allowing for few jobs"),
    number("p", "Luck alone"),
    number("q", "Luck alone, all lines counted in"),
];

const LIMITS: &[Column] = &[
    text("group", "Group"),
    number("expected", "Expected"),
    number("ratio", "Against expected"),
    number("inner_low", "Luck alone, 19 of 20: from"),
    number("inner_high", "to"),
    number("outer_low", "Luck alone, 499 of 500: from"),
    number("outer_high", "to"),
    number("others", "Like jobs of others"),
    number("byar_low", "At least, short formula"),
    number("byar_high", "At most, short formula"),
];

const FUNNEL: &[Column] = &[
    number("expected", "Expected"),
    number("inner_low", "Luck alone, 19 of 20: from"),
    number("inner_high", "to"),
    number("outer_low", "Luck alone, 499 of 500: from"),
    number("outer_high", "to"),
];

pub(super) fn tables(report: &CompareReport) -> Vec<Table> {
    vec![
        Table {
            key: "compare",
            title: format!("Comebacks against those expected, by {}", report.by.as_str()),
            note: Some(note(report)),
            columns: GROUPS.to_vec(),
            rows: report.groups.iter().map(group_row).collect(),
        },
        Table {
            key: "limits",
            title: "Range luck alone gives".to_owned(),
            note: None,
            columns: LIMITS.to_vec(),
            rows: report.groups.iter().map(limits_row).collect(),
        },
        Table {
            key: "funnel",
            title: "Range luck alone gives, by comebacks expected".to_owned(),
            note: None,
            columns: FUNNEL.to_vec(),
            rows: report.funnel.iter().map(funnel_row).collect(),
        },
    ]
}

fn note(report: &CompareReport) -> String {
    let shop = report.total.as_ref().map_or_else(String::new, |total| {
        format!("All together: {}\n", super::sentence(total, report.head.window_days))
    });
    format!(
        "{shop}1.00 = as many as this shop usually gets on the same {}. Whoever gets the harder jobs \
         will look worse: a place to look, never a ranking, and no ground for pay or discipline.\n\
         Luck alone: how often luck alone puts a line at least this far from expected",
        if report.by == By::Lot { "part" } else { "complaints" },
    )
}

/// The answer in the shop's words.
pub const fn said(answer: Answer) -> &'static str {
    match answer {
        Answer::NoEvidence => "no difference beyond chance",
        Answer::MoreThanExpected => "more than expected",
        Answer::FewerThanExpected => "fewer than expected",
        Answer::TooFew => "too few jobs to say",
        Answer::UndecidedProposals => "decide its open comebacks first",
    }
}

fn name(group: &CompareGroup) -> Cell {
    Cell::text(group.group.as_deref().unwrap_or("not recorded"))
}

fn group_row(group: &CompareGroup) -> Row {
    let [low, high] = bounds(group.interval.as_ref());
    Row {
        cells: vec![
            name(group),
            Cell::text(said(group.answer)),
            Cell::share(&group.share),
            Cell::Number(group.expected, 2),
            Cell::number(group.ratio, 2),
            low,
            high,
            Cell::number(group.drawn, 2),
            Cell::percent(group.p),
            Cell::percent(group.q),
        ],
        jobs: Some(group.jobs.clone()),
    }
}

fn limits_row(group: &CompareGroup) -> Row {
    let [low, high] = bounds(group.byar.as_ref());
    let first = [name(group), Cell::Number(group.expected, 2), Cell::number(group.ratio, 2)];
    let limits = [group.inner, group.outer].into_iter().flat_map(ends);
    let last = [Cell::count(group.others), low, high];
    Row {
        cells: first.into_iter().chain(limits).chain(last).collect(),
        jobs: Some(group.jobs.clone()),
    }
}

fn funnel_row(point: &FunnelPoint) -> Row {
    let limits = [point.inner, point.outer].into_iter().flat_map(|limits| ends(Some(limits)));
    Row { cells: [Cell::Number(point.expected, 2)].into_iter().chain(limits).collect(), jobs: None }
}

fn bounds(interval: Option<&Interval>) -> [Cell; 2] {
    [
        Cell::number(interval.map(|interval| interval.low), 2),
        Cell::number(interval.map(|interval| interval.high), 2),
    ]
}

fn ends(limits: Option<Limits>) -> [Cell; 2] {
    [
        Cell::number(limits.map(|limits| limits.low), 2),
        Cell::number(limits.map(|limits| limits.high), 2),
    ]
}
