//! The steps of check plans that were passed over, as the weekly review shows
//! them: how often, why, and what it went with.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use analytics::figure::Share;
use analytics::path::{PathReport, StepSkips};
use chrono::{Days, NaiveDate};

use super::model;
use super::skipped::{self, Passed, StepCount};
use super::walk::Standing;
use crate::domain::ids::CheckPlanId;
use crate::domain::percent::{percent, percents};
use crate::jobs::brief;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::reports::http::make;
use crate::reports::query::{Report, ReportName, ReportQuery};
use crate::web::ctx::Ctx;
use crate::web::words::counted;

/// Days before the week that count with it: 13 weeks in all.
const QUARTER_DAYS: u64 = 84;
/// Lines at most.
const LINES: usize = 12;

/// A step that was passed over.
pub struct SkipLine {
    pub step: String,
    pub mandatory: bool,
    pub symptom: String,
    /// Id of its plan.
    pub plan: String,
    pub week: String,
    pub quarter: String,
    pub reasons: String,
    pub went: String,
}

/// A job on which nobody said why.
pub struct UnsaidJob {
    pub id: String,
    pub number: String,
    pub vehicle: String,
    pub steps: String,
}

/// What the week's page shows.
#[derive(Default)]
pub struct WeekSkips {
    pub lines: Vec<SkipLine>,
    pub unsaid: Vec<UnsaidJob>,
}

/// A plan's symptom, under the code that counts now, its model and its engine.
type Narrow = (String, Option<String>, Option<String>);

/// A step of a plan in both spans.
struct Counted {
    plan: CheckPlanId,
    narrow: Narrow,
    check: String,
    label: String,
    symptom: String,
    week: StepCount,
    quarter: StepCount,
}

/// Reads it, in one look at the record; then asks the report what skipping went
/// with, where anything was skipped.
///
/// # Errors
/// Where the record does not answer.
pub async fn read(
    ctx: &Ctx,
    as_of: NaiveDate,
    (first, last): (NaiveDate, NaiveDate),
) -> Result<WeekSkips, Problem> {
    let now = ctx.now;
    let from = first.checked_sub_days(Days::new(QUARTER_DAYS)).unwrap_or(first);
    let (counted, unsaid) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let passed = skipped::passed(conn, shop.id, &words.lists, (from, last))?;
            let plans = model::plans(conn, shop.id, true)?;
            let narrow: BTreeMap<CheckPlanId, Narrow> = plans
                .into_iter()
                .map(|plan| {
                    let symptom = words.lists.now("symptom", &plan.symptom);
                    (plan.id, (symptom, plan.model, plan.engine))
                })
                .collect();
            let mut unsaid = Vec::new();
            for one in passed.iter().filter(|one| one.closed_on >= first) {
                let steps = unsaid_steps(one, &words);
                if !steps.is_empty() && unsaid.len() < LINES {
                    let job = brief::of(conn, shop.id, &one.job)?;
                    unsaid.push(UnsaidJob {
                        id: one.job.to_string(),
                        number: job.number(),
                        vehicle: job.vehicle.label(),
                        steps: steps.join("; "),
                    });
                }
            }
            Ok((most(&passed, first, &narrow, &words), unsaid))
        })
        .await?;
    if counted.is_empty() {
        return Ok(WeekSkips { lines: Vec::new(), unsaid });
    }
    let query = ReportQuery { as_of: Some(as_of.to_string()), ..ReportQuery::default() };
    let report = match make(ctx, ReportName::Paths, query).await? {
        Report::Paths(report) => Some(report),
        _ => None,
    };
    Ok(WeekSkips { lines: counted.iter().map(|one| line(one, report.as_ref())).collect(), unsaid })
}

fn unsaid_steps(passed: &Passed, words: &Words) -> Vec<String> {
    let unsaid = passed.steps.iter().filter(|(.., at)| *at == Standing::PassedOver);
    unsaid.map(|(check, ..)| words.lists.label("check", check)).collect()
}

