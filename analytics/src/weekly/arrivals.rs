//! Is this week different? The comebacks that arrived against those expected
//! from all jobs at risk.

use std::collections::{BTreeMap, HashMap};

use serde::Serialize;

use crate::comeback::in_population;
use crate::follow::{FirstReturn, LONGEST_WINDOW, first_returns};
use crate::history::History;
use crate::stats::poisson::{at_least, at_most, two_sided};

/// How far back the usual is learned from.
const LEARNED_DAYS: i32 = 52 * 7;
/// The least record that says what is usual.
const LEAST_DAYS: i32 = 26 * 7;
/// Two-sided probability below which a week is called different.
const ALARM: f64 = 0.05;

/// How the week compares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Answer {
    #[serde(rename = "within the usual")]
    WithinTheUsual,
    #[serde(rename = "more than usual")]
    MoreThanUsual,
    #[serde(rename = "fewer than usual")]
    FewerThanUsual,
    /// Too little record before the week, or the week has not begun.
    #[serde(rename = "not yet")]
    NotYet,
}

/// Observed and expected comebacks of one system; no verdict of its own, so
/// that many systems do not make many false alarms.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SystemArrivals {
    /// Absent for complaints without a symptom.
    pub system: Option<String>,
    pub observed: i64,
    pub expected: f64,
}

/// The week's comebacks against the usual.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Arrivals {
    /// Jobs whose first return fell into the week: a confirmed comeback that was
    /// opened, or a repair told not to have held.
    pub observed: i64,
    /// Of those, the told ones: the vehicle did not come.
    pub told: i64,
    /// Absent while the answer is "not yet".
    pub expected: Option<f64>,
    /// P(X >= observed) and P(X <= observed) where nothing has changed.
    pub probability_at_least: Option<f64>,
    pub probability_at_most: Option<f64>,
    pub answer: Answer,
    /// Weeks of record that the usual was learned from.
    pub weeks_learned: i32,
    pub systems: Vec<SystemArrivals>,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
}

/// Job-days at risk by elapsed days, kept as differences: a job at risk from
/// one age to another is two entries, however long it is.
struct AtRisk(Vec<i64>);

impl AtRisk {
    fn new() -> Self {
        Self(vec![0; LONGEST_WINDOW as usize + 2])
    }

    /// A job at risk on every age of the range; empty ranges count nothing.
    fn add(&mut self, first: i32, last: i32) {
        if first > last {
            return;
        }
        for (age, change) in [(first, 1), (last + 1, -1)] {
            if let Some(entry) = usize::try_from(age).ok().and_then(|age| self.0.get_mut(age)) {
                *entry += change;
            }
        }
    }

    /// Jobs at risk at every age from 0 on.
    fn by_age(&self) -> impl Iterator<Item = i64> + '_ {
        self.0.iter().scan(0, |sum, change| {
            *sum += change;
            Some(*sum)
        })
    }
}

/// One system's year before and its week.
struct Exposure {
    before: AtRisk,
    returns_before: Vec<i64>,
    week: AtRisk,
    returns_week: i64,
    told_week: i64,
}

impl Exposure {
    fn new() -> Self {
        Self {
            before: AtRisk::new(),
            returns_before: vec![0; LONGEST_WINDOW as usize + 2],
            week: AtRisk::new(),
            returns_week: 0,
            told_week: 0,
        }
    }

    /// A job closed on a day, with its first return. It is at risk from the
    /// hand-over to its return, that day included.
    fn take(&mut self, closed: i32, first_return: FirstReturn, spans: &Spans) {
        let elapsed = first_return.days;
        let oldest = elapsed.min(LONGEST_WINDOW);
        let ages = |(from, to): (i32, i32)| ((from - closed).max(0), (to - closed).min(oldest));
        let (first, last) = ages(spans.before);
        self.before.add(first, last);
        if (first..=last).contains(&elapsed)
            && let Some(count) = self.returns_before.get_mut(elapsed as usize)
        {
            *count += 1;
        }
        let (first, last) = ages(spans.week);
        self.week.add(first, last);
        let back = (first..=last).contains(&elapsed);
        self.returns_week += i64::from(back);
        self.told_week += i64::from(back && first_return.told);
    }

    /// Sum over ages of job-days at risk this week times the chance a job-day
    /// of that age had. An age nobody was at before adds nothing.
    fn expected(&self) -> f64 {
        self.week
            .by_age()
            .zip(self.before.by_age())
            .zip(&self.returns_before)
            .filter(|((_, before), _)| *before > 0)
            .map(|((week, before), returns)| week as f64 * (*returns as f64 / before as f64))
            .sum()
    }
}

/// Calendar days, both ends included.
struct Spans {
    before: (i32, i32),
    week: (i32, i32),
}

/// The week from one day to another, both included.
pub(super) fn arrivals(history: &History, from: i32, to: i32) -> Arrivals {
    let jobs = history.jobs();
    let elapsed = first_returns(history);
    let inside = in_population(history);
    let rows = || {
        let columns = jobs.closed_day.iter().zip(&elapsed).zip(jobs.system.iter().zip(&inside));
        columns.filter(|(_, (_, inside))| **inside)
    };
    // Job rows are in the order of closing.
    let oldest = rows().next().map_or(from, |((closed, _), _)| *closed);
    let spans = Spans { before: ((from - LEARNED_DAYS).max(oldest), from - 1), week: (from, to) };
    let mut exposures: HashMap<u32, Exposure> = HashMap::new();
    for ((&closed, &elapsed), (&system, _)) in rows() {
        if closed <= to {
            exposures.entry(system).or_insert_with(Exposure::new).take(closed, elapsed, &spans);
        }
    }
    // By name, so that the sum of fractions never depends on how codes came.
    let exposures: BTreeMap<Option<&str>, &Exposure> =
        exposures.iter().map(|(code, exposure)| (history.text(*code), exposure)).collect();
    let learned = from.saturating_sub(spans.before.0).max(0);
    judged(&exposures, learned, from <= to)
}

fn judged(exposures: &BTreeMap<Option<&str>, &Exposure>, learned: i32, begun: bool) -> Arrivals {
    let known = learned >= LEAST_DAYS && begun;
    let observed = exposures.values().map(|exposure| exposure.returns_week).sum();
    let expected =
        known.then(|| exposures.values().map(|exposure| exposure.expected()).sum::<f64>());
    Arrivals {
        observed,
        told: exposures.values().map(|exposure| exposure.told_week).sum(),
        expected,
        probability_at_least: expected.map(|mean| at_least(observed, mean)),
        probability_at_most: expected.map(|mean| at_most(observed, mean)),
        answer: expected.map_or(Answer::NotYet, |mean| answer(observed, mean)),
        weeks_learned: learned / 7,
        systems: exposures
            .iter()
            .filter(|_| known)
            .map(|(system, exposure)| SystemArrivals {
                system: system.map(str::to_owned),
                observed: exposure.returns_week,
                expected: exposure.expected(),
            })
            .collect(),
        definition: "arrivals",
    }
}

fn answer(observed: i64, mean: f64) -> Answer {
    if two_sided(observed, mean) >= ALARM {
        Answer::WithinTheUsual
    } else if observed as f64 > mean {
        Answer::MoreThanUsual
    } else {
        Answer::FewerThanUsual
    }
}
