//! The answer to "clean it or replace it?", with everything it rests on.

use chrono::NaiveDate;
use serde::Serialize;

use super::choice::{Basis, Choice, HeldRole};
use super::costs::{Costs, Ledger};
use super::estimate::Belief;
use super::tally::{PartTally, ReuseTally};
use super::text;
use super::verdict::{DecidedBy, Question, Undecided, Verdict};
use super::weigh::{Asked, Ground, Particulars};
use crate::figure::{Interval, Query, Share, TOO_FEW};
use crate::follow::{Cases, LEVEL, Period};
use crate::history::{History, ShopFacts};
use crate::stats::beta::{Beta, expected_losses, probability_exceeds};
use crate::words::Curable;

/// Times and prices that stand before the record, for one question.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Overrides {
    pub access_minutes: Option<i64>,
    pub clean_minutes: Option<i64>,
    pub fit_minutes: Option<i64>,
    pub part_cost_minor: Option<i64>,
}

/// One part, held in one role, on the bench now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AdviceQuery {
    /// Part number, else name; the shop need not have seen it.
    pub part: String,
    pub role: HeldRole,
    /// Whether cleaning cures the cause at hand. Only a suspect's counts.
    pub cause_curable: Option<Curable>,
    /// The part passed its test after cleaning. Absent: as often as the record
    /// of this part shows, untested where there is none.
    pub bench_tested: Option<bool>,
    pub as_of: NaiveDate,
    pub window_days: Option<i32>,
    pub overrides: Overrides,
}

/// One of the two choices.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Side {
    pub choice: Choice,
    /// Own cases with a closed window, and those of them that came back.
    pub cases: i64,
    pub returns: i64,
    pub basis: Basis,
    /// The shop's starting assumption.
    pub assumed_share: f64,
    /// The belief before the part's own cases, and its strength in cases.
    pub prior_share: f64,
    pub prior_strength: f64,
    /// The belief now: mean of its beta distribution, and its central interval.
    pub return_share: f64,
    pub interval: Interval,
    /// Counted over every role, because none was replaced in this one.
    pub all_roles: bool,
    pub jobs: String,
}

/// The advice. Always an answer, with its basis.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Advice {
    pub part: String,
    pub role: HeldRole,
    pub verdict: Verdict,
    pub decided_by: Vec<DecidedBy>,
    pub undecided: Option<Undecided>,
    pub basis: Basis,
    /// The answer in a sentence, and what a reader must know of it.
    pub text: String,
    pub note: &'static str,
    /// The parts on which the vehicle maker's procedure decides.
    pub caution: &'static str,
    /// What either choice costs on average, by both ledgers. Written by who
    /// knows how the currency is written; absent where cleaning cannot cure or
    /// the costs are not known.
    pub money_text: Option<String>,
    pub clean: Side,
    pub replace: Side,
    /// Left alone: the third choice for a quiet part.
    pub untouched: Share,
    /// For a bystander with ten cases or more of either: left alone, the part
    /// came back no more often than cleaned. Absent where that cannot be said.
    pub untouched_no_worse: Option<bool>,
    pub costs: Option<Costs>,
    /// What must be entered before money can be compared.
    pub missing: Vec<&'static str>,
    /// Difference of return shares, and return share after cleaning, at which
    /// both choices cost the same.
    pub break_even_gap: Option<f64>,
    pub break_even_share: Option<f64>,
    /// Customer and shop together, and the shop alone: the first visit is paid
    /// by its payer, a return is not.
    pub together: Option<Ledger>,
    pub shop: Option<Ledger>,
    pub ceiling: f64,
    /// P(returns above the ceiling and more often than a new one).
    pub probability_over_ceiling: f64,
    /// Replace while it is open when the chance of failing before the next
    /// opening is above this.
    pub while_open_threshold: Option<f64>,
    /// Confirmed causes of the suspect's jobs; those cleaning cannot cure.
    pub confirmed_causes: i64,
    pub incurable_causes: i64,
    pub mostly_incurable: bool,
    /// Proposed returns of this part that nobody has decided.
    pub proposals_waiting: i64,
}

/// The advice for a part on the bench now, from the whole record.
#[must_use]
pub fn advise(history: &History, query: &AdviceQuery) -> Advice {
    advise_from(&ReuseTally::of(history), history.facts(), query)
}

/// The same from a tally already made.
#[must_use]
pub fn advise_from(tally: &ReuseTally, facts: &ShopFacts, query: &AdviceQuery) -> Advice {
    let period = Period::new(
        &Query {
            as_of: query.as_of,
            from: None,
            to: None,
            window_days: query.window_days,
            by: None,
        },
        facts,
    );
    let particulars = Particulars {
        cause_curable: query.cause_curable,
        bench_tested: query.bench_tested,
        overrides: query.overrides,
    };
    let unseen = PartTally::default();
    let part = tally.parts.get(&query.part).unwrap_or(&unseen);
    Ground::new(tally, facts, period).advice(&query.part, part, query.role, &particulars)
}

