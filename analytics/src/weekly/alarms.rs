//! Everything a week raises, in one list under one budget of false alarms.
//!
//! In shops of 20, 60 and 150 jobs a week with 2, 4 and 8 % comebacks, in which
//! nothing changes, 2.3 % of weeks raise one: 1.8 % by the arrivals, 0.1 % by
//! each rule of the chart, 0.3 % by the movers; in the loudest of these kinds
//! of shop 3.6 % (1,800 seeds; measured by tests/reference/alarms.rs, which
//! holds the budget of 5 %). The early warnings have the rest of it
//! (warning/scan.rs).

use serde::Serialize;

use super::arrivals::{Answer, Arrivals};
use super::chart::ClosingChart;
use super::movers::{Mover, MoverAnswer, Movers};

/// Whether the week asks for anybody's time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum WeekAnswer {
    #[serde(rename = "within the usual")]
    WithinTheUsual,
    /// At least one alarm was raised.
    #[serde(rename = "look into it")]
    LookIntoIt,
    /// Fewer than 26 weeks of record before the week, or it has not begun.
    #[serde(rename = "not yet")]
    NotYet,
    /// It hangs on comebacks that are proposed and not decided.
    #[serde(rename = "undecided proposals")]
    UndecidedProposals,
}

/// What an alarm was raised from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum AlarmSource {
    /// The comebacks of the week against those expected.
    Arrivals,
    /// The closing weeks, one window late.
    Chart,
    /// A group against its own past.
    Mover,
}

impl AlarmSource {
    /// The word.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Arrivals => "arrivals",
            Self::Chart => "chart",
            Self::Mover => "mover",
        }
    }
}

/// Which way it is off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum AlarmDirection {
    #[serde(rename = "more comebacks")]
    More,
    /// Good news, or comebacks that were not written up.
    #[serde(rename = "fewer comebacks")]
    Fewer,
}

impl AlarmDirection {
    /// The words.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::More => "more comebacks",
            Self::Fewer => "fewer comebacks",
        }
    }
}

/// One thing to look into.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Alarm {
    pub source: AlarmSource,
    /// The rule's name.
    pub rule: &'static str,
    pub direction: AlarmDirection,
    /// What was seen, in a sentence.
    pub evidence: String,
    /// Jobs it was seen in.
    pub count: i64,
    /// Selects them.
    pub jobs: String,
}

/// The answer, and the alarms behind it.
pub(super) fn alarms(
    arrivals: &Arrivals,
    chart: &ClosingChart,
    movers: &Movers,
) -> (WeekAnswer, Vec<Alarm>) {
    if arrivals.answer == Answer::NotYet {
        return (WeekAnswer::NotYet, Vec::new());
    }
    let mut alarms: Vec<Alarm> = arrived(arrivals).into_iter().collect();
    alarms.extend(charted(chart));
    alarms.extend(movers.groups.iter().filter_map(moved));
    let answer =
        if alarms.is_empty() { WeekAnswer::WithinTheUsual } else { WeekAnswer::LookIntoIt };
    (answer, alarms)
}

const fn direction(answer: Answer) -> Option<AlarmDirection> {
    match answer {
        Answer::MoreThanUsual => Some(AlarmDirection::More),
        Answer::FewerThanUsual => Some(AlarmDirection::Fewer),
        Answer::WithinTheUsual | Answer::NotYet => None,
    }
}

fn arrived(arrivals: &Arrivals) -> Option<Alarm> {
    let (expected, probability) = arrivals.expected.zip(arrivals.probability)?;
    Some(Alarm {
        source: AlarmSource::Arrivals,
        rule: "comebacks against expected",
        direction: direction(arrivals.answer)?,
        evidence: format!(
            "{} came back in the week where {expected:.1} were expected; chance alone is as far \
             off in {} of weeks",
            arrivals.observed,
            percent(probability),
        ),
        count: arrivals.observed,
        jobs: arrivals.jobs.clone(),
    })
}

fn charted(chart: &ClosingChart) -> impl Iterator<Item = Alarm> {
    let newest = chart.points.first();
    let raised = chart.rules.iter().filter(|rule| rule.raised);
    raised.filter_map(move |rule| {
        let newest = newest?;
        Some(Alarm {
            source: AlarmSource::Chart,
            rule: rule.rule,
            direction: direction(chart.answer)?,
            evidence: format!(
                "Of {} jobs closed in the week of {}, {} came back ({}), the usual is {}; chance \
                 alone does this, on this side, in {} of weeks",
                newest.share.count,
                newest.week_from,
                newest.share.returns,
                percent(newest.share.share?),
                percent(chart.baseline.share?),
                percent(rule.probability?),
            ),
            count: rule.count,
            jobs: rule.jobs.clone()?,
        })
    })
}

fn moved(mover: &Mover) -> Option<Alarm> {
    let direction = match mover.answer {
        MoverAnswer::MoreThanBefore => AlarmDirection::More,
        MoverAnswer::FewerThanBefore => AlarmDirection::Fewer,
        MoverAnswer::NoEvidence => return None,
    };
    Some(Alarm {
        source: AlarmSource::Mover,
        rule: "share against its own past",
        direction,
        evidence: format!(
            "{} {}: {} of {} came back lately, {} of {} in the year before; adjusted for all \
             groups looked at, the chance of such a move is {}",
            mover.column.as_str(),
            mover.group,
            mover.recent.returns,
            mover.recent.count,
            mover.before.returns,
            mover.before.count,
            percent(mover.q),
        ),
        count: mover.recent.count,
        jobs: mover.recent.jobs.clone(),
    })
}

/// In percent, to two figures; what is smaller than any use is only bounded.
fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if percent >= 9.95 || percent == 0.0 {
        format!("{percent:.0}%")
    } else if percent >= 0.95 {
        format!("{percent:.1}%")
    } else if percent >= 0.01 {
        format!("{percent:.2}%")
    } else {
        "under 0.01%".to_owned()
    }
}
