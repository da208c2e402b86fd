//! Groups of closed windows against what their mix of symptoms lets expect.

use std::cmp::Reverse;

use serde::Serialize;

use super::estimate::{Judged, Line, ended, judge, line, mix};
use super::tally::{CompareTally, Strata, first_only, within_parts};
use crate::comeback::{By, Fate};
use crate::figure::{Head, Interval, Query, Share};
use crate::follow::{LEVEL, Period, counted_share, day_number, head};
use crate::history::{History, ShopFacts};
use crate::stats::funnel::limits;
use crate::stats::rate::{byar, exact};
use crate::stats::shrink;

/// Level of the outer limits.
const OUTER: f64 = 0.998;
/// Points of the limits, for drawing.
const POINTS: i32 = 24;

const PEOPLE: (&str, &str) = (
    "population",
    "First repairs: complaint jobs on handed-over orders that ended as repaired, are not themselves \
     the repair of a confirmed comeback, and whose window has ended by the as-of. A chain of \
     comebacks counts once, to whoever answers for its first job: who led it, or the supervisor of \
     a trainee who did; never to who mended it.",
);
const THINGS: (&str, &str) = (
    "population",
    "Complaint jobs on handed-over orders that ended as repaired and whose window has ended by the \
     as-of. By supplier or lot: those on which a part of it was used; a job may stand in several \
     groups.",
);
const BY_SYMPTOM: (&str, &str) = (
    "expected",
    "Returns that the same jobs would bring at the shop's own share for each symptom, from all \
     jobs of the same kind and period (indirect standardization). Jobs without a symptom are a \
     symptom of their own.",
);
const BY_PART: (&str, &str) = (
    "expected",
    "Returns that the same jobs would bring at the shop's own share for the part, from all jobs of \
     the same period on which that part was used, of whatever supplier or lot (indirect \
     standardization). A job with several parts of one supplier or lot stands for the first of \
     them by name.",
);
const DEFINITIONS: &[(&str, &str)] = &[
    (
        "comeback_closed",
        "Of the jobs whose window has ended by the as-of, returned or not, the share that came \
         back inside it. Wilson's interval. It says nothing of how hard the jobs were.",
    ),
    (
        "observed_over_expected",
        "Returns over those expected; 1.00 is as many as this shop usually gets on the same \
         complaints. The interval is the exact one of a Poisson count; Byar's approximation stands beside it. Both take what \
         is expected as known, though the group is part of it, and so are on the wide side.",
    ),
    (
        "drawn",
        "Observed over expected drawn toward 1 by how few jobs there are: (strength x expected \
         share + returns) / (strength + jobs), over the expected share. The strength is fitted \
         between 2 and 20 jobs from five groups up, else 10 (beta-binomial).",
    ),
    (
        "p",
        "Probability of a count at least as far from the expected one, if chance alone deals out \
         the returns of each symptom (of suppliers and lots: of each part) among its jobs: exact, two-sided, \
         twice the smaller tail. Unlike the interval it knows that the group is part of what is \
         expected.",
    ),
    (
        "q",
        "p with all groups together that are not too few (Benjamini and Hochberg): of the groups \
         below 0.05, no more than about one in twenty is there by chance.",
    ),
    (
        "limits",
        "Between these values observed over expected lies in 95% and in 99.8% of cases where \
         nothing but chance is at work, for as many expected returns (funnel plot, Poisson, \
         interpolated).",
    ),
    (
        "answer",
        "More or fewer than expected where q is below 0.05, else no difference beyond chance (no \
         evidence). Too few: under ten \
         jobs in the group, or under ten like them outside it. Undecided proposals: the \
         answer would be another one if every undecided proposal of the same complaint were \
         confirmed; decide them first.",
    ),
    (
        "selection",
        "Jobs are given out, not drawn at random: within a symptom, too, whoever gets the harder \
         ones will look worse. It is a place to look, never a ranking, and no ground for automatic pay or \
         discipline. Everybody sees their own figures first.",
    ),
];

/// What a group's figures say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = CompareAnswer))]
pub enum Answer {
    #[serde(rename = "no evidence")]
    NoEvidence,
    #[serde(rename = "more than expected")]
    MoreThanExpected,
    #[serde(rename = "fewer than expected")]
    FewerThanExpected,
    #[serde(rename = "too few")]
    TooFew,
    /// It hangs on comebacks that are proposed and not decided.
    #[serde(rename = "undecided proposals")]
    UndecidedProposals,
}

