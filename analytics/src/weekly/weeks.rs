//! What every week's review reads, prepared once for all weeks of a record.

use chrono::{Days, NaiveDate};

use super::alarms::{self, Alarm, WeekAnswer};
use super::arrivals::{Arrivals, Usual};
use super::chart::{self, ClosingChart};
use super::movers::{self, Group, Members, Movers};
use super::running::Running;
use crate::comeback::{in_population, possible_returns};
use crate::follow::{FirstReturn, Period, day_number, first_returns};
use crate::history::History;

/// A repaired complaint.
#[derive(Debug, Clone, Copy)]
pub(super) struct Case {
    pub closed_day: i32,
    pub back: FirstReturn,
    /// Code of the system's text.
    pub system: u32,
}

/// A record made ready for the reviews of its weeks.
#[derive(Debug, Clone)]
pub struct Weeks<'a> {
    pub(super) history: &'a History,
    /// Comeback window in days.
    pub(super) window: i32,
    /// In the order of closing.
    pub(super) cases: Vec<Case>,
    /// All of them.
    pub(super) closed: Running,
    pub(super) groups: Vec<Group>,
    /// The same record where every undecided proposal of the same complaint is
    /// confirmed; absent where there is none.
    if_confirmed: Option<Box<Self>>,
}

/// The days of a review.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Week {
    pub from: i32,
    /// The week's last day, or an earlier as-of.
    pub to: i32,
}

/// What one week's review is decided on.
#[derive(Debug, Clone, PartialEq)]
pub struct Signals {
    pub answer: WeekAnswer,
    pub alarms: Vec<Alarm>,
    pub arrivals: Arrivals,
    pub chart: ClosingChart,
    pub movers: Movers,
}

impl<'a> Weeks<'a> {
    /// `window_days` is the comeback window; the shop's own where absent.
    #[must_use]
    pub fn of(history: &'a History, window_days: Option<i32>) -> Self {
        let window = Period::window_of(window_days, history.facts());
        let returns = first_returns(history);
        let possible: Vec<FirstReturn> = returns
            .iter()
            .zip(possible_returns(history))
            .map(|(back, days)| back.or_sooner(*days))
            .collect();
        let members = movers::members(history);
        let counting = |returns: &[FirstReturn]| Self::counting(history, window, returns, &members);
        let if_confirmed = (possible != returns).then(|| Box::new(counting(&possible)));
        Self { if_confirmed, ..counting(returns) }
    }

    fn counting(
        history: &'a History,
        window: i32,
        returns: &[FirstReturn],
        members: &[Members],
    ) -> Self {
        let jobs = history.jobs();
        let inside = in_population(history);
        let columns = jobs.closed_day.iter().zip(returns).zip(jobs.system.iter().zip(inside));
        let cases: Vec<Case> = columns
            .filter(|(_, (_, inside))| **inside)
            .map(|((&closed_day, &back), (&system, _))| Case { closed_day, back, system })
            .collect();
        let closed = cases.iter().map(|case| (case.closed_day, case.back.days <= window));
        Self {
            closed: Running::of(closed),
            groups: members.iter().map(|one| one.group(history, window, returns)).collect(),
            history,
            window,
            cases,
            if_confirmed: None,
        }
    }

    /// The alarms of the week that starts on `week_from`, and what they were
    /// raised from, by the record as of the week's end or of an earlier as-of.
    #[must_use]
    pub fn signals(&self, as_of: NaiveDate, week_from: NaiveDate) -> Signals {
        let week = Week::of(as_of, week_from);
        self.signals_of(week, &Usual::learned(self, week))
    }

    pub(super) fn signals_of(&self, week: Week, usual: &Usual<'_>) -> Signals {
        let arrivals = usual.arrivals(self, week);
        let chart = chart::chart(self, week);
        let movers = movers::movers(self, week);
        let (answer, alarms) = alarms::alarms(&arrivals, &chart, &movers);
        let if_confirmed = self
            .if_confirmed
            .as_ref()
            .map(|other| other.signals_of(week, &Usual::learned(other, week)).answer);
        // Where what nobody has decided would turn the answer, there is none.
        let answer = match if_confirmed {
            Some(other) if other != answer => WeekAnswer::UndecidedProposals,
            _ => answer,
        };
        Signals { answer, alarms, arrivals, chart, movers }
    }

    /// The last closing week (by its first day) whose window has ended by the
    /// end of the reviewed week.
    pub(super) fn newest_closed(&self, week: Week) -> i32 {
        week.start_by(week.to.saturating_sub(self.window).saturating_sub(6))
    }

    /// Closing days that may be looked at, for figures and their selectors.
    /// Jobs closed before links were recorded are in no figure; selectors leave
    /// them out too.
    pub(super) fn period(&self, first: i32, last: i32, as_of: i32) -> Period {
        let linked = self.history.facts().links_from.map_or(i32::MIN, day_number);
        Period { first: first.max(linked), last, as_of, window: self.window }
    }
}

impl Week {
    pub fn of(as_of: NaiveDate, week_from: NaiveDate) -> Self {
        let last = week_from.checked_add_days(Days::new(6)).unwrap_or(NaiveDate::MAX);
        Self { from: day_number(week_from), to: day_number(last.min(as_of)) }
    }

    /// The as-of does not lie before it.
    pub const fn has_begun(self) -> bool {
        self.from <= self.to
    }

    /// The last first day of a week on or before a day. Weeks start on the
    /// reviewed week's weekday, whatever the shop's setting, so that a review of
    /// any seven days compares like with like.
    pub fn start_by(self, day: i32) -> i32 {
        let into_week = (i64::from(day) - i64::from(self.from)).rem_euclid(7);
        i32::try_from(i64::from(day) - into_week).unwrap_or(i32::MIN)
    }
}
