//! How many comebacks a vehicle has had on average, by days since its first
//! repair.

use analytics::repeats::RepeatReport;

use super::FOLLOWED;
use crate::chart::{Axis, Key, Layer, Picture, Plot, Tone, Unit};

/// An average is told of as many vehicles.
const PER: f64 = 100.0;

pub(super) fn curve(report: &RepeatReport) -> Option<Picture> {
    let known: Vec<_> = report.curve.iter().filter(|step| step.at_risk >= FOLLOWED).collect();
    let last = *known.last()?;
    let line = std::iter::once((0.0, 0.0))
        .chain(known.iter().map(|step| (f64::from(step.days), step.mean * PER)))
        .collect();
    let band = std::iter::once((0.0, 0.0, 0.0))
        .chain(
            known
                .iter()
                .filter_map(|step| Some((f64::from(step.days), step.low? * PER, step.high? * PER))),
        )
        .collect();
    let highs = known.iter().filter_map(|step| step.high).chain([last.mean]).map(|at| at * PER);
    let plot = Plot {
        x: Axis::over("Days since the first repair", Unit::Number, [f64::from(last.days)]),
        y: Axis::over("Comebacks per 100 vehicles", Unit::Number, highs),
        layers: vec![
            Layer::Band { tone: Tone::A, points: band, steps: true },
            Layer::Line { tone: Tone::A, points: line, steps: true },
        ],
    };
    let says = format!(
        "{:.1} per 100 vehicles by day {}. Drawn as far as ten vehicles are still followed.",
        last.mean * PER,
        last.days
    );
    Some(
        Picture::plot("Comebacks of a vehicle since its first repair.", says, plot)
            .with(Key::Line(Tone::A), "all vehicles")
            .with(Key::Band(Tone::A), "range, 19 of 20"),
    )
}
