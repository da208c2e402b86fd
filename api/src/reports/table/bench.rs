//! Bench readings and what came back, as tables.

use analytics::bench::{Band, BenchPart, BenchReport, Better, CutOffLine};

use super::{Cell, Column, Row, Table, currency, number, share, text};
use crate::domain::money::Currency;

/// Figures of a reading: the record says how many were meant.
const DECIMALS: usize = 3;

const PARTS: &[Column] = &[
    text("part", "Part"),
    text("name", "Name"),
    text("unit", "Unit"),
    text("role", "Held as"),
    number("put_back", "Put back"),
    share("returned", "Part returns"),
    number("rejected", "Replaced"),
    number("cut_off", "Cut-off"),
    number("cut_off_low", "Low"),
    number("cut_off_high", "High"),
    number("break_even_share", "Break-even"),
    number("slope", "Slope, log odds"),
    number("slope_p", "p"),
    text("answer", "Answer"),
];

const BANDS: &[Column] = &[
    text("part", "Part"),
    text("unit", "Unit"),
    number("from", "From"),
    number("to", "To"),
    share("returned", "Part returns"),
];

const CUT_OFFS: &[Column] = &[
    text("part", "Part"),
    text("unit", "Unit"),
    text("cut_off", "Cut-off"),
    number("rejected", "Replaced"),
    number("rejected_held", "Would have held"),
    number("put_back_returned", "Put back and returned"),
    number("cost", "Cost of the mistakes"),
    text("cheapest", "Cheapest"),
];

pub(super) fn tables(report: &BenchReport) -> Vec<Table> {
    let money = currency(&report.head.currency);
    vec![
        Table {
            key: "bench",
            title: "Bench readings and returns".to_owned(),
            note: Some(note(report)),
            columns: PARTS.to_vec(),
            rows: report.parts.iter().map(part_row).collect(),
        },
        Table {
            key: "bands",
            title: "Part returns by reading, worst first".to_owned(),
            note: None,
            columns: BANDS.to_vec(),
            rows: report
                .parts
                .iter()
                .flat_map(|part| part.bands.iter().map(|band| band_row(part, band)))
                .collect(),
        },
        Table {
            key: "cut_offs",
            title: "What each cut-off would have made of them".to_owned(),
            note: None,
            columns: CUT_OFFS.to_vec(),
            rows: report
                .parts
                .iter()
                .flat_map(|part| {
                    let row = |line| cut_off_row(part, line, report.better, &money);
                    part.cut_offs.iter().map(row)
                })
                .collect(),
        },
        Table {
            key: "rejected",
            title: "Read and then replaced".to_owned(),
            note: None,
            columns: vec![text("part", "Part"), text("unit", "Unit"), number("uses", "Uses")],
            rows: report.parts.iter().filter(|part| part.rejected > 0).map(rejected_row).collect(),
        },
    ]
}

/// The direction, what must be read with it, and the answers, one a line.
fn note(report: &BenchReport) -> String {
    let word = report.better.as_str();
    let said = if report.better_assumed {
        format!("A {word} reading is taken for the better one, for want of another word.")
    } else {
        format!("A {word} reading is the better one, as asked.")
    };
    let answers = report.parts.iter().map(|part| format!("\n{}: {}", part.part, part.text));
    format!("{said} {}{}", report.note, answers.collect::<String>())
}

fn reading(value: Option<f64>) -> Cell {
    Cell::number(value, DECIMALS)
}

fn part_row(part: &BenchPart) -> Row {
    let cut_off = part.cut_off.as_ref();
    let range = cut_off.and_then(|cut_off| cut_off.interval.as_ref());
    let slope = part.slope.as_ref();
    Row {
        cells: vec![
            Cell::text(&part.part),
            Cell::text(&part.name),
            Cell::maybe(part.unit.as_deref()),
            Cell::text(part.role.map_or("any", |role| role.as_str())),
            Cell::Count(part.put_back),
            Cell::share(&part.returned),
            Cell::Count(part.rejected),
            reading(cut_off.map(|cut_off| cut_off.reading)),
            reading(range.map(|range| range.low)),
            reading(range.map(|range| range.high)),
            Cell::percent(part.break_even_share),
            Cell::number(slope.map(|slope| slope.per_unit), 3),
            Cell::number(slope.map(|slope| slope.p), 4),
            Cell::text(&part.text),
        ],
        jobs: Some(part.returned.jobs.clone()),
    }
}

fn band_row(part: &BenchPart, band: &Band) -> Row {
    Row {
        cells: vec![
            Cell::text(&part.part),
            Cell::maybe(part.unit.as_deref()),
            reading(Some(band.from)),
            reading(Some(band.to)),
            Cell::share(&band.share),
        ],
        jobs: Some(band.share.jobs.clone()),
    }
}

fn cut_off_row(part: &BenchPart, line: &CutOffLine, better: Better, money: &Currency) -> Row {
    let cut = match (line.reading, better) {
        (Some(reading), Better::Higher) => format!("replace below {reading:.DECIMALS$}"),
        (Some(reading), Better::Lower) => format!("replace above {reading:.DECIMALS$}"),
        (None, _) if line.rejected == 0 => "put all back".to_owned(),
        (None, _) => "replace all".to_owned(),
    };
    Row {
        cells: vec![
            Cell::text(&part.part),
            Cell::maybe(part.unit.as_deref()),
            Cell::text(cut),
            Cell::Count(line.rejected),
            Cell::Count(line.rejected_held),
            Cell::Count(line.put_back_returned),
            Cell::money(line.cost_minor.map(|minor| minor as f64), money),
            Cell::text(if line.cheapest { "yes" } else { "" }),
        ],
        jobs: None,
    }
}

fn rejected_row(part: &BenchPart) -> Row {
    Row {
        cells: vec![
            Cell::text(&part.part),
            Cell::maybe(part.unit.as_deref()),
            Cell::Count(part.rejected),
        ],
        jobs: Some(part.rejected_jobs.clone()),
    }
}
