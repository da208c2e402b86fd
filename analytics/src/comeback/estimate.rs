//! Sums to figures.

use serde::Serialize;

use super::tally::{Fate, Tally};
use crate::figure::Share;
use crate::follow::{Cases, Followed, Period, closed_cases, counted_share, followed_share};

/// What each figure of comebacks means, by its key.
pub(crate) const DEFINITIONS: &[(&str, &str)] = &[
    (
        "population",
        "Complaint jobs on handed-over orders that ended as repaired, repairs of comebacks \
         included. Other outcomes are counted on lines of their own and enter no share. By \
         technician, the repair of a confirmed comeback counts to whoever answers for the first \
         job of its chain, never to who mended it.",
    ),
    (
        "comeback",
        "Share of the jobs that came back by the window: 1 - Kaplan-Meier, from the hand-over to \
         the opening of the first confirmed comeback's order, or to the day somebody told that \
         the repair had not held, whichever is first, in shop-local days; jobs without either \
         are followed to the as-of. Greenwood's standard error, log-log interval. Absent while \
         no job has been followed for a whole window.",
    ),
    (
        "told",
        "Of the returns by the window, those that were told and not seen: not fixed, or fixed \
         elsewhere. The vehicle had not come back by then.",
    ),
    (
        "comeback_possible",
        "The same if every undecided proposal of the same complaint were confirmed.",
    ),
    (
        "comeback_closed",
        "Of the jobs whose window has ended by the as-of, returned or not, the share that came \
         back inside it. Wilson's interval.",
    ),
    (
        "comeback_reason",
        "Of all the jobs, the share that came back by the window for one reason, that of the first \
         return: cumulative incidence of competing reasons (Aalen-Johansen), Greenwood-type \
         standard error, log-log interval. The shares of all reasons add up to the comeback share.",
    ),
    (
        "groups_test",
        "Whether the groups of the column differ at all in what came back within the window: one \
         log-rank test over the groups with at least ten jobs and at least five returns expected if \
         all groups were alike: with fewer, p comes out too small. Other groups, jobs without a \
         value, and jobs that stand in several groups are left out. It says nothing of any one \
         group.",
    ),
    (
        "comeback_distance",
        "Share of the jobs that came back within a distance by the odometer: 1 - Kaplan-Meier over \
         whole kilometers from the hand-over (else the arrival) to the reading at the opening of \
         the first confirmed comeback's order. Jobs that did not come back are followed to the \
         vehicle's last known reading. Left out and counted beside it: jobs that came back without \
         such a reading, and jobs whose vehicle has no later one. A replaced odometer is reckoned \
         in where both its readings are known. Greenwood's standard error, log-log interval.",
    ),
    (
        "comeback_first_repairs",
        "The comeback share of first repairs alone: jobs that are not themselves the repair of a \
         confirmed comeback.",
    ),
    (
        "comeback_seen_again",
        "Of the jobs whose window has ended and is known of by the as-of, the share that came back \
         inside it. It is known of where the vehicle was seen again for anything, or heard of as \
         not fixed, or where the customer said when the window was over that it holds; who said \
         so earlier is known of until that day alone. It shows how far customers who went \
         elsewhere could matter; it is not a bound of the truth. Wilson's interval.",
    ),
    (
        "comeback_if_unseen_returned",
        "Of the jobs whose window has ended, the share that came back if every one whose window is \
         not known of (its vehicle was never seen again, and nobody said after the window that it \
         holds) had come back too: the worst case, not a bound of the truth. Wilson's interval.",
    ),
];

/// The comeback figures of a group.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComebackFigures {
    /// Repaired complaints closed in the period.
    pub count: i64,
    pub share: Share,
    /// Of the share's returns, those that were told and not seen.
    pub told: i64,
    pub possible: Share,
    pub closed_window: Share,
    pub first_repairs: Share,
    pub seen_again: Share,
    pub if_unseen_returned: Share,
    /// Selects the jobs counted.
    pub jobs: String,
}

