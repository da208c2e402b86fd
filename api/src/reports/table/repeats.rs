//! How often vehicles come back, as tables.

use analytics::repeats::{RepeatFigures, RepeatPoint, RepeatReport, VehicleMean, VisitCount};

use super::{Cell, Column, Row, Table, currency, number, text};
use crate::domain::money::Currency;

const MEANS: [Column; 8] = [
    number("days", "By day"),
    number("followed", "Vehicles followed"),
    number("visits", "Visits per vehicle"),
    number("visits_low", "Low"),
    number("visits_high", "High"),
    number("cost", "Cost per vehicle"),
    number("cost_low", "Cost low"),
    number("cost_high", "Cost high"),
];

pub(super) fn tables(report: &RepeatReport) -> Vec<Table> {
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
            title: format!("Comeback visits of a vehicle since its first repair, by {by}"),
            note: Some(said(&report.total)),
            columns: with_group(&MEANS),
            rows: means.collect(),
        },
        Table {
            key: "by_visits",
            title: "Vehicles by how often they came back".to_owned(),
            note: Some(
                "So far: newer repairs have had less time to come back. Compare the means."
                    .to_owned(),
            ),
            columns: with_group(&[text("visits", "Visits"), number("vehicles", "Vehicles")]),
            rows: counts.collect(),
        },
        cost(&report.total, &money),
        curve(report),
    ]
}

/// The total in words, at the longest time that can be told.
fn said(total: &RepeatFigures) -> String {
    let told = total.points.iter().rev().find_map(|point| Some((point, point.visits.value?)));
    let so_far = format!("{} vehicles, {} comeback visits so far", total.vehicles, total.visits);
    told.map_or_else(
        || format!("{so_far}; too few are followed long enough for a mean"),
        |(point, mean)| {
            let per_hundred = Cell::Number(mean * 100.0, 1);
            format!("{so_far}; {per_hundred} visits per 100 vehicles within {} days", point.days)
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
                Cell::number(visits.value, 3),
                Cell::number(spread.map(|(low, _)| low), 3),
                Cell::number(spread.map(|(_, high)| high), 3),
                Cell::money(cost.and_then(|cost| cost.value), money),
                Cell::money(cost_spread.map(|(low, _)| low), money),
                Cell::money(cost_spread.map(|(_, high)| high), money),
            ],
            jobs: Some(visits.jobs.clone()),
        }
    };
    figures.points.iter().map(row).collect()
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
fn cost(total: &RepeatFigures, money: &Currency) -> Table {
    let amount = |minor: Option<i64>| {
        minor.map_or(Cell::Blank, |minor| Cell::Money(money.format_amount(minor)))
    };
    Table {
        key: "cost",
        title: "What these comebacks cost so far".to_owned(),
        note: None,
        columns: vec![
            number("comebacks", "Comebacks handed over"),
            number("clock_hours", "Clock h"),
            number("labor", "Labor"),
            number("parts", "Parts"),
            number("sublet", "Work sent out"),
            number("extra", "The rest of a return"),
            number("paid_back", "Paid back"),
            number("total", "Total"),
        ],
        rows: total
            .cost
            .iter()
            .map(|cost| Row {
                cells: vec![
                    Cell::Count(cost.count),
                    Cell::Number(cost.clock_hours, 1),
                    amount(cost.labor_minor),
                    amount(cost.parts_minor),
                    amount(cost.sublet_minor),
                    amount(cost.extra_minor),
                    amount(cost.paid_back_minor),
                    amount(cost.total_minor),
                ],
                jobs: None,
            })
            .collect(),
    }
}

fn curve(report: &RepeatReport) -> Table {
    Table {
        key: "curve",
        title: "Visits per vehicle, by day".to_owned(),
        note: None,
        columns: vec![
            number("days", "Days"),
            number("mean", "Visits per vehicle"),
            number("low", "Low"),
            number("high", "High"),
            number("at_risk", "Vehicles followed"),
        ],
        rows: report
            .curve
            .iter()
            .map(|step| Row {
                cells: vec![
                    Cell::Count(i64::from(step.days)),
                    Cell::Number(step.mean, 3),
                    Cell::number(step.low, 3),
                    Cell::number(step.high, 3),
                    Cell::Count(step.at_risk),
                ],
                jobs: None,
            })
            .collect(),
    }
}
