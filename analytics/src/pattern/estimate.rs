//! Sums to a Weibull life, a hint, and an age to replace at.

use serde::Serialize;

use crate::figure::{Interval, TOO_FEW};
use crate::follow::{Followed, LEVEL, LONGEST_WINDOW, Period};
use crate::reuse::Costs;
use crate::stats::replacement::{self, Life, replacement};
use crate::stats::weibull::{self, Fit, Moment};

/// What a return on the day of the hand-over, or a hand-over on the day of the
/// as-of, counts as: a life of no length has no logarithm.
const DAY_ZERO: f64 = 0.5;
/// An age that saves less than this share is not worth naming. Common
/// practice, no source.
const LEAST_SAVING: f64 = 0.005;
/// The share of the B10 life.
const TENTH: f64 = 0.1;

/// A fitted number with its interval.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = PatternEstimate))]
pub struct Estimated {
    pub value: f64,
    pub standard_error: f64,
    pub interval: Interval,
}

/// What the shape's interval hints at. A hint, not a finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = PatternHint))]
#[serde(rename_all = "snake_case")]
pub enum Hint {
    /// Entirely below 1: workmanship, diagnosis or several causes mixed.
    Early,
    /// Entirely above 1.
    Wear,
    NoEvidence,
}

impl Hint {
    /// In words.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Early => "early: the work, the diagnosis, or several causes mixed",
            Self::Wear => "more with age: wear",
            Self::NoEvidence => "no pattern beyond chance",
        }
    }
}

/// Why nothing is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = PatternNoFit))]
#[serde(rename_all = "snake_case")]
pub enum NoFit {
    /// Fewer than ten returns.
    TooFew,
    /// The returns do not differ in their days, or their numbers pass what can
    /// be reckoned with.
    NoShape,
}

/// The days to the return of one group.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Timing {
    /// Cases followed, and returns among them within 400 days by the as-of.
    pub count: i64,
    pub returns: i64,
    /// How long the longest was followed; at most 400.
    pub followed_days: i32,
    pub too_few: bool,
    pub no_fit: Option<NoFit>,
    /// First day by which half, and nine in ten, of those that came back were
    /// back. Absent with too few returns.
    pub half_back_days: Option<i32>,
    pub nine_in_ten_back_days: Option<i32>,
    pub shape: Option<Estimated>,
    /// Probability of a shape so far from 1 by chance (likelihood ratio).
    pub shape_p: Option<f64>,
    /// Scale of the fitted life: days by which 63 % of all would be back.
    pub scale_days: Option<Estimated>,
    /// That day lies beyond what was followed: it was not reached.
    pub scale_extrapolated: bool,
    /// Days by which 10 % would be back.
    pub b10_days: Option<Estimated>,
    /// As with the scale.
    pub b10_extrapolated: bool,
    pub hint: Option<Hint>,
    pub definition: &'static str,
    pub jobs: String,
}

/// The age at which replacing in time costs least.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AgeReplacement {
    pub days: f64,
    /// The age lies beyond what was followed: it was not reached.
    pub extrapolated: bool,
    /// Share of the cost of waiting for the return that is saved.
    pub saving: f64,
    /// Share that comes back before this age.
    pub returned_before: f64,
    /// A replacement in time, and a return, in minor units.
    pub planned_minor: f64,
    pub return_minor: f64,
    pub definition: &'static str,
}

/// Cases to moments: followed to the return, to the as-of, or to the day on
/// which proposals end.
fn moments<'a>(
    cases: impl Iterator<Item = Followed> + 'a,
    period: &'a Period,
) -> impl Iterator<Item = (i32, Moment)> + 'a {
    cases.filter(|case| period.holds(case.closed_day)).map(|case| {
        let back = period
            .returned(case.closed_day, case.elapsed)
            .filter(|elapsed| *elapsed <= LONGEST_WINDOW);
        let followed = period.as_of.saturating_sub(case.closed_day).min(LONGEST_WINDOW);
        let days = back.unwrap_or(followed);
        let (events, censored) = if back.is_some() { (case.count, 0) } else { (0, case.count) };
        (days, Moment { time: f64::from(days).max(DAY_ZERO), events, censored })
    })
}

