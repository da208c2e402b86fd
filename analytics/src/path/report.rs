//! Diagnosis paths by symptom.

use std::collections::BTreeMap;

use serde::Serialize;

use super::estimate::{Group, MinuteFigures, PathFigures, check_counts};
use super::skips::{self, PlanSkips, plan_skips};
use super::tally::{JobFact, PathTally, SymptomTally};
use crate::counts::Counts;
use crate::figure::{Head, Query, Share};
use crate::follow::{Cases, Period, counted_share, head};
use crate::history::{History, ShopFacts};
use crate::outcomes::{self, OutcomeLine};
use crate::words::Finding;

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "minutes",
        "Hands-on minutes of a job's checks; where none has minutes, its labor on diagnosis. \
         Median and quartiles (Hyndman and Fan's type 7). Waiting is not in it, nor are checks \
         typed in together at close.",
    ),
    ("found", "Of all complaint jobs, those whose cause was confirmed. Wilson's interval."),
    (
        "comeback",
        "Of the repaired jobs, the share that came back by the window. 1 - Kaplan-Meier from \
         the hand-over, confirmed comebacks.",
    ),
    (
        "comeback_closed",
        "Of the repaired jobs whose window has ended, returned or not, the share that came \
         back inside it. Wilson's interval.",
    ),
    ("misdiagnosed", "The same, counting only comebacks whose reason was a wrong diagnosis."),
    (
        "abnormal",
        "Of the times a check was done, how often it showed something. Wilson's interval.",
    ),
    (
        "first_check",
        "The check that most often comes first for the symptom. Skipped: checks were recorded, \
         and this one was not done. A comparison of jobs as they came, not a trial.",
    ),
];

/// One order of checks.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PathLine {
    /// Checks in order; empty where none of the recorded ones was done.
    pub checks: Vec<String>,
    pub figures: PathFigures,
}

/// A branch of the tree of checks: the jobs that began with these.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TreeLine {
    pub checks: Vec<String>,
    pub count: i64,
    /// Jobs that did no further check.
    pub ended: i64,
    /// Jobs whose cause was confirmed.
    pub found: i64,
    /// Of the whole diagnosis of these jobs, not of the checks so far alone.
    pub minutes: MinuteFigures,
    /// Of the repaired ones, those that came back by the window.
    pub comebacks: Share,
    pub jobs: String,
}

/// One check of a symptom, wherever it came in the order.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CheckLine {
    pub check: String,
    pub done: i64,
    pub minutes: MinuteFigures,
    pub abnormal: Share,
}

/// The habit's first check: jobs that began with it, did it later, skipped it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FirstCheck {
    pub check: String,
    pub done_first: PathFigures,
    pub done_later: PathFigures,
    pub skipped: PathFigures,
}

/// One symptom.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SymptomLine {
    pub symptom: String,
    pub all: PathFigures,
    /// Most frequent first.
    pub paths: Vec<PathLine>,
    pub first_check: Option<FirstCheck>,
    pub tree: Vec<TreeLine>,
    pub checks: Vec<CheckLine>,
    /// Order not measured: all checks were typed in at close.
    pub order_not_measured: Option<PathFigures>,
    /// No check was recorded.
    pub no_checks: Option<PathFigures>,
    /// How its complaints ended.
    pub outcomes: Vec<OutcomeLine>,
}

/// The report, symptoms with the most jobs first.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PathReport {
    pub head: Head,
    pub symptoms: Vec<SymptomLine>,
    /// How the period's complaints ended, whatever their symptom.
    pub outcomes: Vec<OutcomeLine>,
    /// The shop's check plans: their steps made and skipped.
    pub plans: Vec<PlanSkips>,
}

/// How each symptom's complaint jobs were diagnosed.
#[must_use]
pub fn paths(history: &History, query: &Query) -> PathReport {
    let tally = PathTally::of(history);
    PathReport {
        plans: plan_skips(history, &tally, query),
        ..paths_from(&tally, history.facts(), history.change_no(), query)
    }
}

/// The same from a tally already made, which knows nothing of the shop's plans.
#[must_use]
pub fn paths_from(
    tally: &PathTally,
    facts: &ShopFacts,
    change_no: i64,
    query: &Query,
) -> PathReport {
    let period = Period::new(query, facts);
    let mut symptoms: Vec<SymptomLine> = tally
        .symptoms
        .iter()
        .filter_map(|(symptom, tally)| symptom_line(symptom, tally, &period))
        .collect();
    symptoms.sort_by_key(|line| std::cmp::Reverse(line.all.count));
    let definitions = [DEFINITIONS, skips::DEFINITIONS, outcomes::DEFINITIONS].concat();
    PathReport {
        head: head("paths", facts, change_no, query, &definitions),
        symptoms,
        outcomes: tally.outcomes.lines(&period, &[]),
        plans: Vec::new(),
    }
}

