//! The effect of a rule.

use chrono::NaiveDate;
use serde::Serialize;

use super::EffectQuery;
use super::ahead::{Ahead, ahead};
use super::cost::{EffectCost, cost};
use super::estimate::{
    Compliance, Difference, EffectCell, LogRank, NotKnown, beside, cell, compliance, ended, less,
    log_rank,
};
use super::tally::{EffectTally, Rows, Span};
use super::verdict::{Basis, Ended, Verdict, basis, verdict};
use crate::comeback::Fate;
use crate::counts::Counts;
use crate::figure::{Head, Query};
use crate::follow::{Period, date_of, day_number, first_returns, head};
use crate::history::History;
use crate::select::{Selector, Term, fitting};
use crate::words::{JobKind, Outcome};

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "population",
        "Complaint jobs on handed-over orders that ended as repaired. After: closed from the start \
         of the rule to its review day, or to the day before it was withdrawn. Before: closed in as many days right before the start, or \
         since the record begins. Everything is as it stood on the review day: what happened \
         later, and a later as-of, change nothing. Before the review day it is as of the as-of.",
    ),
    ("touched", "The jobs that the rule is about, before and after its start alike."),
    (
        "untouched",
        "The other jobs of the systems that the touched jobs are of; where there are none, all \
         other jobs. What changes there has other reasons than the rule.",
    ),
    (
        "comeback",
        "Share of the jobs that came back by the window: 1 - Kaplan-Meier, from the hand-over to \
         the first return, each job followed to the review day. Log-log interval. Absent while no job \
         has been followed for a whole window.",
    ),
    (
        "comeback_possible",
        "The same if every undecided proposal of the same complaint were confirmed.",
    ),
    (
        "comeback_closed",
        "Of the jobs whose window has ended by the review day, returned or not, the share that \
         came back inside it. Wilson's interval.",
    ),
    (
        "change",
        "Share of ended windows that came back, after less before. Newcombe's hybrid score \
         interval.",
    ),
    (
        "beside_untouched",
        "The change of the touched jobs less the change of the untouched ones. Interval by the \
         square-and-add of Newcombe's.",
    ),
    (
        "log_rank",
        "Log-rank test of before against after over the days to the first return, each job followed \
         to the end of its window or the review day.",
    ),
    (
        "kept",
        "Of the touched jobs closed since the start, those that kept the rule. Wilson's interval. \
         Jobs of which nobody knows it (no order of checks, no answer) are counted apart. A check \
         that comes first is first also after the shop's free looks: asking the customer, reading \
         the stored codes, a look under the hood and the like.",
    ),
    (
        "cost",
        "What the comebacks of the touched jobs cost, for each hundred such jobs: of those whose window \
         has ended by the review day, the jobs they first came back as, handed over by then, each \
         once: hours on the clock at the labor cost, parts, sublets and the rest of what a return \
         costs, less what suppliers had paid back. Returns that were told, not seen, have no cost.",
    ),
    (
        "ahead",
        "How many windows will have ended by the review day: of jobs closed already, and of jobs to \
         come at the pace of the last 365 days of the record.",
    ),
    (
        "kept_difference",
        "Share of ended windows that came back, rule kept less not kept. Newcombe's interval. Who \
         keeps a rule chooses when: it is a comparison, not a trial.",
    ),
    (
        "verdict",
        "Withdrawn where the rule ended before its review day: then there is none. Too early before \
         the review day or while no window since the start has ended; too few \
         under ten ended windows before or after; fewer or more comebacks where the 95% interval \
         lies on one side of zero; else no difference beyond chance (no evidence). The interval is that beside untouched jobs, \
         or that of before and after alone where under ten untouched windows have ended before or \
         after. Undecided proposals: another word would stand if every undecided proposal of the \
         same complaint were confirmed. One verdict, as of the review day whenever it is asked for: \
         who looks every week finds an effect some week.",
    ),
    (
        "regression",
        "Rules are made when things are bad, and what was bad by chance gets better without a rule. \
         The untouched jobs do not take that out: they were not picked for being bad. A longer time \
         before the start would.",
    ),
];

