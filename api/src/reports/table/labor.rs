//! Labor against flat-rate, as tables.

use analytics::labor::{LaborLine, LaborReport};

use super::comebacks::outcomes;
use super::{Cell, Column, Row, Table, currency, number, ratio, text};
use crate::domain::money::Currency;

const LABOR: &[Column] = &[
    text("group", "Group"),
    number("jobs", "Jobs"),
    number("flat_rate_hours", "Flat-rate h"),
    number("clock_hours", "Clock h"),
    number("lost_hours", "Lost h"),
    ratio("efficiency", "Efficiency"),
    ratio("efficiency_without_comebacks", "Without comebacks"),
    number("attended_hours", "Attended h"),
    number("started_clock_hours", "On the clock h"),
    number("productivity", "Productivity"),
    number("overall", "Overall"),
    number("billed_hours", "Billed h"),
    number("labor_amount", "Labor sold"),
    number("effective_labor_rate", "Effective rate"),
    number("diagnosis_share", "Diagnosis"),
    number("comebacks", "Comebacks"),
    number("comeback_hours", "Comeback h"),
    number("unclocked", "Jobs off the clock"),
    number("unclocked_flat_rate_hours", "their flat-rate h"),
];

pub(super) fn tables(report: &LaborReport) -> Vec<Table> {
    let money = currency(&report.head.currency);
    let total = line_row("all", &report.total, &money);
    let lines = report
        .lines
        .iter()
        .map(|line| line_row(line.group.as_deref().unwrap_or("not recorded"), line, &money));
    vec![
        Table {
            key: "labor",
            title: format!("Labor against flat-rate, by {}", report.by.as_str()),
            note: None,
            columns: LABOR.to_vec(),
            // First, so that no cut-off list is without it.
            rows: std::iter::once(total).chain(lines).collect(),
        },
        comeback_cost(report, &money),
        outcomes(&report.outcomes),
    ]
}

fn line_row(group: &str, line: &LaborLine, money: &Currency) -> Row {
    Row {
        cells: vec![
            Cell::text(group),
            Cell::Count(line.count),
            Cell::Number(line.flat_rate_hours, 1),
            Cell::Number(line.clock_hours, 1),
            Cell::Number(line.lost_hours, 1),
            Cell::ratio(&line.efficiency),
            Cell::ratio(&line.efficiency_without_comebacks),
            Cell::number(line.attended_hours, 1),
            Cell::number(line.started_clock_hours, 1),
            Cell::percent(line.productivity),
            Cell::percent(line.overall),
            Cell::Number(line.billed_hours, 1),
            amount(line.labor_amount_minor, money),
            Cell::money(line.effective_labor_rate.value, money),
            Cell::percent(line.diagnosis_share),
            Cell::Count(line.comebacks),
            Cell::Number(line.comeback_hours, 1),
            Cell::Count(line.unclocked),
            Cell::Number(line.unclocked_flat_rate_hours, 1),
        ],
        jobs: Some(line.jobs.clone()),
    }
}

/// Absent where it is withheld.
pub(super) fn amount(minor: Option<i64>, money: &Currency) -> Cell {
    minor.map_or(Cell::Blank, |minor| Cell::Money(money.format_amount(minor)))
}

fn comeback_cost(report: &LaborReport, money: &Currency) -> Table {
    let cost = &report.comebacks;
    Table {
        key: "comeback_cost",
        title: "What comebacks cost".to_owned(),
        note: None,
        columns: vec![
            number("comebacks", "Comebacks"),
            number("clock_hours", "Clock h"),
            number("labor", "Labor"),
            number("parts", "Parts"),
            number("sublet", "Work sent out"),
            number("extra", "The rest of a return"),
            number("paid_back", "Paid back"),
            number("total", "Total"),
        ],
        rows: vec![Row {
            cells: vec![
                Cell::Count(cost.count),
                Cell::Number(cost.clock_hours, 1),
                amount(cost.labor_minor, money),
                amount(cost.parts_minor, money),
                amount(cost.sublet_minor, money),
                amount(cost.extra_minor, money),
                amount(cost.paid_back_minor, money),
                amount(cost.total_minor, money),
            ],
            jobs: None,
        }],
    }
}
