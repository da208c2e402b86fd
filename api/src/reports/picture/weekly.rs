//! The weekly review in pictures: the closing weeks on their control chart, what
//! arrived beside what was expected, what moved.

use analytics::weekly::{ChartPoint, Mover, MoverAnswer, WeeklyReview};

use super::{MOST_LINES, counts, shown};
use crate::chart::{
    Axis, Bar, Dot, Key, Layer, Picture, Plot, Row, RowDot, Rows, Shape, Tone, Unit, days,
};
use crate::reports::page_table::Standing;

/// Half a week, so that a week's limits stand around its mark.
const HALF: f64 = 3.5;
/// Systems that nothing came of are drawn from this expectation on.
const LEAST_EXPECTED: f64 = 0.1;

/// The control chart.
pub(super) fn chart(review: &WeeklyReview, standing: &Standing<'_>) -> Option<Picture> {
    let chart = &review.chart;
    // Time goes to the right.
    let points: Vec<&ChartPoint> = chart.points.iter().rev().collect();
    let newest = *points.last()?;
    let limited = points.iter().any(|point| point.high.is_some());
    let usual = chart.baseline.share.filter(|_| limited);
    let shares = points.iter().filter_map(|point| point.share.share);
    let highs = points.iter().filter_map(|point| point.high);
    let x = points.iter().map(|point| days(point.week_from));
    let unit = Unit::Day(standing.style.dates);
    let x = Axis::over("Delivered in the week of", unit, x).with_room(HALF);
    let y = Axis::over("Came back", Unit::Percent, shares.chain(highs).chain(usual));
    let mut layers = vec![limit(&points, |point| point.high), limit(&points, |point| point.low)];
    layers.extend(usual.map(|at| Layer::Level {
        tone: Tone::Usual,
        at,
        label: format!("usual {}", shown(at)),
    }));
    layers.push(Layer::Line {
        tone: Tone::A,
        points: points
            .iter()
            .filter_map(|point| Some((days(point.week_from), point.share.share?)))
            .collect(),
        steps: false,
    });
    for tone in [Tone::A, Tone::Signal] {
        let dots = points
            .iter()
            .filter_map(|point| week_dot(point, standing))
            .filter(|(of, _)| *of == tone);
        layers.push(Layer::Dots { tone, dots: dots.map(|(_, dot)| dot).collect() });
    }
    let plot = Plot { x, y, layers };
    let says = format!(
        "In the newest week whose {} days are over, {} came back.{}",
        review.head.window_days,
        counts(&newest.share),
        if limited { "" } else { " Limits need 26 weeks of record." },
    );
    let picture = Picture::plot("Closing weeks against the usual.", says, plot)
        .with(Key::Mark(Shape::Disc, Tone::A), "a week");
    let picture = if points.iter().any(|point| point.share.too_few) {
        picture.with(Key::Mark(Shape::Ring, Tone::A), "a week with under ten jobs")
    } else {
        picture
    };
    Some(if limited { told(picture, &points) } else { picture })
}

/// The legend of what the limits leave outside, where there is such a week.
fn told(picture: Picture, points: &[&ChartPoint]) -> Picture {
    let any = |above: bool, by_luck: bool| {
        points
            .iter()
            .filter_map(|point| point.outside())
            .any(|outside| outside.by_luck == by_luck && (by_luck || outside.above == above))
    };
    let mut picture = picture.with(Key::Limit { outer: false }, "limits for its number of jobs");
    for (is, shape, tone, words) in [
        (any(true, false), Shape::Up, Tone::Signal, "above its limits"),
        (any(false, false), Shape::Down, Tone::Signal, "below its limits"),
        (any(true, true), Shape::HollowDiamond, Tone::A, "outside, as luck may bring it"),
    ] {
        if is {
            picture = picture.with(Key::Mark(shape, tone), words);
        }
    }
    picture
}

/// One limit of each week, broken where a week is missing.
fn limit(points: &[&ChartPoint], pick: fn(&ChartPoint) -> Option<f64>) -> Layer {
    let mut drawn: Vec<(f64, f64)> = Vec::new();
    for point in points {
        let (x, y) = (days(point.week_from), pick(point).unwrap_or(f64::NAN));
        if drawn.last().is_some_and(|(before, _)| x - HALF > before + 0.5) {
            drawn.push((x, f64::NAN));
        }
        drawn.extend([(x - HALF, y), (x + HALF, y)]);
    }
    Layer::Limit { points: drawn, steps: false, outer: false }
}

fn week_dot(point: &ChartPoint, standing: &Standing<'_>) -> Option<(Tone, Dot)> {
    let (shape, tone, outside) = match point.outside() {
        Some(outside) if outside.by_luck => {
            (Shape::HollowDiamond, Tone::A, ", outside its limits as luck may bring it")
        }
        Some(outside) if outside.above => (Shape::Up, Tone::Signal, ", above its limits"),
        Some(_) => (Shape::Down, Tone::Signal, ", below its limits"),
        None if point.share.too_few => (Shape::Ring, Tone::A, ""),
        None => (Shape::Disc, Tone::A, ""),
    };
    let y = point.share.share?;
    let said = format!(
        "Week of {}: {} came back, {}{outside}",
        standing.style.day(point.week_from),
        counts(&point.share),
        shown(y)
    );
    Some((tone, Dot { x: days(point.week_from), y, shape, said, label: None, spread: None }))
}

