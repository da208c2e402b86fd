//! Sums to shares, their differences and tests.

use serde::Serialize;

use super::tally::Span;
use super::verdict::Ended;
use crate::comeback::Fate;
use crate::counts::Counts;
use crate::figure::{Interval, Share, TOO_FEW};
use crate::follow::{Cases, Followed, LEVEL, Period, closed_cases, counted_share, followed_share};
use crate::select::{Selector, Term};
use crate::stats::difference::{difference_in_differences, newcombe};
use crate::stats::logrank::{Comparison, Weights};
use crate::stats::proportion::wilson;
use crate::stats::survival::Moment;

/// Jobs closed before or after the start.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EffectCell {
    pub count: i64,
    pub share: Share,
    /// If every undecided proposal of the same complaint were confirmed.
    pub possible: Share,
    pub closed_window: Share,
    /// Selects the jobs counted.
    pub jobs: String,
}

/// A difference of shares of ended windows; below zero where fewer came back.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = EffectDifference))]
pub struct Difference {
    /// Ended windows in the smallest of the groups.
    pub count: i64,
    /// Absent where a group has none.
    pub value: Option<f64>,
    pub interval: Option<Interval>,
    /// Fewer than ten in the smallest group.
    pub too_few: bool,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
}

/// The log-rank test of before against after.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = EffectLogRank))]
pub struct LogRank {
    pub chi_square: f64,
    pub p: f64,
}

/// Touched jobs of which nobody knows whether they kept the rule.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = EffectNotKnown))]
pub struct NotKnown {
    pub count: i64,
    /// Selects them.
    pub jobs: String,
}

/// How often the rule was kept.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = EffectCompliance))]
pub struct Compliance {
    /// Touched jobs closed since the start of which it is known.
    pub count: i64,
    /// Of them, those that kept it.
    pub kept: i64,
    pub share: Option<f64>,
    pub interval: Option<Interval>,
    pub too_few: bool,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
    pub when_kept: EffectCell,
    pub when_not: EffectCell,
    /// In neither; absent where it is known of all.
    pub not_known: Option<NotKnown>,
    /// Kept less not kept.
    pub difference: Difference,
}

/// Cases of a span, each with the elapsed days that `pick` takes.
fn followed(
    cases: &Counts<Fate>,
    span: Span,
    pick: impl Fn(&Fate) -> i32,
) -> impl Iterator<Item = Followed> {
    cases.iter().filter(move |(fate, _)| span.holds(fate.closed_day)).map(move |(fate, count)| {
        Followed { closed_day: fate.closed_day, elapsed: pick(&fate), count }
    })
}

/// The figures of a span; `jobs` selects the group, whatever the closing day.
pub(super) fn cell(
    cases: &Counts<Fate>,
    span: Span,
    period: &Period,
    jobs: &Selector,
) -> EffectCell {
    let closing = |span: Span| -> String {
        let from = Term::ClosedFrom(crate::follow::date_of(span.first));
        let to = Term::ClosedTo(crate::follow::date_of(span.last));
        jobs.clone().with(from).with(to).to_string()
    };
    let all = closing(span);
    let share =
        followed_share(followed(cases, span, |fate| fate.elapsed), period, "comeback", all.clone());
    EffectCell {
        count: share.count,
        possible: followed_share(
            followed(cases, span, |fate| fate.possible),
            period,
            "comeback_possible",
            all.clone(),
        ),
        closed_window: counted_share(
            closed_cases(followed(cases, span, |fate| fate.elapsed), period),
            "comeback_closed",
            closing(Span { last: span.last.min(period.ended().last), ..span }),
        ),
        share,
        jobs: all,
    }
}

/// Ended windows before and after.
pub(super) fn ended(
    cases: &Counts<Fate>,
    (before, after): (Span, Span),
    period: &Period,
    pick: impl Fn(&Fate) -> i32 + Copy,
) -> Ended {
    let of = |span| closed_cases(followed(cases, span, pick), period);
    Ended { before: of(before), after: of(after) }
}

/// The first share less the second.
pub(super) fn less(first: Cases, second: Cases, definition: &'static str) -> Difference {
    let interval = newcombe(first.returns, first.cases, second.returns, second.cases, LEVEL);
    let value = share_of(first).zip(share_of(second)).map(|(first, second)| first - second);
    difference(&[first, second], value, interval.map(named("newcombe")), definition)
}

/// The change of the touched jobs less that of the untouched ones.
pub(super) fn beside(touched: Ended, untouched: Ended) -> Difference {
    let change = |ended: Ended| Some(share_of(ended.after)? - share_of(ended.before)?);
    let value = change(touched).zip(change(untouched)).map(|(ours, theirs)| ours - theirs);
    let interval = difference_in_differences(touched.pairs(), untouched.pairs(), LEVEL);
    let groups = [touched.before, touched.after, untouched.before, untouched.after];
    difference(&groups, value, interval.map(named("square-and-add")), "beside_untouched")
}

fn share_of(cases: Cases) -> Option<f64> {
    (cases.cases > 0).then(|| cases.returns as f64 / cases.cases as f64)
}

fn named(method: &'static str) -> impl Fn((f64, f64)) -> Interval {
    move |(low, high)| Interval { low, high, level: LEVEL, method }
}

fn difference(
    groups: &[Cases],
    value: Option<f64>,
    interval: Option<Interval>,
    definition: &'static str,
) -> Difference {
    let count = groups.iter().map(|group| group.cases).min().unwrap_or(0);
    Difference { count, value, interval, too_few: count < TOO_FEW, definition }
}

/// Before against after, each job followed to its first return, the end of its
/// window or the as-of. `None` where nothing came back, or one side has nobody.
pub(super) fn log_rank(
    cases: &Counts<Fate>,
    (before, after): (Span, Span),
    period: &Period,
) -> Option<LogRank> {
    let moments = |span: Span, side: u8| {
        followed(cases, span, |fate| fate.elapsed).map(move |case| {
            let seen = (period.as_of - case.closed_day).min(period.window);
            let back = period
                .returned(case.closed_day, case.elapsed)
                .filter(|elapsed| *elapsed <= period.window);
            let moment = match back {
                Some(time) => Moment { time, events: case.count, censored: 0 },
                None => Moment { time: seen, events: 0, censored: case.count },
            };
            (side, moment)
        })
    };
    let both = moments(before, 0).chain(moments(after, 1));
    let test = Comparison::new(both, Weights::Equal).test?;
    Some(LogRank { chi_square: test.chi_square, p: test.p })
}

/// How often the touched jobs of a span kept the rule.
pub(super) fn compliance(
    when_kept: EffectCell,
    when_not: EffectCell,
    not_known: Option<NotKnown>,
) -> Compliance {
    let (kept, count) = (when_kept.count, when_kept.count + when_not.count);
    let cases = |cell: &EffectCell| Cases {
        cases: cell.closed_window.count,
        returns: cell.closed_window.returns,
    };
    Compliance {
        count,
        kept,
        share: (count > 0).then(|| kept as f64 / count as f64),
        interval: wilson(kept, count, LEVEL).map(named("wilson")),
        too_few: count < TOO_FEW,
        definition: "kept",
        difference: less(cases(&when_kept), cases(&when_not), "kept_difference"),
        when_kept,
        when_not,
        not_known,
    }
}
