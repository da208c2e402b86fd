//! Sums to what was expected, what chance does, and the answer.

use std::collections::BTreeMap;

use super::report::Answer;
use super::tally::Strata;
use crate::comeback::Fate;
use crate::counts::Counts;
use crate::figure::TOO_FEW;
use crate::follow::{Cases, Followed, LEVEL, Period, closed_cases};
use crate::stats::multiple::benjamini_hochberg;
use crate::stats::rate::expected;
use crate::stats::stratified::{Stratum, two_sided};

/// Jobs whose window has ended, by stratum.
pub(super) type Mix<'a> = BTreeMap<Option<&'a str>, Cases>;

/// A group held against its mix.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Line {
    pub own: Cases,
    /// Returns that the shop's shares let expect of its mix.
    pub expected: f64,
    /// Jobs of the same strata outside the group.
    pub rest: i64,
    /// Probability of a count as far from the expected one, by chance alone.
    pub p: Option<f64>,
}

/// What a line says, on its own and among the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Judged {
    pub p: Option<f64>,
    pub q: Option<f64>,
    pub answer: Answer,
}

/// The ended windows of the period, with the elapsed days that `pick` takes.
pub(super) fn ended(counts: &Counts<Fate>, period: &Period, pick: impl Fn(&Fate) -> i32) -> Cases {
    let followed = counts.iter().map(|(fate, count)| Followed {
        closed_day: fate.closed_day,
        elapsed: pick(&fate),
        count,
    });
    closed_cases(followed, period)
}

/// The same by stratum.
pub(super) fn mix<'a>(
    strata: &'a Strata,
    period: &Period,
    pick: impl Fn(&Fate) -> i32 + Copy,
) -> Mix<'a> {
    let cases =
        strata.iter().map(|(stratum, counts)| (stratum.as_deref(), ended(counts, period, pick)));
    cases.filter(|(_, cases)| cases.cases > 0).collect()
}

/// All strata of a mix together.
fn whole(mix: &Mix<'_>) -> Cases {
    mix.values().fold(Cases::default(), |sum, part| Cases {
        cases: sum.cases + part.cases,
        returns: sum.returns + part.returns,
    })
}

/// A group's mix against that of all jobs, which holds it.
pub(super) fn line(group: &Mix<'_>, all: &Mix<'_>) -> Line {
    let both = || group.iter().filter_map(|(stratum, own)| Some((own, all.get(stratum)?)));
    let shares = both().map(|(own, all)| (own.cases, all.returns as f64 / all.cases.max(1) as f64));
    let tables =
        both().map(|(own, all)| Stratum { units: all.cases, events: all.returns, own: own.cases });
    let own = whole(group);
    Line {
        own,
        expected: expected(shares),
        p: two_sided(own.returns, tables),
        rest: both().map(|(own, all)| all.cases - own.cases).sum(),
    }
}

impl Line {
    pub fn too_few(&self) -> bool {
        self.own.cases < TOO_FEW || self.rest < TOO_FEW
    }
}

/// The answers of lines that are looked at together.
pub(super) fn judge(lines: &[Line]) -> Vec<Judged> {
    let p: Vec<Option<f64>> = lines.iter().map(|line| line.p.filter(|_| !line.too_few())).collect();
    let compared: Vec<f64> = p.iter().copied().flatten().collect();
    let mut adjusted = benjamini_hochberg(&compared).unwrap_or_default().into_iter();
    let judged = lines.iter().zip(p).map(|(line, p)| {
        let q = p.and_then(|_| adjusted.next());
        let answer = match q {
            None => Answer::TooFew,
            Some(q) if q >= 1.0 - LEVEL => Answer::NoEvidence,
            Some(_) if line.own.returns as f64 > line.expected => Answer::MoreThanExpected,
            Some(_) => Answer::FewerThanExpected,
        };
        Judged { p, q, answer }
    });
    judged.collect()
}
