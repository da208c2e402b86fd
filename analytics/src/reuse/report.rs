//! Clean or replace, for every part the shop has touched.

use serde::Serialize;

use super::advice::Advice;
use super::choice::{Choice, HeldRole};
use super::estimate::{Counting, followed};
use super::tally::{Cell, PartTally, ReuseTally};
use super::text;
use super::weigh::{DONE, Ground, Particulars};
use crate::figure::{Head, Query, Share};
use crate::follow::{Followed, Period, closed_cases, counted_share, followed_share, head};
use crate::history::{History, ShopFacts};
use crate::words::PartRole;

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "part_return",
        "Of the uses of a part, the share whose part came back by the window: a later job on \
         the vehicle, whatever its symptom, in which the same part at the same position is the \
         suspect or the confirmed cause. 1 - Kaplan-Meier from the hand-over, confirmed returns.",
    ),
    ("part_return_possible", "The same if every undecided proposal were confirmed."),
    (
        "part_return_closed",
        "Of the uses whose window has ended, returned or not, the share that came back inside \
         it. Wilson's interval.",
    ),
    (
        "comeback",
        "Of the repaired complaint jobs with such a use, the share that came back by the \
         window. 1 - Kaplan-Meier from the hand-over, confirmed comebacks.",
    ),
    (
        "advice",
        "Replace when cleaning cannot cure the cause, or when it is at least 80% sure that a \
         cleaned part returns above the shop's limit and more often than a new one, or that \
         replacing costs customer and shop less together; clean and reuse when both are at \
         most 20%; else undecided. Cleaning cannot cure it where the question says so of the \
         cause at hand, else where that holds for all of three or more confirmed causes of the \
         suspect's jobs, or for 80% of ten or more. The best estimate is the mean of what is \
         believed: the starting assumption, the shop's other parts and the part's own cases.",
    ),
];

/// One part in one role with one choice.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ChoiceLine {
    pub choice: Choice,
    /// Part uses, and part returns among them by the as-of.
    pub uses: i64,
    pub returns: i64,
    pub share: Share,
    /// If every undecided proposal were confirmed.
    pub possible: Share,
    pub closed: Share,
    /// What the jobs' own comeback share says.
    pub comebacks: Share,
}

/// One part in one role.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PartLine {
    /// Part number, else name.
    pub part: String,
    pub name: String,
    /// Absent where it was not recorded.
    pub role: Option<PartRole>,
    pub uses: i64,
    pub choices: Vec<ChoiceLine>,
    /// For a suspect and a bystander.
    pub advice: Option<Advice>,
}

/// The report, parts with the most uses first.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ReuseReport {
    pub head: Head,
    pub note: &'static str,
    /// The parts on which the vehicle maker's procedure decides.
    pub caution: &'static str,
    pub parts: Vec<PartLine>,
}

/// What became of every part that was touched, and what to do with it.
#[must_use]
pub fn reuse(history: &History, query: &Query) -> ReuseReport {
    reuse_from(&ReuseTally::of(history), history.facts(), history.change_no(), query)
}

/// The same from a tally already made.
#[must_use]
pub fn reuse_from(
    tally: &ReuseTally,
    facts: &ShopFacts,
    change_no: i64,
    query: &Query,
) -> ReuseReport {
    let ground = Ground::new(tally, facts, Period::new(query, facts));
    let mut parts: Vec<PartLine> =
        tally.parts.iter().flat_map(|(name, part)| part_lines(&ground, name, part)).collect();
    // The tally is in the order of the names, which ties keep.
    parts.sort_by_key(|line| std::cmp::Reverse(line.uses));
    ReuseReport {
        head: head("reuse", facts, change_no, query, DEFINITIONS),
        note: text::NOTE,
        caution: text::CAUTION,
        parts,
    }
}

fn part_lines(ground: &Ground<'_>, part: &str, tally: &PartTally) -> Vec<PartLine> {
    let mut lines: Vec<PartLine> = Vec::new();
    for (&(role, choice), cell) in &tally.cells {
        let Some(line) = choice_line(ground, part, role, choice, cell) else {
            continue;
        };
        match lines.last_mut() {
            Some(last) if last.role == role => {
                last.uses += line.uses;
                last.choices.push(line);
            }
            _ => lines.push(PartLine {
                part: part.to_owned(),
                name: tally.names.keys().next().cloned().unwrap_or_default(),
                role,
                uses: line.uses,
                choices: vec![line],
                advice: role
                    .and_then(HeldRole::of)
                    .map(|role| ground.advice(part, tally, role, &Particulars::default())),
            }),
        }
    }
    lines
}

/// `None` where no use falls into the period.
fn choice_line(
    ground: &Ground<'_>,
    part: &str,
    role: Option<PartRole>,
    choice: Choice,
    cell: &Cell,
) -> Option<ChoiceLine> {
    let period = &ground.period;
    let mut pairs = vec![("part", part)];
    // An empty role selects those without one.
    pairs.push(("role", role.map_or("", PartRole::as_str)));
    pairs.extend([("disposition", choice.as_str()), DONE]);
    let (jobs, ended) = (period.selector(&pairs), period.ended().selector(&pairs));
    pairs.extend([("kind", "complaint"), ("outcome", "repaired")]);
    let repaired = period.selector(&pairs);
    let uses = || followed(cell, Counting::Confirmed);
    let share = followed_share(uses(), period, "part_return", jobs.clone());
    let returns = uses()
        .filter(|case| {
            period.holds(case.closed_day)
                && period.returned(case.closed_day, case.elapsed).is_some()
        })
        .map(|case| case.count)
        .sum();
    let possible = followed(cell, Counting::Possible);
    let comebacks = cell.jobs.iter().map(|((closed_day, elapsed), count)| Followed {
        closed_day,
        elapsed,
        count,
    });
    (share.count > 0).then(|| ChoiceLine {
        choice,
        uses: share.count,
        returns,
        share,
        possible: followed_share(possible, period, "part_return_possible", jobs),
        closed: counted_share(closed_cases(uses(), period), "part_return_closed", ended),
        comebacks: followed_share(comebacks, period, "comeback", repaired),
    })
}
