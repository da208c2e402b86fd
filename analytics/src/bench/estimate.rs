//! Sums to bands, a slope and a cut-off.

use serde::Serialize;

use super::Better;
use super::by_reading::{self, ByReading, bands, chosen, cut_off_lines, points_to, slope};
use super::tally::{PutBack, Readings};
use super::text;
use crate::figure::{Interval, Share};
use crate::follow::{Period, counted_share};
use crate::reuse::{Costs, DONE, Stakes};
use crate::stats::cutoff;
use crate::words::PartRole;

/// Neighboring readings with one fitted return share.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = BenchBand))]
pub struct Band {
    /// Lowest and highest reading in it.
    pub from: f64,
    pub to: f64,
    pub share: Share,
}

/// What a cut-off between two bands would have made of the uses.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = BenchCutOffLine))]
pub struct CutOffLine {
    /// What is worse is rejected; absent where none or all are.
    pub reading: Option<f64>,
    /// Uses it would have rejected, and those among them that held.
    pub rejected: i64,
    pub rejected_held: i64,
    /// Uses it would have put back that returned.
    pub put_back_returned: i64,
    /// What these mistakes would have cost, in minor units.
    pub cost_minor: Option<i64>,
    /// No other line costs less.
    pub cheapest: bool,
}

/// Where a cut-off lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = BenchCutOffKind))]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// In the middle between the best rejected and the worst accepted reading.
    Between,
    /// At the worst reading that was put back: all of them were worth it.
    WorstSeen,
    /// At the best reading that was put back: none of them was worth it.
    BestSeen,
}

/// The reading from which on a part is put back.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = BenchCutOff))]
pub struct CutOff {
    pub kind: Kind,
    pub reading: f64,
    /// Absent where there are too many uses to resample.
    pub interval: Option<Interval>,
}

/// Why there is no cut-off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum NoCutOff {
    /// Fewer than ten that returned, or than ten that held.
    TooFew,
    /// Nobody said which readings are the better ones.
    DirectionNotStated,
    /// Access minutes or the part's cost are not known.
    CostsUnknown,
    /// Replacing costs no more than putting back, whatever it reads.
    ReplacingCostsNoMore,
    /// Replacing costs more than a return, whatever it reads.
    ReplacingCostsTooMuch,
    /// Proposed returns wait for a decision that would move it.
    ProposalsWaiting,
}

/// Why there is no slope.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum NoSlope {
    /// All of them came back, or none.
    OneOutcome,
    /// All readings are the same.
    OneReading,
    /// One reading divides those that came back from the others.
    Separated,
    /// No curve settles on these readings.
    Unsettled,
}

/// Whether the reading tells anything of the return.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = BenchSlope))]
pub struct Slope {
    /// Change of the log odds of a return per unit of the reading.
    pub per_unit: f64,
    pub standard_error: f64,
    pub interval: Interval,
    /// Probability of such a slope, or a steeper one either way, by chance.
    pub p: f64,
}

/// One part with readings in one unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BenchPart {
    /// Part number, else name.
    pub part: String,
    pub name: String,
    /// Of the readings; absent where none was written.
    pub unit: Option<String>,
    /// As asked; absent: every role together.
    pub role: Option<PartRole>,
    /// Uses of the period that were read and put back.
    pub put_back: i64,
    /// Those with an ended window, and what came back of them.
    pub returned: Share,
    /// Uses that were read and then replaced.
    pub rejected: i64,
    pub rejected_jobs: String,
    /// Proposed returns inside ended windows that nobody has decided.
    pub proposals_waiting: i64,
    /// Worst readings first.
    pub bands: Vec<Band>,
    /// From rejecting none to rejecting all; empty where nobody said which
    /// readings are the better ones.
    pub cut_offs: Vec<CutOffLine>,
    pub slope: Option<Slope>,
    /// Why there is no slope.
    pub no_slope: Option<NoSlope>,
    /// The better readings by the record, where the slope is beyond chance.
    pub record_points_to: Option<Better>,
    pub costs: Option<Costs>,
    /// What must be entered before money can be compared.
    pub missing: Vec<&'static str>,
    /// Share of returns above which a reading is rejected.
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
    pub role: Option<PartRole>,
    pub better: Better,
    /// The question said which readings are better; else it is only taken so.
    pub stated: bool,
}

impl Looked {
    fn takes(&self, role: Option<PartRole>, closed_day: i32) -> bool {
        self.period.holds(closed_day) && (self.role.is_none() || role == self.role)
    }

