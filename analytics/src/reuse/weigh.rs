//! What the shop's record says about one question, weighed.

use std::cell::OnceCell;

use super::advice::Overrides;
use super::choice::{Choice, HeldRole};
use super::costs::{Amount, Costs, Known, Minutes, Source};
use super::estimate::{
    Belief, Counting, Pools, access, cases_of, causes, clean_belief, cost, replace_belief,
    tested_share, waiting,
};
use super::tally::{PartTally, ReuseTally};
use super::verdict::{Odds, Question, Undecided, UndecidedWhy, Verdict};
use crate::figure::{Share, TOO_FEW};
use crate::follow::{Cases, Period, counted_share, day_number};
use crate::history::ShopFacts;
use crate::words::Curable;

/// Confirmed causes of which at least this share is not curable make a part
/// that cleaning does not cure.
const MOSTLY: f64 = 0.8;
/// So many confirmed causes, none of them curable, do so too: nobody tries on a
/// part what never helped. Common practice, no source.
const NEVER: i64 = 3;

/// Only jobs on which something was done have part uses that count.
pub(crate) const DONE: (&str, &str) = ("done", "true");

/// The shop's record and settings that every answer is made from.
pub(crate) struct Ground<'a> {
    pub(super) facts: &'a ShopFacts,
    pub period: Period,
    pub(super) tally: &'a ReuseTally,
    pub(super) confirmed: Pools,
    /// Only made where proposals wait.
    possible: OnceCell<Pools>,
}

/// What is particular to one question.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Particulars {
    pub cause_curable: Option<Curable>,
    pub bench_tested: Option<bool>,
    pub overrides: Overrides,
}

/// One question: a part in a role.
#[derive(Clone, Copy)]
pub(super) struct Asked<'a> {
    pub name: &'a str,
    pub part: &'a PartTally,
    pub role: HeldRole,
    pub particulars: &'a Particulars,
}

/// What speaks for either choice.
#[derive(Debug, Clone, Copy)]
pub(super) struct Weighed {
    pub clean: Belief,
    pub replace: Belief,
    pub known: Known,
    pub costs: Option<Costs>,
    pub confirmed_causes: i64,
    pub incurable_causes: i64,
    pub question: Question,
    pub odds: Odds,
    pub proposals_waiting: i64,
}

impl Weighed {
    pub fn mostly_incurable(&self) -> bool {
        mostly_incurable(self.confirmed_causes, self.incurable_causes)
    }
}

fn mostly_incurable(confirmed: i64, incurable: i64) -> bool {
    (confirmed >= NEVER && incurable == confirmed)
        || (confirmed >= TOO_FEW && incurable as f64 >= MOSTLY * confirmed as f64)
}

impl<'a> Ground<'a> {
    pub fn new(tally: &'a ReuseTally, facts: &'a ShopFacts, period: Period) -> Self {
        // Jobs closed before links were recorded are in no tally; the selectors
        // leave them out too.
        let linked = facts.links_from.map_or(i32::MIN, day_number);
        let period = period.within(linked, i32::MAX);
        Self {
            facts,
            period,
            tally,
            confirmed: Pools::new(tally, facts, &period, Counting::Confirmed),
            possible: OnceCell::new(),
        }
    }

    pub(super) fn weigh(&self, asked: &Asked<'_>) -> Weighed {
        let (clean, replace) = self.beliefs(asked, Counting::Confirmed);
        let known = self.known(asked);
        let costs = Costs::new(self.facts, &known, self.facts.part_policies.get(asked.name));
        let (confirmed_causes, incurable_causes) = match asked.role {
            HeldRole::Suspect => causes(asked.part, &self.period),
            HeldRole::Bystander => (0, 0),
        };
        // What is known of the cause at hand stands before the record.
        let not_curable = asked.role == HeldRole::Suspect
            && asked.particulars.cause_curable.map_or_else(
                || mostly_incurable(confirmed_causes, incurable_causes),
                |curable| curable == Curable::No,
            );
        let question = Question {
            clean: clean.posterior,
            replace: replace.posterior,
            gap: costs.map(|costs| costs.gap()),
            ceiling: self.facts.ceiling,
            not_curable,
        };
        Weighed {
            clean,
            replace,
            known,
            costs,
            confirmed_causes,
            incurable_causes,
            odds: question.odds(),
            question,
            proposals_waiting: waiting(asked.part, &self.period, asked.role),
        }
    }

