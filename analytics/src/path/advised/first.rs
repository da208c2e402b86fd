//! What comes first in any order of checks, and why.

use serde::Serialize;

use super::super::basis::places;
use super::super::estimate::Group;
use super::super::report::pairs;
use super::super::tally::SymptomTally;
use crate::figure::Share;
use crate::follow::{Cases, Period, counted_share};
use crate::history::ShopFacts;
use crate::select::escaped;

/// Why a check comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum WhyFirst {
    /// The report was asked for it.
    Asked,
    /// A free look that the shop does on at least half of these jobs.
    FreeLook,
}

/// A check that comes first, whatever it finds.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LeadingCheck {
    pub check: String,
    pub why: WhyFirst,
    /// Of the jobs with checks in a measured order, those that did it in it.
    pub done: Share,
    /// Selects those that did.
    pub jobs: String,
}

/// The codes that are asked for, each once; never those for trained people.
pub(super) fn asked_once(asked: &[String], facts: &ShopFacts) -> Vec<String> {
    let mut once: Vec<String> = Vec::new();
    for check in asked {
        if !once.contains(check) && !facts.trained_checks.contains(check) {
            once.push(check.clone());
        }
    }
    once
}

/// The checks that come first for a symptom: those asked for, in that order; where
/// nothing was asked, the free looks done on at least half of the jobs with a
/// measured order, as the shop is used to.
pub(super) fn leading(
    (symptom, sums): (&str, &SymptomTally),
    facts: &ShopFacts,
    period: &Period,
    asked: Option<&[String]>,
) -> Vec<LeadingCheck> {
    let places = places(sums, period);
    let measured = Group::of(sums.paths.values()).count(period);
    let done = |check: &str| places.get(check).map_or(0, |(_, jobs)| *jobs);
    let (why, checks) = match asked {
        Some(asked) => (WhyFirst::Asked, asked.to_vec()),
        None => {
            let mut looks: Vec<(f64, &String)> = facts
                .free_looks
                .iter()
                .filter(|look| !facts.trained_checks.contains(*look))
                .filter_map(|look| Some((look, places.get(look.as_str())?)))
                .filter(|(_, (_, jobs))| 2 * jobs >= measured)
                .map(|(look, (sum, jobs))| (*sum as f64 / *jobs as f64, look))
                .collect();
            // Stable: equals stay by name.
            looks.sort_by(|(a, _), (b, _)| a.total_cmp(b));
            (WhyFirst::FreeLook, looks.into_iter().map(|(_, look)| look.clone()).collect())
        }
    };
    let select = |more: &[(&str, &str)]| {
        let mut terms = pairs(symptom, Some(("path_starts", "")));
        terms.extend(more);
        period.selector(&terms)
    };
    checks
        .into_iter()
        .map(|check| {
            let cases = Cases { cases: measured, returns: done(&check) };
            let skipped = format!("skipped_check={}", escaped(&check));
            LeadingCheck {
                why,
                done: counted_share(cases, "done_first", select(&[])),
                jobs: select(&[("except", &skipped)]),
                check,
            }
        })
        .collect()
}
