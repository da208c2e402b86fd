//! What came back by bench reading: the bands that the record parts readings in,
//! and the cut-off where there is one.

use analytics::bench::{Band, BenchPart, BenchReport, Kind};

use super::{counts, ends, shown};
use crate::chart::{Axis, Dot, Key, Layer, Picture, Plot, Shape, Tone, Unit};
use crate::reports::table::decimals;

/// Parts with a picture; the table has them all.
const MOST_PARTS: usize = 4;

pub(super) fn parts(report: &BenchReport) -> Vec<Picture> {
    report.parts.iter().filter_map(part).take(MOST_PARTS).collect()
}

fn part(part: &BenchPart) -> Option<Picture> {
    let mut bands: Vec<&Band> = part.bands.iter().collect();
    bands.sort_by(|a, b| a.from.total_cmp(&b.from));
    let known = |band: &&&Band| band.share.share.is_some();
    if bands.iter().filter(known).count() == 0 {
        return None;
    }
    let highs = bands
        .iter()
        .filter(|band| !band.share.too_few)
        .filter_map(|band| Some(ends(band.share.interval.as_ref())?.1));
    let shares = bands.iter().filter_map(|band| band.share.share);
    let unit = part.unit.as_deref().map_or_else(String::new, |unit| format!(", {unit}"));
    let plot = Plot {
        x: Axis::around(
            &format!("Reading{unit}"),
            bands.iter().flat_map(|band| [band.from, band.to]),
        ),
        y: Axis::over("Came back", Unit::Percent, highs.chain(shares).chain(part.break_even_share)),
        layers: layers(part, &bands),
    };
    let few = bands.iter().any(|band| band.share.too_few);
    let picture =
        Picture::plot(format!("{}: came back by reading.", part.part), part.text.clone(), plot)
            .with(Key::Line(Tone::A), "share of a band")
            .with(Key::Mark(Shape::Disc, Tone::A), "in its range");
    Some(if few {
        picture.with(Key::Mark(Shape::Ring, Tone::A), "under ten uses: too few to say")
    } else {
        picture
    })
}

fn layers(part: &BenchPart, bands: &[&Band]) -> Vec<Layer> {
    let steps = bands.iter().flat_map(|band| {
        let share = band.share.share.unwrap_or(f64::NAN);
        // Between two bands there was no reading.
        [(band.from, share), (band.to, share), (f64::NAN, f64::NAN)]
    });
    let mut layers = vec![Layer::Line { tone: Tone::A, points: steps.collect(), steps: false }];
    layers.extend(part.break_even_share.map(|at| Layer::Level {
        tone: Tone::Usual,
        at,
        label: format!("replacing pays above {}", shown(at)),
    }));
    let cut_off = part.cut_off.as_ref().filter(|cut_off| cut_off.kind == Kind::Between);
    layers.extend(cut_off.map(|cut_off| Layer::Upright {
        tone: Tone::B,
        at: cut_off.reading,
        label: format!("cut-off {:.*}", decimals(cut_off.reading), cut_off.reading),
    }));
    layers.push(Layer::Dots {
        tone: Tone::A,
        dots: bands.iter().filter_map(|band| dot(band)).collect(),
    });
    layers
}

fn dot(band: &Band) -> Option<Dot> {
    let y = band.share.share?;
    let few = band.share.too_few;
    let said = format!(
        "{:.*} to {:.*}: {} came back, {}",
        decimals(band.from),
        band.from,
        decimals(band.to),
        band.to,
        counts(&band.share),
        shown(y)
    );
    Some(Dot {
        x: f64::midpoint(band.from, band.to),
        y,
        shape: if few { Shape::Ring } else { Shape::Disc },
        label: Some(counts(&band.share)),
        spread: ends(band.share.interval.as_ref()).filter(|_| !few),
        said,
    })
}
