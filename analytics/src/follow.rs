//! What every report does with closing days: the period looked at, who was
//! followed how long, and the two shares that come of it.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};

use crate::figure::{Head, Interval, Query, Share, TOO_FEW};
use crate::history::{History, NONE, Odometer, ShopFacts};
use crate::select::escape_onto;
use crate::stats::proportion::wilson;
use crate::stats::survival::{Curve, Moment, Scale};
use crate::words::LinkState;

/// Elapsed days of what did not return.
pub(crate) const NEVER: i32 = i32::MAX;
/// No share is shown past this many days: the proposals end there.
pub(crate) const LONGEST_WINDOW: i32 = 400;
pub(crate) const LEVEL: f64 = 0.95;

/// Days since 1970-01-01.
pub(crate) fn day_number(date: NaiveDate) -> i32 {
    let days = date.signed_duration_since(NaiveDate::default()).num_days();
    i32::try_from(days).unwrap_or(if days < 0 { i32::MIN } else { NEVER })
}

/// The date of a day number; the epoch for numbers no calendar reaches.
pub(crate) fn date_of(day: i32) -> NaiveDate {
    let epoch = NaiveDate::default();
    let days = Days::new(u64::from(day.unsigned_abs()));
    let date = if day < 0 { epoch.checked_sub_days(days) } else { epoch.checked_add_days(days) };
    date.unwrap_or(epoch)
}

/// The closing days a report looks at, its as-of and its window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Period {
    pub first: i32,
    pub last: i32,
    pub as_of: i32,
    pub window: i32,
}

impl Period {
    pub fn new(query: &Query, facts: &ShopFacts) -> Self {
        let as_of = day_number(query.as_of);
        Self {
            first: query.from.map_or(i32::MIN, day_number),
            last: query.to.map_or(as_of, day_number).min(as_of),
            as_of,
            window: Self::window_of(query.window_days, facts),
        }
    }

    /// The window asked for, else the shop's own, inside what a share is shown
    /// for.
    pub fn window_of(asked: Option<i32>, facts: &ShopFacts) -> i32 {
        asked.unwrap_or(facts.window_days).clamp(0, LONGEST_WINDOW)
    }

    /// The part of the period between two days.
    pub fn within(&self, first: i32, last: i32) -> Self {
        Self { first: self.first.max(first), last: self.last.min(last), ..*self }
    }

    /// The closing days whose window has ended by the as-of.
    pub fn ended(&self) -> Self {
        self.within(i32::MIN, self.as_of.saturating_sub(self.window))
    }

    /// The same closing days under another window.
    pub fn windowed(&self, window: i32) -> Self {
        Self { window, ..*self }
    }

    /// A job closed on this day is looked at.
    pub fn holds(&self, closed_day: i32) -> bool {
        (self.first..=self.last).contains(&closed_day)
    }

    /// Its window has ended by the as-of, returned or not.
    pub fn window_closed(&self, closed_day: i32) -> bool {
        closed_day.saturating_add(self.window) <= self.as_of
    }

    /// The elapsed days of a return that has happened by the as-of.
    pub fn returned(&self, closed_day: i32, elapsed: i32) -> Option<i32> {
        (elapsed != NEVER && closed_day.saturating_add(elapsed) <= self.as_of).then_some(elapsed)
    }

    /// Selects closed jobs of the period.
    pub fn selector(&self, pairs: &[(&str, &str)]) -> String {
        let mut text = String::with_capacity(128);
        let mut add = |key: &str, value: &str| {
            text.push_str(if text.is_empty() { "" } else { "&" });
            text.push_str(key);
            text.push('=');
            escape_onto(&mut text, value);
        };
        for (key, value) in pairs {
            add(key, value);
        }
        if self.first != i32::MIN {
            add("closed_from", &date_of(self.first).to_string());
        }
        add("closed_to", &date_of(self.last).to_string());
        text
    }
}

/// The head of a report.
pub(crate) fn head(
    report: &'static str,
    facts: &ShopFacts,
    change_no: i64,
    query: &Query,
    definitions: &[(&'static str, &'static str)],
) -> Head {
    Head {
        report,
        shop: facts.code.clone(),
        as_of: query.as_of,
        from: query.from,
        to: query.to,
        change_no,
        window_days: Period::new(query, facts).window,
        currency: facts.currency.clone(),
        definitions: definitions.iter().copied().collect::<BTreeMap<_, _>>(),
    }
}

/// Cases closed on one day that came back after the same number of days.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Followed {
    pub closed_day: i32,
    pub elapsed: i32,
    pub count: i64,
}

