//! What comebacks cost, one by one: the labor report, the weekly review and the
//! repeat counts add up the same numbers.

use std::collections::BTreeMap;

use super::report::ComebackCost;
use super::sums::ComebackSums;
use crate::comeback::first_repairs;
use crate::follow::day_number;
use crate::history::{History, NO_NUMBER, ShopFacts};
use crate::words::{Disposition, Payer};

/// What one comeback took, and what suppliers paid back on it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct ComebackJob {
    /// Of this job alone.
    pub sums: ComebackSums,
    /// Day of payment and amount in minor units, in the order of the record.
    pub pay_backs: Vec<(i32, i64)>,
}

/// By the row of the later job, in their order.
pub(crate) type ComebackCosts = BTreeMap<u32, ComebackJob>;

impl ComebackJob {
    /// What suppliers have paid back by a day, in minor units.
    pub fn paid_back_by(&self, day: i32) -> i64 {
        let by_then = self.pay_backs.iter().filter(|(paid, _)| *paid <= day);
        by_then.fold(0, |sum, (_, amount)| sum.saturating_add(*amount))
    }
}

/// What the later jobs of confirmed comebacks took. It knows no as-of: the jobs are
/// closed, and payments carry their day.
pub(crate) fn comeback_costs(history: &History) -> ComebackCosts {
    let first = first_repairs(history);
    // Few jobs are comebacks: all others are passed over without a search.
    let is_comeback = |job: &u32| first.get(*job as usize) == Some(&false);
    let mut costs = taken(history);
    let labor = history.labor();
    let entries = labor.job.iter().zip(labor.minutes);
    for (&job, &clock_minutes) in entries.filter(|(job, _)| is_comeback(job)) {
        add(costs.get_mut(&job), ComebackSums { clock_minutes, ..ComebackSums::default() });
    }
    let parts = history.parts();
    let lines = parts.quantity_hundredths.iter().zip(parts.unit_cost_minor);
    let lines = parts.job.iter().zip(lines).zip(parts.disposition);
    for ((&job, (&quantity, &cost)), &disposition) in lines.filter(|((job, _), _)| is_comeback(job))
    {
        let replaced = Disposition::from_code(disposition).is_some_and(Disposition::is_replaced);
        if replaced && cost != NO_NUMBER {
            let parts_minor = line_cost(quantity, cost);
            add(costs.get_mut(&job), ComebackSums { parts_minor, ..ComebackSums::default() });
        }
    }
    let operations = history.operations();
    let charged = operations.job.iter().zip(operations.labor_amount_minor).zip(operations.payer);
    for ((&job, &amount), &payer) in charged.filter(|((job, _), _)| is_comeback(job)) {
        if payer == Payer::Supplier.code() && amount != NO_NUMBER {
            let paid = ComebackSums { paid_back_minor: amount, ..ComebackSums::default() };
            add(costs.get_mut(&job), paid);
        }
    }
    for paid in history.pay_backs() {
        let job = history.job_row(paid.job).and_then(|row| costs.get_mut(&row));
        if let Some(job) = job {
            job.pay_backs.push((day_number(paid.paid_on), paid.amount_minor));
        }
    }
    costs
}

/// A place for each job that is the later one of a confirmed comeback. What was
/// opened before the hand-over is rework, as everywhere.
fn taken(history: &History) -> ComebackCosts {
    let rows = (0_u32..).zip(first_repairs(history)).zip(history.jobs().sublet_cost_minor);
    rows.filter(|((_, first), _)| !**first)
        .map(|((row, _), &sublet_minor)| {
            let sums = ComebackSums { jobs: 1, sublet_minor, ..ComebackSums::default() };
            (row, ComebackJob { sums, ..ComebackJob::default() })
        })
        .collect()
}

fn add(job: Option<&mut ComebackJob>, more: ComebackSums) {
    if let Some(job) = job {
        job.sums += more;
    }
}

/// The cost of comebacks from their sums, with what suppliers have paid back on
/// them besides the labor they paid for.
pub(crate) fn cost_of(
    sums: &ComebackSums,
    paid_back_minor: i64,
    facts: &ShopFacts,
) -> ComebackCost {
    // Half a minor unit is rounded away from zero, once for the whole sum.
    let labor = sums.clock_minutes as f64 * facts.labor_cost_minor_per_hour as f64 / 60.0;
    let labor_minor = labor.round() as i64;
    // Diagnosis and proof are among the hours on the clock: not counted twice.
    let rest = facts.return_extra_minor.saturating_sub(facts.return_clocked_minor).max(0);
    let extra_minor = sums.jobs.saturating_mul(rest);
    let paid_back_minor = sums.paid_back_minor.saturating_add(paid_back_minor);
    let cost = [sums.parts_minor, sums.sublet_minor, extra_minor]
        .into_iter()
        .fold(labor_minor, i64::saturating_add);
    ComebackCost {
        count: sums.jobs,
        clock_hours: sums.clock_minutes as f64 / 60.0,
        labor_minor: Some(labor_minor),
        parts_minor: Some(sums.parts_minor),
        sublet_minor: Some(sums.sublet_minor),
        extra_minor: Some(extra_minor),
        paid_back_minor: Some(paid_back_minor),
        total_minor: Some(cost.saturating_sub(paid_back_minor)),
        definition: "comeback_cost",
    }
}

/// Cost of so many hundredths of a part; half a minor unit is rounded up, once
/// for the line.
fn line_cost(quantity_hundredths: i64, unit_minor: i64) -> i64 {
    let whole = (i128::from(quantity_hundredths) * i128::from(unit_minor) + 50).div_euclid(100);
    i64::try_from(whole).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 2.5 x 1.99 is 4.975, half up 4.98; 0.33 x 10.00 is 3.30.
    #[test]
    fn a_line_is_rounded_once() {
        assert_eq!(
            (line_cost(250, 199), line_cost(33, 1_000), line_cost(400, 650)),
            (498, 330, 2_600)
        );
    }

    /// By hand: 15.00 by the eighth day, 5.00 more on the tenth.
    #[test]
    fn a_payment_counts_from_its_day() {
        let pay_backs = vec![(8, 1_000), (10, 500), (3, 500)];
        let job = ComebackJob { pay_backs, ..ComebackJob::default() };
        assert_eq!(
            [2, 3, 8, 9, 10].map(|day| job.paid_back_by(day)),
            [0, 500, 1_500, 1_500, 2_000]
        );
    }
}
