//! Is this week different? The comebacks that arrived against those expected
//! from all jobs at risk.

use std::collections::BTreeMap;

use serde::Serialize;

use super::weeks::{Case, Week, Weeks};
use crate::figure::Interval;
use crate::follow::{LEVEL, LONGEST_WINDOW, date_of};
use crate::hashed::HashMap;
use crate::stats::poisson::{at_least, at_most, central_range, mean_interval, two_sided};

/// How far back the usual is learned from.
const LEARNED_DAYS: i32 = 52 * 7;
/// The least record that says what is usual.
const LEAST_DAYS: i32 = 26 * 7;
/// Two-sided probability below which a week is called different. With it, and
/// the bounds of the chart and the movers, a steady shop hears an alarm in
/// fewer than 5 % of its weeks, measured by tests/reference/alarms.rs.
const ALARM: f64 = 0.02;

/// How a count compares with what is usual.
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
    pub expected_standard_error: f64,
    /// Selects the observed jobs.
    pub jobs: String,
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
    /// Exact interval of the mean behind the count.
    pub observed_interval: Option<Interval>,
    /// Absent while the answer is "not yet".
    pub expected: Option<f64>,
    /// How far chance in the returns that it was learned from may have moved it.
    pub expected_standard_error: Option<f64>,
    /// P(X >= observed) and P(X <= observed) where nothing has changed.
    pub probability_at_least: Option<f64>,
    pub probability_at_most: Option<f64>,
    /// Twice the smaller of the two, at most 1: what the answer goes by.
    pub probability: Option<f64>,
    /// The fewest and the most comebacks of a normal week: counts that are no
    /// alarm. Absent while the answer is "not yet".
    pub normal_low: Option<i64>,
    pub normal_high: Option<i64>,
    pub answer: Answer,
    /// Weeks of record that the usual was learned from.
    pub weeks_learned: i32,
    pub systems: Vec<SystemArrivals>,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
    /// Selects the observed jobs.
    pub jobs: String,
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

    /// A job with its first return. It is at risk from the hand-over to its
    /// return, that day included.
    fn take(&mut self, case: &Case, spans: &Spans) {
        let (closed, elapsed) = (case.closed_day, case.back.days);
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
        self.told_week += i64::from(back && case.back.told);
    }

    /// Over ages, job-days at risk this week times the chance a job-day of that
    /// age had; and the variance of that sum, each age's returns being a
    /// Poisson count. An age nobody was at before adds nothing.
    fn expected(&self) -> Expected {
        let mut sum = Expected::default();
        let ages = self.week.by_age().zip(self.before.by_age()).zip(&self.returns_before);
        for ((week, before), &returns) in ages.filter(|((_, before), _)| *before > 0) {
            let weight = week as f64 / before as f64;
            sum.mean += weight * returns as f64;
            sum.variance += weight * weight * returns as f64;
        }
        sum
    }

    /// By age, as seen in the year before; none at an age nobody was at.
    fn chances(&self) -> Vec<f64> {
        let ages = self.before.by_age().zip(&self.returns_before);
        ages.map(
            |(before, &returns)| {
                if before > 0 { (returns as f64 / before as f64).min(1.0) } else { 0.0 }
            },
        )
        .collect()
    }
}

/// A mean, and the variance of its estimate.
#[derive(Debug, Clone, Copy, Default)]
struct Expected {
    mean: f64,
    variance: f64,
}

/// Calendar days, both ends included.
struct Spans {
    before: (i32, i32),
    week: (i32, i32),
}

/// By system, the chance of a job still out to come back on each day of its
/// age.
pub(super) type Chances<'a> = HashMap<Option<&'a str>, Vec<f64>>;

/// What the year before a week says is usual.
pub(super) struct Usual<'a> {
    /// By system's name, so that the sum of fractions never depends on how
    /// codes came.
    exposures: BTreeMap<Option<&'a str>, Exposure>,
    days_learned: i32,
    known: bool,
}

