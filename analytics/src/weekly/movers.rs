//! Groups whose share moved against their own past. A group is never held
//! against another: people least of all.

use chrono::NaiveDate;
use serde::Serialize;

use super::running::Running;
use super::weeks::{Week, Weeks};
use crate::comeback::{By, by_group, first_repairs, in_population};
use crate::figure::{Interval, Share, TOO_FEW};
use crate::follow::{Cases, FirstReturn, LEVEL, counted_share, date_of};
use crate::history::History;
use crate::stats::difference::{fisher_two_sided, newcombe};
use crate::stats::multiple::benjamini_hochberg;

const RECENT_DAYS: i32 = 13 * 7;
const BEFORE_DAYS: i32 = 52 * 7;
/// The least past that a quarter is held against: as long as itself.
const LEAST_BEFORE_DAYS: i32 = 13 * 7;
/// Adjusted probability below which a group has moved.
const MOVED: f64 = 0.01;
/// Groups shown where fewer have moved.
const SHOWN: usize = 5;
const COLUMNS: [By; 7] =
    [By::Symptom, By::System, By::Technician, By::Supplier, By::Lot, By::Part, By::Engine];

/// Whether a group's share has moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum MoverAnswer {
    #[serde(rename = "more than before")]
    MoreThanBefore,
    #[serde(rename = "fewer than before")]
    FewerThanBefore,
    #[serde(rename = "no evidence")]
    NoEvidence,
}

/// A group's last quarter against its own year before.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Mover {
    pub column: By,
    pub group: String,
    pub recent: Share,
    pub before: Share,
    /// Recent less before.
    pub difference: f64,
    pub interval: Option<Interval>,
    /// Fisher's exact test, two-sided.
    pub p: f64,
    /// The same, adjusted for all groups tested (Benjamini and Hochberg).
    pub q: f64,
    pub answer: MoverAnswer,
}

/// The groups tested together.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Movers {
    /// Hand-overs of the last quarter whose window has ended, and of the year
    /// before it, both included; absent while the record is too short.
    pub recent_from: Option<NaiveDate>,
    pub recent_to: Option<NaiveDate>,
    pub before_from: Option<NaiveDate>,
    pub before_to: Option<NaiveDate>,
    /// Groups with at least ten jobs in either, and groups without.
    pub tested: i64,
    pub too_few: i64,
    /// The five with the smallest p, and every other that has moved.
    pub groups: Vec<Mover>,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
}

/// The jobs of one value of a column.
#[derive(Debug, Clone)]
pub(super) struct Group {
    column: By,
    name: String,
    closed: Running,
}

/// The job rows of one value of a column, in the order of closing.
#[derive(Debug)]
pub(super) struct Members {
    column: By,
    name: String,
    rows: Vec<u32>,
}

impl Members {
    /// What came back of them inside the window.
    pub fn group(&self, history: &History, window: i32, returns: &[FirstReturn]) -> Group {
        let closed_day = history.jobs().closed_day;
        let jobs = self.rows.iter().filter_map(|row| {
            let at = *row as usize;
            Some((*closed_day.get(at)?, returns.get(at)?.days <= window))
        });
        Group { column: self.column, name: self.name.clone(), closed: Running::of(jobs) }
    }
}

/// Every named group of every column.
pub(super) fn members(history: &History) -> Vec<Members> {
    let (first_repair, inside) = (first_repairs(history), in_population(history));
    let mut groups = Vec::new();
    for column in COLUMNS {
        // A comeback's own repair says nothing about who was sent it.
        let counts = |row: usize| {
            inside.get(row) == Some(&true)
                && (column != By::Technician || first_repair.get(row) == Some(&true))
        };
        let mut rows = column.groups(history);
        rows.retain(|(row, _)| counts(*row as usize));
        for (group, rows) in by_group(&rows) {
            // Jobs without a value have nothing in common.
            if let Some(name) = column.label(history, group) {
                groups.push(Members { column, name, rows });
            }
        }
    }
    groups.sort_by(|a, b| (place(a.column), &a.name).cmp(&(place(b.column), &b.name)));
    groups
}

fn place(column: By) -> usize {
    COLUMNS.iter().position(|known| *known == column).unwrap_or(COLUMNS.len())
}

