//! People, suppliers, lots, engines and models compared, as tables.

use analytics::compare::{CompareGroup, CompareReport, FunnelPoint, Limits};
use analytics::figure::Interval;

use super::{Cell, Column, Row, Table, number, share, text};

const GROUPS: &[Column] = &[
    text("group", "Group"),
    share("comebacks", "Came back"),
    number("expected", "Expected"),
    number("ratio", "Came back / expected"),
    number("low", "at least"),
    number("high", "at most"),
    number("drawn", "Drawn to 1"),
    number("p", "By chance (p)"),
    number("q", "among all (q)"),
    text("answer", "Answer"),
];

const LIMITS: &[Column] = &[
    text("group", "Group"),
    number("expected", "Expected"),
    number("ratio", "Came back / expected"),
    number("byar_low", "at least (Byar)"),
    number("byar_high", "at most (Byar)"),
    number("inner_low", "95 % from"),
    number("inner_high", "95 % to"),
    number("outer_low", "99.8 % from"),
    number("outer_high", "99.8 % to"),
    number("others", "Like jobs of others"),
];

const FUNNEL: &[Column] = &[
    number("expected", "Expected"),
    number("inner_low", "95 % from"),
    number("inner_high", "95 % to"),
    number("outer_low", "99.8 % from"),
    number("outer_high", "99.8 % to"),
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
            title: "Where chance alone lets them lie".to_owned(),
            note: None,
            columns: LIMITS.to_vec(),
            rows: report.groups.iter().map(limits_row).collect(),
        },
        Table {
            key: "funnel",
            title: "The limits by what is expected, for drawing".to_owned(),
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
        "{shop}1 is as many as the shop's own shares for the same work let expect. Within a symptom, \
         too, who gets the harder jobs comes out worse: a place to look, never a ranking, and no \
         ground for pay or discipline."
    )
}

fn name(group: &CompareGroup) -> Cell {
    Cell::text(group.group.as_deref().unwrap_or("not recorded"))
}

fn group_row(group: &CompareGroup) -> Row {
    let [low, high] = bounds(group.interval.as_ref());
    Row {
        cells: vec![
            name(group),
            Cell::share(&group.share),
            Cell::Number(group.expected, 2),
            Cell::number(group.ratio, 2),
            low,
            high,
            Cell::number(group.drawn, 2),
            Cell::number(group.p, 4),
            Cell::number(group.q, 4),
            Cell::text(group.answer.as_str()),
        ],
        jobs: Some(group.jobs.clone()),
    }
}

fn limits_row(group: &CompareGroup) -> Row {
    let [low, high] = bounds(group.byar.as_ref());
    let first = [name(group), Cell::Number(group.expected, 2), Cell::number(group.ratio, 2)];
    let limits = [group.inner, group.outer].into_iter().flat_map(ends);
    let cells = first.into_iter().chain([low, high]).chain(limits);
    Row {
        cells: cells.chain([Cell::count(group.others)]).collect(),
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
