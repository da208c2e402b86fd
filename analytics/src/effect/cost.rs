//! What the comebacks of a rule's jobs cost, before and after its start.

use std::collections::BTreeSet;

use serde::Serialize;

use super::report::Spans;
use super::tally::Span;
use crate::comeback::in_population;
use crate::follow::{NEVER, Period, date_of, first_returns};
use crate::history::History;
use crate::labor::{ComebackCost, ComebackCosts, ComebackSums, comeback_costs, cost_of};
use crate::select::{Selector, Term};

/// The comebacks of the jobs closed on one side of the start.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = EffectCostCell))]
pub struct CostCell {
    /// Jobs whose window has ended.
    pub jobs_count: i64,
    /// Of them, those that came back inside it.
    pub returns: i64,
    /// Of these, those without a cost: told, not seen, or not handed over yet.
    pub not_priced: i64,
    /// Of the jobs they came back as, each once.
    pub total: ComebackCost,
    /// For a hundred jobs; absent where there are none.
    pub per_hundred_jobs_minor: Option<f64>,
    /// For each priced comeback; absent where there are none.
    pub per_return_minor: Option<f64>,
    /// Selects the jobs that came back.
    pub jobs: String,
}

/// What the comebacks cost.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EffectCost {
    pub before: CostCell,
    pub after: CostCell,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
}

/// Of the touched jobs of both spans, by the end of the period.
pub(super) fn cost(
    history: &History,
    touched: &[bool],
    (before, after): Spans,
    (period, jobs): (&Period, &Selector),
) -> EffectCost {
    let ground = Ground {
        history,
        touched,
        inside: in_population(history),
        costs: comeback_costs(history),
        period,
        jobs,
    };
    EffectCost { before: ground.cell(before), after: ground.cell(after), definition: "cost" }
}

struct Ground<'a> {
    history: &'a History,
    touched: &'a [bool],
    inside: &'a [bool],
    costs: ComebackCosts,
    period: &'a Period,
    /// Selects the touched jobs.
    jobs: &'a Selector,
}

impl Ground<'_> {
    fn cell(&self, span: Span) -> CostCell {
        let closed_day = self.history.jobs().closed_day;
        let (mut jobs_count, mut returns, mut not_priced) = (0, 0, 0);
        let mut later = BTreeSet::new();
        let rows = closed_day.iter().zip(self.touched.iter().zip(self.inside));
        for ((closed, (touched, inside)), back) in rows.zip(first_returns(self.history)) {
            let counts = *touched && *inside && span.holds(*closed);
            if !counts || !self.period.holds(*closed) || !self.period.window_closed(*closed) {
                continue;
            }
            jobs_count += 1;
            if back.days == NEVER || back.days > self.period.window {
                continue;
            }
            returns += 1;
            let row = back.later(self.history).filter(|row| {
                closed_day.get(*row as usize).is_some_and(|closed| *closed <= self.period.as_of)
            });
            match row {
                Some(row) => drop(later.insert(row)),
                None => not_priced += 1,
            }
        }
        self.priced(span, (jobs_count, returns, not_priced), &later)
    }

    fn priced(
        &self,
        span: Span,
        (jobs_count, returns, not_priced): (i64, i64, i64),
        later: &BTreeSet<u32>,
    ) -> CostCell {
        let (mut sums, mut paid_back) = (ComebackSums::default(), 0_i64);
        let taken = later.iter().filter_map(|row| self.costs.get(row));
        for job in taken {
            sums += job.sums;
            paid_back = paid_back.saturating_add(job.paid_back_by(self.period.as_of));
        }
        let total = cost_of(&sums, paid_back, self.history.facts());
        let minor = total.total_minor.unwrap_or_default() as f64;
        let each = |count: i64| (count > 0).then(|| minor / count as f64);
        let last = span.last.min(self.period.ended().last);
        CostCell {
            per_hundred_jobs_minor: each(jobs_count).map(|one| one * 100.0),
            per_return_minor: each(total.count),
            jobs: self
                .jobs
                .clone()
                .with(Term::ClosedFrom(date_of(span.first)))
                .with(Term::ClosedTo(date_of(last)))
                .with(Term::Returned(true))
                .to_string(),
            jobs_count,
            returns,
            not_priced,
            total,
        }
    }
}