impl Answer {
    /// The words.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::NoEvidence => "no evidence",
            Self::MoreThanExpected => "more than expected",
            Self::FewerThanExpected => "fewer than expected",
            Self::TooFew => "too few",
            Self::UndecidedProposals => "undecided proposals",
        }
    }
}

/// Where observed over expected lies by chance alone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = CompareLimits))]
pub struct Limits {
    pub low: f64,
    pub high: f64,
    /// For example 0.95.
    pub level: f64,
}

/// The limits at one number of expected returns, for drawing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FunnelPoint {
    pub expected: f64,
    pub inner: Limits,
    pub outer: Limits,
}

/// One group of the report's column.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CompareGroup {
    /// Absent for jobs without a value in the column.
    pub group: Option<String>,
    /// The raw share; its count and returns are those of the comparison.
    pub share: Share,
    /// Returns that the mix of symptoms, or of parts, lets expect.
    pub expected: f64,
    /// Jobs of the same symptoms (of suppliers and lots: with the same part)
    /// outside the group; absent where only the own line is shown.
    pub others: Option<i64>,
    /// Observed over expected; absent where none are expected.
    pub ratio: Option<f64>,
    /// The ratio's exact interval: the one to read.
    pub interval: Option<Interval>,
    /// Byar's approximation of it.
    pub byar: Option<Interval>,
    /// The ratio drawn toward 1.
    pub drawn: Option<f64>,
    /// Absent where there are too few.
    pub p: Option<f64>,
    pub q: Option<f64>,
    /// Limits at 95 % and at 99.8 %; absent where no returns are expected.
    pub inner: Option<Limits>,
    pub outer: Option<Limits>,
    pub answer: Answer,
    /// Under ten jobs in the group, or under ten like them outside it.
    pub too_few: bool,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
    /// Selects the jobs compared.
    pub jobs: String,
}

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CompareReport {
    pub head: Head,
    pub by: By,
    /// All compared jobs, each once; absent where only the own line is shown.
    pub total: Option<Share>,
    /// Jobs that an expectation weighs in the ratios drawn toward 1.
    pub strength: Option<f64>,
    /// People by name, others with the most jobs first.
    pub groups: Vec<CompareGroup>,
    /// The limits from few expected returns to past those of the largest group.
    pub funnel: Vec<FunnelPoint>,
}

/// The columns that are compared, the usual one first.
pub const COLUMNS: [By; 5] = [By::Technician, By::Supplier, By::Lot, By::Engine, By::Model];

/// The query's closing days by its column; by technician where it names none.
///
/// # Errors
/// The word that is no column of [`COLUMNS`].
pub fn compare(history: &History, query: &Query) -> Result<CompareReport, String> {
    let by = match &query.by {
        None => By::Technician,
        Some(word) => {
            let known = By::parse(word).filter(|by| COLUMNS.contains(by));
            known.ok_or_else(|| word.clone())?
        }
    };
    let tally = CompareTally::of(history, by);
    Ok(compare_from(&tally, history.facts(), history.change_no(), query))
}

