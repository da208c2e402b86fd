//! Bench readings and what came back.

use serde::Serialize;

use super::Better;
use super::estimate::{BenchPart, Looked, part_line};
use super::tally::BenchTally;
use crate::figure::{Head, Query};
use crate::follow::{Period, head};
use crate::history::{History, ShopFacts};
use crate::reuse::{Ground, ReuseTally};
use crate::words::PartRole;

const NOTE: &str = "Only parts that were put back show what a reading leads to: technicians \
    choose which, and what was replaced is counted but says nothing. A cut-off is a rule for \
    this part and this test, not a promise about one part.";

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "bench_returned",
        "Of the uses of the part with a bench reading that was cleaned, adjusted or repaired and \
         put back, and whose window has ended, returned or not, the share whose part came back \
         inside it: a later job on the vehicle, whatever its symptom, in which the same part at \
         the same position is the suspect or the confirmed cause. Confirmed returns. Wilson's \
         interval.",
    ),
    (
        "bench_band",
        "The same for neighboring readings. The share may only fall as readings get better; \
         where it would not, neighbors are put together until it does (isotonic least squares), \
         so the share of a band is its fitted share. Wilson's interval, as if the band had been \
         chosen beforehand.",
    ),
    (
        "bench_cut_off",
        "The reading beyond which replacing costs customer and shop less together. Replacing a \
         part that would have held costs C_n - C_c and what new ones return; putting back one \
         that returns costs C_b less that. So a band is rejected where its share lies above the \
         break-even share: what new ones return and (C_n - C_c) / C_b, with C_c cleaning now, \
         C_n replacing now and C_b one return, as in the clean-or-replace advice. Worse than \
         the worst reading that was put back nothing was tried, and no cut-off lies there. The \
         interval is the middle 95% of 999 resamples of the uses, drawn anew by a seed made of \
         the readings themselves; it is rough. None with fewer than ten returned or ten held, \
         while nobody said which readings are better, or where undecided proposals would move \
         it.",
    ),
    (
        "bench_cut_offs",
        "What each cut-off between two bands would have made of the uses with an ended window: \
         parts rejected that held, and parts put back that returned. A cut-off inside a band is \
         never cheaper. None while nobody said which readings are better.",
    ),
    (
        "bench_slope",
        "Logistic regression of the return on the reading: change of the log odds per unit of \
         the reading, with its standard error, normal interval and p. Evidence that the test \
         tells anything at all; the cut-off does not use it. Where p is below 0.05 its sign says \
         which readings the record points to as the better ones.",
    ),
    (
        "bench_rejected",
        "Uses with a reading whose part was then replaced. What would have become of them is \
         not known.",
    ),
];

/// What the report is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchQuery {
    pub figures: Query,
    /// Part number, else name; every part with readings where absent.
    pub part: Option<String>,
    /// Every role together where absent.
    pub role: Option<PartRole>,
    /// Absent: taken as higher for the bands, and no cut-off is given.
    pub better: Option<Better>,
}

/// The report, parts with the most readings first.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BenchReport {
    pub head: Head,
    pub note: &'static str,
    pub better: Better,
    /// The question did not say which readings are better.
    pub better_assumed: bool,
    /// One line a part and unit: readings in two units are not compared.
    pub parts: Vec<BenchPart>,
}

/// The report of the query's closing days.
#[must_use]
pub fn bench(history: &History, query: &BenchQuery) -> BenchReport {
    let tallies = (&BenchTally::of(history), &ReuseTally::of(history));
    bench_from(tallies, history.facts(), history.change_no(), query)
}

/// The same from tallies already made: the readings, and the uses that times
/// and prices come from.
#[must_use]
pub fn bench_from(
    (tally, uses): (&BenchTally, &ReuseTally),
    facts: &ShopFacts,
    change_no: i64,
    query: &BenchQuery,
) -> BenchReport {
    let ground = Ground::new(uses, facts, Period::new(&query.figures, facts));
    let looked = Looked {
        period: ground.period,
        role: query.role,
        better: query.better.unwrap_or(Better::Higher),
        stated: query.better.is_some(),
    };
    let mut parts: Vec<BenchPart> = tally
        .parts
        .iter()
        .filter(|((part, _), _)| query.part.as_ref().is_none_or(|asked| asked == part))
        .filter_map(|((part, unit), readings)| {
            let stakes = ground.stakes(part, query.role);
            part_line(&looked, (part, unit.as_deref()), readings, &stakes)
        })
        .collect();
    // The tally is in the order of part and unit, which ties keep.
    parts.sort_by_key(|line| std::cmp::Reverse(line.put_back + line.rejected));
    BenchReport {
        head: head("bench", facts, change_no, &query.figures, DEFINITIONS),
        note: NOTE,
        better: looked.better,
        better_assumed: query.better.is_none(),
        parts,
    }
}
