//! When parts and complaints come back, as tables.

use analytics::pattern::{Estimated, NoFit, PartTiming, PatternReport, SymptomTiming, Timing};

use super::reuse::choice_label;
use super::{Cell, Column, Row, Table, currency, number, text};
use crate::domain::money::Currency;

const TIMING: [Column; 10] = [
    number("count", "Followed"),
    number("returns", "Back so far"),
    text("hint", "Hint"),
    number("shape", "Shape"),
    number("shape_low", "Low"),
    number("shape_high", "High"),
    number("scale_days", "63 % back by day"),
    number("b10_days", "10 % back by day"),
    text("b10_from", "from"),
    number("followed_days", "Longest followed"),
];

const PART: [Column; 4] = [
    text("part", "Part"),
    text("name", "Name"),
    text("role", "Held as"),
    text("choice", "Done with it"),
];

const AGE: [Column; 5] = [
    number("replace_at_days", "Replace at day"),
    text("replace_at_from", "from"),
    number("saving", "Saved"),
    number("planned_cost", "Cost in time"),
    number("return_cost", "Cost of a return"),
];

pub(super) fn tables(report: &PatternReport) -> Vec<Table> {
    let money = currency(&report.head.currency);
    vec![
        Table {
            key: "pattern",
            title: "When parts come back".to_owned(),
            note: Some(report.note.to_owned()),
            columns: PART.into_iter().chain(TIMING).chain(AGE).collect(),
            rows: report.parts.iter().map(|line| part_row(line, &money)).collect(),
        },
        Table {
            key: "symptoms",
            title: "When complaints come back".to_owned(),
            note: None,
            columns: [text("symptom", "Symptom")].into_iter().chain(TIMING).collect(),
            rows: report.symptoms.iter().map(symptom_row).collect(),
        },
    ]
}

fn part_row(line: &PartTiming, money: &Currency) -> Row {
    let age = line.replacement.as_ref();
    let mut cells = vec![
        Cell::text(&line.part),
        Cell::text(&line.name),
        Cell::text(line.role.map_or("unknown", |role| role.as_str())),
        Cell::text(choice_label(line.choice)),
    ];
    cells.extend(timing_cells(&line.timing));
    cells.extend([
        Cell::number(age.map(|age| age.days), 0),
        Cell::maybe(age.map(|age| reach(age.extrapolated))),
        Cell::percent(age.map(|age| age.saving)),
        Cell::money(age.map(|age| age.planned_minor), money),
        Cell::money(age.map(|age| age.return_minor), money),
    ]);
    Row { cells, jobs: Some(line.timing.jobs.clone()) }
}

fn symptom_row(line: &SymptomTiming) -> Row {
    let mut cells = vec![Cell::text(line.symptom.as_deref().unwrap_or("not recorded"))];
    cells.extend(timing_cells(&line.timing));
    Row { cells, jobs: Some(line.timing.jobs.clone()) }
}

fn timing_cells(timing: &Timing) -> [Cell; 10] {
    let value = |estimate: Option<&Estimated>| estimate.map(|estimate| estimate.value);
    let shape = timing.shape.as_ref();
    let hint = match (timing.hint, timing.no_fit) {
        (Some(hint), _) => Cell::text(hint.text()),
        (None, Some(NoFit::TooFew)) => Cell::text(format!("too few ({})", timing.returns)),
        (None, Some(NoFit::NoShape)) => Cell::text("no shape: the days do not differ"),
        (None, None) => Cell::Blank,
    };
    [
        Cell::Count(timing.count),
        Cell::Count(timing.returns),
        hint,
        Cell::number(value(shape), 2),
        Cell::number(shape.map(|shape| shape.interval.low), 2),
        Cell::number(shape.map(|shape| shape.interval.high), 2),
        Cell::number(value(timing.scale_days.as_ref()), 0),
        Cell::number(value(timing.b10_days.as_ref()), 0),
        Cell::maybe(timing.b10_days.as_ref().map(|_| reach(timing.b10_extrapolated))),
        Cell::Count(i64::from(timing.followed_days)),
    ]
}

/// Whether a day lies within what was followed.
const fn reach(extrapolated: bool) -> &'static str {
    if extrapolated { "extrapolated" } else { "followed" }
}
