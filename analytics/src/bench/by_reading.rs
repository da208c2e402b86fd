//! Returns by reading: bands, a slope and a cut-off, whatever was read.

use std::collections::BTreeMap;

use statrs::function::erf::erfc;

use super::Better;
use super::estimate::{Band, CutOff, CutOffLine, Kind, NoCutOff, NoSlope, Slope};
use crate::figure::{Interval, TOO_FEW};
use crate::follow::{Cases, LEVEL, counted_share};
use crate::history::Reading;
use crate::stats::cutoff::{self, Cut, Limit, Resampling};
use crate::stats::isotonic::{self, Direction, Point};
use crate::stats::logistic::{self, Outcome, Unfit};
use crate::stats::normal_quantile;

/// How often the uses are drawn anew for the interval of a cut-off.
const RESAMPLES: u32 = 999;
/// Below this p a slope says which readings are the better ones: the usual
/// level, that of the intervals.
const BEYOND_CHANCE: f64 = 0.05;

/// Cases with an ended window by reading, counting the given returns.
pub(crate) type ByReading = BTreeMap<Reading, Cases>;

/// The cases as outcomes, those that came back first.
fn outcomes(cases: &ByReading) -> Vec<Outcome> {
    let of = |(reading, cases): (&Reading, &Cases)| {
        let outcome = |event, count| Outcome { reading: reading.value(), event, count };
        [outcome(true, cases.returns), outcome(false, cases.cases - cases.returns)]
    };
    cases.iter().flat_map(of).collect()
}

/// All cases together.
pub(crate) fn total(cases: &ByReading) -> Cases {
    cases.values().fold(Cases::default(), |sum, one| Cases {
        cases: sum.cases + one.cases,
        returns: sum.returns + one.returns,
    })
}

/// The isotonic fit, readings of one fitted share together, worst first. `jobs`
/// selects the jobs between two readings.
pub(crate) fn bands(
    better: Better,
    cases: &ByReading,
    definition: &'static str,
    jobs: impl Fn(&str, &str) -> String,
) -> Vec<Band> {
    let merit = |reading: Reading| better.merit(reading.value());
    let points = outcomes(cases).into_iter().map(|outcome| Point {
        at: better.merit(outcome.reading),
        value: if outcome.event { 1.0 } else { 0.0 },
        count: outcome.count,
    });
    let levels = isotonic::fit(points, Direction::Decreasing).unwrap_or_default();
    let mut rows: Vec<(Reading, Cases)> = cases.iter().map(|(at, sum)| (*at, *sum)).collect();
    rows.sort_by(|a, b| merit(a.0).total_cmp(&merit(b.0)));
    let fitted: Vec<((Reading, Cases), f64)> =
        rows.into_iter().zip(levels.iter().map(|level| level.value)).collect();
    fitted
        .chunk_by(|a, b| a.1 == b.1)
        .filter_map(|block| {
            let readings = || block.iter().map(|((reading, _), _)| *reading);
            let (from, to) = (readings().min()?, readings().max()?);
            let sum = block.iter().fold(Cases::default(), |sum, ((_, one), _)| Cases {
                cases: sum.cases + one.cases,
                returns: sum.returns + one.returns,
            });
            let (low, high) = (from.to_string(), to.to_string());
            let share = counted_share(sum, definition, jobs(&low, &high));
            Some(Band { from: from.value(), to: to.value(), share })
        })
        .collect()
}

/// The cut-offs between bands: one inside a band is never cheaper.
pub(crate) fn cut_off_lines(
    better: Better,
    cases: &ByReading,
    bands: &[Band],
    weights: Option<cutoff::Costs>,
) -> Vec<CutOffLine> {
    const COUNTED: cutoff::Costs = cutoff::Costs { false_alarm: 1, missed: 1 };
    let all = |costs| cutoff::candidates(outcomes(cases), costs, better.of_cut_off());
    let priced = weights.and_then(all);
    let (has_price, candidates) = match priced {
        Some(priced) => (true, priced),
        None => (false, all(COUNTED).unwrap_or_default()),
    };
    let least = candidates.iter().map(|candidate| candidate.cost).min();
    let returns = total(cases).returns;
    // A candidate lies between bands where it rejects whole bands only.
    let mut ends = vec![0];
    for band in bands {
        ends.push(ends.last().copied().unwrap_or(0) + band.share.count);
    }
    candidates
        .into_iter()
        .map(|candidate| CutOffLine {
            reading: match candidate.cut {
                Cut::At(reading) => Some(reading),
                Cut::RejectNone | Cut::RejectAll => None,
            },
            rejected: candidate.false_alarms + returns - candidate.missed,
            rejected_held: candidate.false_alarms,
            put_back_returned: candidate.missed,
            cost_minor: has_price.then_some(candidate.cost),
            cheapest: has_price && Some(candidate.cost) == least,
        })
        .filter(|line| ends.contains(&line.rejected))
        .collect()
}