/// What arrived, beside what was expected.
pub(super) fn arrivals(review: &WeeklyReview, standing: &Standing<'_>) -> Option<Picture> {
    let arrivals = &review.arrivals;
    let all = ("all".to_owned(), arrivals.observed, arrivals.expected?);
    // Most systems bring nothing in most weeks; the table has them all.
    let told = |observed: i64, expected: f64| observed > 0 || expected >= LEAST_EXPECTED;
    let systems = arrivals.systems.iter().filter(|line| told(line.observed, line.expected));
    let systems = systems.map(|line| {
        let name = line.system.as_deref().map_or_else(
            || "not recorded".to_owned(),
            |system| standing.label("arrivals", "system", system),
        );
        (name, line.observed, line.expected)
    });
    let lines: Vec<(String, i64, f64)> =
        std::iter::once(all).chain(systems).take(MOST_LINES).collect();
    let values = lines.iter().flat_map(|(_, observed, expected)| [*observed as f64, *expected]);
    let axis = Axis::over("Comebacks of the week", Unit::Number, values);
    let rows = lines
        .iter()
        .map(|(label, observed, expected)| {
            let said = format!("{label}: {observed} came back, {expected:.1} expected");
            Row {
                label: label.clone(),
                bars: vec![Bar { tone: Tone::A, from: 0.0, to: *observed as f64, said }],
                dots: vec![RowDot {
                    tone: Tone::Usual,
                    shape: Shape::Upright,
                    at: *expected,
                    said: String::new(),
                    spread: None,
                }],
                text: observed.to_string(),
            }
        })
        .collect();
    let normal = match (arrivals.normal_low, arrivals.normal_high) {
        (Some(low), Some(high)) => format!(" A normal week has {low} to {high}."),
        _ => String::new(),
    };
    let says = format!(
        "{} came back, {:.1} were expected.{normal}",
        arrivals.observed, arrivals.expected?
    );
    let rows = Rows { axis, rows, levels: Vec::new(), run: Vec::new() };
    Some(
        Picture::rows("Came back and expected.", says, rows)
            .with(Key::Bar(Tone::A), "came back")
            .with(Key::Mark(Shape::Upright, Tone::Usual), "expected"),
    )
}

/// From the share before to the share of the last quarter, group by group.
pub(super) fn movers(review: &WeeklyReview, standing: &Standing<'_>) -> Option<Picture> {
    let rows: Vec<Row> = review
        .movers
        .groups
        .iter()
        .take(MOST_LINES)
        .filter_map(|mover| mover_row(mover, standing))
        .collect();
    if rows.is_empty() {
        return None;
    }
    let values = rows.iter().flat_map(|row| row.dots.iter().map(|dot| dot.at));
    let axis = Axis::over("Came back", Unit::Percent, values);
    let changed = |mover: &&Mover| mover.answer != MoverAnswer::NoEvidence;
    let says = match review.movers.groups.iter().filter(changed).count() {
        0 => "None of these changed beyond chance.".to_owned(),
        count => format!("{count} changed beyond chance: filled."),
    };
    let rows = Rows { axis, rows, levels: Vec::new(), run: Vec::new() };
    Some(
        Picture::rows("From the year before to the last quarter.", says, rows)
            .with(Key::Mark(Shape::Upright, Tone::Usual), "before")
            .with(Key::Mark(Shape::Diamond, Tone::Signal), "now, changed beyond chance")
            .with(Key::Mark(Shape::HollowDiamond, Tone::A), "now, no change beyond chance"),
    )
}

fn mover_row(mover: &Mover, standing: &Standing<'_>) -> Option<Row> {
    let label = standing.label("movers", mover.column.as_str(), &mover.group);
    let (before, now) = (mover.before.share?, mover.recent.share?);
    let (shape, tone) = if mover.answer == MoverAnswer::NoEvidence {
        (Shape::HollowDiamond, Tone::A)
    } else {
        (Shape::Diamond, Tone::Signal)
    };
    let said = format!(
        "{label}: before {} ({}), now {} ({})",
        shown(before),
        counts(&mover.before),
        shown(now),
        counts(&mover.recent)
    );
    let dot = |tone, shape, at, said, spread| RowDot { tone, shape, at, said, spread };
    Some(Row {
        label,
        bars: Vec::new(),
        dots: vec![
            dot(Tone::Usual, Shape::Upright, before, String::new(), Some((before, now))),
            dot(tone, shape, now, said, None),
        ],
        text: format!("{} to {}", shown(before), shown(now)),
    })
}