/// Which jobs the touched ones are held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Untouched {
    #[serde(rename = "other jobs of the same systems")]
    SameSystems,
    #[serde(rename = "all other jobs")]
    AllOthers,
}

impl Untouched {
    /// The words.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::SameSystems => "other jobs of the same systems",
            Self::AllOthers => "all other jobs",
        }
    }
}

/// The same jobs before and after the start.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BeforeAfter {
    pub before: EffectCell,
    pub after: EffectCell,
    /// After less before.
    pub change: Difference,
    /// Absent where nothing came back, or one side has nobody.
    pub log_rank: Option<LogRank>,
}

/// The report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EffectReport {
    pub head: Head,
    /// Which jobs the rule is about.
    pub select: String,
    /// First closing day on which it stood.
    pub start: NaiveDate,
    /// The day of the one verdict.
    pub review: NaiveDate,
    /// The day on which it was withdrawn, where that was before its review day.
    pub withdrawn: Option<NaiveDate>,
    /// Closing days before the start: the first one, the last is the day before
    /// it. Absent where the record has none.
    pub before_from: Option<NaiveDate>,
    /// Last closing day looked at, never after the review day, nor on or after the
    /// day on which the rule was withdrawn; absent where it has not begun.
    pub after_to: Option<NaiveDate>,
    pub verdict: Verdict,
    pub basis: Basis,
    pub touched: BeforeAfter,
    pub untouched: BeforeAfter,
    pub untouched_are: Untouched,
    pub beside_untouched: Difference,
    /// Absent where nothing says which jobs kept the rule.
    pub compliance: Option<Compliance>,
    /// Absent where it is withheld.
    pub cost: Option<EffectCost>,
    /// Absent from the review day on, and where the rule was withdrawn before it.
    pub ahead: Option<Ahead>,
}

/// Before and after the start.
pub(super) type Spans = (Span, Span);

/// The effect of a rule on comebacks.
#[must_use]
pub fn effect(history: &History, query: &EffectQuery) -> EffectReport {
    let facts = history.facts();
    let linked = facts.links_from.map_or(i32::MIN, day_number);
    let asked = Query { from: None, to: None, ..query.figures.clone() };
    let review = query.review;
    let judged = Query { as_of: asked.as_of.min(review), ..asked.clone() };
    let period = Period::new(&judged, facts).within(linked, i32::MAX);
    let spans = spans(history, query, &period);
    let rows = rows(history, query, &period);
    let tally = EffectTally::of(history, &rows, &[spans.0, spans.1]);
    let groups = Groups::of(history, query, &tally);
    let ended_with = |pick: fn(&Fate) -> i32| {
        [&tally.touched, &tally.untouched].map(|cases| ended(cases, spans, &period, pick))
    };
    let [touched, untouched] = ended_with(|fate| fate.elapsed);
    let early = asked.as_of < review;
    let said = |[touched, untouched]: [Ended; 2]| verdict(early, touched, untouched);
    let withdrawn = query.withdrawn.filter(|day| *day < review);
    let verdict = match said([touched, untouched]) {
        _ if withdrawn.is_some() => Verdict::Withdrawn,
        known if known == said(ended_with(|fate| fate.possible)) => known,
        _ => Verdict::UndecidedProposals,
    };
    let (before, after) = spans;
    EffectReport {
        head: head("effect", facts, history.change_no(), &asked, DEFINITIONS),
        select: query.jobs.to_string(),
        start: query.start,
        review,
        withdrawn,
        before_from: (before.first <= before.last).then(|| date_of(before.first)),
        after_to: (after.first <= after.last).then(|| date_of(after.last)),
        verdict,
        basis: basis(untouched),
        touched: before_after(&tally.touched, spans, &period, &groups.touched, touched),
        untouched: before_after(&tally.untouched, spans, &period, &groups.untouched, untouched),
        untouched_are: if tally.systems.is_empty() {
            Untouched::AllOthers
        } else {
            Untouched::SameSystems
        },
        beside_untouched: beside(touched, untouched),
        cost: Some(cost(history, &rows.touched, spans, (&period, &groups.touched))),
        ahead: (early && withdrawn.is_none()).then(|| {
            // Of the record, as for the plan of the review: rare jobs come no faster
            // for having begun late.
            let oldest = history.jobs().closed_day.first().copied().unwrap_or(period.as_of);
            ahead(&tally.touched, (query.start, review), &period, oldest.max(period.first))
        }),
        compliance: groups.kept.map(|kept| {
            compliance(
                cell(&tally.kept, after, &period, &kept.kept),
                cell(&tally.not_kept, after, &period, &kept.not_kept),
                kept.not_known.map(|jobs| {
                    let cell = cell(&tally.not_known, after, &period, &jobs);
                    NotKnown { count: cell.count, jobs: cell.jobs }
                }),
            )
        }),
    }
}

