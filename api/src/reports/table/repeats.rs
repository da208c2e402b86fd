//! How often vehicles come back, as tables.

use analytics::repeats::{RepeatFigures, RepeatPoint, RepeatReport, VehicleMean, VisitCount};

use super::labor::{COST, cost_cells, other_cost};
use super::{Cell, Column, Row, Table, currency, number, text};
use crate::domain::money::Currency;
use crate::domain::style::Style;

const MEANS: [Column; 8] = [
    number("days", "By day"),
    number("followed", "Vehicles followed"),
    number("visits_per_100", "Comebacks per 100 vehicles"),
    number("visits_per_100_low", "at least"),
    number("visits_per_100_high", "at most"),
    number("cost", "Cost per vehicle"),
    number("cost_low", "at least"),
    number("cost_high", "at most"),
];

const PER: f64 = 100.0;

pub(super) fn tables(report: &RepeatReport, style: &Style) -> Vec<Table> {
    let money = currency(&report.head.currency);
    let by = report.by.map_or("all vehicles", |by| by.as_str());
    // First, so that no cut-off list is without it.
    let all = std::iter::once(("all", &report.total));
    let groups = report
        .groups
        .iter()
        .map(|group| (group.group.as_deref().unwrap_or("not recorded"), &group.figures));
    let lines: Vec<(&str, &RepeatFigures)> = all.chain(groups).collect();
    let with_group = |columns: &[Column]| {
        std::iter::once(text("group", "Group")).chain(columns.iter().copied()).collect()
    };
    let means = lines.iter().flat_map(|(name, figures)| mean_rows(name, figures, &money));
    let counts = lines
        .iter()
        .flat_map(|(name, figures)| figures.by_visits.iter().map(|count| count_row(name, count)));
    vec![
        Table {
            key: "repeats",
            title: format!("Comebacks since a vehicle's first repair, by {by}"),
            note: Some(said(&report.total)),
            columns: with_group(&MEANS),
            rows: means.collect(),
        },
        Table {
            key: "by_visits",
            title: "Vehicles by how often they came back".to_owned(),
            note: Some(
                "So far: newer repairs have had less time to come back. Compare the averages."
                    .to_owned(),
            ),
            columns: with_group(&[text("visits", "Visits"), number("vehicles", "Vehicles")]),
            rows: counts.collect(),
        },
        cost(&report.total, &money, style),
        curve(report),
    ]
}

/// The total in words, at the longest time that can be told.
fn said(total: &RepeatFigures) -> String {
    let told = total.points.iter().rev().find_map(|point| Some((point, point.visits.value?)));
    let so_far = format!("{} vehicles, {} comeback visits so far", total.vehicles, total.visits);
    told.map_or_else(
        || format!("{so_far}; too few are followed long enough for an average"),
        |(point, mean)| {
            let per_hundred = Cell::Number(mean * PER, 1);
            format!("{so_far}; {per_hundred} comebacks per 100 vehicles within {} days", point.days)
        },
    )
}

fn mean_rows(name: &str, figures: &RepeatFigures, money: &Currency) -> Vec<Row> {
    let row = |point: &RepeatPoint| {
        let (visits, cost) = (&point.visits, point.cost_minor.as_ref());
        let bound = |mean: &VehicleMean| mean.interval.as_ref().map(|i| (i.low, i.high));
        let spread = bound(visits);
        let cost_spread = cost.and_then(bound);
        Row {
            cells: vec![
                Cell::text(name),
                Cell::Count(i64::from(point.days)),
                Cell::Count(visits.count),
                per_hundred(visits.value),
                per_hundred(spread.map(|(low, _)| low)),
                per_hundred(spread.map(|(_, high)| high)),
                Cell::money(cost.and_then(|cost| cost.value), money),
                Cell::money(cost_spread.map(|(low, _)| low), money),
                Cell::money(cost_spread.map(|(_, high)| high), money),
            ],
            jobs: Some(visits.jobs.clone()),
        }
    };
    // Days that nobody has been followed to say nothing.
    figures.points.iter().filter(|point| point.visits.count > 0).map(row).collect()
}

fn per_hundred(mean: Option<f64>) -> Cell {
    Cell::number(mean.map(|mean| mean * PER), 1)
}

fn count_row(name: &str, count: &VisitCount) -> Row {
    let more = if count.or_more { " or more" } else { "" };
    let visits = format!("{}{more}", count.visits);
    Row {
        cells: vec![Cell::text(name), Cell::Text(visits), Cell::Count(count.vehicles)],
        jobs: Some(count.jobs.clone()),
    }
}

/// What the comebacks cost so far; without a line where it is withheld.
fn cost(total: &RepeatFigures, money: &Currency, style: &Style) -> Table {
    Table {
        key: "cost",
        title: "What these comebacks cost so far".to_owned(),
        note: total.cost.as_ref().and_then(|cost| other_cost(cost, style)),
        columns: [number("comebacks", "Comebacks handed over")].into_iter().chain(COST).collect(),
        rows: total
            .cost
            .iter()
            .map(|cost| Row {
                cells: [Cell::Count(cost.count)]
                    .into_iter()
                    .chain(cost_cells(cost, money))
                    .collect(),
                jobs: None,
            })
            .collect(),
    }
}

fn curve(report: &RepeatReport) -> Table {
    Table {
        key: "curve",
        title: "Comebacks per 100 vehicles, by day".to_owned(),
        note: None,
        columns: vec![
            number("days", "Days"),
            number("per_100", "Comebacks per 100 vehicles"),
            number("low", "at least"),
            number("high", "at most"),
            number("at_risk", "Vehicles followed"),
        ],
        rows: report
            .curve
            .iter()
            .map(|step| Row {
                cells: vec![
                    Cell::Count(i64::from(step.days)),
                    per_hundred(Some(step.mean)),
                    per_hundred(step.low),
                    per_hundred(step.high),
                    Cell::Count(step.at_risk),
                ],
                jobs: None,
            })
            .collect(),
    }
}