/// What selects a symptom's complaint jobs.
pub(super) fn pairs<'a>(
    symptom: &'a str,
    more: Option<(&'a str, &'a str)>,
) -> Vec<(&'a str, &'a str)> {
    [("kind", "complaint"), ("symptom", symptom)].into_iter().chain(more).collect()
}

/// `None` where no job falls into the period.
fn symptom_line(symptom: &str, tally: &SymptomTally, period: &Period) -> Option<SymptomLine> {
    let figures =
        |group: Group<'_>, more: Option<(&str, &str)>| group.figures(period, &pairs(symptom, more));
    let all = figures(Group::of(tally.all()), None);
    if all.count == 0 {
        return None;
    }
    let mut paths: Vec<PathLine> = tally
        .paths
        .iter()
        .map(|(checks, counts)| PathLine {
            checks: checks.clone(),
            figures: figures(Group::of([counts]), Some(("path", &checks.join(">")))),
        })
        .filter(|line| line.figures.count > 0)
        .collect();
    paths.sort_by_key(|line| std::cmp::Reverse(line.figures.count));
    let apart = |counts, kind| {
        let figures = figures(Group::of([counts]), Some(("order", kind)));
        (figures.count > 0).then_some(figures)
    };
    Some(SymptomLine {
        symptom: symptom.to_owned(),
        all,
        paths,
        first_check: first_check(symptom, tally, period),
        tree: tree(symptom, tally, period),
        checks: check_lines(symptom, tally, period),
        order_not_measured: apart(&tally.unordered, "not_measured"),
        no_checks: apart(&tally.unrecorded, "no_checks"),
        outcomes: tally.outcomes.lines(period, &[("symptom", symptom)]),
    })
}

/// Jobs with recorded checks by what became of the most common first one.
fn first_check(symptom: &str, tally: &SymptomTally, period: &Period) -> Option<FirstCheck> {
    let mut firsts: BTreeMap<&str, i64> = BTreeMap::new();
    for (path, counts) in &tally.paths {
        if let Some(first) = path.first() {
            *firsts.entry(first).or_default() += Group::of([counts]).count(period);
        }
    }
    // The first of equals by name, so that the answer never depends on order.
    let (&check, _) =
        firsts.iter().rev().filter(|(_, count)| **count > 0).max_by_key(|(_, count)| **count)?;
    let group = |key: &str, takes: fn(&[String], &str) -> bool| {
        let paths = tally.paths.iter().filter(|(path, _)| takes(path, check));
        Group::of(paths.map(|(_, counts)| counts))
            .figures(period, &pairs(symptom, Some((key, check))))
    };
    Some(FirstCheck {
        check: check.to_owned(),
        done_first: group("first_check", |path, check| {
            path.first().is_some_and(|first| first == check)
        }),
        done_later: group("later_check", |path, check| {
            path.first().is_some_and(|first| first != check)
                && path.iter().skip(1).any(|done| done == check)
        }),
        skipped: group("skipped_check", |path, check| path.iter().all(|done| done != check)),
    })
}

/// A branch while paths are read: the groups of jobs that began so.
#[derive(Default)]
struct Branch<'a> {
    groups: Vec<&'a Counts<JobFact>>,
    ended: i64,
}

/// Every prefix of every path, in the order of a tree read from its root.
fn tree(symptom: &str, tally: &SymptomTally, period: &Period) -> Vec<TreeLine> {
    let mut branches: BTreeMap<&[String], Branch<'_>> = BTreeMap::new();
    for (path, counts) in &tally.paths {
        let count = Group::of([counts]).count(period);
        if count == 0 {
            continue;
        }
        for prefix in (1..=path.len()).filter_map(|length| path.get(..length)) {
            let branch = branches.entry(prefix).or_default();
            branch.groups.push(counts);
            branch.ended += if prefix.len() == path.len() { count } else { 0 };
        }
    }
    branches
        .into_iter()
        .map(|(prefix, branch)| {
            let begun = prefix.join(">");
            let figures = Group::of(branch.groups)
                .figures(period, &pairs(symptom, Some(("path_starts", &begun))));
            TreeLine {
                checks: prefix.to_vec(),
                count: figures.count,
                ended: branch.ended,
                found: figures.found.returns,
                minutes: figures.minutes,
                comebacks: figures.comebacks,
                jobs: figures.jobs,
            }
        })
        .collect()
}

fn check_lines(symptom: &str, tally: &SymptomTally, period: &Period) -> Vec<CheckLine> {
    let mut lines: Vec<CheckLine> = tally
        .checks
        .iter()
        .map(|(check, counts)| {
            let (minutes, done, showing) =
                check_counts(counts, period, |fact| fact.finding == Some(Finding::Abnormal));
            CheckLine {
                check: check.clone(),
                done,
                minutes,
                abnormal: counted_share(
                    Cases { cases: done, returns: showing },
                    "abnormal",
                    period.selector(&pairs(symptom, Some(("check", check)))),
                ),
            }
        })
        .filter(|line| line.done > 0)
        .collect();
    lines.sort_by_key(|line| std::cmp::Reverse(line.done));
    lines
}
