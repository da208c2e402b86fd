//! Bench readings and what came back, as tables.

use analytics::bench::{Band, BenchPart, BenchReport, Better, CutOffLine, Kind};

use super::{Cell, Column, Row, Table, currency, number, share, text};
use crate::domain::money::Currency;

/// Most figures of a reading after the point: the record says how many were
/// meant.
const MOST_DECIMALS: usize = 3;

const PARTS: &[Column] = &[
    text("part", "Part"),
    text("rule", "Rule"),
    text("name", "Name"),
    text("unit", "Unit"),
    text("role", "Held as"),
    number("put_back", "Put back"),
    share("returned", "Came back"),
    number("rejected", "Replaced after the test"),
    number("break_even_share", "Replacing pays above"),
    number("cut_off", "Cut-off"),
    number("cut_off_low", "At least"),
    number("cut_off_high", "At most"),
    number("slope", "Trend per unit, log odds"),
    number("slope_p", "Chance of such a trend by luck"),
    text("answer", "Answer"),
];

const BANDS: &[Column] = &[
    text("part", "Part"),
    text("unit", "Unit"),
    number("from", "From"),
    number("to", "To"),
    share("returned", "Came back"),
];

const CUT_OFFS: &[Column] = &[
    text("part", "Part"),
    text("unit", "Unit"),
    text("cut_off", "Rule"),
    number("rejected", "Would be replaced"),
    number("rejected_held", "Of these held"),
    number("put_back_returned", "Put back and came back"),
    number("cost", "Cost of these mistakes"),
    text("cheapest", "Cheapest"),
];