/// The same from a tally already made; its column stands, not the query's.
#[must_use]
pub fn compare_from(
    tally: &CompareTally,
    facts: &ShopFacts,
    change_no: i64,
    query: &Query,
) -> CompareReport {
    // Jobs closed before links were recorded are in no tally; the selectors
    // leave them out too.
    let linked = facts.links_from.map_or(i32::MIN, day_number);
    let period = Period::new(query, facts).within(linked, i32::MAX).ended();
    let seen = |fate: &Fate| fate.elapsed;
    let lines: Vec<(Option<&str>, Line)> = lines(tally, &period, seen);
    let judged = judge(&lines.iter().map(|(_, line)| *line).collect::<Vec<_>>());
    let possible: Vec<Line> = self::lines(tally, &period, |fate| fate.possible)
        .into_iter()
        .map(|(_, line)| line)
        .collect();
    let strength =
        shrink::strength(&lines.iter().filter_map(|(_, line)| drawn(line)).collect::<Vec<_>>());
    let mut groups: Vec<CompareGroup> = lines
        .iter()
        .zip(judged.into_iter().zip(judge(&possible)))
        .map(|((label, line), (judged, possible))| {
            let answer = if judged.answer == possible.answer {
                judged.answer
            } else {
                Answer::UndecidedProposals
            };
            group(
                *label,
                line,
                &Judged { answer, ..judged },
                strength,
                &selector(tally.by, *label, &period),
            )
        })
        .collect();
    // People are never ranked: they stand by name.
    if tally.by != By::Technician {
        groups.sort_by_key(|group| Reverse(group.share.count));
    }
    let population = if first_only(tally.by) { PEOPLE } else { THINGS };
    let expected = if within_parts(tally.by) { BY_PART } else { BY_SYMPTOM };
    CompareReport {
        head: head(
            "compare",
            facts,
            change_no,
            query,
            &[&[population, expected], DEFINITIONS].concat(),
        ),
        by: tally.by,
        total: Some(counted_share(
            ended(&tally.whole, &period, seen),
            "comeback_closed",
            period.selector(&population_pairs(tally.by)),
        )),
        strength: Some(strength),
        funnel: funnel(&groups),
        groups,
    }
}

/// Every group with an ended window, by label.
fn lines<'a>(
    tally: &'a CompareTally,
    period: &Period,
    pick: impl Fn(&Fate) -> i32 + Copy,
) -> Vec<(Option<&'a str>, Line)> {
    let all = mix(&tally.all, period, pick);
    let line_of = |strata: &Strata| line(&mix(strata, period, pick), &all);
    let lines = tally.groups.iter().map(|(label, strata)| (label.as_deref(), line_of(strata)));
    lines.filter(|(_, line)| line.own.cases > 0).collect()
}

fn population_pairs(by: By) -> Vec<(&'static str, &'static str)> {
    let mut pairs = vec![("kind", "complaint"), ("outcome", "repaired")];
    if first_only(by) {
        pairs.push(("first_repair", "true"));
    }
    pairs
}

fn selector(by: By, label: Option<&str>, period: &Period) -> String {
    let own = (by.selector_key(), label.unwrap_or_default());
    period.selector(&[&population_pairs(by)[..], &[own]].concat())
}

/// The group as its share is drawn to the one expected of it.
fn drawn(line: &Line) -> Option<shrink::Group> {
    let mean = line.expected / line.own.cases as f64;
    (mean > 0.0).then_some(shrink::Group { mean, cases: line.own.cases, events: line.own.returns })
}

fn group(
    label: Option<&str>,
    line: &Line,
    judged: &Judged,
    strength: f64,
    jobs: &str,
) -> CompareGroup {
    let (observed, expected) = (line.own.returns, line.expected);
    let named = |method| move |(low, high)| Interval { low, high, level: LEVEL, method };
    let drawn = drawn(line);
    CompareGroup {
        group: label.map(str::to_owned),
        share: counted_share(line.own, "comeback_closed", jobs.to_owned()),
        expected,
        others: Some(line.rest),
        ratio: (expected > 0.0).then(|| observed as f64 / expected),
        interval: exact(observed, expected, LEVEL).map(named("exact-poisson")),
        byar: byar(observed, expected, LEVEL).map(named("byar")),
        drawn: drawn.and_then(|group| Some(shrink::shrunk(&group, strength)? / group.mean)),
        p: judged.p,
        q: judged.q,
        inner: limits_at(expected, LEVEL),
        outer: limits_at(expected, OUTER),
        answer: judged.answer,
        too_few: line.too_few(),
        definition: "observed_over_expected",
        jobs: jobs.to_owned(),
    }
}

fn limits_at(expected: f64, level: f64) -> Option<Limits> {
    limits(expected, level).map(|(low, high)| Limits { low, high, level })
}

fn funnel(groups: &[CompareGroup]) -> Vec<FunnelPoint> {
    let largest = groups.iter().map(|group| group.expected).fold(0.0, f64::max);
    let points = (1..=POINTS).filter_map(|point| {
        let expected = 1.1 * largest * f64::from(point) / f64::from(POINTS);
        let (inner, outer) = (limits_at(expected, LEVEL)?, limits_at(expected, OUTER)?);
        Some(FunnelPoint { expected, inner, outer })
    });
    points.collect()
}
