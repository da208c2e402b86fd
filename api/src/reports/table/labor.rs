//! Labor against flat-rate, as tables.

use analytics::labor::{ComebackCost, LaborLine, LaborReport};

use super::comebacks::outcomes;
use super::{Cell, Column, Row, Table, currency, number, ratio, text};
use crate::domain::money::Currency;
use crate::domain::style::Style;

const LABOR: &[Column] = &[
    text("group", "Group"),
    number("jobs", "Jobs"),
    number("overall", "Overall"),
    ratio("efficiency", "Efficiency"),
    number("productivity", "Productivity"),
    number("effective_labor_rate", "Effective rate"),
    ratio("efficiency_without_comebacks", "Efficiency without comebacks"),
    number("flat_rate_hours", "Flat-rate hours"),
    number("clock_hours", "Clock hours"),
    number("gained_hours", "Hours gained (+) or lost (-)"),
    number("attended_hours", "Attended hours"),
    number("started_clock_hours", "Hours on the clock"),
    number("billed_hours", "Billed hours"),
    number("labor_amount", "Labor sold"),
    number("diagnosis_share", "Diagnosis"),
    number("comebacks", "Comebacks worked on (any technician's)"),
    number("comeback_hours", "Hours on comebacks"),
    number("unclocked", "Jobs without punched time"),
    number("unclocked_flat_rate_hours", "Their flat-rate hours"),
];

const CAUTION: &str = "Only punched time counts; check the punches before you judge.\nA comeback's \
    hours count here to whoever worked on it; comeback shares count it to who led the first job.";

/// What comebacks cost, after the columns that say which.
pub(super) const COST: [Column; 7] = [
    number("clock_hours", "Clock hours"),
    number("labor", "Labor"),
    number("parts", "Parts"),
    number("sublet", "Sublet"),
    number("extra", "Other cost (shop setting)"),
    number("paid_back", "Paid back"),
    number("total", "Total"),
];

pub(super) fn tables(report: &LaborReport, style: &Style) -> Vec<Table> {
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
            note: Some(CAUTION.to_owned()),
            columns: LABOR.to_vec(),
            // First, so that no cut-off list is without it.
            rows: std::iter::once(total).chain(lines).collect(),
        },
        comeback_cost(report, &money, style),
        outcomes(&report.outcomes),
    ]
}

fn line_row(group: &str, line: &LaborLine, money: &Currency) -> Row {
    Row {
        cells: vec![
            Cell::text(group),
            Cell::Count(line.count),
            Cell::percent(line.overall),
            Cell::ratio(&line.efficiency),
            Cell::percent(line.productivity),
            Cell::money(line.effective_labor_rate.value, money),
            Cell::ratio(&line.efficiency_without_comebacks),
            Cell::Number(line.flat_rate_hours, 1),
            Cell::Number(line.clock_hours, 1),
            Cell::Signed(-line.lost_hours, 1),
            Cell::number(line.attended_hours, 1),
            Cell::number(line.started_clock_hours, 1),
            Cell::Number(line.billed_hours, 1),
            amount(line.labor_amount_minor, money),
            Cell::percent(line.diagnosis_share),
            Cell::CountOf(line.comebacks, line.comeback_jobs.clone()),
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

/// Hours to two decimals, so that the lines add up as shown.
pub(super) fn cost_cells(cost: &ComebackCost, money: &Currency) -> Vec<Cell> {
    let amounts = [
        cost.labor_minor,
        cost.parts_minor,
        cost.sublet_minor,
        cost.extra_minor,
        cost.paid_back_minor,
        cost.total_minor,
    ];
    let hours = Cell::Number(cost.clock_hours, 2);
    std::iter::once(hours).chain(amounts.map(|minor| amount(minor, money))).collect()
}

/// What the shop has set a comeback to cost besides; `None` without one, and
/// where amounts are withheld.
pub(super) fn other_cost(cost: &ComebackCost, style: &Style) -> Option<String> {
    let each = cost.extra_minor?.checked_div(cost.count)?;
    Some(format!(
        "Other cost is a shop setting, {} for each comeback: tow or loan car, the bay, goodwill; \
         diagnosis and proof count by the clock",
        style.bare_amount(each)
    ))
}

fn comeback_cost(report: &LaborReport, money: &Currency, style: &Style) -> Table {
    let cost = &report.comebacks;
    Table {
        key: "comeback_cost",
        title: "What comebacks cost".to_owned(),
        note: other_cost(cost, style),
        columns: [number("comebacks", "Comebacks")].into_iter().chain(COST).collect(),
        rows: vec![Row {
            cells: [Cell::Count(cost.count)].into_iter().chain(cost_cells(cost, money)).collect(),
            jobs: None,
        }],
    }
}
