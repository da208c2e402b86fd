//! The shops of a group side by side, a line each.

use analytics::figure::Share;
use analytics::labor::{ComebackCost, LaborLine};
use chrono::NaiveDate;

use super::labor::amount;
use super::{Cell, Column, Row, Table, number, ratio, share, text};
use crate::domain::money::Currency;

const COLUMNS: &[Column] = &[
    text("group", "Shop"),
    number("jobs", "Jobs"),
    ratio("efficiency", "Efficiency"),
    ratio("efficiency_without_comebacks", "Efficiency without comebacks"),
    number("productivity", "Productivity"),
    share("comeback_share", "Comeback share"),
    number("comeback_cost", "Cost of comebacks"),
    text("currency", "Currency"),
    number("comeback_hours", "Hours on comebacks"),
    number("flat_rate_hours", "Flat-rate hours"),
    number("clock_hours", "Clock hours"),
    number("effective_labor_rate", "Effective rate"),
    text("through", "Through"),
];

/// What a line is about; what cannot be said is absent.
pub struct Of<'a> {
    pub name: &'a str,
    pub labor: &'a LaborLine,
    pub cost: &'a ComebackCost,
    pub share: Option<&'a Share>,
    pub money: Option<&'a Currency>,
    pub through: Option<NaiveDate>,
    /// Selects the jobs; absent for all shops together.
    pub jobs: Option<&'a str>,
}

/// One line as a table, so that it is shown from where its own jobs lie.
#[must_use]
pub fn table(of: &Of<'_>) -> Table {
    let labor = of.labor;
    let rate = labor.effective_labor_rate.value;
    Table {
        key: "group",
        title: "Shop by shop".to_owned(),
        note: None,
        columns: COLUMNS.to_vec(),
        rows: vec![Row {
            cells: vec![
                Cell::text(of.name),
                Cell::Count(labor.count),
                Cell::ratio(&labor.efficiency),
                Cell::ratio(&labor.efficiency_without_comebacks),
                Cell::percent(labor.productivity),
                of.share.map_or(Cell::Blank, Cell::share),
                of.money.map_or(Cell::Blank, |money| amount(of.cost.total_minor, money)),
                Cell::maybe(of.money.map(Currency::code)),
                Cell::Number(labor.comeback_hours, 1),
                Cell::Number(labor.flat_rate_hours, 1),
                Cell::Number(labor.clock_hours, 1),
                of.money.map_or(Cell::Blank, |money| Cell::money(rate, money)),
                Cell::day(of.through),
            ],
            jobs: of.jobs.map(str::to_owned),
        }],
    }
}