pub(super) fn tables(report: &BenchReport) -> Vec<Table> {
    let money = &currency(&report.head.currency);
    let better = report.better;
    vec![
        Table {
            key: "bench",
            title: "Bench readings and returns".to_owned(),
            note: Some(note(report)),
            columns: PARTS.to_vec(),
            rows: report.parts.iter().map(|part| part_row(part, report.better)).collect(),
        },
        Table {
            key: "bands",
            title: "What came back by reading, worst first".to_owned(),
            note: None,
            columns: BANDS.to_vec(),
            rows: report
                .parts
                .iter()
                .flat_map(|part| {
                    let unit = part.unit.as_deref();
                    part.bands.iter().map(move |band| band_row(&part.part, unit, band))
                })
                .collect(),
        },
        Table {
            key: "cut_offs",
            title: "What each rule would have made of them".to_owned(),
            note: None,
            columns: CUT_OFFS.to_vec(),
            rows: report
                .parts
                .iter()
                .flat_map(|part| {
                    let name = (part.part.as_str(), part.unit.as_deref());
                    let row =
                        move |line| cut_off_row(name, cut_off_said(line, better), line, money);
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

/// The answers stand over the table: one in a cell makes its row a page high.
pub(super) fn for_people(mut tables: Vec<Table>) -> Vec<Table> {
    tables.iter_mut().for_each(|table| table.drop_column("answer"));
    tables
}

/// The direction, what must be read with it, and the answers, one a line.
fn note(report: &BenchReport) -> String {
    let word = report.better.as_str();
    let said = if report.better_assumed {
        format!(
            "No cut-off is given, because nobody said which reading is the better one. The bands \
             take it to be the {word} one."
        )
    } else {
        format!("A {word} reading is the better one, as asked.")
    };
    let answers = report.parts.iter().map(|part| format!("\n{}: {}", part.part, part.text));
    format!("{said} {}{}", report.note, answers.collect::<String>())
}

/// A reading with no more decimals than it has.
pub(super) fn reading(value: Option<f64>) -> Cell {
    Cell::number(value, value.map_or(0, decimals))
}

/// Figures after the point that a reading has.
pub fn decimals(value: f64) -> usize {
    let same = |at: &usize| {
        let scale = 10_f64.powi(i32::try_from(*at).unwrap_or(0));
        ((value * scale).round() / scale - value).abs() < 5e-4
    };
    (0..MOST_DECIMALS).find(same).unwrap_or(MOST_DECIMALS)
}

/// What to do with a part on the bench, in short. A limit is only told where
/// there is one between two readings.
fn rule(part: &BenchPart, better: Better) -> Cell {
    let unit = part.unit.as_deref().map_or_else(String::new, |unit| format!(" {unit}"));
    part.cut_off.as_ref().map_or(Cell::Blank, |cut_off| {
        Cell::text(match cut_off.kind {
            Kind::Between => format!("{}{unit}", replace_beyond(cut_off.reading, better)),
            Kind::WorstSeen => "put all back".to_owned(),
            Kind::BestSeen => "replace all".to_owned(),
        })
    })
}

fn replace_beyond(reading: f64, better: Better) -> String {
    let side = match better {
        Better::Higher => "below",
        Better::Lower => "above",
    };
    format!("replace {side} {reading:.*}", decimals(reading))
}

fn part_row(part: &BenchPart, better: Better) -> Row {
    let cut_off = part.cut_off.as_ref().filter(|cut_off| cut_off.kind == Kind::Between);
    let range = cut_off.and_then(|cut_off| cut_off.interval.as_ref());
    let slope = part.slope.as_ref();
    Row {
        cells: vec![
            Cell::text(&part.part),
            rule(part, better),
            Cell::text(&part.name),
            Cell::maybe(part.unit.as_deref()),
            Cell::text(part.role.map_or("any", |role| role.as_str())),
            Cell::Count(part.put_back),
            Cell::share(&part.returned),
            Cell::Count(part.rejected),
            Cell::percent(part.break_even_share),
            reading(cut_off.map(|cut_off| cut_off.reading)),
            reading(range.map(|range| range.low)),
            reading(range.map(|range| range.high)),
            Cell::number(slope.map(|slope| slope.per_unit), 3),
            Cell::percent(slope.map(|slope| slope.p)),
            Cell::text(&part.text),
        ],
        jobs: Some(part.returned.jobs.clone()),
    }
}

/// A band of readings of what is named so.
pub(super) fn band_row(name: &str, unit: Option<&str>, band: &Band) -> Row {
    Row {
        cells: vec![
            Cell::text(name),
            Cell::maybe(unit),
            reading(Some(band.from)),
            reading(Some(band.to)),
            Cell::share(&band.share),
        ],
        jobs: Some(band.share.jobs.clone()),
    }
}

/// What a limit would have made of the uses; `said` is the limit in words.
pub(super) fn cut_off_row(
    (name, unit): (&str, Option<&str>),
    said: String,
    line: &CutOffLine,
    money: &Currency,
) -> Row {
    Row {
        cells: vec![
            Cell::text(name),
            Cell::maybe(unit),
            Cell::text(said),
            Cell::Count(line.rejected),
            Cell::Count(line.rejected_held),
            Cell::Count(line.put_back_returned),
            Cell::money(line.cost_minor.map(|minor| minor as f64), money),
            Cell::text(if line.cheapest { "yes" } else { "" }),
        ],
        jobs: None,
    }
}

fn cut_off_said(line: &CutOffLine, better: Better) -> String {
    match line.reading {
        Some(reading) => replace_beyond(reading, better),
        None if line.rejected == 0 => "put all back".to_owned(),
        None => "replace all".to_owned(),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_have_no_idle_zeros() {
        for (value, shown) in
            [(140.0, "140"), (307.5, "307.5"), (0.0015, "0.002"), (-3.25, "-3.25"), (1e300, "")]
        {
            let text = reading(Some(value)).to_string();
            assert!(text == shown || (shown.is_empty() && !text.contains('.')), "{text}");
        }
        assert_eq!(replace_beyond(307.5, Better::Lower), "replace above 307.5");
    }
}
