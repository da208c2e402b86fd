//! The weekly review: what was closed, what came back and whether that is
//! more than usual, what moved, and how the last closing weeks stand.

mod alarms;
mod arrivals;
mod chart;
mod cohorts;
mod cost;
mod lists;
mod movers;
mod recent;
mod running;
mod weeks;

use chrono::NaiveDate;
use serde::Serialize;

pub use alarms::{Alarm, AlarmDirection, AlarmSource, WeekAnswer};
pub use arrivals::{Answer, Arrivals, SystemArrivals};
pub use chart::{ChartPoint, ChartRule, ClosingChart, Outside};
pub use cohorts::Cohort;
pub use cost::{WeekCost, WeekCostLine};
pub use lists::{ClosedLine, Tallied, Undecided};
pub use movers::{Mover, MoverAnswer, Movers};
pub use recent::{RecentWeek, TooRecent};
pub use weeks::{Signals, Weeks};

use crate::comeback::{self, ChainCount, ComebackLine, ComebackTally, Returns, comeback_lines};
use crate::figure::{Head, Query};
use crate::follow::{Period, date_of, day_number, head};
use crate::history::History;
use crate::outcomes::{self, CaughtHere, caught_here};
use arrivals::Usual;
use weeks::Week;

/// What the review is asked for. Days are shop-local.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WeekQuery {
    /// End of this day: today's record, cut here.
    pub as_of: NaiveDate,
    /// First day of the week looked at.
    pub week_from: NaiveDate,
    /// Comeback window in days; the shop's own where absent.
    pub window_days: Option<i32>,
}

/// The review of one week.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WeeklyReview {
    /// From the week's first day to its last, or to an earlier as-of.
    pub head: Head,
    pub week_from: NaiveDate,
    pub week_to: NaiveDate,
    /// The as-of lies inside the week: it is not over.
    pub partial: bool,
    pub answer: WeekAnswer,
    /// Everything raised by the end of the week.
    pub alarms: Vec<Alarm>,
    pub arrivals: Arrivals,
    pub chart: ClosingChart,
    /// Confirmed comebacks whose later order was opened in the week, and returns
    /// told in it, the latest first.
    pub comebacks: Vec<ComebackLine>,
    pub cost: WeekCost,
    pub by_reason: Vec<Tallied>,
    pub by_system: Vec<Tallied>,
    pub chains: ChainCount,
    pub undecided: Undecided,
    pub movers: Movers,
    pub too_recent: TooRecent,
    /// The last twelve closing weeks up to this one, the latest first.
    pub cohorts: Vec<Cohort>,
    /// Everything closed up to the end of the week, with what lost customers
    /// and undecided proposals could change.
    pub overall: Cohort,
    pub closed: Vec<ClosedLine>,
    pub caught_here: CaughtHere,
}

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "answer",
        "Look into it: at least one alarm. Alarms come from the arrivals, the chart and the \
         movers; good news raises them too. All of them together speak up in fewer than 5% of \
         the weeks of simulated shops in which nothing changes. Undecided proposals: the answer \
         would be another one if all proposals of the same complaint were confirmed.",
    ),
    (
        "arrivals",
        "Jobs whose first return fell into the week (a confirmed comeback that was opened, or a \
         repair told not to have held), against those expected from \
         all repaired complaints at risk: the chance of a day to bring one, by elapsed days and \
         system, as seen in the 52 weeks before. Exact Poisson; more or fewer than usual where \
         the two-sided probability is below 2%; a normal week has one of the other counts. The \
         standard error of the expected is of the returns it was learned from. Not yet: fewer than \
         26 weeks of record before the week, or the week has not begun.",
    ),
    (
        "chart",
        "Closing weeks whose window had ended by the end of the reviewed week, on Laney's p' \
         chart: three standard deviations, stretched where neighboring weeks of the baseline \
         differ by more than chance. Two rules are used, since others would raise too many false alarms: one beyond \
         three sigma, where the exact binomial chance too is under 0.135% on its side; nine in \
         a row on one side (or more), where the weeks of the baseline had two comebacks or more \
         on average and the exact chance of the whole run is under 1 in 512. Not yet: fewer than \
         26 weeks with jobs in the baseline, or no comeback in it.",
    ),
    (
        "chart_center",
        "The share that came back inside the window, over all jobs of the up to 52 closing \
         weeks before the newest. Wilson's interval.",
    ),
    (
        "chart_week",
        "Of the jobs closed in the week, the share that came back inside the window, which has \
         ended for all of them. Wilson's interval. Its probability is the exact binomial chance of \
         a count as far off on its side, where nothing has changed.",
    ),
    (
        "comeback_cost",
        "Of the week's comebacks, the later jobs handed over by the as-of: their clock hours at \
         the shop's labor cost, the parts they were given (cost of one by quantity), work on them \
         sent to other businesses, and what a return costs besides that is not on the clock \
         (diagnosis and proof again are), less labor a supplier paid for \
         and what suppliers paid back on them by the as-of.",
    ),
    (
        "movers",
        "Closed windows of the last 13 closing weeks against the up to 52 before them (at least \
         13), by symptom, system, technician (first repairs, by who answers), supplier, lot, \
         part and engine; groups with ten jobs on each side. Fisher's exact test; q is adjusted \
         for all groups tested (Benjamini and Hochberg), and from 1% on there is no evidence. \
         Newcombe's interval of the difference. Each group stands against its own past, never \
         against others.",
    ),
    (
        "too_recent",
        "Jobs closed up to the end of the week whose window has not ended by the as-of: those \
         that came back so far, and those of the others that are expected to before their \
         window ends, by the chances that the arrivals are expected by.",
    ),
    (
        "comeback_so_far",
        "The comeback share after as many days as every job of the week has been followed, at \
         most the window.",
    ),
    ("comeback_30", "The comeback share at 30 days."),
];