/// Closing days, both ends included.
#[derive(Debug, Clone, Copy)]
struct Days {
    first: i32,
    last: i32,
}

/// A group with enough jobs on both sides.
struct Tested<'a> {
    group: &'a Group,
    recent: Cases,
    before: Cases,
    p: f64,
}

pub(super) fn movers(weeks: &Weeks<'_>, week: Week) -> Movers {
    let last = weeks.newest_closed(week).saturating_add(6);
    let recent = Days { first: last.saturating_sub(RECENT_DAYS - 1), last };
    let oldest = weeks.closed.first_day().unwrap_or(recent.first);
    let first = recent.first.saturating_sub(BEFORE_DAYS).max(oldest);
    let before = Days { first, last: recent.first.saturating_sub(1) };
    let known = recent.first.saturating_sub(oldest) >= LEAST_BEFORE_DAYS && week.has_begun();
    let mut tested: Vec<Tested<'_>> =
        weeks.groups.iter().filter_map(|group| tested(group, recent, before)).collect();
    let seen = |group: &&Group| {
        let cases = |days: Days| group.closed.between(days.first, days.last).cases;
        cases(recent) + cases(before) > 0
    };
    let groups = weeks.groups.iter().filter(seen).count();
    let too_few = (groups - tested.len()) as i64;
    if !known {
        tested.clear();
    }
    let date = |day: i32| known.then(|| date_of(day));
    Movers {
        recent_from: date(recent.first),
        recent_to: date(recent.last),
        before_from: date(before.first),
        before_to: date(before.last),
        tested: tested.len() as i64,
        too_few: if known { too_few } else { 0 },
        groups: shown(weeks, week, tested, (recent, before)),
        definition: "movers",
    }
}

fn tested(group: &Group, recent: Days, before: Days) -> Option<Tested<'_>> {
    let recent = group.closed.between(recent.first, recent.last);
    let before = group.closed.between(before.first, before.last);
    if recent.cases.min(before.cases) < TOO_FEW {
        return None;
    }
    let p = fisher_two_sided(recent.returns, recent.cases, before.returns, before.cases)?;
    Some(Tested { group, recent, before, p })
}

fn shown(
    weeks: &Weeks<'_>,
    week: Week,
    mut tested: Vec<Tested<'_>>,
    (recent, before): (Days, Days),
) -> Vec<Mover> {
    // Equals stay in the order of columns and names.
    tested.sort_by(|a, b| a.p.total_cmp(&b.p));
    let p: Vec<f64> = tested.iter().map(|one| one.p).collect();
    let adjusted = benjamini_hochberg(&p).unwrap_or_default();
    let ranked = tested.iter().zip(adjusted).enumerate();
    ranked
        .take_while(|(rank, (_, q))| *rank < SHOWN || *q < MOVED)
        .map(|(_, (one, q))| mover(weeks, week, one, q, (recent, before)))
        .collect()
}

fn mover(
    weeks: &Weeks<'_>,
    week: Week,
    one: &Tested<'_>,
    q: f64,
    (recent, before): (Days, Days),
) -> Mover {
    let Group { column, name, .. } = one.group;
    let mut pairs = vec![("kind", "complaint"), ("outcome", "repaired")];
    pairs.push((column.as_str(), name));
    if *column == By::Technician {
        pairs.push(("first_repair", "true"));
    }
    let share = |cases, days: Days| {
        let jobs = weeks.period(days.first, days.last, week.to).selector(&pairs);
        counted_share(cases, "movers", jobs)
    };
    let value = |cases: Cases| cases.returns as f64 / cases.cases as f64;
    let difference = value(one.recent) - value(one.before);
    let (x, n) = (one.recent, one.before);
    let interval = newcombe(x.returns, x.cases, n.returns, n.cases, LEVEL);
    Mover {
        column: *column,
        group: name.clone(),
        recent: share(one.recent, recent),
        before: share(one.before, before),
        difference,
        interval: interval.map(|(low, high)| Interval {
            low,
            high,
            level: LEVEL,
            method: "newcombe",
        }),
        p: one.p,
        q,
        answer: match (q < MOVED, difference > 0.0) {
            (false, _) => MoverAnswer::NoEvidence,
            (true, true) => MoverAnswer::MoreThanBefore,
            (true, false) => MoverAnswer::FewerThanBefore,
        },
    }
}
