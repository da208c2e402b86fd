//! What is at stake when a part is put back, for the reports that weigh it by
//! other means: the costs of the advice, and what new ones return.

use super::choice::{Choice, HeldRole};
use super::costs::{Costs, Known};
use super::estimate::{Belief, Counting, access, any_replaced_belief, cases_of, cost, followed};
use super::tally::{Cell, PartTally, ReuseTally};
use super::weigh::Ground;
use crate::follow::Followed;
use crate::words::PartRole;

/// Costs of a part, and the belief about new ones.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Stakes {
    pub costs: Option<Costs>,
    /// What must be entered before money can be compared.
    pub missing: Vec<&'static str>,
    /// Believed share of new ones that come back by the window.
    pub new_return_share: f64,
}

impl Stakes {
    /// Return share of a part put back above which replacing costs less: what
    /// new ones return and (C_n - C_c) / C_b.
    pub fn break_even_share(&self) -> Option<f64> {
        self.costs.map(|costs| self.new_return_share + costs.gap())
    }
}

impl Ground<'_> {
    /// The stakes of a part held in this role; in any role where absent.
    pub(crate) fn stakes(&self, name: &str, role: Option<PartRole>) -> Stakes {
        let unseen = PartTally::default();
        let part = self.tally.parts.get(name).unwrap_or(&unseen);
        let policy = self.facts.part_policies.get(name);
        let known = Known {
            access: access(part, &self.period),
            part: cost(part, &self.period),
            ..Known::default()
        }
        .or_entered(policy);
        Stakes {
            costs: Costs::new(self.facts, &known, policy),
            missing: known.missing(),
            new_return_share: self.replaced(part, role).posterior.mean(),
        }
    }

    /// As in the advice, where the role is one that advice is given for.
    fn replaced(&self, part: &PartTally, role: Option<PartRole>) -> Belief {
        let cases = |any: bool| {
            cases_of(part, &self.period, Counting::Confirmed, |r, c| {
                c == Choice::Replaced && (any || r == role)
            })
        };
        match role.and_then(HeldRole::of) {
            Some(role) => self.replace_belief(cases(false), cases(true), role),
            None => any_replaced_belief(self.facts, &self.confirmed, cases(true)),
        }
    }
}

/// The uses of one part in one role with one choice.
pub(crate) struct PartUses<'a> {
    pub part: &'a str,
    pub name: &'a str,
    /// Absent where it was not recorded.
    pub role: Option<PartRole>,
    pub choice: Choice,
    cell: &'a Cell,
}

impl PartUses<'_> {
    /// Each with its days to the first confirmed part return.
    pub fn followed(&self) -> impl Iterator<Item = Followed> {
        followed(self.cell, Counting::Confirmed)
    }
}

impl ReuseTally {
    /// Every cell, by part, role and choice.
    pub(crate) fn uses(&self) -> impl Iterator<Item = PartUses<'_>> {
        self.parts.iter().flat_map(|(part, tally)| {
            let name = tally.names.keys().next().map_or(part.as_str(), String::as_str);
            tally.cells.iter().map(move |(&(role, choice), cell)| PartUses {
                part,
                name,
                role,
                choice,
                cell,
            })
        })
    }
}