    fn by_reading(&self, readings: &Readings, elapsed: fn(&PutBack) -> i32) -> ByReading {
        let mut cases = ByReading::new();
        for (one, count) in readings.put_back.iter() {
            if self.takes(one.role, one.closed_day) && self.period.window_closed(one.closed_day) {
                let sum = cases.entry(one.reading).or_default();
                sum.cases += count;
                sum.returns += if elapsed(&one) <= self.period.window { count } else { 0 };
            }
        }
        cases
    }

    fn selector(
        &self,
        (part, unit): (&str, Option<&str>),
        disposition: &str,
        period: &Period,
        readings: &[(&str, &str)],
    ) -> String {
        let mut pairs = vec![("part", part), ("bench_unit", unit.unwrap_or_default())];
        pairs.extend(self.role.map(|role| ("role", role.as_str())));
        pairs.push(("disposition", disposition));
        pairs.extend_from_slice(readings);
        pairs.push(DONE);
        period.selector(&pairs)
    }
}

/// The line of a part; `None` where none of its uses is looked at.
pub(super) fn part_line(
    looked: &Looked,
    key: (&str, Option<&str>),
    readings: &Readings,
    stakes: &Stakes,
) -> Option<BenchPart> {
    let period = &looked.period;
    let sum = |holds: &mut dyn Iterator<Item = i64>| -> i64 { holds.sum() };
    let put_back = sum(&mut readings
        .put_back
        .iter()
        .filter_map(|(one, count)| looked.takes(one.role, one.closed_day).then_some(count)));
    let rejected = sum(&mut readings
        .rejected
        .iter()
        .filter_map(|(one, count)| looked.takes(one.role, one.closed_day).then_some(count)));
    if put_back + rejected == 0 {
        return None;
    }
    let cases = looked.by_reading(readings, |one| one.elapsed);
    let possible = looked.by_reading(readings, |one| one.possibly);
    let (all, read) = (by_reading::total(&cases), ("bench_read", "true"));
    let bands = bands(looked.better, &cases, "bench_band", |low, high| {
        let between = [("reading_from", low), ("reading_to", high)];
        looked.selector(key, "put_back", &period.ended(), &between)
    });
    let (slope, no_slope) = match slope(&cases) {
        Ok(slope) => (Some(slope), None),
        Err(why) => (None, Some(why)),
    };
    let weights = weights(stakes);
    let (cut_off, no_cut_off) =
        match chosen(looked.stated.then_some(looked.better), (&cases, &possible), weights) {
            Ok(cut_off) => (Some(cut_off), None),
            Err(why) => (None, Some(why)),
        };
    let mut line = BenchPart {
        part: key.0.to_owned(),
        name: readings.names.keys().next().cloned().unwrap_or_default(),
        unit: key.1.map(str::to_owned),
        role: looked.role,
        put_back,
        returned: counted_share(
            all,
            "bench_returned",
            looked.selector(key, "put_back", &period.ended(), &[read]),
        ),
        rejected,
        rejected_jobs: looked.selector(key, "replaced", period, &[read]),
        proposals_waiting: by_reading::total(&possible).returns - all.returns,
        cut_offs: if looked.stated {
            cut_off_lines(looked.better, &cases, &bands, weights.ok())
        } else {
            Vec::new()
        },
        bands,
        record_points_to: slope.as_ref().and_then(points_to),
        slope,
        no_slope,
        costs: stakes.costs,
        missing: stakes.missing.clone(),
        break_even_share: stakes.break_even_share(),
        cut_off,
        no_cut_off,
        text: String::new(),
    };
    line.text = text::sentence(&line, looked);
    Some(line)
}

/// What either mistake costs, in minor units: rejecting one that would have
/// held, and putting back one that returns, each over what the other choice
/// would have cost.
fn weights(stakes: &Stakes) -> Result<cutoff::Costs, NoCutOff> {
    let costs = stakes.costs.ok_or(NoCutOff::CostsUnknown)?;
    let new_ones = stakes.new_return_share * costs.return_minor;
    let vain = (costs.replace_now_minor - costs.clean_now_minor + new_ones).round() as i64;
    let missed = (costs.return_minor.round() as i64).saturating_sub(vain);
    if vain <= 0 {
        Err(NoCutOff::ReplacingCostsNoMore)
    } else if missed <= 0 {
        Err(NoCutOff::ReplacingCostsTooMuch)
    } else {
        Ok(cutoff::Costs { false_alarm: vain, missed })
    }
}