/// As many days before the start as after it, but none before the record.
fn spans(history: &History, query: &EffectQuery, period: &Period) -> Spans {
    let start = day_number(query.start);
    let stood = query.withdrawn.map_or(i32::MAX, |day| day_number(day).saturating_sub(1));
    let after = Span { first: start.max(period.first), last: period.last.min(stood) };
    let days = (i64::from(after.last) - i64::from(start) + 1).max(0);
    let first = i64::from(start).saturating_sub(days);
    // Job rows are in the order of closing.
    let oldest = history.jobs().closed_day.first().filter(|day| **day <= period.as_of);
    let begins = oldest.copied().unwrap_or(start).max(period.first);
    let first = i32::try_from(first).unwrap_or(i32::MIN).max(begins);
    (Span { first, last: start.saturating_sub(1).min(period.last) }, after)
}

fn rows(history: &History, query: &EffectQuery, period: &Period) -> Rows {
    let returns = first_returns(history);
    let seen = (period.as_of, period.window);
    let fits = |selector: &Selector| fitting(history, selector, returns, seen);
    Rows {
        touched: fits(&query.jobs),
        kept: query.kept.as_ref().map(fits),
        not_known: query.not_known.as_ref().map(fits),
    }
}

/// The selectors of the groups, whatever the closing day.
struct Groups {
    touched: Selector,
    untouched: Selector,
    kept: Option<KeptGroups>,
}

/// The touched jobs by whether they kept the rule.
struct KeptGroups {
    kept: Selector,
    not_kept: Selector,
    not_known: Option<Selector>,
}

impl Groups {
    fn of(history: &History, query: &EffectQuery, tally: &EffectTally) -> Self {
        let repaired = Selector::new()
            .with(Term::Kind(JobKind::Complaint))
            .with(Term::Outcome(Outcome::Repaired));
        let touched = repaired.clone().with(Term::Also(query.jobs.clone()));
        let mut systems: Vec<String> = tally
            .systems
            .iter()
            .filter_map(|code| history.text(*code))
            .map(str::to_owned)
            .collect();
        // Codes follow first sight; the selector must not.
        systems.sort_unstable();
        let mut untouched = repaired.with(Term::Except(query.jobs.clone()));
        if !systems.is_empty() {
            untouched = untouched.with(Term::Systems(systems));
        }
        let kept = query.kept.as_ref().map(|kept| {
            let known = query.not_known.as_ref().map_or_else(
                || touched.clone(),
                |not_known| touched.clone().with(Term::Except(not_known.clone())),
            );
            KeptGroups {
                kept: known.clone().with(Term::Also(kept.clone())),
                not_kept: known.with(Term::Except(kept.clone())),
                not_known: query
                    .not_known
                    .as_ref()
                    .map(|not_known| touched.clone().with(Term::Also(not_known.clone()))),
            }
        });
        Self { touched, untouched, kept }
    }
}

fn before_after(
    cases: &Counts<Fate>,
    spans: Spans,
    period: &Period,
    jobs: &Selector,
    ended: Ended,
) -> BeforeAfter {
    BeforeAfter {
        before: cell(cases, spans.0, period, jobs),
        after: cell(cases, spans.1, period, jobs),
        change: less(ended.after, ended.before, "change"),
        log_rank: log_rank(cases, spans, period),
    }
}
