//! Readings before the hand-over, and what came back.

use serde::Serialize;

use super::estimate::{HandOverLine, Looked, line};
use super::tally::HandOverTally;
use crate::bench::Better;
use crate::figure::{Head, Query};
use crate::follow::{Period, day_number, head};
use crate::history::{History, ShopFacts};

const NOTE: &str = "Only vehicles that left show what a reading leads to: one that was held back \
    was charged or mended first, and its last reading counts. A limit from the record stands \
    beside the vehicle maker's, never in its place.";

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "hand_over_returned",
        "Of the complaints repaired and handed over with this reading on their sheet, and whose \
         window has ended, returned or not, the share whose repair came back inside it. The last \
         attempt counts, corrected to one temperature where the list says so; of cells their \
         mean. Confirmed returns. Wilson's interval.",
    ),
    (
        "hand_over_band",
        "The same for neighboring readings. The share may only fall as readings get better; \
         where it would not, neighbors are put together until it does (isotonic least squares). \
         Wilson's interval, as if the band had been chosen beforehand.",
    ),
    (
        "hand_over_cut_off",
        "The reading beyond which holding a vehicle back costs less. Holding back one that would \
         have stayed away costs the minutes asked with, at the shop's labor cost. Letting go one \
         that returns costs what a return costs besides labor and parts, since the same work is \
         done after all. So a band is held back where its share lies above hold / (hold + \
         return). No vehicle left with a worse reading than the worst, and no limit lies there. \
         The interval is the middle 95% of 999 resamples of the jobs, drawn anew by a seed made \
         of the readings themselves; it is rough. None with fewer than ten returned or ten that \
         stayed away, or where undecided proposals would move it.",
    ),
    (
        "hand_over_cut_offs",
        "What each limit between two bands would have made of the jobs with an ended window: \
         vehicles held back that stayed away, and vehicles let go that returned.",
    ),
    (
        "hand_over_slope",
        "Logistic regression of the return on the reading: change of the log odds per unit of \
         the reading, with its standard error, normal interval and p. The limit does not use it.",
    ),
];

/// What the report is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct HandOverQuery {
    pub figures: Query,
    /// Key of a list's line; every line with readings where absent.
    pub line: Option<String>,
    /// Absent: taken as higher for the bands, and no limit is given.
    pub better: Option<Better>,
    /// Minutes that holding one vehicle back takes.
    pub hold_minutes: Option<i64>,
}

/// The report, lines with the most jobs first.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HandOverReport {
    pub head: Head,
    pub note: &'static str,
    pub better: Better,
    /// The question did not say which readings are better.
    pub better_assumed: bool,
    pub hold_minutes: Option<i64>,
    /// One for a line and unit: readings in two units are not compared.
    pub lines: Vec<HandOverLine>,
}

/// The report of the query's closing days.
#[must_use]
pub fn hand_over(history: &History, query: &HandOverQuery) -> HandOverReport {
    hand_over_from(&HandOverTally::of(history), history.facts(), history.change_no(), query)
}

/// The same from a tally already made.
#[must_use]
pub fn hand_over_from(
    tally: &HandOverTally,
    facts: &ShopFacts,
    change_no: i64,
    query: &HandOverQuery,
) -> HandOverReport {
    let linked = facts.links_from.map_or(i32::MIN, day_number);
    let hold = |minutes: i64| {
        (minutes as f64 * facts.labor_cost_minor_per_hour as f64 / 60.0).round() as i64
    };
    let looked = Looked {
        // Shares speak of jobs closed since links are recorded, and so do the
        // jobs they open to.
        period: Period::new(&query.figures, facts).within(linked, i32::MAX),
        better: query.better.unwrap_or(Better::Higher),
        stated: query.better.is_some(),
        hold_minor: query.hold_minutes.map(hold),
        return_extra_minor: facts.return_extra_minor,
    };
    let mut lines: Vec<HandOverLine> = tally
        .lines
        .iter()
        .filter(|((key, _), _)| query.line.as_ref().is_none_or(|asked| asked == key))
        .filter_map(|((key, unit), counts)| line(&looked, (key, unit.as_deref()), counts))
        .collect();
    // The tally is in the order of line and unit, which ties keep.
    lines.sort_by_key(|line| std::cmp::Reverse(line.left));
    HandOverReport {
        head: head("hand-over", facts, change_no, &query.figures, DEFINITIONS),
        note: NOTE,
        better: looked.better,
        better_assumed: query.better.is_none(),
        hold_minutes: query.hold_minutes,
        lines,
    }
}