/// The week's closings, its comebacks, and how the closing weeks stand.
#[must_use]
pub fn weekly(history: &History, query: &WeekQuery) -> WeeklyReview {
    let week = Week::of(query.as_of, query.week_from);
    let week_to = date_of(week.to);
    let asked = Query {
        as_of: query.as_of,
        from: Some(query.week_from),
        to: Some(week_to),
        window_days: query.window_days,
        by: None,
    };
    let period = Period::new(&asked, history.facts());
    let arrived = |_, _, opened| (week.from..=week.to).contains(&opened);
    let Returns { lines: comebacks, chains, .. } =
        comeback_lines(history, query.as_of, usize::MAX, arrived);
    let definitions = [comeback::DEFINITIONS, outcomes::DEFINITIONS, DEFINITIONS].concat();
    let tally = ComebackTally::of(history, None);
    // Jobs closed before links were recorded are in no tally; the selectors
    // leave them out too.
    let linked = history.facts().links_from;
    let record = Period::new(&Query { from: linked, ..asked.clone() }, history.facts());
    let weeks = Weeks::of(history, query.window_days);
    let usual = Usual::learned(&weeks, week);
    let signals = weeks.signals_of(week, &usual);
    WeeklyReview {
        head: head("weekly", history.facts(), history.change_no(), &asked, &definitions),
        week_from: query.week_from,
        week_to,
        partial: week.to < week.from.saturating_add(6),
        answer: signals.answer,
        alarms: signals.alarms,
        arrivals: signals.arrivals,
        chart: signals.chart,
        cost: cost::cost(history, &comebacks, week, day_number(query.as_of)),
        by_reason: lists::tallied(&comebacks, |line| line.reason.as_deref()),
        by_system: lists::tallied(&comebacks, |line| line.system.as_deref()),
        comebacks,
        chains,
        undecided: lists::undecided(history, week.from, week.to, day_number(query.as_of)),
        movers: signals.movers,
        too_recent: recent::too_recent(&weeks, week, day_number(query.as_of), &usual),
        cohorts: cohorts::cohorts(history, &tally, &record, week.from),
        overall: cohorts::overall(&tally, &record, week.to),
        closed: lists::closed(history, &period),
        caught_here: caught_here(history, &period),
    }
}