/// The curve of the period's cases, each followed to its return or the as-of.
pub(crate) fn followed_curve(cases: impl Iterator<Item = Followed>, period: &Period) -> Curve {
    Curve::new(followed_moments(cases, period))
}

/// The same before it is made a curve: moments of several shops, each cut at its
/// own as-of, make one.
pub(crate) fn followed_moments(
    cases: impl Iterator<Item = Followed>,
    period: &Period,
) -> impl Iterator<Item = Moment> {
    cases.filter(|case| period.holds(case.closed_day)).map(|case| {
        match period.returned(case.closed_day, case.elapsed) {
            Some(time) => Moment { time, events: case.count, censored: 0 },
            None => {
                Moment { time: period.as_of - case.closed_day, events: 0, censored: case.count }
            }
        }
    })
}

/// What came back by the window: 1 - Kaplan-Meier, log-log interval. Absent
/// while nobody has been followed for a whole window.
pub(crate) fn followed_share(
    cases: impl Iterator<Item = Followed>,
    period: &Period,
    definition: &'static str,
    jobs: String,
) -> Share {
    curve_share(&followed_curve(cases, period), period.window, definition, jobs)
}

/// What a curve says by a time: 1 - Kaplan-Meier, log-log interval. Absent while
/// nobody has been followed that far.
pub(crate) fn curve_share(
    curve: &Curve,
    time: i32,
    definition: &'static str,
    jobs: String,
) -> Share {
    let estimate = curve.at(time);
    let seen_out = curve.at_risk(time) > 0 || estimate.survival <= 0.0;
    let known = (curve.units() > 0 && seen_out).then_some(estimate);
    Share {
        count: curve.units(),
        returns: curve.events_by(time),
        share: known.map(|estimate| 1.0 - estimate.survival),
        standard_error: known.and_then(|estimate| estimate.standard_error()),
        // Where nothing came back Greenwood's variance is zero, and an interval
        // of no width would claim certainty.
        interval: known
            .filter(|estimate| estimate.survival < 1.0)
            .and_then(|estimate| estimate.interval(Scale::LogLog, LEVEL))
            .map(|(low, high)| Interval {
                low: 1.0 - high,
                high: 1.0 - low,
                level: LEVEL,
                method: "log-log",
            }),
        too_few: curve.units() < TOO_FEW,
        definition,
        jobs,
    }
}

/// Counts of cases whose window is closed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Cases {
    pub cases: i64,
    pub returns: i64,
}

/// Cases with a closed window, and those of them that came back inside it.
pub(crate) fn closed_cases(cases: impl Iterator<Item = Followed>, period: &Period) -> Cases {
    let mut sum = Cases::default();
    for case in cases {
        if period.holds(case.closed_day) && period.window_closed(case.closed_day) {
            sum.cases += case.count;
            if case.elapsed <= period.window {
                sum.returns += case.count;
            }
        }
    }
    sum
}

/// The raw share of closed windows with Wilson's interval.
pub(crate) fn counted_share(cases: Cases, definition: &'static str, jobs: String) -> Share {
    Share {
        count: cases.cases,
        returns: cases.returns,
        share: (cases.cases > 0).then(|| cases.returns as f64 / cases.cases as f64),
        standard_error: None,
        interval: wilson(cases.returns, cases.cases, LEVEL).map(|(low, high)| Interval {
            low,
            high,
            level: LEVEL,
            method: "wilson",
        }),
        too_few: cases.cases < TOO_FEW,
        definition,
        jobs,
    }
}

/// The first return of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct FirstReturn {
    /// Since the hand-over; [`NEVER`] where there is none.
    pub days: i32,
    /// It was told; the vehicle did not come.
    pub told: bool,
    /// Row of its link; [`NONE`] where it was told, and where there is none.
    link: u32,
}

impl FirstReturn {
    /// The same return, or a sooner one of which nothing but the day is known.
    pub fn or_sooner(self, days: i32) -> Self {
        if days < self.days { Self { days, told: false, link: NONE } } else { self }
    }

    /// It had happened by the as-of, the job being closed on a day.
    pub fn by(&self, closed_day: i32, as_of: i32) -> bool {
        self.days != NEVER && closed_day.saturating_add(self.days) <= as_of
    }

    /// Why the job in this row came back: the code of a text, [`NONE`] where no
    /// reason is named.
    pub fn reason(&self, history: &History, row: usize) -> u32 {
        let column = if self.told { history.jobs().told_reason } else { history.returns().reason };
        let at = if self.told { row } else { self.link as usize };
        column.get(at).copied().unwrap_or(NONE)
    }

    /// The row of the job that it came back as; `None` where it was told, and
    /// while that job is open.
    pub fn later(&self, history: &History) -> Option<u32> {
        let later = history.returns().later.get(self.link as usize).copied()?;
        (later != NONE).then_some(later)
    }

