//! Why jobs came back: the comeback share by reason.

use serde::Serialize;

use super::tally::ComebackTally;
use crate::figure::{Interval, Share, TOO_FEW};
use crate::follow::{LEVEL, Period};
use crate::stats::competing::{Exit, Incidence};
use crate::stats::survival::Scale;

/// The share that came back for one reason.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ReasonShare {
    /// Code of the reason; absent where none was named.
    pub reason: Option<String>,
    /// Of all jobs, the share that came back for it by the window. The shares of
    /// all reasons add up to the comeback share. Its `jobs` selects those that
    /// came back for it.
    pub share: Share,
}

/// The comeback share of the period by reason, the largest first.
pub(super) fn reasons(tally: &ComebackTally, period: &Period) -> Vec<ReasonShare> {
    let incidence = incidence(tally, period);
    let any = incidence.event_free();
    let seen_out = any.at_risk(period.window) > 0 || any.at(period.window).survival <= 0.0;
    let mut lines: Vec<ReasonShare> = incidence
        .causes()
        .map(|reason| {
            let at = incidence.at(reason, period.window);
            let known = (any.units() > 0 && seen_out).then_some(at);
            let named = reason.as_deref().unwrap_or_default();
            let pairs = [("kind", "complaint"), ("outcome", "repaired"), ("return_reason", named)];
            let share = Share {
                count: any.units(),
                returns: incidence.events_by(reason, period.window),
                share: known.map(|at| at.share),
                standard_error: known.and_then(|at| at.standard_error()),
                interval: known
                    .and_then(|at| at.interval(Scale::LogLog, LEVEL))
                    .map(|(low, high)| Interval { low, high, level: LEVEL, method: "log-log" }),
                too_few: any.units() < TOO_FEW,
                definition: "comeback_reason",
                jobs: period.selector(&pairs),
            };
            ReasonShare { reason: (*reason).clone(), share }
        })
        .filter(|line| line.share.returns > 0)
        .collect();
    lines.sort_by(|a, b| {
        b.share.returns.cmp(&a.share.returns).then_with(|| a.reason.cmp(&b.reason))
    });
    lines
}

/// Every job of the period, followed to its first return by the reason of that
/// return, or to the as-of.
fn incidence<'a>(tally: &'a ComebackTally, period: &Period) -> Incidence<&'a Option<String>> {
    let holds = |closed: &i32| period.holds(*closed);
    let returned = tally.reasons.iter().flat_map(|(reason, returns)| {
        returns.iter().map(move |((closed, elapsed), count)| (reason, closed, elapsed, count))
    });
    let returned = returned.filter(|(_, closed, ..)| holds(closed)).filter_map(
        |(reason, closed, elapsed, count)| {
            let time = period.returned(closed, elapsed)?;
            Some(Exit { time, cause: Some(reason), count })
        },
    );
    let others = tally.all.fates.iter().filter(|(fate, _)| {
        holds(&fate.closed_day) && period.returned(fate.closed_day, fate.elapsed).is_none()
    });
    let others = others.map(|(fate, count)| Exit {
        time: period.as_of - fate.closed_day,
        cause: None,
        count,
    });
    Incidence::new(returned.chain(others))
}
