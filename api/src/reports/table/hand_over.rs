//! Readings before the hand-over and what came back, as tables.

use analytics::bench::{Better, CutOffLine, Kind};
use analytics::preparation::hand_over::{HandOverLine, HandOverReport};

use super::bench::{band_row, cut_off_row, reading};
use super::{Cell, Column, Row, Table, currency, decimals, number, share, text};

const LINES: &[Column] = &[
    text("line", "Read"),
    text("rule", "Rule"),
    text("unit", "Unit"),
    number("left", "Left with a reading"),
    share("returned", "Came back"),
    number("break_even_share", "Holding back pays above"),
    number("limit", "Limit"),
    number("limit_low", "At least"),
    number("limit_high", "At most"),
    number("slope", "Trend per unit, log odds"),
    number("slope_p", "Chance of such a trend by luck"),
    text("answer", "Answer"),
];

const BANDS: &[Column] = &[
    text("line", "Read"),
    text("unit", "Unit"),
    number("from", "From"),
    number("to", "To"),
    share("returned", "Came back"),
];

const CUT_OFFS: &[Column] = &[
    text("line", "Read"),
    text("unit", "Unit"),
    text("limit", "Rule"),
    number("held", "Would be held back"),
    number("held_in_vain", "Of these stayed away"),
    number("let_go_returned", "Let go and came back"),
    number("cost", "Cost of these mistakes"),
    text("cheapest", "Cheapest"),
];

pub(super) fn tables(report: &HandOverReport) -> Vec<Table> {
    let money = &currency(&report.head.currency);
    let better = report.better;
    vec![
        Table {
            key: "hand_over",
            title: "Readings at the hand-over, and returns".to_owned(),
            note: Some(note(report)),
            columns: LINES.to_vec(),
            rows: report.lines.iter().map(|line| line_row(line, report.better)).collect(),
        },
        Table {
            key: "bands",
            title: "What came back by reading, worst first".to_owned(),
            note: None,
            columns: BANDS.to_vec(),
            rows: report
                .lines
                .iter()
                .flat_map(|line| {
                    let unit = line.unit.as_deref();
                    line.bands.iter().map(move |band| band_row(&line.line, unit, band))
                })
                .collect(),
        },
        Table {
            key: "cut_offs",
            title: "What each limit would have made of them".to_owned(),
            note: None,
            columns: CUT_OFFS.to_vec(),
            rows: report
                .lines
                .iter()
                .flat_map(|line| {
                    let name = (line.line.as_str(), line.unit.as_deref());
                    let row = move |cut| cut_off_row(name, limit_said(cut, better), cut, money);
                    line.cut_offs.iter().map(row)
                })
                .collect(),
        },
    ]
}

/// The direction, what must be read with it, and the answers, one a line.
fn note(report: &HandOverReport) -> String {
    let word = report.better.as_str();
    let said = if report.better_assumed {
        format!(
            "No limit is given, because nobody said which reading is the better one. The bands \
             take it to be the {word} one."
        )
    } else {
        format!("A {word} reading is the better one, as asked.")
    };
    let answers = report.lines.iter().map(|line| format!("\n{}: {}", line.line, line.text));
    format!("{said} {}{}", report.note, answers.collect::<String>())
}

fn hold_beyond(at: f64, better: Better) -> String {
    let side = match better {
        Better::Higher => "below",
        Better::Lower => "above",
    };
    format!("hold back {side} {at:.*}", decimals(at))
}

/// What to do before a vehicle leaves, in short.
fn rule(line: &HandOverLine, better: Better) -> Cell {
    let unit = line.unit.as_deref().filter(|unit| *unit != "1");
    let unit = unit.map_or_else(String::new, |unit| format!(" {unit}"));
    line.cut_off.as_ref().map_or(Cell::Blank, |cut_off| {
        Cell::text(match cut_off.kind {
            Kind::Between => format!("{}{unit}", hold_beyond(cut_off.reading, better)),
            Kind::WorstSeen => "let all go".to_owned(),
            Kind::BestSeen => "hold all back".to_owned(),
        })
    })
}

fn line_row(line: &HandOverLine, better: Better) -> Row {
    let cut_off = line.cut_off.as_ref().filter(|cut_off| cut_off.kind == Kind::Between);
    let range = cut_off.and_then(|cut_off| cut_off.interval.as_ref());
    let slope = line.slope.as_ref();
    Row {
        cells: vec![
            Cell::text(&line.line),
            rule(line, better),
            Cell::maybe(line.unit.as_deref()),
            Cell::Count(line.left),
            Cell::share(&line.returned),
            Cell::percent(line.break_even_share),
            reading(cut_off.map(|cut_off| cut_off.reading)),
            reading(range.map(|range| range.low)),
            reading(range.map(|range| range.high)),
            Cell::number(slope.map(|slope| slope.per_unit), 3),
            Cell::percent(slope.map(|slope| slope.p)),
            Cell::text(&line.text),
        ],
        jobs: Some(line.returned.jobs.clone()),
    }
}

fn limit_said(cut: &CutOffLine, better: Better) -> String {
    match cut.reading {
        Some(at) => hold_beyond(at, better),
        None if cut.rejected == 0 => "let all go".to_owned(),
        None => "hold all back".to_owned(),
    }
}
