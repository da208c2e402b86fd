//! Whether the groups of a column differ at all: one test over all of them, never
//! a word on any one.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::By;
use super::estimate::followed;
use super::tally::ComebackTally;
use crate::counts::Counts;
use crate::figure::TOO_FEW;
use crate::follow::{Followed, Period};
use crate::stats::logrank::{self, Comparison, Weights};
use crate::stats::survival::{Moment, by_time};

/// Returns that a group must be expected to have to enter: with fewer the
/// statistic is no chi-square, and p comes out too small. The rule of five of
/// chi-square tests (Cochran 1954, Biometrics 10:417-451, from memory).
const LEAST_EXPECTED: f64 = 5.0;
/// Below this p the groups are said to differ (common practice).
const DIFFERENT: f64 = 0.05;

/// The log-rank test over a column's groups.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GroupsTest {
    /// The groups held against each other: those with at least ten jobs and five
    /// expected returns, by name. Their lines open to their jobs.
    pub groups: Vec<String>,
    /// Groups with a name and jobs that are left out, because they have fewer.
    pub groups_left_out: i64,
    /// Jobs in them, each once.
    pub count: i64,
    /// Jobs left out because they stand in several groups (several parts).
    pub left_out: i64,
    /// Returns by the window.
    pub returns: i64,
    /// Absent where fewer than two groups were followed to a return.
    pub chi_square: Option<f64>,
    pub degrees_of_freedom: Option<i64>,
    /// Probability of a chi-square at least as large if the groups were alike.
    pub p: Option<f64>,
    /// Fewer than two groups, or fewer than ten returns in all: not to be judged.
    pub too_few: bool,
    /// The answer in a sentence.
    pub says: String,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
}

/// The test over the groups of the tally's column. None without a column and by
/// week: weeks follow each other, and have charts of their own.
pub(super) fn groups_test(tally: &ComebackTally, period: &Period) -> Option<GroupsTest> {
    let by = tally.by.filter(|by| *by != By::Week)?;
    let groups: BTreeMap<&str, Vec<Followed>> = if by.overlaps() {
        named(&tally.alone, |times| times.iter().map(of_times).collect())
    } else {
        named(&tally.groups, |sums| followed(sums, |fate| fate.elapsed).collect())
    };
    let known: BTreeMap<&str, Vec<Moment>> = groups
        .into_iter()
        .map(|(name, cases)| {
            let held = cases.iter().filter(|case| period.holds(case.closed_day));
            (name, by_time(held.map(|case| moment(case, period)).collect()))
        })
        .filter(|(_, moments)| total(moments) > 0)
        .collect();
    let enter = large_enough(&known);
    let groups_left_out = (known.len() - enter.len()) as i64;
    let held: BTreeMap<&str, Vec<Moment>> =
        known.into_iter().filter(|(name, _)| enter.contains(name)).collect();
    let returns = held.values().flatten().map(|moment| moment.events).sum();
    let test = Comparison::new(named_moments(&held), Weights::Equal).test;
    let mut answer = GroupsTest {
        groups: held.keys().map(|name| (*name).to_owned()).collect(),
        groups_left_out,
        count: held.values().map(|moments| total(moments)).sum(),
        left_out: if by.overlaps() { in_several(tally, period) } else { 0 },
        returns,
        chi_square: test.map(|test| test.chi_square),
        degrees_of_freedom: test.map(|test| test.degrees_of_freedom),
        p: test.map(|test| test.p),
        too_few: held.len() < 2 || returns < TOO_FEW,
        says: String::new(),
        definition: "groups_test",
    };
    answer.says = says(&answer, by, period.window);
    Some(answer)
}

fn named_moments<'a>(
    groups: &BTreeMap<&'a str, Vec<Moment>>,
) -> impl Iterator<Item = (&'a str, Moment)> {
    groups.iter().flat_map(|(name, moments)| {
        let moments = moments.iter().copied();
        moments.map(move |moment| (*name, moment))
    })
}

/// The groups with enough jobs, and enough returns expected of them if all groups
/// were alike. It goes by what is expected, not by what was seen: to leave out
/// the groups that happened to have few returns would tilt the test.
fn large_enough<'a>(groups: &BTreeMap<&'a str, Vec<Moment>>) -> BTreeSet<&'a str> {
    // There may be thousands, of which few enter the test.
    logrank::groups(named_moments(groups), Weights::Equal)
        .into_iter()
        .filter(|group| group.units >= TOO_FEW && group.expected >= LEAST_EXPECTED)
        .map(|group| group.group)
        .collect()
}

/// The groups that have a name: what is not recorded is no group.
fn named<T>(
    groups: &BTreeMap<Option<String>, T>,
    cases: impl Fn(&T) -> Vec<Followed>,
) -> BTreeMap<&str, Vec<Followed>> {
    groups.iter().filter_map(|(name, group)| Some((name.as_deref()?, cases(group)))).collect()
}

fn of_times(((closed_day, elapsed), count): ((i32, i32), i64)) -> Followed {
    Followed { closed_day, elapsed, count }
}

fn total(moments: &[Moment]) -> i64 {
    moments.iter().map(|moment| moment.events + moment.censored).sum()
}

/// A case followed to its return, the end of its window, or the as-of.
fn moment(case: &Followed, period: &Period) -> Moment {
    let back = period.returned(case.closed_day, case.elapsed).filter(|days| *days <= period.window);
    match back {
        Some(time) => Moment { time, events: case.count, censored: 0 },
        None => Moment {
            time: period.as_of.saturating_sub(case.closed_day).min(period.window),
            events: 0,
            censored: case.count,
        },
    }
}

/// Jobs of the period that stand in several groups.
fn in_several(tally: &ComebackTally, period: &Period) -> i64 {
    let days = |counts: &Counts<(i32, i32)>| -> i64 {
        let held = counts.iter().filter(|((closed, _), _)| period.holds(*closed));
        held.map(|(_, count)| count).sum()
    };
    days(&tally.several)
}

fn says(test: &GroupsTest, by: By, window: i32) -> String {
    let groups = test.groups.len();
    let Some(p) = test.p.filter(|_| !test.too_few) else {
        return format!(
            "Too few to tell whether they differ: {groups} groups with at least five expected returns, \
             {} returns in them within {window} days.",
            test.returns
        );
    };
    let answer = if p < DIFFERENT {
        format!(
            "The {groups} groups with at least five expected returns do differ in how often they \
             come back within {window} days"
        )
    } else {
        format!(
            "No difference beyond luck between the {groups} groups with at least five expected \
             returns in how often they come back within {window} days"
        )
    };
    let caution = if by == By::Technician {
        " It says nothing of any one of them: they are given different work."
    } else {
        " It does not say which, or why."
    };
    format!("{answer} (luck alone: {}).{}", odds(p), if p < DIFFERENT { caution } else { "" })
}

/// A probability as people say it: `about 2 in 1,000`.
fn odds(p: f64) -> String {
    if p < 0.000_5 {
        "less than 1 in 1,000".to_owned()
    } else if p < 0.009_5 {
        format!("about {:.0} in 1,000", p * 1_000.0)
    } else {
        format!("about {:.0} in 100", p * 100.0)
    }
}

#[cfg(test)]
mod tests {
    use super::odds;

    #[test]
    fn odds_in_words() {
        for (p, said) in [
            (0.000_02, "less than 1 in 1,000"),
            (0.002_1, "about 2 in 1,000"),
            (0.009_4, "about 9 in 1,000"),
            (0.032, "about 3 in 100"),
            (0.57, "about 57 in 100"),
        ] {
            assert_eq!(odds(p), said);
        }
    }
}
