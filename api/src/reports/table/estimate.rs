//! A part in hand as tables.

use analytics::reuse::{EstimateReport, Lever, Side, Turning, Verdict};

use super::{Cell, Column, Row, Table, currency, number, text};
use crate::domain::money::Currency;

const CHOICES: &[Column] = &[
    text("choice", "Choice"),
    number("cases", "Done by us"),
    number("returns", "Came back"),
    number("return_share", "Best estimate"),
    number("low", "At least"),
    number("high", "At most"),
    text("basis", "From"),
    number("costs_together", "Costs all, on average"),
    number("costs_shop", "Costs the shop, on average"),
];

const TURNINGS: &[Column] = &[
    text("lever", "What"),
    text("unit", "In"),
    number("now", "Now"),
    number("level_at", "Both cost the same at"),
    number("at", "The answer turns at"),
    text("below", "Below it"),
    text("above", "Above it"),
];

pub(super) fn tables(report: &EstimateReport) -> Vec<Table> {
    let money = currency(&report.head.currency);
    vec![choices(report, &money), turnings(report, &money)]
}

fn choices(report: &EstimateReport, money: &Currency) -> Table {
    let advice = &report.advice;
    let (together, shop) = (advice.together, advice.shop);
    let side = |side: &Side, minor: [Option<f64>; 2]| Row {
        cells: vec![
            Cell::text(side.choice.as_str().replace('_', " ")),
            Cell::Count(side.cases),
            Cell::Count(side.returns),
            Cell::Percent(side.return_share),
            Cell::Percent(side.interval.low),
            Cell::Percent(side.interval.high),
            Cell::text(side.basis.as_str()),
            Cell::money(minor[0], money),
            Cell::money(minor[1], money),
        ],
        jobs: Some(side.jobs.clone()),
    };
    let of = |pick: fn(&analytics::reuse::Ledger) -> f64| {
        [together.as_ref().map(pick), shop.as_ref().map(pick)]
    };
    Table {
        key: "estimate",
        title: format!("{}, {}", report.part, report.role.as_str()),
        note: Some(note(report)),
        columns: CHOICES.to_vec(),
        rows: vec![
            side(&advice.clean, of(|ledger| ledger.clean_minor)),
            side(&advice.replace, of(|ledger| ledger.replace_minor)),
        ],
    }
}

/// The answer and what it rests on, a sentence a line.
fn note(report: &EstimateReport) -> String {
    let advice = &report.advice;
    let mut lines = vec![report.headline.clone()];
    lines.extend(report.because.iter().map(|why| (*why).to_owned()));
    lines.push(advice.text.clone());
    lines.extend(report.reading.as_ref().map(|reading| reading.text.clone()));
    lines.extend(advice.money_text.clone());
    lines.extend([advice.note.to_owned(), report.caution.to_owned()]);
    lines.iter().map(|line| line.trim_end_matches('.')).collect::<Vec<_>>().join("\n")
}

fn turnings(report: &EstimateReport, money: &Currency) -> Table {
    Table {
        key: "turnings",
        title: "What would change the answer".to_owned(),
        note: report.turnings.is_empty().then(|| "Nothing that can be reckoned".to_owned()),
        columns: TURNINGS.to_vec(),
        rows: report.turnings.iter().flat_map(|one| turning(one, money)).collect(),
    }
}

/// A line a turn; one where nothing turns.
fn turning(one: &Turning, money: &Currency) -> Vec<Row> {
    let value = |value: f64| match one.lever {
        Lever::AccessMinutes => Cell::Number(value, 0),
        Lever::PartCost | Lever::ReturnExtra => Cell::money(Some(value), money),
        Lever::ReturnShare => Cell::Percent(value),
    };
    let (lever, unit) = match one.lever {
        Lever::AccessMinutes => ("access", "minutes"),
        Lever::PartCost => ("part", money.code()),
        Lever::ReturnExtra => ("rest of a return", money.code()),
        Lever::ReturnShare => ("cleaned ones that come back", "share"),
    };
    let line = |turn: [Cell; 3]| {
        let mut cells = vec![
            Cell::text(lever),
            Cell::text(unit),
            value(one.now),
            one.level_at.map_or(Cell::Blank, value),
        ];
        cells.extend(turn);
        Row { cells, jobs: None }
    };
    if one.turns.is_empty() {
        return vec![line([Cell::Blank, Cell::Blank, Cell::Blank])];
    }
    let turns = one.turns.iter().map(|turn| {
        line([value(turn.at), Cell::text(verdict(turn.below)), Cell::text(verdict(turn.above))])
    });
    turns.collect()
}

const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::CleanAndReuse => "clean and reuse",
        Verdict::Undecided => "undecided",
        Verdict::Replace => "replace",
    }
}
