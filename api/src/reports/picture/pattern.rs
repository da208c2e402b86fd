//! Early or late: the shape of each line's returns around 1.

use analytics::pattern::{Hint, PatternReport, Timing};

use super::MOST_LINES;
use crate::chart::{Axis, Key, Picture, Row, RowDot, Rows, Shape, Tone, Unit};
use crate::reports::page_table::Standing;
use crate::reports::table::choice_label;
use crate::web::words::Shown;

/// Ranges that reach further are drawn to the edge: the shape of a handful of
/// returns may be anything.
const FURTHEST: f64 = 4.0;

pub(super) fn parts(report: &PatternReport) -> Option<Picture> {
    let lines = report.parts.iter().map(|line| {
        let held = line.role.map_or("role not recorded", Shown::shown);
        (format!("{}, {held}, {}", line.part, choice_label(line.choice)), &line.timing)
    });
    shapes(lines.collect())
}

pub(super) fn symptoms(report: &PatternReport, standing: &Standing<'_>) -> Option<Picture> {
    let lines = report.symptoms.iter().map(|line| {
        let label = line.symptom.as_deref().map_or_else(
            || "not recorded".to_owned(),
            |symptom| standing.label("symptoms", "symptom", symptom),
        );
        (label, &line.timing)
    });
    shapes(lines.collect())
}

fn shapes(lines: Vec<(String, &Timing)>) -> Option<Picture> {
    let rows: Vec<Row> = lines
        .into_iter()
        .filter(|(_, timing)| !timing.too_few)
        .filter_map(|(label, timing)| row(label, timing))
        .take(MOST_LINES)
        .collect();
    if rows.is_empty() {
        return None;
    }
    let reaches = rows
        .iter()
        .flat_map(|row| &row.dots)
        .flat_map(|dot| [dot.at, dot.spread.map_or(dot.at, |(_, high)| high)])
        .map(|at| at.min(FURTHEST));
    let axis = Axis::over("Shape", Unit::Number, reaches.chain([2.0]));
    let rows = Rows {
        axis,
        rows,
        levels: vec![(Tone::Usual, 1.0, "1: the same at any age".to_owned())],
        run: Vec::new(),
    };
    let says = "Left of 1 returns come early, which hints at the work or the diagnosis; right of it \
        with age, which hints at wear. Lines with too few returns are left out.";
    Some(
        Picture::rows("Early or with age.", says, rows)
            .with(Key::Mark(Shape::Disc, Tone::A), "a hint, in its range")
            .with(Key::Mark(Shape::HollowDiamond, Tone::A), "no pattern beyond chance"),
    )
}

fn row(label: String, timing: &Timing) -> Option<Row> {
    let shape = timing.shape.as_ref()?;
    let hint = timing.hint?;
    let mark = if hint == Hint::NoEvidence { Shape::HollowDiamond } else { Shape::Disc };
    let dot = RowDot {
        tone: Tone::A,
        shape: mark,
        at: shape.value,
        said: format!("{label}: {:.2}, {}", shape.value, hint.text()),
        spread: Some((shape.interval.low, shape.interval.high)),
    };
    Some(Row { label, bars: Vec::new(), dots: vec![dot], text: format!("{:.2}", shape.value) })
}
