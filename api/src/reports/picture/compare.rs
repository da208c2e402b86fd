//! The fair comparison as a funnel: the fewer returns are expected of a line, the
//! further luck alone may throw it.

use analytics::compare::{Answer, CompareGroup, CompareReport, Limits};

use crate::chart::{Axis, Dot, Key, Layer, Picture, Plot, Shape, Tone, Unit};
use crate::reports::page_table::Standing;
use crate::reports::table::compared;

pub(super) fn funnel(report: &CompareReport, standing: &Standing<'_>) -> Option<Picture> {
    let dots: Vec<(Tone, Dot)> =
        report.groups.iter().filter_map(|group| dot(group, standing)).collect();
    if dots.is_empty() || report.funnel.is_empty() {
        return None;
    }
    let ratios = dots.iter().map(|(_, dot)| dot.y);
    // Limits of lines with few jobs are too wide to set the scale by.
    let limits = report
        .groups
        .iter()
        .filter(|group| !group.too_few)
        .filter_map(|group| Some(group.outer?.high));
    let y =
        Axis::over("Times as many as expected", Unit::Number, ratios.chain(limits).chain([2.0]));
    let x = report.funnel.iter().map(|point| point.expected);
    let x = Axis::over("Comebacks expected", Unit::Number, x);
    let (_, top) = y.ends();
    let limit = |outer: bool, pick: fn(&Limits) -> f64| {
        let at = |point: &analytics::compare::FunnelPoint| {
            let value = pick(if outer { &point.outer } else { &point.inner });
            // Above the sheet there is nothing to draw.
            (point.expected, if value > top { f64::NAN } else { value })
        };
        Layer::Limit { points: report.funnel.iter().map(at).collect(), steps: false, outer }
    };
    let mut layers = vec![
        limit(true, |limits| limits.high),
        limit(true, |limits| limits.low),
        limit(false, |limits| limits.high),
        limit(false, |limits| limits.low),
        Layer::Level { tone: Tone::Usual, at: 1.0, label: String::new() },
    ];
    for tone in [Tone::A, Tone::Signal] {
        let of = dots.iter().filter(|(of, _)| *of == tone);
        layers.push(Layer::Dots { tone, dots: of.map(|(_, dot)| dot.clone()).collect() });
    }
    let told = |answer| report.groups.iter().filter(|group| group.answer == answer).count();
    let says = match told(Answer::MoreThanExpected) + told(Answer::FewerThanExpected) {
        0 => "No line differs beyond chance.".to_owned(),
        1 => "One line differs beyond chance.".to_owned(),
        count => format!("{count} lines differ beyond chance."),
    };
    Some(legend(
        Picture::plot("Each line against what its jobs let expect.", says, Plot { x, y, layers }),
        &dots,
    ))
}

fn legend(picture: Picture, dots: &[(Tone, Dot)]) -> Picture {
    let mut picture = picture
        .with(Key::Line(Tone::Usual), "as many as expected")
        .with(Key::Limit { outer: false }, "luck alone stays inside, 19 of 20")
        .with(Key::Limit { outer: true }, "499 of 500");
    for (shape, tone, words) in [
        (Shape::Disc, Tone::A, "no difference beyond chance"),
        (Shape::Ring, Tone::A, "too few jobs to say"),
        (Shape::HollowDiamond, Tone::A, "open comebacks to decide first"),
        (Shape::Up, Tone::Signal, "more than expected"),
        (Shape::Down, Tone::Signal, "fewer than expected"),
    ] {
        if dots.iter().any(|(_, dot)| dot.shape == shape) {
            picture = picture.with(Key::Mark(shape, tone), words);
        }
    }
    picture
}

fn dot(group: &CompareGroup, standing: &Standing<'_>) -> Option<(Tone, Dot)> {
    let y = group.ratio?;
    let label = group
        .group
        .as_deref()
        .map_or_else(|| "not recorded".to_owned(), |code| standing.label("compare", "group", code));
    let (shape, tone) = match group.answer {
        Answer::NoEvidence => (Shape::Disc, Tone::A),
        Answer::TooFew => (Shape::Ring, Tone::A),
        Answer::UndecidedProposals => (Shape::HollowDiamond, Tone::A),
        Answer::MoreThanExpected => (Shape::Up, Tone::Signal),
        Answer::FewerThanExpected => (Shape::Down, Tone::Signal),
    };
    let said = format!(
        "{label}: {} came back, {:.1} expected, {y:.2} times as many; {}",
        group.share.returns,
        group.expected,
        compared(group.answer)
    );
    Some((tone, Dot { x: group.expected, y, shape, said, label: Some(label), spread: None }))
}
