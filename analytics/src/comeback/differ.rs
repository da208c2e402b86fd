//! Whether the groups of a column differ at all: one test over all of them, never
//! a word on any one.

use std::collections::BTreeMap;

use serde::Serialize;

use super::By;
use super::estimate::followed;
use super::tally::ComebackTally;
use crate::counts::Counts;
use crate::figure::TOO_FEW;
use crate::follow::{Followed, Period};
use crate::stats::logrank::{Comparison, Weights};
use crate::stats::survival::Moment;

/// Below this p the groups are said to differ (common practice).
const DIFFERENT: f64 = 0.05;

/// The log-rank test over a column's groups.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GroupsTest {
    /// The groups held against each other: those with at least ten jobs, by
    /// name. Their lines open to their jobs.
    pub groups: Vec<String>,
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
    let held = groups.into_iter().filter_map(|(name, cases)| {
        let mut cases = cases;
        cases.retain(|case| period.holds(case.closed_day));
        (total(&cases) >= TOO_FEW).then_some((name, cases))
    });
    let held: BTreeMap<&str, Vec<Followed>> = held.collect();
    let moments = held
        .iter()
        .flat_map(|(name, cases)| cases.iter().map(|case| (*name, moment(case, period))));
    let moments: Vec<(&str, Moment)> = moments.collect();
    let returns = moments.iter().map(|(_, moment)| moment.events).sum();
    let test = Comparison::new(moments, Weights::Equal).test;
    let mut answer = GroupsTest {
        groups: held.keys().map(|name| (*name).to_owned()).collect(),
        count: held.values().map(|cases| total(cases)).sum(),
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

fn total(cases: &[Followed]) -> i64 {
    cases.iter().map(|case| case.count).sum()
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
            "Too few to tell whether they differ: {groups} groups of at least ten jobs, {} returns \
             in them within {window} days.",
            test.returns
        );
    };
    let answer = if p < DIFFERENT {
        format!(
            "The {groups} groups of at least ten jobs do differ in how often they come back within \
             {window} days"
        )
    } else {
        format!(
            "No difference beyond luck between the {groups} groups of at least ten jobs in how often \
             they come back within {window} days"
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