impl Ground<'_> {
    /// The advice for one part in one role.
    pub(super) fn advice(
        &self,
        name: &str,
        part: &PartTally,
        role: HeldRole,
        particulars: &Particulars,
    ) -> Advice {
        let asked = Asked { name, part, role, particulars };
        let weighed = self.weigh(&asked);
        let (question, costs) = (&weighed.question, weighed.costs);
        let (verdict, undecided) = self.verdict(&asked, &weighed);
        let any_role = weighed.replace.all_roles;
        let untouched = self.untouched(&asked);
        let mut advice = Advice {
            part: name.to_owned(),
            role,
            verdict,
            decided_by: match verdict {
                Verdict::Replace => question.decided_by(&weighed.odds),
                Verdict::CleanAndReuse | Verdict::Undecided => Vec::new(),
            },
            undecided,
            basis: Basis::of_cases(weighed.clean.own.cases),
            text: String::new(),
            note: text::NOTE,
            caution: text::CAUTION,
            money_text: None,
            clean: side(
                Choice::CleanedReused,
                &weighed.clean,
                self.jobs(&asked, Choice::CleanedReused.as_str(), false),
            ),
            replace: side(
                Choice::Replaced,
                &weighed.replace,
                self.jobs(&asked, Choice::Replaced.as_str(), any_role),
            ),
            untouched_no_worse: no_worse(role, &untouched, weighed.clean.own),
            untouched,
            costs,
            missing: weighed.known.missing(),
            break_even_gap: question.gap,
            break_even_share: question.gap.map(|gap| question.replace.mean() + gap),
            together: costs.map(|costs| together(&costs, question)),
            shop: costs.map(|costs| shop(&costs, question)),
            ceiling: question.ceiling,
            probability_over_ceiling: weighed.odds.over_ceiling,
            while_open_threshold: costs.and_then(|costs| costs.while_open()),
            confirmed_causes: weighed.confirmed_causes,
            incurable_causes: weighed.incurable_causes,
            mostly_incurable: weighed.mostly_incurable(),
            proposals_waiting: weighed.proposals_waiting,
        };
        advice.text = text::sentence(&advice, self.period.window);
        advice
    }
}

/// Whether what was left alone came back no more often than what was cleaned,
/// in whole numbers. A suspect is not left alone.
fn no_worse(role: HeldRole, untouched: &Share, cleaned: Cases) -> Option<bool> {
    let known = role == HeldRole::Bystander && untouched.count.min(cleaned.cases) >= TOO_FEW;
    known.then(|| {
        i128::from(untouched.returns) * i128::from(cleaned.cases)
            <= i128::from(cleaned.returns) * i128::from(untouched.count)
    })
}

fn side(choice: Choice, belief: &Belief, jobs: String) -> Side {
    let (tail, mean) = ((1.0 - LEVEL) / 2.0, belief.posterior.mean());
    Side {
        choice,
        cases: belief.own.cases,
        returns: belief.own.returns,
        basis: Basis::of_cases(belief.own.cases),
        assumed_share: belief.assumed,
        prior_share: belief.prior.mean,
        prior_strength: belief.prior.strength,
        return_share: mean,
        // The mean of a belief in next to nothing lies above nearly all of it.
        interval: Interval {
            low: belief.posterior.quantile(tail).min(mean),
            high: belief.posterior.quantile(1.0 - tail).max(mean),
            level: LEVEL,
            method: "beta-posterior",
        },
        all_roles: belief.all_roles,
        jobs,
    }
}

/// Customer and shop as one purse.
fn together(costs: &Costs, question: &Question) -> Ledger {
    ledger(
        (costs.clean_now_minor, costs.replace_now_minor),
        costs.return_minor,
        (&question.clean, &question.replace),
    )
}

/// The shop's purse: only returns are unpaid.
fn shop(costs: &Costs, question: &Question) -> Ledger {
    ledger((0.0, 0.0), costs.return_minor, (&question.clean, &question.replace))
}

/// Expected costs and losses: the loss of a choice is the mean of how much
/// dearer it is, over the beliefs in which it is the dearer one.
fn ledger(now: (f64, f64), one_return: f64, (clean, replace): (&Beta, &Beta)) -> Ledger {
    let gap = (now.1 - now.0) / one_return;
    let (if_clean, if_replace) = expected_losses(clean, replace, gap);
    Ledger {
        clean_minor: clean.mean().mul_add(one_return, now.0),
        replace_minor: replace.mean().mul_add(one_return, now.1),
        probability_replace_cheaper: probability_exceeds(clean, replace, gap),
        loss_if_clean_minor: one_return * if_clean,
        loss_if_replace_minor: one_return * if_replace,
    }
}
