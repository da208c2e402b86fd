//! A rule's jobs and the others, each before and after its start.

use analytics::effect::{EffectCell, EffectReport};

use super::{share_dot, share_text};
use crate::chart::{Axis, Key, Picture, Row, Rows, Shape, Tone, Unit};
use crate::reports::page_table::Standing;

pub(super) fn shares(report: &EffectReport, standing: &Standing<'_>) -> Option<Picture> {
    let row = |label: &str, tone, cell: &EffectCell| Row {
        label: label.to_owned(),
        bars: Vec::new(),
        dots: share_dot(&cell.closed_window, tone, label).into_iter().collect(),
        text: share_text(&cell.closed_window),
    };
    let rows = vec![
        row("its jobs, before", Tone::Usual, &report.touched.before),
        row("its jobs, after", Tone::A, &report.touched.after),
        row("other jobs, before", Tone::Usual, &report.untouched.before),
        row("other jobs, after", Tone::A, &report.untouched.after),
    ];
    let dots = || rows.iter().flat_map(|row| &row.dots);
    dots().next()?;
    let reaches = dots().flat_map(|dot| [dot.at, dot.spread.map_or(dot.at, |(_, high)| high)]);
    let axis = Axis::over("Came back, of those whose days are over", Unit::Percent, reaches);
    let few = dots().any(|dot| dot.shape == Shape::Ring);
    let start = standing.style.day(report.start);
    let says = match report.withdrawn {
        Some(day) => format!("The rule stood from {start} to {}.", standing.style.day(day)),
        None => format!("The rule has stood since {start}."),
    };
    let rows = Rows { axis, rows, levels: Vec::new(), run: Vec::new() };
    let picture = Picture::rows("Before and after the rule.", says, rows)
        .with(Key::Mark(Shape::Disc, Tone::Usual), "before, in its range")
        .with(Key::Mark(Shape::Disc, Tone::A), "after, in its range");
    Some(if few {
        picture.with(Key::Mark(Shape::Ring, Tone::A), "under ten jobs: too few to say")
    } else {
        picture
    })
}
