//! What came back by bench reading, or by what was read before the hand-over: the
//! bands that the record parts readings in, and the cut-off where there is one.

use analytics::bench::{Band, BenchPart, BenchReport, CutOff, Kind};
use analytics::preparation::hand_over::{HandOverLine, HandOverReport};

use super::{counts, ends, shown};
use crate::chart::{Axis, Dot, Key, Layer, Picture, Plot, Shape, Tone, Unit};
use crate::reports::table::decimals;

/// Parts with a picture; the table has them all.
const MOST_PARTS: usize = 4;

/// What a picture is made of.
struct Seen<'a> {
    name: &'a str,
    unit: Option<&'a str>,
    bands: &'a [Band],
    break_even_share: Option<f64>,
    cut_off: Option<&'a CutOff>,
    text: &'a str,
    /// What pays above the break-even share.
    pays: &'static str,
    /// What is too few.
    few: &'static str,
}

pub(super) fn parts(report: &BenchReport) -> Vec<Picture> {
    let seen = |part: &BenchPart| {
        picture(&Seen {
            name: &part.part,
            unit: part.unit.as_deref(),
            bands: &part.bands,
            break_even_share: part.break_even_share,
            cut_off: part.cut_off.as_ref(),
            text: &part.text,
            pays: "replacing pays above",
            few: "under ten uses: too few to say",
        })
    };
    report.parts.iter().filter_map(seen).take(MOST_PARTS).collect()
}

/// The same of what was read before the hand-over.
pub(super) fn lines(report: &HandOverReport) -> Vec<Picture> {
    let seen = |line: &HandOverLine| {
        picture(&Seen {
            name: &line.line,
            unit: line.unit.as_deref().filter(|unit| *unit != "1"),
            bands: &line.bands,
            break_even_share: line.break_even_share,
            cut_off: line.cut_off.as_ref(),
            text: &line.text,
            pays: "holding back pays above",
            few: "under ten jobs: too few to say",
        })
    };
    report.lines.iter().filter_map(seen).take(MOST_PARTS).collect()
}

fn picture(seen: &Seen<'_>) -> Option<Picture> {
    let mut bands: Vec<&Band> = seen.bands.iter().collect();
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
    let unit = seen.unit.map_or_else(String::new, |unit| format!(", {unit}"));
    let plot = Plot {
        x: Axis::around(
            &format!("Reading{unit}"),
            bands.iter().flat_map(|band| [band.from, band.to]),
        ),
        y: Axis::over("Came back", Unit::Percent, highs.chain(shares).chain(seen.break_even_share)),
        layers: layers(seen, &bands),
    };
    let few = bands.iter().any(|band| band.share.too_few);
    let picture =
        Picture::plot(format!("{}: came back by reading.", seen.name), seen.text.to_owned(), plot)
            .with(Key::Line(Tone::A), "share of a band")
            .with(Key::Mark(Shape::Disc, Tone::A), "in its range");
    Some(if few { picture.with(Key::Mark(Shape::Ring, Tone::A), seen.few) } else { picture })
}

fn layers(seen: &Seen<'_>, bands: &[&Band]) -> Vec<Layer> {
    let steps = bands.iter().flat_map(|band| {
        let share = band.share.share.unwrap_or(f64::NAN);
        // Between two bands there was no reading.
        [(band.from, share), (band.to, share), (f64::NAN, f64::NAN)]
    });
    let mut layers = vec![Layer::Line { tone: Tone::A, points: steps.collect(), steps: false }];
    layers.extend(seen.break_even_share.map(|at| Layer::Level {
        tone: Tone::Usual,
        at,
        label: format!("{} {}", seen.pays, shown(at)),
    }));
    let cut_off = seen.cut_off.filter(|cut_off| cut_off.kind == Kind::Between);
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
