//! Sums to bands, a slope and a cut-off of one line.

use serde::Serialize;

use super::tally::Left;
use super::text;
use crate::bench::by_reading::{ByReading, bands, chosen, cut_off_lines, points_to, slope, total};
use crate::bench::{Band, Better, CutOff, CutOffLine, NoCutOff, NoSlope, Slope};
use crate::counts::Counts;
use crate::figure::Share;
use crate::follow::{Period, counted_share};
use crate::stats::cutoff;

/// One line of a list, with its readings in one unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HandOverLine {
    /// Key of the list's line.
    pub line: String,
    pub unit: Option<String>,
    /// Repaired complaints of the period that left with a reading.
    pub left: i64,
    /// Those with an ended window, and what came back of them.
    pub returned: Share,
    /// Proposed returns inside ended windows that nobody has decided.
    pub proposals_waiting: i64,
    /// Worst readings first.
    pub bands: Vec<Band>,
    /// From holding none back to holding all; empty where nobody said which
    /// readings are the better ones.
    pub cut_offs: Vec<CutOffLine>,
    pub slope: Option<Slope>,
    /// Why there is no slope.
    pub no_slope: Option<NoSlope>,
    /// The better readings by the record, where the slope is beyond chance.
    pub record_points_to: Option<Better>,
    /// What holding one vehicle back costs, in minor units.
    pub hold_minor: Option<i64>,
    /// What a return costs besides labor and parts.
    pub return_extra_minor: Option<i64>,
    /// Share of returns above which a vehicle is better held back.
    pub break_even_share: Option<f64>,
    pub cut_off: Option<CutOff>,
    pub no_cut_off: Option<NoCutOff>,
    /// The answer in a sentence.
    pub text: String,
}

/// What the report looks at.
#[derive(Debug, Clone, Copy)]
pub(super) struct Looked {
    pub period: Period,
    pub better: Better,
    /// The question said which readings are better; else it is only taken so.
    pub stated: bool,
    /// Absent where nobody said how long holding back takes.
    pub hold_minor: Option<i64>,
    pub return_extra_minor: i64,
}

impl Looked {
    fn by_reading(&self, left: &Counts<Left>, elapsed: fn(&Left) -> i32) -> ByReading {
        let mut cases = ByReading::new();
        for (one, count) in left.iter() {
            if self.period.holds(one.closed_day) && self.period.window_closed(one.closed_day) {
                let sum = cases.entry(one.reading).or_default();
                sum.cases += count;
                sum.returns += if elapsed(&one) <= self.period.window { count } else { 0 };
            }
        }
        cases
    }

    /// Holding back what would have stayed away costs the hold; letting go what
    /// returns costs the return, since the same work is then done after all.
    fn weights(&self) -> Result<cutoff::Costs, NoCutOff> {
        let hold = self.hold_minor.ok_or(NoCutOff::CostsUnknown)?;
        if hold <= 0 {
            Err(NoCutOff::ReplacingCostsNoMore)
        } else if self.return_extra_minor <= 0 {
            Err(NoCutOff::ReplacingCostsTooMuch)
        } else {
            Ok(cutoff::Costs { false_alarm: hold, missed: self.return_extra_minor })
        }
    }
}

/// The line of a key; `None` where no job of it is looked at.
pub(super) fn line(
    looked: &Looked,
    (key, unit): (&str, Option<&str>),
    counts: &Counts<Left>,
) -> Option<HandOverLine> {
    let period = &looked.period;
    let held = counts.iter().filter(|(one, _)| period.holds(one.closed_day));
    let left: i64 = held.map(|(_, count)| count).sum();
    if left == 0 {
        return None;
    }
    let cases = looked.by_reading(counts, |one| one.elapsed);
    let possible = looked.by_reading(counts, |one| one.possible);
    let jobs = |readings: &[(&str, &str)]| {
        let mut pairs = vec![("kind", "complaint"), ("outcome", "repaired")];
        pairs.extend([("hand_over_line", key), ("hand_over_unit", unit.unwrap_or_default())]);
        pairs.extend_from_slice(readings);
        period.ended().selector(&pairs)
    };
    let bands = bands(looked.better, &cases, "hand_over_band", |low, high| {
        jobs(&[("hand_over_from", low), ("hand_over_to", high)])
    });
    let (slope, no_slope) = match slope(&cases) {
        Ok(slope) => (Some(slope), None),
        Err(why) => (None, Some(why)),
    };
    let weights = looked.weights();
    let stated = looked.stated.then_some(looked.better);
    let (cut_off, no_cut_off) = match chosen(stated, (&cases, &possible), weights) {
        Ok(cut_off) => (Some(cut_off), None),
        Err(why) => (None, Some(why)),
    };
    let all = total(&cases);
    let mut line = HandOverLine {
        line: key.to_owned(),
        unit: unit.map(str::to_owned),
        left,
        returned: counted_share(all, "hand_over_returned", jobs(&[])),
        proposals_waiting: total(&possible).returns - all.returns,
        cut_offs: if looked.stated {
            cut_off_lines(looked.better, &cases, &bands, weights.ok())
        } else {
            Vec::new()
        },
        bands,
        record_points_to: slope.as_ref().and_then(points_to),
        slope,
        no_slope,
        hold_minor: looked.hold_minor,
        return_extra_minor: Some(looked.return_extra_minor),
        break_even_share: weights.ok().and_then(cutoff::Costs::threshold),
        cut_off,
        no_cut_off,
        text: String::new(),
    };
    line.text = text::sentence(&line, looked);
    Some(line)
}
