//! The control chart of closing weeks, one window late: only weeks whose every
//! job has been followed for a whole window stand on it.

use chrono::NaiveDate;
use serde::Serialize;

use super::arrivals::Answer;
use super::weeks::{Week, Weeks};
use crate::figure::Share;
use crate::follow::{Cases, counted_share, date_of};
use crate::stats::binomial;
use crate::stats::chart::{Chart, Judged, Kind, Sample};
use crate::stats::runs::Rule;

/// How far back limits are made from, and the least that makes them.
const BASELINE_DAYS: i32 = 52 * 7;
const LEAST_BASELINE: usize = 26;
/// Closing weeks shown.
const SHOWN: usize = 12;
/// The chance of a normal value beyond three standard deviations, on one side.
const POINT_CHANCE: f64 = 0.00135;
/// The chance of nine in a row on one named side of the middle: 1 in 2^9.
const RUN_CHANCE: f64 = 1.0 / 512.0;
/// Comebacks a week from which on runs are looked at: below, most weeks lie
/// under the mean by nature.
const LEAST_EXPECTED: f64 = 2.0;
/// The rules that keep the budget of false alarms; others are not used.
const ARMED: [Rule; 2] = [Rule::OneBeyondThree, Rule::NineOnOneSide];

/// One closing week beside the limits for its number of jobs.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ChartPoint {
    pub week_from: NaiveDate,
    pub week_to: NaiveDate,
    /// Jobs of the week, those of them that came back inside the window.
    pub share: Share,
    /// Three standard deviations from the center, cut to 0 to 1; absent without
    /// a baseline.
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// Distance from the center in standard deviations of the chart.
    pub z: Option<f64>,
    /// Exact binomial chance of a count as far off, on its side, where nothing
    /// has changed.
    pub probability: Option<f64>,
}

/// A closing week outside its limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outside {
    pub above: bool,
    /// The exact chance is no smaller than the limits are drawn for: with so few
    /// comebacks it raises no alarm.
    pub by_luck: bool,
}

impl ChartPoint {
    /// `None` inside the limits, and without any.
    #[must_use]
    pub fn outside(&self) -> Option<Outside> {
        let (z, chance) = self.z.zip(self.probability)?;
        (z.abs() > 3.0).then_some(Outside { above: z > 0.0, by_luck: chance >= POINT_CHANCE })
    }
}

/// A run rule at the newest closing week.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ChartRule {
    pub rule: &'static str,
    /// It is looked at: there is a baseline, with comebacks enough for it.
    pub armed: bool,
    /// The points meet it.
    pub met: bool,
    /// Exact binomial chance of what met it, on its side, where nothing has
    /// changed.
    pub probability: Option<f64>,
    /// Armed, met, too improbable for chance, and its week new on the chart.
    pub raised: bool,
    /// Jobs closed in the weeks that met it; none where it is not met.
    pub count: i64,
    /// Selects them.
    pub jobs: Option<String>,
}

impl ChartRule {
    /// Its pattern is rarer than chance brings it: where it is not raised, an
    /// earlier week has raised it.
    #[must_use]
    pub fn is_rare(&self) -> bool {
        let point = self.rule == Rule::OneBeyondThree.name();
        let bound = if point { POINT_CHANCE } else { RUN_CHANCE };
        self.probability.is_some_and(|chance| chance < bound)
    }
}

/// The chart.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ClosingChart {
    pub answer: Answer,
    /// Closing weeks with jobs that the limits are made from.
    pub baseline_weeks: i64,
    /// All their jobs together: the center.
    pub baseline: Share,
    /// How many times chance's own deviation the limits allow.
    pub sigma_z: Option<f64>,
    /// Comebacks that a week of the baseline had on average.
    pub expected_per_week: Option<f64>,
    pub rules: Vec<ChartRule>,
    /// The last twelve closing weeks whose window has ended, the latest first;
    /// weeks without jobs are left out.
    pub points: Vec<ChartPoint>,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
}