    /// Where the proposals nobody has decided would lead to different advice,
    /// there is none.
    pub(super) fn verdict(
        &self,
        asked: &Asked<'_>,
        weighed: &Weighed,
    ) -> (Verdict, Option<Undecided>) {
        let question = &weighed.question;
        let verdict = question.verdict(&weighed.odds);
        if weighed.proposals_waiting > 0 {
            let (clean, replace) = self.beliefs(asked, Counting::Possible);
            let possible =
                Question { clean: clean.posterior, replace: replace.posterior, ..*question };
            if possible.verdict(&possible.odds()) != verdict {
                let undecided = Undecided {
                    why: UndecidedWhy::ProposalsWaiting,
                    cases: Some(weighed.proposals_waiting),
                };
                return (Verdict::Undecided, Some(undecided));
            }
        }
        let undecided = (verdict == Verdict::Undecided).then(|| question.undecided());
        (verdict, undecided)
    }

    fn beliefs(&self, asked: &Asked<'_>, counting: Counting) -> (Belief, Belief) {
        let pools = match counting {
            Counting::Confirmed => &self.confirmed,
            Counting::Possible => self
                .possible
                .get_or_init(|| Pools::new(self.tally, self.facts, &self.period, counting)),
        };
        let Asked { part, role, .. } = *asked;
        let held = Some(role.part_role());
        let cases = |choice: Choice, any_role: bool| {
            cases_of(part, &self.period, counting, |r, c| c == choice && (any_role || r == held))
        };
        let tested = asked.particulars.bench_tested.map_or_else(
            || tested_share(part, &self.period, role).unwrap_or(0.0),
            |passed| if passed { 1.0 } else { 0.0 },
        );
        let cleaned = cases(Choice::CleanedReused, false);
        let (same_role, all) = (cases(Choice::Replaced, false), cases(Choice::Replaced, true));
        (
            clean_belief(self.facts, pools, cleaned, role, tested),
            replace_belief(self.facts, pools, same_role, all, role),
        )
    }

    /// What is believed of new ones: those replaced in the role, else all.
    pub(super) fn replace_belief(&self, same_role: Cases, all: Cases, role: HeldRole) -> Belief {
        replace_belief(self.facts, &self.confirmed, same_role, all, role)
    }

    fn known(&self, asked: &Asked<'_>) -> Known {
        let overrides = asked.particulars.overrides;
        let minutes =
            |minutes: i64| Minutes { minutes: minutes as f64, source: Source::Asked, jobs: None };
        let amount = |minor: i64| Amount { minor: minor as f64, source: Source::Asked, uses: None };
        let recorded = Known {
            access: overrides
                .access_minutes
                .map(minutes)
                .or_else(|| access(asked.part, &self.period)),
            clean: overrides.clean_minutes,
            fit: overrides.fit_minutes,
            part: overrides.part_cost_minor.map(amount).or_else(|| cost(asked.part, &self.period)),
        };
        recorded.or_entered(self.facts.part_policies.get(asked.name))
    }

    /// Left alone, in the same role.
    pub(super) fn untouched(&self, asked: &Asked<'_>) -> Share {
        let held = Some(asked.role.part_role());
        let takes = |r, choice: Choice| r == held && choice.is_untouched();
        let cases = cases_of(asked.part, &self.period, Counting::Confirmed, takes);
        let jobs = self.jobs(asked, Choice::UNTOUCHED, false);
        counted_share(cases, "part_return_closed", jobs)
    }

    /// Selects the jobs with an ended window on which it was done so.
    pub(super) fn jobs(&self, asked: &Asked<'_>, disposition: &str, any_role: bool) -> String {
        let mut pairs = vec![("part", asked.name)];
        if !any_role {
            pairs.push(("role", asked.role.as_str()));
        }
        pairs.extend([("disposition", disposition), DONE]);
        self.period.ended().selector(&pairs)
    }
}