    /// Where the odometer stood when the vehicle came back; `None` where it did
    /// not come, or nobody read it.
    pub fn odometer(&self, history: &History) -> Option<Odometer> {
        let returns = history.returns();
        let at = self.link as usize;
        Odometer::of_columns(returns.later_odometer_series, returns.later_odometer_km, at)
    }
}

/// The first return of every job, by row: the first confirmed comeback, or the
/// day on which somebody told that the repair had not held.
pub(crate) fn first_returns(history: &History) -> &[FirstReturn] {
    history.derived().first_returns.get_or_init(|| returns_for(history, |_| true))
}

/// The same, counting returns of one reason only; none where no return of the
/// record has it.
pub(crate) fn first_returns_because(history: &History, reason: &str) -> Vec<FirstReturn> {
    let code = history.code_of(reason);
    returns_for(history, |of| Some(of) == code)
}

fn returns_for(history: &History, counts: impl Fn(u32) -> bool) -> Vec<FirstReturn> {
    let (jobs, returns) = (history.jobs(), history.returns());
    let told = jobs.closed_day.iter().zip(jobs.told_day).zip(jobs.told_reason);
    let mut first: Vec<FirstReturn> = told
        .map(|((&closed, &told), &reason)| {
            let known = told != NEVER && told >= closed && counts(reason);
            FirstReturn { days: if known { told - closed } else { NEVER }, told: known, link: NONE }
        })
        .collect();
    let links = returns.earlier.iter().zip(returns.later_opened_day);
    let links = (0_u32..).zip(links.zip(returns.state.iter().zip(returns.reason)));
    for (link, ((&earlier, &opened), (&state, &reason))) in links {
        let earlier = earlier as usize;
        let (Some(slot), Some(&closed)) = (first.get_mut(earlier), jobs.closed_day.get(earlier))
        else {
            continue;
        };
        // Before the hand-over it would be rework, not a return.
        let known = state == LinkState::Confirmed.code() && opened >= closed && counts(reason);
        let days = opened.saturating_sub(closed);
        // A vehicle that came on the day it was told of has been seen. Of two
        // links of one day the first in the order of links is the return.
        if known && (days < slot.days || (days == slot.days && slot.told)) {
            *slot = FirstReturn { days, told: false, link };
        }
    }
    first
}

#[cfg(test)]
mod tests {
    use super::*;

    fn period(as_of: i32, window: i32) -> Period {
        Period { first: i32::MIN, last: as_of, as_of, window }
    }

    #[test]
    fn a_recent_repair_is_followed_as_long_as_it_can_be() {
        // Days to the return (true) or to the as-of on day 100. By hand
        // 9/10 x 7/8 x 6/7; scipy 1.17.1 stats.ecdf(CensoredData(uncensored,
        // right)).sf gives the same 0.675.
        let days = [
            (6, true),
            (10, false),
            (13, true),
            (21, true),
            (25, false),
            (28, false),
            (30, false),
            (30, false),
            (30, false),
            (30, false),
        ];
        let cases = days.iter().map(|&(t, back)| Followed {
            closed_day: if back { 50 } else { 100 - t },
            elapsed: if back { t } else { NEVER },
            count: 1,
        });
        let share = followed_share(cases, &period(100, 30), "x", String::new());
        assert!((share.share.unwrap() - 0.325).abs() < 1e-12);
        assert_eq!((share.count, share.returns), (10, 3));
    }

    #[test]
    fn a_window_nobody_has_lived_through_has_no_share() {
        let one = Followed { closed_day: 90, elapsed: NEVER, count: 40 };
        let share = followed_share([one].into_iter(), &period(100, 30), "x", String::new());
        assert_eq!((share.share, share.interval), (None, None));
        assert_eq!(closed_cases([one].into_iter(), &period(100, 30)), Cases::default());
    }

    #[test]
    fn a_return_after_the_as_of_has_not_happened() {
        let one = Followed { closed_day: 50, elapsed: 60, count: 20 };
        let share = followed_share([one].into_iter(), &period(100, 40), "x", String::new());
        assert_eq!((share.returns, share.share), (0, Some(0.0)));
    }

    #[test]
    fn dates_and_days_lead_to_each_other() {
        for day in [-1, 0, 1, 20_000] {
            assert_eq!(day_number(date_of(day)), day);
        }
        // POSIX day number, as `date -u -d 2026-10-11 +%s` / 86400 gives it.
        assert_eq!(day_number(NaiveDate::from_ymd_opt(2026, 10, 11).unwrap()), 20_737);
    }
}
