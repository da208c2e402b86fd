//! What the week's comebacks cost, by the same rules as the labor report.

use std::collections::{BTreeMap, HashMap};

use serde::Serialize;

use super::weeks::Week;
use crate::comeback::{ComebackLine, LinkedJob};
use crate::follow::date_of;
use crate::history::History;
use crate::labor::{ComebackCost, ComebackJob, ComebackSums, comeback_costs, cost_of};
use crate::select::hyphenated;
use crate::words::LinkState;

/// What one comeback cost.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WeekCostLine {
    pub earlier: LinkedJob,
    pub later: LinkedJob,
    /// Absent while the later job is not handed over.
    pub cost: Option<ComebackCost>,
}

/// What the comebacks of the week cost.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WeekCost {
    /// Of the later jobs handed over by the as-of, each once.
    pub total: ComebackCost,
    /// Later jobs that are not handed over yet: in no amount.
    pub open: i64,
    /// One for each comeback of the week whose vehicle came, in their order.
    pub lines: Vec<WeekCostLine>,
    /// Selects the later jobs handed over.
    pub jobs: String,
}

/// Of the week's comebacks, with payments up to the as-of.
pub(super) fn cost(
    history: &History,
    comebacks: &[ComebackLine],
    week: Week,
    as_of: i32,
) -> WeekCost {
    let facts = history.facts();
    let costs = comeback_costs(history);
    let rows = later_rows(history, week, as_of);
    let of_row = |row: u32| costs.get(&row);
    let cost = |job: &ComebackJob| cost_of(&job.sums, job.paid_back_by(as_of), facts);
    let lines: Vec<WeekCostLine> = comebacks
        .iter()
        .filter_map(|line| Some((line, line.later.clone()?)))
        .map(|(line, later)| WeekCostLine {
            earlier: line.earlier.clone(),
            cost: rows.get(&later.job_id).copied().flatten().and_then(of_row).map(cost),
            later,
        })
        .collect();
    // A job that came back for two others is paid for once.
    let once: BTreeMap<&str, Option<u32>> = lines
        .iter()
        .map(|line| (line.later.job_id.as_str(), rows.get(&line.later.job_id).copied().flatten()))
        .collect();
    let (mut sums, mut paid_back) = (ComebackSums::default(), 0_i64);
    for job in once.values().flatten().filter_map(|row| of_row(*row)) {
        sums += job.sums;
        paid_back = paid_back.saturating_add(job.paid_back_by(as_of));
    }
    WeekCost {
        total: cost_of(&sums, paid_back, facts),
        open: once.values().filter(|row| row.is_none()).count() as i64,
        jobs: format!(
            "first_repair=false&opened_from={}&opened_to={}",
            date_of(week.from),
            date_of(week.to)
        ),
        lines,
    }
}

/// By id, the later jobs of comebacks opened in the week; with the row of those
/// handed over by the as-of.
fn later_rows(history: &History, week: Week, as_of: i32) -> HashMap<String, Option<u32>> {
    let closed_day = history.jobs().closed_day;
    let links = history.links().iter().zip(history.returns().later_opened_day);
    links
        .filter(|(link, opened)| {
            link.state == LinkState::Confirmed && (week.from..=week.to).contains(*opened)
        })
        .map(|(link, _)| {
            let row = history
                .job_row(link.later)
                .filter(|row| closed_day.get(*row as usize).is_some_and(|closed| *closed <= as_of));
            (hyphenated(link.later), row)
        })
        .collect()
}
