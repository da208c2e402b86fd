//! Comebacks of a period, by one column.

use std::cmp::Reverse;

use chrono::NaiveDate;
use serde::Serialize;

use super::By;
use super::differ::{GroupsTest, groups_test};
use super::distance::{ComebackDistance, distance};
use super::estimate::{ComebackFigures, DEFINITIONS, figures, followed};
use super::line::{ChainCount, ComebackLine, comeback_lines};
use super::reasons::{ReasonShare, reasons};
use super::tally::{ComebackTally, Tally};
use crate::figure::{Head, Query};
use crate::follow::{LEVEL, Period, day_number, followed_curve, head};
use crate::history::History;
use crate::outcomes::{self, CaughtHere, OutcomeLine, OutcomeTally, caught_here};
use crate::stats::survival::Scale;

/// Returns that a report lists: what somebody reads, and no megabyte of years ago
/// with every answer.
pub const MOST_RETURNS: usize = 500;

/// One group of the report's column.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComebackGroup {
    /// Absent for jobs without a value in the column. A week is named by its
    /// first day.
    pub group: Option<String>,
    pub figures: ComebackFigures,
}

/// The share that came back by some day after the hand-over.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CurvePoint {
    pub days: i32,
    pub share: f64,
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// Jobs still followed just before that day.
    pub at_risk: i64,
}

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComebackReport {
    pub head: Head,
    pub by: Option<By>,
    pub total: ComebackFigures,
    /// Groups with the most jobs first; people by name, weeks by date.
    pub groups: Vec<ComebackGroup>,
    /// Whether the groups differ at all; absent without a column and by week.
    pub groups_test: Option<GroupsTest>,
    /// The total's share by the reason of the return, the largest first.
    pub reasons: Vec<ReasonShare>,
    /// The total by odometer.
    pub distance: ComebackDistance,
    /// How the period's complaints ended; only `repaired` enters a share.
    pub outcomes: Vec<OutcomeLine>,
    pub caught_here: CaughtHere,
    /// The total's share by day, where it steps.
    pub curve: Vec<CurvePoint>,
    /// Confirmed comebacks and told returns of jobs closed in the period, the latest
    /// first: no more than 500 of them, unless their table is asked for.
    pub returns: Vec<ComebackLine>,
    /// How many there are.
    pub returns_count: i64,
    pub chains: ChainCount,
}

/// Comebacks by the query's column; the total alone where it names none.
///
/// # Errors
/// The word that is no column of [`By`].
pub fn comebacks(history: &History, query: &Query) -> Result<ComebackReport, String> {
    comebacks_listing(history, query, MOST_RETURNS)
}

/// The same with as many of the latest returns as asked for.
///
/// # Errors
/// As [`comebacks`].
pub fn comebacks_listing(
    history: &History,
    query: &Query,
    most_returns: usize,
) -> Result<ComebackReport, String> {
    let by = match &query.by {
        None => None,
        Some(word) => Some(By::parse(word).ok_or_else(|| word.clone())?),
    };
    Ok(listing(&ComebackTally::of(history, by), history, query, most_returns))
}

/// The same from a tally already made; its column stands, not the query's.
#[must_use]
pub fn comebacks_from(tally: &ComebackTally, history: &History, query: &Query) -> ComebackReport {
    listing(tally, history, query, MOST_RETURNS)
}

fn listing(
    tally: &ComebackTally,
    history: &History,
    query: &Query,
    most_returns: usize,
) -> ComebackReport {
    let period = Period::new(query, history.facts());
    // Jobs closed before links were recorded are in no tally; the selectors
    // leave them out too.
    let linked = history.facts().links_from.map_or(i32::MIN, day_number);
    let followed = period.within(linked, i32::MAX);
    let mut groups: Vec<ComebackGroup> =
        tally.by.map(|by| groups(by, tally, &followed)).unwrap_or_default();
    groups.retain(|group| group.figures.count > 0);
    match tally.by {
        // People are never ranked: they stand by name, as weeks by date.
        None | Some(By::Technician | By::Week) => {}
        Some(_) => groups.sort_by_key(|group| Reverse(group.figures.count)),
    }
    let takes = |_, closed, _| period.holds(closed);
    let returns = comeback_lines(history, query.as_of, most_returns, takes);
    ComebackReport {
        head: head(
            "comebacks",
            history.facts(),
            history.change_no(),
            query,
            &[DEFINITIONS, outcomes::DEFINITIONS].concat(),
        ),
        by: tally.by,
        total: figures(&tally.all, &followed, &[]),
        groups,
        groups_test: groups_test(tally, &followed),
        reasons: reasons(tally, &followed),
        distance: distance(history, &followed),
        outcomes: OutcomeTally::of(history).lines(&period, &[]),
        caught_here: caught_here(history, &period),
        curve: curve(&tally.all, &followed),
        returns: returns.lines,
        returns_count: returns.count,
        chains: returns.chains,
    }
}

fn groups(by: By, tally: &ComebackTally, period: &Period) -> Vec<ComebackGroup> {
    tally
        .groups
        .iter()
        .map(|(label, sums)| {
            let week = label.as_deref().filter(|_| by == By::Week);
            let first = week.and_then(|week| week.parse::<NaiveDate>().ok()).map(day_number);
            let figures = match first {
                Some(first) => figures(sums, &period.within(first, first + 6), &[]),
                None => {
                    let value = label.as_deref().unwrap_or_default();
                    figures(sums, period, &[(by.selector_key(), value)])
                }
            };
            ComebackGroup { group: label.clone(), figures }
        })
        .collect()
}

fn curve(tally: &Tally, period: &Period) -> Vec<CurvePoint> {
    let curve = followed_curve(followed(tally, |fate| fate.elapsed), period);
    curve
        .event_times()
        .filter(|days| *days <= crate::follow::LONGEST_WINDOW)
        .map(|days| {
            let estimate = curve.at(days);
            let interval = estimate.interval(Scale::LogLog, LEVEL);
            CurvePoint {
                days,
                share: 1.0 - estimate.survival,
                low: interval.map(|(_, high)| 1.0 - high),
                high: interval.map(|(low, _)| 1.0 - low),
                at_risk: curve.at_risk(days),
            }
        })
        .collect()
}