/// The first day by which this share of the returns, so many of so many, were
/// back: an order statistic, in whole numbers.
fn back_by(moments: &[(i32, Moment)], returns: i64, (part, whole): (i128, i128)) -> Option<i32> {
    let mut back: Vec<(i32, i64)> =
        moments.iter().map(|(days, moment)| (*days, moment.events)).collect();
    back.sort_unstable();
    let enough = i128::from(returns) * part;
    let mut sum: i128 = 0;
    back.into_iter().filter(|(_, events)| *events > 0).find_map(|(days, events)| {
        sum += i128::from(events);
        (sum * whole >= enough).then_some(days)
    })
}

fn estimated(estimate: weibull::Estimate) -> Option<Estimated> {
    let weibull::Estimate { value, standard_error, low, high } = estimate;
    let sound = [value, standard_error, low, high].iter().all(|number| number.is_finite());
    sound.then_some(Estimated {
        value,
        standard_error,
        interval: Interval { low, high, level: LEVEL, method: "log-normal" },
    })
}

/// The timing of a group, and its fitted life.
pub(super) fn timing(
    cases: impl Iterator<Item = Followed>,
    period: &Period,
    definition: &'static str,
    jobs: String,
) -> (Timing, Option<Fit>) {
    let moments: Vec<(i32, Moment)> = moments(cases, period).collect();
    let returns: i64 = moments.iter().map(|(_, moment)| moment.events).sum();
    let censored: i64 = moments.iter().map(|(_, moment)| moment.censored).sum();
    let followed_days = moments.iter().map(|(days, _)| *days).max().unwrap_or(0);
    let too_few = returns < TOO_FEW;
    let back = |share| (!too_few).then(|| back_by(&moments, returns, share)).flatten();
    let (half_back_days, nine_in_ten_back_days) = (back((1, 2)), back((9, 10)));
    let fit = (!too_few).then(|| weibull::fit(moments.into_iter().map(|(_, m)| m))).flatten();
    let shape = fit.and_then(|fit| fit.shape_estimate(LEVEL)).and_then(estimated);
    let b10 = fit.and_then(|fit| fit.life(TENTH, LEVEL)).and_then(estimated);
    let scale = fit.and_then(|fit| fit.scale_estimate(LEVEL)).and_then(estimated);
    let beyond = |estimate: &Option<Estimated>| {
        estimate.as_ref().is_some_and(|estimate| estimate.value > f64::from(followed_days))
    };
    let timing = Timing {
        count: returns + censored,
        returns,
        followed_days,
        too_few,
        no_fit: match (too_few, fit) {
            (true, _) => Some(NoFit::TooFew),
            (false, None) => Some(NoFit::NoShape),
            (false, Some(_)) => None,
        },
        half_back_days,
        nine_in_ten_back_days,
        hint: shape.as_ref().map(|shape| hint(&shape.interval)),
        shape,
        shape_p: fit.and_then(|fit| fit.shape_test()).map(|test| test.p),
        scale_extrapolated: beyond(&scale),
        scale_days: scale,
        b10_extrapolated: beyond(&b10),
        b10_days: b10,
        definition,
        jobs,
    };
    (timing, fit)
}

fn hint(shape: &Interval) -> Hint {
    if shape.high < 1.0 {
        Hint::Early
    } else if shape.low > 1.0 {
        Hint::Wear
    } else {
        Hint::NoEvidence
    }
}

/// Only where the hint is wear; `None` too where no age is better than waiting,
/// or hardly so.
pub(super) fn by_age(timing: &Timing, fit: Option<&Fit>, costs: &Costs) -> Option<AgeReplacement> {
    let fit = fit.filter(|_| timing.hint == Some(Hint::Wear))?;
    let life = Life { shape: fit.shape, scale: fit.scale };
    let money =
        replacement::Costs { planned: costs.replace_now_minor, failure: costs.return_minor };
    let best = replacement(life, money)?.planned.filter(|best| best.saving >= LEAST_SAVING)?;
    Some(AgeReplacement {
        days: best.age,
        extrapolated: best.age > f64::from(timing.followed_days),
        saving: best.saving,
        returned_before: best.failing_before,
        planned_minor: money.planned,
        return_minor: money.failure,
        definition: "age_replacement",
    })
}
