//! Sums to beliefs: cases with closed windows, priors out of all parts, and
//! medians of times and prices.

use std::collections::BTreeMap;

use super::choice::{Choice, HeldRole};
use super::costs::{Amount, Minutes, Source};
use super::prior::{Pool, Prior};
use super::tally::{Cell, PartTally, ReuseTally, Use};
use crate::counts::Counts;
use crate::follow::{Cases, Followed, Period, closed_cases};
use crate::history::ShopFacts;
use crate::stats::beta::Beta;
use crate::stats::quantile::median;
use crate::words::{Curable, PartRole};

/// Which returns count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Counting {
    Confirmed,
    /// Undecided proposals as if confirmed.
    Possible,
}

impl Counting {
    const fn elapsed(self, part_use: &Use) -> i32 {
        match self {
            Self::Confirmed => part_use.elapsed,
            Self::Possible => part_use.possibly,
        }
    }
}

/// The uses of a cell as followed cases.
pub(super) fn followed(cell: &Cell, counting: Counting) -> impl Iterator<Item = Followed> {
    cell.uses.iter().map(move |(part_use, count)| Followed {
        closed_day: part_use.closed_day,
        elapsed: counting.elapsed(&part_use),
        count,
    })
}

/// Cases of one part with a closed window, over the roles and choices taken.
pub(super) fn cases_of(
    part: &PartTally,
    period: &Period,
    counting: Counting,
    takes: impl Fn(Option<PartRole>, Choice) -> bool,
) -> Cases {
    let cells = part.cells.iter().filter(|((role, choice), _)| takes(*role, *choice));
    closed_cases(cells.flat_map(|(_, cell)| followed(cell, counting)), period)
}

/// What the priors of the shop's parts are made from.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Pools {
    cleaned: BTreeMap<HeldRole, Pool>,
    replaced: BTreeMap<HeldRole, Pool>,
    replaced_in_any_role: Pool,
}

impl Pools {
    pub fn new(tally: &ReuseTally, facts: &ShopFacts, period: &Period, counting: Counting) -> Self {
        let pool = |assumed: f64, role: Option<HeldRole>, choice: Choice| {
            let held = role.map(HeldRole::part_role);
            let takes = |r, c| c == choice && (held.is_none() || r == held);
            let parts: Vec<Cases> =
                tally.parts.values().map(|part| cases_of(part, period, counting, takes)).collect();
            Pool::new(assumed, &parts)
        };
        let by_role = |choice: Choice, assumed: fn(&ShopFacts, HeldRole) -> f64| {
            [HeldRole::Suspect, HeldRole::Bystander]
                .into_iter()
                .map(|role| (role, pool(assumed(facts, role), Some(role), choice)))
                .collect()
        };
        Self {
            cleaned: by_role(Choice::CleanedReused, |facts, role| {
                assumed_cleaned(facts, role, 0.0)
            }),
            replaced: by_role(Choice::Replaced, |facts, _| facts.assumed_replaced),
            replaced_in_any_role: pool(facts.assumed_replaced, None, Choice::Replaced),
        }
    }
}

/// The shop's starting assumption for a cleaned part; `tested` is the share of
/// such parts that passed a bench test.
fn assumed_cleaned(facts: &ShopFacts, role: HeldRole, tested: f64) -> f64 {
    match role {
        HeldRole::Suspect => facts.assumed_cleaned_suspect,
        HeldRole::Bystander => {
            tested * facts.assumed_bystander_tested
                + (1.0 - tested) * facts.assumed_bystander_untested
        }
    }
}

/// A belief about a return share with what it was made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Belief {
    pub own: Cases,
    pub assumed: f64,
    pub prior: Prior,
    pub posterior: Beta,
    /// Replaced in any role, because none was replaced in this one.
    pub all_roles: bool,
}

