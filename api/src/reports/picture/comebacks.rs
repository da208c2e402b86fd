//! Comeback shares in pictures: the groups beside each other, the curve by days,
//! the reasons by weight.

use analytics::comeback::{By, ComebackFigures, ComebackReport};

use super::{FOLLOWED, MOST_LINES, counts, share_dot, share_text, shown};
use crate::chart::{Axis, Bar, Key, Layer, Picture, Plot, Row, RowDot, Rows, Shape, Tone, Unit};
use crate::reports::page_table::Standing;

/// A mark a group with its interval, and the shop's own share through all.
pub(super) fn groups(report: &ComebackReport, standing: &Standing<'_>) -> Option<Picture> {
    // By week the newest ones, else those with the most jobs.
    let skipped = if report.by == Some(By::Week) {
        report.groups.len().saturating_sub(MOST_LINES)
    } else {
        0
    };
    let rows: Vec<Row> = report
        .groups
        .iter()
        .skip(skipped)
        .take(MOST_LINES)
        .map(|group| {
            let label = group.group.as_deref().map_or_else(
                || "not recorded".to_owned(),
                |code| standing.label("comebacks", "group", code),
            );
            row(label, &group.figures)
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    let reaches = rows.iter().flat_map(|row| &row.dots).flat_map(|dot| {
        let (low, high) = dot.spread.unwrap_or((dot.at, dot.at));
        [low, dot.at, high]
    });
    let axis = Axis::over("Came back", Unit::Percent, reaches.chain(report.total.share.share));
    let levels = report
        .total
        .share
        .share
        .map(|at| (Tone::Usual, at, format!("all {}", shown(at))))
        .into_iter()
        .collect();
    let left = report.groups.len() - rows.len();
    let says = format!(
        "Back within {} days of the hand-over, with the range of each.{}",
        report.head.window_days,
        if left > 0 { format!(" {left} more are in the table.") } else { String::new() },
    );
    let few = rows.iter().flat_map(|row| &row.dots).any(|dot| dot.shape == Shape::Ring);
    let rows = Rows { axis, rows, levels, run: Vec::new() };
    let picture = Picture::rows("Came back, line by line.", says, rows)
        .with(Key::Mark(Shape::Disc, Tone::A), "the share, in its range")
        .with(Key::Line(Tone::Usual), "all jobs together");
    Some(if few {
        picture.with(Key::Mark(Shape::Ring, Tone::A), "under ten jobs: too few to say")
    } else {
        picture
    })
}

fn row(label: String, figures: &ComebackFigures) -> Row {
    let share = &figures.share;
    let mut dots: Vec<RowDot> = share_dot(share, Tone::A, &label).into_iter().collect();
    // Nothing came back: the jobs whose days are over say how high it could be.
    let closed = &figures.closed_window;
    let nothing = share.share == Some(0.0) && share.interval.is_none() && !share.too_few;
    if let (true, Some(interval), Some(dot)) = (nothing, &closed.interval, dots.first_mut())
        && closed.returns == 0
    {
        dot.spread = Some((0.0, interval.high));
    }
    Row { text: share_text(share), label, bars: Vec::new(), dots }
}

/// The share by days since the hand-over, as far as enough jobs are followed.
pub(super) fn curve(report: &ComebackReport) -> Option<Picture> {
    let known: Vec<_> = report.curve.iter().filter(|point| point.at_risk >= FOLLOWED).collect();
    let last = *known.last()?;
    let window = f64::from(report.head.window_days);
    let start = std::iter::once((0.0, 0.0));
    let line: Vec<(f64, f64)> =
        start.chain(known.iter().map(|point| (f64::from(point.days), point.share))).collect();
    let band = std::iter::once((0.0, 0.0, 0.0))
        .chain(
            known.iter().filter_map(|point| Some((f64::from(point.days), point.low?, point.high?))),
        )
        .collect();
    let highs = known.iter().filter_map(|point| point.high);
    let plot = Plot {
        x: Axis::over("Days since the hand-over", Unit::Number, [f64::from(last.days), window]),
        y: Axis::over("Came back", Unit::Percent, highs.chain([last.share])),
        layers: vec![
            Layer::Band { tone: Tone::A, points: band, steps: true },
            Layer::Line { tone: Tone::A, points: line, steps: true },
            Layer::Upright {
                tone: Tone::Usual,
                at: window,
                label: format!("{} days", report.head.window_days),
            },
        ],
    };
    let says = format!(
        "{} by day {}. Drawn as far as ten jobs are still followed.",
        shown(last.share),
        last.days
    );
    Some(
        Picture::plot("Came back, by days since the hand-over.", says, plot)
            .with(Key::Line(Tone::A), "all jobs")
            .with(Key::Band(Tone::A), "range, 19 of 20"),
    )
}

/// Why they came back: each reason, and all up to it together.
pub(super) fn reasons(report: &ComebackReport, standing: &Standing<'_>) -> Option<Picture> {
    let mut sum = 0.0;
    let (mut rows, mut run) = (Vec::new(), Vec::new());
    for line in report.reasons.iter().take(MOST_LINES) {
        let Some(share) = line.share.share else { continue };
        sum += share;
        let label = line.reason.as_deref().map_or_else(
            || "not named".to_owned(),
            |reason| standing.label("reasons", "reason", reason),
        );
        let said = format!(
            "{label}: {} ({}); with those above {}",
            shown(share),
            counts(&line.share),
            shown(sum)
        );
        let bars = vec![Bar { tone: Tone::A, from: 0.0, to: share, said }];
        rows.push(Row { label, bars, dots: Vec::new(), text: String::new() });
        run.push(sum);
    }
    let axis = Axis::over("Of all jobs", Unit::Percent, run.iter().copied());
    let says = format!("Together {} of the jobs came back.", shown(sum));
    (!rows.is_empty()).then(|| {
        Picture::rows("Why they came back.", says, Rows { axis, rows, levels: Vec::new(), run })
            .with(Key::Bar(Tone::A), "came back for this reason")
            .with(Key::Mark(Shape::Ring, Tone::C), "with all reasons above it")
    })
}