/// A closing week with jobs, by its first day.
#[derive(Debug, Clone, Copy)]
struct Closed {
    from: i32,
    cases: Cases,
}

impl Closed {
    const fn sample(self) -> Sample {
        Sample { count: self.cases.returns, size: self.cases.cases }
    }
}

pub(super) fn chart(weeks: &Weeks<'_>, week: Week) -> ClosingChart {
    let closed = closed_weeks(weeks, week);
    let newest = closed.first().map_or(week.from, |newest| newest.from);
    let baseline: Vec<Closed> = closed
        .iter()
        .skip(1)
        .take_while(|one| one.from >= newest.saturating_sub(BASELINE_DAYS))
        .copied()
        .collect();
    let known = baseline.len() >= LEAST_BASELINE && week.has_begun();
    // In the order of time: limits go by how neighbors differ.
    let samples: Vec<Sample> = baseline.iter().rev().map(|one| one.sample()).collect();
    let limits = known.then(|| limits_of(&samples)).flatten();
    let whole = baseline.iter().fold(Cases::default(), |sum, one| Cases {
        cases: sum.cases + one.cases.cases,
        returns: sum.returns + one.cases.returns,
    });
    let sheet = Sheet { weeks, week, limits, whole, baseline_weeks: baseline.len() };
    let rules: Vec<ChartRule> = ARMED.map(|rule| sheet.rule(rule, &closed)).into();
    let first = baseline.last().map_or(newest, |first| first.from);
    ClosingChart {
        answer: sheet.answer(&closed, &rules),
        baseline_weeks: baseline.len() as i64,
        baseline: sheet.share(whole, "chart_center", first, newest.saturating_sub(1)),
        sigma_z: limits.map(|limits| limits.sigma_z()),
        expected_per_week: limits.map(|_| sheet.expected_per_week()),
        rules,
        points: closed.iter().take(SHOWN).map(|one| sheet.point(*one)).collect(),
        definition: "chart",
    }
}

/// Laney's limits, never narrower than chance alone: neighbors that happen to lie
/// close together are no evidence that the next one will.
fn limits_of(baseline: &[Sample]) -> Option<Chart> {
    let laney = Chart::laney(Kind::Share, baseline)?;
    if laney.sigma_z() >= 1.0 { Some(laney) } else { Chart::plain(Kind::Share, baseline) }
}

/// Closing weeks with jobs whose window has ended, the latest first.
fn closed_weeks(weeks: &Weeks<'_>, week: Week) -> Vec<Closed> {
    let (Some(oldest), Some(latest)) = (weeks.closed.first_day(), weeks.closed.last_day()) else {
        return Vec::new();
    };
    // What is shown and what limits are made from lie within the baseline
    // before the last week with jobs.
    let newest = weeks.newest_closed(week).min(week.start_by(latest));
    let starts = std::iter::successors(Some(newest), |from| {
        from.checked_sub(7).filter(|earlier| earlier.saturating_add(6) >= oldest)
    });
    let mut closed: Vec<Closed> = Vec::new();
    for from in starts {
        if closed.first().is_some_and(|newest| from < newest.from - BASELINE_DAYS) {
            break;
        }
        let cases = weeks.closed.between(from, from.saturating_add(6));
        if cases.cases > 0 {
            closed.push(Closed { from, cases });
        }
    }
    closed
}

/// The limits and what they are drawn for.
struct Sheet<'a> {
    weeks: &'a Weeks<'a>,
    week: Week,
    limits: Option<Chart>,
    whole: Cases,
    baseline_weeks: usize,
}

