//! What the shop's own readings say of the one just taken.

use serde::Serialize;

use super::tally::ReuseTally;
use crate::bench::{BenchPart, BenchQuery, BenchTally, Better, Kind, bench_from};
use crate::figure::{Query, Share};
use crate::history::ShopFacts;

/// The reading of the part in hand.
#[derive(Debug, Clone, PartialEq)]
pub struct HandReading {
    pub value: f64,
    pub unit: Option<String>,
    /// Which reading is the better one; the record's word is taken where absent.
    pub better: Option<Better>,
}

/// Whether the reading speaks for putting the part back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum ReadingAnswer {
    PutBack,
    Replace,
    /// Beyond the readings that were ever put back: nobody knows.
    NothingTried,
    /// The record has no cut-off for it.
    NoCutOff,
}

/// What is said of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ReadingSaid {
    pub answer: ReadingAnswer,
    pub reading: f64,
    pub unit: Option<String>,
    pub text: String,
    /// What came back of the readings near it, where any were put back.
    pub near: Option<Share>,
}

/// The reading against those of the part, in the same unit, in any role.
pub(super) fn said(
    (bench, uses): (&BenchTally, &ReuseTally),
    facts: &ShopFacts,
    (figures, part): (&Query, &str),
    reading: &HandReading,
) -> ReadingSaid {
    let asked = |better: Option<Better>| {
        let query = BenchQuery {
            figures: figures.clone(),
            part: Some(part.to_owned()),
            role: None,
            better,
        };
        let report = bench_from((bench, uses), facts, 0, &query);
        report.parts.into_iter().find(|line| line.unit == reading.unit)
    };
    let plain = asked(reading.better);
    let record = plain.as_ref().and_then(|line| line.record_points_to);
    let better = reading.better.or(record);
    let line = if reading.better.is_none() && record.is_some() { asked(record) } else { plain };
    let near = line.as_ref().and_then(|line| near(line, reading.value));
    let (answer, text) = line.map_or_else(
        || (ReadingAnswer::NoCutOff, "No such reading of this part was put back yet.".to_owned()),
        |line| judged(&line, better, reading.value),
    );
    ReadingSaid { answer, reading: reading.value, unit: reading.unit.clone(), text, near }
}

fn near(line: &BenchPart, value: f64) -> Option<Share> {
    let band = line.bands.iter().find(|band| (band.from..=band.to).contains(&value))?;
    Some(band.share.clone())
}

fn judged(line: &BenchPart, better: Option<Better>, value: f64) -> (ReadingAnswer, String) {
    let Some(better) = better else { return (ReadingAnswer::NoCutOff, line.text.clone()) };
    // Rises as readings get better.
    let merit = |reading: f64| match better {
        Better::Higher => reading,
        Better::Lower => -reading,
    };
    let seen = || line.bands.iter().flat_map(|band| [merit(band.from), merit(band.to)]);
    let (worst, best) = (seen().fold(f64::INFINITY, f64::min), seen().fold(f64::MIN, f64::max));
    let own = merit(value);
    let word = match better {
        Better::Higher => "lower",
        Better::Lower => "higher",
    };
    let untried = format!(
        "It reads {word} than any that was put back: nothing was tried there, and no cut-off says \
         anything of it."
    );
    match &line.cut_off {
        Some(cut_off) if cut_off.kind == Kind::Between => {
            let fits = own >= merit(cut_off.reading);
            let answer = if fits { ReadingAnswer::PutBack } else { ReadingAnswer::Replace };
            (answer, line.text.clone())
        }
        _ if own < worst => (ReadingAnswer::NothingTried, untried),
        Some(cut_off) if cut_off.kind == Kind::BestSeen && own <= best => {
            (ReadingAnswer::Replace, line.text.clone())
        }
        Some(cut_off) if cut_off.kind == Kind::BestSeen => (
            ReadingAnswer::NothingTried,
            "It reads better than any that was put back: nothing was tried there.".to_owned(),
        ),
        Some(_) => (ReadingAnswer::PutBack, line.text.clone()),
        None => (ReadingAnswer::NoCutOff, line.text.clone()),
    }
}
