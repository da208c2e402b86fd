//! Days to the return, by part, role and choice, and by symptom.

use serde::Serialize;

use super::estimate::{AgeReplacement, Timing, by_age, timing};
use crate::comeback::{By, ComebackTally};
use crate::figure::{Head, Query};
use crate::follow::{Period, head};
use crate::history::{History, ShopFacts};
use crate::reuse::{Choice, DONE, Ground, ReuseTally};
use crate::words::PartRole;

const NOTE: &str = "A hint, not a finding: the days of returns are few and of mixed causes, and \
    they say nothing about one part. Most repairs never come back, and that alone makes this \
    look early.";

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "part_timing",
        "Days from the hand-over to the first confirmed part return of each use of a part: a \
         later job on the vehicle, whatever its symptom, in which the same part at the same \
         position is the suspect or the confirmed cause. Uses without one are followed to the \
         as-of, and at most 400 days, where proposals end. Day 0 counts as half a day. \
         Two-parameter Weibull life by maximum likelihood with censoring; intervals are normal \
         on the logarithmic scale. Nothing is fitted to fewer than ten returns.",
    ),
    (
        "comeback_timing",
        "The same for the first return of repaired complaint jobs, by symptom: the opening of a \
         confirmed comeback's order, or the day it was told that the repair had not held.",
    ),
    (
        "back_by",
        "Of those that came back so far, the first day by which half of them were back, and nine \
         in ten. Counted, not fitted; not told of fewer than ten.",
    ),
    (
        "hint",
        "By the interval of the shape: entirely below 1 the rate of returns falls with the days \
         (early: workmanship, diagnosis or several causes mixed), entirely above 1 it rises \
         (wear), else there is no pattern beyond chance. Repairs that never come back pull the \
         shape below 1 by themselves. A hint, not a finding.",
    ),
    (
        "age_replacement",
        "Only of replaced parts, since a new one follows, and only where the whole interval of \
         the shape is above 1: the age at which replacing in \
         time costs least per day, with a replacement in time at C_n (access, fitting and part) \
         and a return at C_b (the same and the rest of a return), as in the clean-or-replace \
         advice. Absent where no age saves half a percent of waiting for the return, or the costs \
         are not known. A day that lies beyond the days that were followed was not reached, and \
         says so.",
    ),
];

/// What the report is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct PatternQuery {
    pub figures: Query,
    /// Part number, else name; every part, and symptoms, where absent.
    pub part: Option<String>,
    pub role: Option<PartRole>,
}

/// One part in one role with one choice.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PartTiming {
    /// Part number, else name.
    pub part: String,
    pub name: String,
    /// Absent where it was not recorded.
    pub role: Option<PartRole>,
    pub choice: Choice,
    pub timing: Timing,
    pub replacement: Option<AgeReplacement>,
}

/// The repaired complaints of one symptom.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SymptomTiming {
    /// Absent where none was recorded.
    pub symptom: Option<String>,
    pub timing: Timing,
}

/// The report, groups with the most returns first.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PatternReport {
    pub head: Head,
    pub note: &'static str,
    pub parts: Vec<PartTiming>,
    /// None where a part or a role is asked for.
    pub symptoms: Vec<SymptomTiming>,
}

/// The report of the query's closing days.
#[must_use]
pub fn pattern(history: &History, query: &PatternQuery) -> PatternReport {
    let tallies = (&ReuseTally::of(history), &ComebackTally::of(history, Some(By::Symptom)));
    pattern_from(tallies, history.facts(), history.change_no(), query)
}

/// The same from tallies already made, of part uses and of comebacks by
/// symptom.
#[must_use]
pub fn pattern_from(
    (uses, comebacks): (&ReuseTally, &ComebackTally),
    facts: &ShopFacts,
    change_no: i64,
    query: &PatternQuery,
) -> PatternReport {
    let ground = Ground::new(uses, facts, Period::new(&query.figures, facts));
    let mut parts = part_timings(&ground, uses, query);
    let mut symptoms = if query.part.is_none() && query.role.is_none() {
        symptom_timings(&ground.period, comebacks)
    } else {
        Vec::new()
    };
    // The tallies are in the order of the names, which ties keep.
    let most = |timing: &Timing| std::cmp::Reverse((timing.returns, timing.count));
    parts.sort_by_key(|line| most(&line.timing));
    symptoms.sort_by_key(|line| most(&line.timing));
    PatternReport {
        head: head("pattern", facts, change_no, &query.figures, DEFINITIONS),
        note: NOTE,
        parts,
        symptoms,
    }
}

fn part_timings(ground: &Ground<'_>, uses: &ReuseTally, query: &PatternQuery) -> Vec<PartTiming> {
    let asked = uses.uses().filter(|uses| {
        query.part.as_deref().is_none_or(|part| part == uses.part)
            && query.role.is_none_or(|role| uses.role == Some(role))
    });
    asked
        .filter_map(|uses| {
            // An empty role selects those without one.
            let role = uses.role.map_or("", PartRole::as_str);
            let pairs =
                [("part", uses.part), ("role", role), ("disposition", uses.choice.as_str()), DONE];
            let jobs = ground.period.selector(&pairs);
            let (timing, fit) = timing(uses.followed(), &ground.period, "part_timing", jobs);
            // What is fitted at that age is a new part: only its own life says when
            // the next one is due.
            let costs = ground.stakes(uses.part, uses.role).costs;
            let replacement = costs
                .filter(|_| uses.choice == Choice::Replaced)
                .and_then(|costs| by_age(&timing, fit.as_ref(), &costs));
            (timing.count > 0).then(|| PartTiming {
                part: uses.part.to_owned(),
                name: uses.name.to_owned(),
                role: uses.role,
                choice: uses.choice,
                timing,
                replacement,
            })
        })
        .collect()
}

fn symptom_timings(period: &Period, comebacks: &ComebackTally) -> Vec<SymptomTiming> {
    comebacks
        .groups()
        .filter_map(|(symptom, tally)| {
            let pairs = [
                ("symptom", symptom.unwrap_or_default()),
                ("kind", "complaint"),
                ("outcome", "repaired"),
            ];
            let jobs = period.selector(&pairs);
            let (timing, _) = timing(tally.first_returns(), period, "comeback_timing", jobs);
            let symptom = symptom.map(str::to_owned);
            (timing.count > 0).then_some(SymptomTiming { symptom, timing })
        })
        .collect()
}