/// The steps passed over most: in the week, then in the quarter.
fn most(
    passed: &[Passed],
    first: NaiveDate,
    narrow: &BTreeMap<CheckPlanId, Narrow>,
    words: &Words,
) -> Vec<Counted> {
    let mut week = skipped::counted(passed.iter().filter(|one| one.closed_on >= first));
    let mut found: Vec<Counted> = skipped::counted(passed.iter())
        .into_iter()
        .filter(|(_, quarter)| quarter.skipped > 0)
        .filter_map(|((plan, check), quarter)| {
            let named = narrow.get(&plan)?.clone();
            Some(Counted {
                label: words.lists.label("check", &check),
                symptom: words.lists.label("symptom", &named.0),
                narrow: named,
                week: week.remove(&(plan.clone(), check.clone())).unwrap_or_default(),
                plan,
                check,
                quarter,
            })
        })
        .collect();
    found.sort_by_key(|one| (Reverse(one.week.skipped), Reverse(one.quarter.skipped)));
    found.truncate(LINES);
    found
}

fn line(one: &Counted, report: Option<&PathReport>) -> SkipLine {
    let plan = report.and_then(|report| {
        let (symptom, model, engine) = &one.narrow;
        report
            .plans
            .iter()
            .find(|plan| plan.symptom == *symptom && plan.model == *model && plan.engine == *engine)
    });
    let step = plan.map(|plan| plan.steps.iter().find(|step| step.check == one.check));
    SkipLine {
        step: one.label.clone(),
        mandatory: one.quarter.mandatory,
        symptom: one.symptom.clone(),
        plan: one.plan.to_string(),
        week: of_jobs(&one.week),
        quarter: of_jobs(&one.quarter),
        reasons: reasons(&one.quarter),
        went: match step {
            Some(Some(step)) => went(step),
            Some(None) => "no longer a step of the plan".to_owned(),
            None => "nothing to compare yet".to_owned(),
        },
    }
}

fn of_jobs(count: &StepCount) -> String {
    match count.jobs {
        0 => "no job".to_owned(),
        jobs => format!("{} of {}", count.skipped, counted(jobs, "job", "jobs")),
    }
}

fn reasons(count: &StepCount) -> String {
    let mut reasons: Vec<(&String, i64)> =
        count.reasons.iter().map(|(reason, times)| (reason, *times)).collect();
    reasons.sort_by_key(|(_, times)| Reverse(*times));
    let told = reasons.into_iter().map(|(reason, times)| match reason.as_str() {
        "" => format!("nothing said {times}"),
        reason => format!("{reason} {times}"),
    });
    told.collect::<Vec<_>>().join(", ")
}

/// What skipping a step went with: a sentence for each side, or that there are
/// too few.
fn went(step: &StepSkips) -> String {
    if step.too_few {
        return format!(
            "too few to compare: {} made it, {} did not",
            step.made.count, step.skipped.count
        );
    }
    let side = |count: i64, median: Option<f64>, share: &Share| {
        let minutes = median
            .map_or("minutes not measured".to_owned(), |m| format!("{m:.0} min to the cause"));
        let back = match (share.share, &share.interval) {
            (Some(share), Some(interval)) => {
                format!("{} back ({})", percent(share), percents(interval.low, interval.high))
            }
            (Some(share), None) => format!("{} back", percent(share)),
            (None, _) => "nothing to say of comebacks yet".to_owned(),
        };
        format!("{}: {minutes}, {back}", counted(count, "job", "jobs"))
    };
    let made = side(step.made.count, step.made_to_cause.median, &step.made.comebacks);
    let skipped = side(step.skipped.count, step.skipped_to_cause.median, &step.skipped.comebacks);
    format!("Skipped, {skipped}. Made, {made}.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reasons_are_told_most_frequent_first() {
        let count = StepCount {
            skipped: 6,
            jobs: 20,
            reasons: BTreeMap::from([
                (String::new(), 1),
                ("forgot".to_owned(), 2),
                ("no tool".to_owned(), 3),
            ]),
            ..StepCount::default()
        };
        assert_eq!(reasons(&count), "no tool 3, forgot 2, nothing said 1");
        assert_eq!(of_jobs(&count), "6 of 20 jobs");
        assert_eq!(of_jobs(&StepCount::default()), "no job");
    }
}