/// Whether the reading tells anything of the return.
///
/// # Errors
/// Why there is no slope.
pub(crate) fn slope(cases: &ByReading) -> Result<Slope, NoSlope> {
    let fit = logistic::fit(outcomes(cases)).map_err(|unfit| match unfit {
        Unfit::OneOutcome => NoSlope::OneOutcome,
        Unfit::OneReading => NoSlope::OneReading,
        Unfit::Separated => NoSlope::Separated,
        Unfit::NotFinite | Unfit::Unsettled => NoSlope::Unsettled,
    })?;
    let (value, error) = (fit.slope, fit.slope_standard_error);
    let z = normal_quantile(LEVEL).unwrap_or(f64::NAN);
    Ok(Slope {
        per_unit: value,
        standard_error: error,
        interval: Interval {
            low: z.mul_add(-error, value),
            high: z.mul_add(error, value),
            level: LEVEL,
            method: "wald",
        },
        p: erfc((value / error).abs() / std::f64::consts::SQRT_2),
    })
}

/// Where returns get rarer, if that is beyond chance.
pub(crate) fn points_to(slope: &Slope) -> Option<Better> {
    (slope.p < BEYOND_CHANCE).then_some(if slope.per_unit > 0.0 {
        Better::Lower
    } else {
        Better::Higher
    })
}

/// The cheapest limit of those with ten cases on either side; `possible` counts
/// undecided returns too, and a limit that these would move is none.
///
/// # Errors
/// Why there is none.
pub(crate) fn chosen(
    stated: Option<Better>,
    (cases, possible): (&ByReading, &ByReading),
    weights: Result<cutoff::Costs, NoCutOff>,
) -> Result<CutOff, NoCutOff> {
    let all = total(cases);
    if all.returns.min(all.cases - all.returns) < TOO_FEW {
        return Err(NoCutOff::TooFew);
    }
    let better = stated.ok_or(NoCutOff::DirectionNotStated)?.of_cut_off();
    let costs = weights?;
    let limit = cutoff::limit(outcomes(cases), costs, better).ok_or(NoCutOff::TooFew)?;
    if cutoff::limit(outcomes(possible), costs, better) != Some(limit) {
        return Err(NoCutOff::ProposalsWaiting);
    }
    let how = Resampling { resamples: RESAMPLES, seed: seed(cases), level: LEVEL };
    let interval = cutoff::resampled(outcomes(cases), costs, better, how).map(|range| Interval {
        low: range.low,
        high: range.high,
        level: LEVEL,
        method: "bootstrap-percentile",
    });
    let kind = match limit {
        Limit::Between(_) => Kind::Between,
        Limit::WorstSeen(_) => Kind::WorstSeen,
        Limit::BestSeen(_) => Kind::BestSeen,
    };
    Ok(CutOff { kind, reading: limit.reading(), interval })
}

/// A seed made of nothing but the readings and their counts, so that the same
/// record gives the same interval: FNV-1a over 64-bit words (Fowler, Noll and
/// Vo; constants of RFC 9923).
fn seed(cases: &ByReading) -> u64 {
    const BASIS: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0000_0100_0000_01b3;
    cases
        .iter()
        .flat_map(|(at, sum)| {
            [at.value().to_bits(), sum.cases.cast_unsigned(), sum.returns.cast_unsigned()]
        })
        .fold(BASIS, |hash, word| (hash ^ word).wrapping_mul(PRIME))
}