/// The selectors of a group's figures.
pub(super) struct Selectors {
    /// Closed in the period.
    pub all: String,
    /// Those of them whose window has ended.
    pub closed_window: String,
    /// Those of them whose vehicle was seen again.
    pub seen_again: String,
    /// First repairs closed in the period.
    pub first_repairs: String,
}

impl Selectors {
    /// `pairs` say what makes the group, beside the population.
    pub fn new(period: &Period, pairs: &[(&str, &str)]) -> Self {
        let mut all = vec![("kind", "complaint"), ("outcome", "repaired")];
        all.extend_from_slice(pairs);
        let mut first = all.clone();
        first.push(("first_repair", "true"));
        let ended = period.ended();
        let mut seen = all.clone();
        seen.push(("seen_again", "true"));
        Self {
            closed_window: ended.selector(&all),
            seen_again: ended.selector(&seen),
            first_repairs: period.selector(&first),
            all: period.selector(&all),
        }
    }
}

/// All figures of a group.
pub(crate) fn figures(tally: &Tally, period: &Period, pairs: &[(&str, &str)]) -> ComebackFigures {
    let selectors = Selectors::new(period, pairs);
    let share = followed_share(
        followed(tally, |fate| fate.elapsed),
        period,
        "comeback",
        selectors.all.clone(),
    );
    let closed = closed_cases(followed(tally, |fate| fate.elapsed), period);
    let seen = seen_cases(tally, period);
    let counted =
        |cases, definition| counted_share(cases, definition, selectors.closed_window.clone());
    ComebackFigures {
        count: share.count,
        told: told(tally, period),
        possible: followed_share(
            followed(tally, |fate| fate.possible),
            period,
            "comeback_possible",
            selectors.all.clone(),
        ),
        closed_window: counted(closed, "comeback_closed"),
        first_repairs: followed_share(
            tally.fates.iter().filter(|(fate, _)| fate.first_repair).map(|(fate, count)| {
                Followed { closed_day: fate.closed_day, elapsed: fate.elapsed, count }
            }),
            period,
            "comeback_first_repairs",
            selectors.first_repairs.clone(),
        ),
        seen_again: counted_share(
            Cases { cases: seen, ..closed },
            "comeback_seen_again",
            selectors.seen_again.clone(),
        ),
        if_unseen_returned: counted(
            Cases { returns: closed.returns + closed.cases - seen, ..closed },
            "comeback_if_unseen_returned",
        ),
        share,
        jobs: selectors.all,
    }
}

/// Returns by the window that were told, not seen.
fn told(tally: &Tally, period: &Period) -> i64 {
    let told = tally.fates.iter().filter(|(fate, _)| fate.told && period.holds(fate.closed_day));
    let back = told.filter(|(fate, _)| {
        period
            .returned(fate.closed_day, fate.elapsed)
            .is_some_and(|elapsed| elapsed <= period.window)
    });
    back.map(|(_, count)| count).sum()
}

/// The comeback share at the period's window, under another definition.
pub(crate) fn share_at(
    tally: &Tally,
    period: &Period,
    definition: &'static str,
    jobs: &str,
) -> Share {
    followed_share(followed(tally, |fate| fate.elapsed), period, definition, jobs.to_owned())
}

impl Tally {
    /// The cases, each with the days to its first confirmed return.
    pub(crate) fn first_returns(&self) -> impl Iterator<Item = Followed> + '_ {
        followed(self, |fate| fate.elapsed)
    }
}

/// The group's cases, each with the elapsed days that `pick` takes.
pub(super) fn followed(
    tally: &Tally,
    pick: impl Fn(&Fate) -> i32,
) -> impl Iterator<Item = Followed> {
    tally.fates.iter().map(move |(fate, count)| Followed {
        closed_day: fate.closed_day,
        elapsed: pick(&fate),
        count,
    })
}

/// Jobs with an ended window that is known of by the as-of.
fn seen_cases(tally: &Tally, period: &Period) -> i64 {
    tally
        .known
        .iter()
        .filter(|&((closed_day, known), _)| {
            period.holds(closed_day)
                && period.window_closed(closed_day)
                && known.covers(closed_day, period.window, period.as_of)
        })
        .map(|(_, count)| count)
        .sum()
}