/// What is believed of a cleaned part.
pub(super) fn clean_belief(
    facts: &ShopFacts,
    pools: &Pools,
    own: Cases,
    role: HeldRole,
    tested: f64,
) -> Belief {
    let assumed = assumed_cleaned(facts, role, tested);
    belief(assumed, pools.cleaned.get(&role), own, false)
}

/// What is believed of a replaced part: from those replaced in the same role,
/// else from all replaced.
pub(super) fn replace_belief(
    facts: &ShopFacts,
    pools: &Pools,
    same_role: Cases,
    all: Cases,
    role: HeldRole,
) -> Belief {
    let assumed = facts.assumed_replaced;
    if same_role.cases == 0 && all.cases > 0 {
        belief(assumed, Some(&pools.replaced_in_any_role), all, true)
    } else {
        belief(assumed, pools.replaced.get(&role), same_role, false)
    }
}

/// What is believed of a replaced part, whatever it was held as.
pub(super) fn any_replaced_belief(facts: &ShopFacts, pools: &Pools, all: Cases) -> Belief {
    belief(facts.assumed_replaced, Some(&pools.replaced_in_any_role), all, true)
}

fn belief(assumed: f64, pool: Option<&Pool>, own: Cases, all_roles: bool) -> Belief {
    let prior = pool.copied().unwrap_or_default().prior(assumed);
    Belief { own, assumed, prior, posterior: prior.posterior(own), all_roles }
}

/// Of the cleaned parts in this role, the share with a bench reading; `None`
/// where none was cleaned.
pub(super) fn tested_share(part: &PartTally, period: &Period, role: HeldRole) -> Option<f64> {
    let cell = part.cells.get(&(Some(role.part_role()), Choice::CleanedReused))?;
    let within = |day: i32, count: i64| if period.holds(day) { count } else { 0 };
    let uses: i64 = cell.uses.iter().map(|(part_use, n)| within(part_use.closed_day, n)).sum();
    let tested: i64 = cell.tested.iter().map(|(day, n)| within(day, n)).sum();
    (uses > 0).then(|| tested as f64 / uses as f64)
}

/// Proposed part returns nobody has decided, that have happened by the as-of.
pub(super) fn waiting(part: &PartTally, period: &Period, role: HeldRole) -> i64 {
    part.cells
        .iter()
        .filter(|((held, _), _)| *held == Some(role.part_role()))
        .flat_map(|(_, cell)| cell.uses.iter())
        .filter(|(part_use, _)| {
            period.holds(part_use.closed_day)
                && part_use.possibly < part_use.elapsed
                && period.returned(part_use.closed_day, part_use.possibly).is_some()
        })
        .map(|(_, count)| count)
        .sum()
}

/// Confirmed causes of the jobs that held the part for the suspect: all with a
/// known curability, and those that cleaning cannot cure.
pub(super) fn causes(part: &PartTally, period: &Period) -> (i64, i64) {
    part.causes.iter().filter(|((day, _), _)| period.holds(*day)).fold(
        (0, 0),
        |(all, incurable), ((_, curable), count)| {
            (all + count, incurable + if curable == Curable::No { count } else { 0 })
        },
    )
}

/// Median access and reassembly of the jobs with the part.
pub(super) fn access(part: &PartTally, period: &Period) -> Option<Minutes> {
    let (minutes, jobs) = recorded_median(&part.access, period)?;
    Some(Minutes { minutes, source: Source::Record, jobs: Some(jobs) })
}

/// Median cost of the replaced parts.
pub(super) fn cost(part: &PartTally, period: &Period) -> Option<Amount> {
    let (minor, uses) = recorded_median(&part.costs, period)?;
    Some(Amount { minor, source: Source::Record, uses: Some(uses) })
}

fn recorded_median(values: &Counts<(i32, i64)>, period: &Period) -> Option<(f64, i64)> {
    let mut histogram: BTreeMap<i64, i64> = BTreeMap::new();
    for ((day, value), count) in values.iter() {
        if period.holds(day) {
            *histogram.entry(value).or_default() += count;
        }
    }
    Some((median(&histogram)?, histogram.values().sum()))
}