impl<'a> Usual<'a> {
    pub fn learned(weeks: &Weeks<'a>, week: Week) -> Self {
        let oldest = weeks.closed.first_day().unwrap_or(week.from);
        let first = week.from.saturating_sub(LEARNED_DAYS).max(oldest);
        let spans =
            Spans { before: (first, week.from.saturating_sub(1)), week: (week.from, week.to) };
        // Nothing is at risk past the longest window.
        let out_of_sight = first.saturating_sub(LONGEST_WINDOW);
        let start = weeks.cases.partition_point(|case| case.closed_day < out_of_sight);
        let mut exposures: HashMap<u32, Exposure> = HashMap::default();
        let cases = weeks.cases.get(start..).unwrap_or_default();
        for case in cases.iter().take_while(|case| case.closed_day <= week.to) {
            exposures.entry(case.system).or_insert_with(Exposure::new).take(case, &spans);
        }
        let days_learned = week.from.saturating_sub(first).max(0);
        Self {
            exposures: exposures
                .into_iter()
                .map(|(code, exposure)| (weeks.history.text(code), exposure))
                .collect(),
            days_learned,
            known: days_learned >= LEAST_DAYS && week.has_begun(),
        }
    }

    /// `None` while nothing is known to be usual.
    pub fn chances(&self) -> Option<Chances<'a>> {
        let by_system = self.exposures.iter();
        self.known
            .then(|| by_system.map(|(system, exposure)| (*system, exposure.chances())).collect())
    }

    pub fn arrivals(&self, weeks: &Weeks<'_>, week: Week) -> Arrivals {
        let observed = self.exposures.values().map(|exposure| exposure.returns_week).sum();
        let expected = self.known.then(|| self.expected());
        let mean = expected.map(|expected| expected.mean);
        let normal = mean.and_then(|mean| central_range(mean, ALARM));
        let systems = self.exposures.iter().filter(|_| self.known);
        Arrivals {
            observed,
            told: self.exposures.values().map(|exposure| exposure.told_week).sum(),
            observed_interval: mean_interval(observed, LEVEL).map(|(low, high)| Interval {
                low,
                high,
                level: LEVEL,
                method: "exact-poisson",
            }),
            expected: mean,
            expected_standard_error: expected.map(|expected| expected.variance.sqrt()),
            probability_at_least: mean.map(|mean| at_least(observed, mean)),
            probability_at_most: mean.map(|mean| at_most(observed, mean)),
            probability: mean.map(|mean| two_sided(observed, mean)),
            normal_low: normal.map(|(low, _)| low),
            normal_high: normal.map(|(_, high)| high),
            answer: mean.map_or(Answer::NotYet, |mean| answer(observed, mean)),
            weeks_learned: self.days_learned / 7,
            systems: systems
                .map(|(system, exposure)| {
                    let expected = exposure.expected();
                    SystemArrivals {
                        system: system.map(str::to_owned),
                        observed: exposure.returns_week,
                        expected: expected.mean,
                        expected_standard_error: expected.variance.sqrt(),
                        jobs: selector(weeks, week, Some(system.unwrap_or_default())),
                    }
                })
                .collect(),
            definition: "arrivals",
            jobs: selector(weeks, week, None),
        }
    }

    fn expected(&self) -> Expected {
        let mut sum = Expected::default();
        for one in self.exposures.values().map(Exposure::expected) {
            sum.mean += one.mean;
            sum.variance += one.variance;
        }
        sum
    }
}

/// The jobs whose first return fell into the week.
fn selector(weeks: &Weeks<'_>, week: Week, system: Option<&str>) -> String {
    let days = [week.from, week.to].map(|day| date_of(day).to_string());
    let mut pairs = vec![("kind", "complaint"), ("outcome", "repaired")];
    pairs.extend(system.map(|system| ("system", system)));
    pairs.extend(["returned_from", "returned_to"].into_iter().zip(days.iter().map(String::as_str)));
    weeks.period(i32::MIN, week.to, week.to).selector(&pairs)
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