impl Sheet<'_> {
    fn share(&self, cases: Cases, definition: &'static str, first: i32, last: i32) -> Share {
        counted_share(cases, definition, self.jobs(first, last))
    }

    fn jobs(&self, first: i32, last: i32) -> String {
        let pairs = [("kind", "complaint"), ("outcome", "repaired")];
        self.weeks.period(first, last, self.week.to).selector(&pairs)
    }

    fn expected_per_week(&self) -> f64 {
        self.whole.returns as f64 / self.baseline_weeks.max(1) as f64
    }

    fn judged(&self, one: Closed) -> Option<Judged> {
        self.limits.and_then(|limits| limits.judge(one.sample()))
    }

    fn point(&self, one: Closed) -> ChartPoint {
        let judged = self.judged(one);
        let last = one.from.saturating_add(6);
        ChartPoint {
            week_from: date_of(one.from),
            week_to: date_of(last),
            share: self.share(one.cases, "chart_week", one.from, last),
            low: judged.map(|judged| judged.low),
            high: judged.map(|judged| judged.high),
            z: judged.map(|judged| judged.z),
            probability: judged.map(|judged| self.tail(one, judged.z > 0.0)),
        }
    }

    /// Whether the rule's pattern ends at the newest week, and how likely that
    /// is by chance.
    fn rule(&self, rule: Rule, closed: &[Closed]) -> ChartRule {
        let armed = self.limits.is_some()
            && (rule == Rule::OneBeyondThree || self.expected_per_week() >= LEAST_EXPECTED);
        let z: Vec<f64> =
            closed.iter().rev().filter_map(|one| Some(self.judged(*one)?.z)).collect();
        let met = armed && rule.met_at(&z).last().is_some_and(|end| end + 1 == z.len());
        let above = z.last().is_some_and(|newest| *newest > 0.0);
        let same_side = z.iter().rev().take_while(|z| if above { **z > 0.0 } else { **z < 0.0 });
        let (length, bound) = match rule {
            Rule::OneBeyondThree => (1, POINT_CHANCE),
            // A run that goes on gets more improbable with each week.
            _ => (same_side.count(), RUN_CHANCE),
        };
        let pattern = closed.get(..length).filter(|_| met).unwrap_or_default();
        let probability = match rule {
            _ if !met => None,
            Rule::OneBeyondThree => pattern.first().map(|one| self.tail(*one, above)),
            _ => Some(pattern.iter().map(|one| self.side(*one, above)).product()),
        };
        let newest = closed.first().map_or(i32::MIN, |newest| newest.from);
        // A week that was new on the chart before has been told of before.
        let is_new = newest.saturating_add(6).saturating_add(self.weeks.window) >= self.week.from;
        ChartRule {
            rule: rule.name(),
            armed,
            met,
            probability,
            raised: is_new && probability.is_some_and(|chance| chance < bound),
            count: pattern.iter().map(|one| one.cases.cases).sum(),
            jobs: pattern.last().map(|first| self.jobs(first.from, newest.saturating_add(6))),
        }
    }

    fn center(&self) -> f64 {
        self.limits.map_or(f64::NAN, |limits| limits.center())
    }

    /// Chance of a count as far off as the week's, on its side.
    fn tail(&self, one: Closed, above: bool) -> f64 {
        let Cases { cases, returns } = one.cases;
        if above {
            binomial::at_least(returns, cases, self.center())
        } else {
            binomial::at_most(returns, cases, self.center())
        }
    }

    /// Chance of any count on that side of the center.
    fn side(&self, one: Closed, above: bool) -> f64 {
        let Cases { cases: whole, returns } = self.whole;
        let center = i128::from(returns) * i128::from(one.cases.cases);
        let whole = i128::from(whole.max(1));
        let below = i64::try_from(center.div_euclid(whole)).unwrap_or(i64::MAX);
        if above {
            binomial::at_least(below.saturating_add(1), one.cases.cases, self.center())
        } else {
            let exact = center.rem_euclid(whole) == 0;
            binomial::at_most(below - i64::from(exact), one.cases.cases, self.center())
        }
    }

    fn answer(&self, closed: &[Closed], rules: &[ChartRule]) -> Answer {
        let newest = closed.first().and_then(|newest| self.judged(*newest));
        let Some(newest) = newest else { return Answer::NotYet };
        match (rules.iter().any(|rule| rule.raised), newest.z > 0.0) {
            (false, _) => Answer::WithinTheUsual,
            (true, true) => Answer::MoreThanUsual,
            (true, false) => Answer::FewerThanUsual,
        }
    }
}
