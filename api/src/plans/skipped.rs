//! Steps of plans that jobs passed over, over a span of days.

use std::collections::{BTreeMap, HashMap};

use chrono::NaiveDate;
use diesel::prelude::*;

use super::job::{as_now, ends, made};
use super::model::{WholePlan, choose, whole_plans};
use super::walk::{Standing, standings};
use crate::codes::lists::Lists;
use crate::db::schema::{job, repair_order, vehicle};
use crate::db::{Answer, Conn};
use crate::domain::ids::{CheckPlanId, JobId};
use crate::jobs::checks::{self, Check};
use crate::jobs::model::Job;

/// Jobs looked at most: a quarter of a large shop.
const JOBS: i64 = 5000;

/// A job that ended in the span, and its steps that were passed over.
#[derive(Debug, Clone)]
pub struct Passed {
    pub job: JobId,
    pub closed_on: NaiveDate,
    pub plan: CheckPlanId,
    /// Every step: its check, whether it is mandatory, where it stands.
    pub steps: Vec<(String, bool, Standing)>,
}

/// A step, and how often it was passed over among the jobs of its plan.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct StepCount {
    pub mandatory: bool,
    pub skipped: i64,
    pub jobs: i64,
    /// By reason; without one: under the empty text.
    pub reasons: BTreeMap<String, i64>,
}

/// A job with the model and engine of its vehicle and the day it was handed over.
type Closed = (Job, Option<String>, Option<String>, Option<NaiveDate>);

/// The jobs handed over on these days that followed a plan.
///
/// # Errors
/// Where the database does not answer.
pub fn passed(
    conn: &mut Conn,
    shop_id: i32,
    lists: &Lists,
    (from, to): (NaiveDate, NaiveDate),
) -> Answer<Vec<Passed>> {
    let plans = whole_plans(conn, shop_id, true)?;
    let mut by_symptom: HashMap<String, Vec<WholePlan>> = HashMap::new();
    for plan in plans {
        by_symptom.entry(lists.now("symptom", &plan.plan.symptom)).or_default().push(plan);
    }
    if by_symptom.is_empty() {
        return Ok(Vec::new());
    }
    let mut jobs = closed(conn, shop_id, (from, to))?;
    jobs.retain(|(row, ..)| {
        let symptom = row.symptom.as_deref().map(|symptom| lists.now("symptom", symptom));
        symptom.is_some_and(|symptom| by_symptom.contains_key(&symptom))
    });
    let mut checks = checks_of(conn, shop_id, &jobs)?;
    let mut found = Vec::new();
    for (row, model, engine, closed_on) in jobs {
        let symptom = row.symptom.as_deref().map(|symptom| lists.now("symptom", symptom));
        let Some((plans, closed_on)) =
            symptom.and_then(|symptom| by_symptom.get(&symptom)).zip(closed_on)
        else {
            continue;
        };
        let named = (model.as_deref(), engine.as_deref());
        let Some((plan, version)) = choose(plans, named, row.finished_at) else { continue };
        let rows = checks.remove(&row.id).unwrap_or_default();
        found.push(Passed {
            steps: stands(lists, &version.steps, &row, &rows),
            plan: plan.id.clone(),
            job: row.id,
            closed_on,
        });
    }
    Ok(found)
}

/// Jobs whose checks one statement reads.
const AT_ONCE: usize = 500;

fn checks_of(conn: &mut Conn, shop_id: i32, jobs: &[Closed]) -> Answer<HashMap<JobId, Vec<Check>>> {
    let mut by_job: HashMap<JobId, Vec<Check>> = HashMap::new();
    for some in jobs.chunks(AT_ONCE) {
        for check in checks::of_jobs(conn, shop_id, some.iter().map(|(row, ..)| &row.id))? {
            by_job.entry(check.job_id.clone()).or_default().push(check);
        }
    }
    Ok(by_job)
}

fn stands(
    lists: &Lists,
    steps: &[super::step::PlanStep],
    row: &Job,
    rows: &[Check],
) -> Vec<(String, bool, Standing)> {
    let steps = as_now(lists, steps);
    let stand = standings(&steps, &made(lists, rows), ends(row));
    steps.into_iter().zip(stand).map(|(step, at)| (step.check, step.mandatory, at)).collect()
}

fn closed(
    conn: &mut Conn,
    shop_id: i32,
    (from, to): (NaiveDate, NaiveDate),
) -> Answer<Vec<Closed>> {
    Ok(job::table
        .inner_join(
            repair_order::table
                .on(repair_order::shop_id.eq(job::shop_id).and(repair_order::id.eq(job::order_id))),
        )
        .inner_join(
            vehicle::table.on(vehicle::shop_id
                .eq(repair_order::shop_id)
                .and(vehicle::id.eq(repair_order::vehicle_id))),
        )
        .filter(job::shop_id.eq(shop_id).and(job::kind.eq("complaint")))
        .filter(job::symptom.is_not_null().and(job::outcome.is_not_null()))
        .filter(repair_order::status.eq("closed"))
        .filter(repair_order::closed_on.ge(from).and(repair_order::closed_on.le(to)))
        .order((repair_order::closed_on.desc(), job::id))
        .limit(JOBS)
        .select((Job::as_select(), vehicle::model, vehicle::engine, repair_order::closed_on))
        .load(conn)?)
}

/// The steps of each plan with how often they were passed over.
#[must_use]
pub fn counted<'a>(
    jobs: impl Iterator<Item = &'a Passed>,
) -> BTreeMap<(CheckPlanId, String), StepCount> {
    let mut counts: BTreeMap<(CheckPlanId, String), StepCount> = BTreeMap::new();
    for passed in jobs {
        for (check, mandatory, standing) in &passed.steps {
            let count = counts.entry((passed.plan.clone(), check.clone())).or_default();
            count.mandatory = *mandatory;
            count.jobs += 1;
            let reason = match standing {
                Standing::Said(reason) => reason.clone(),
                Standing::PassedOver => String::new(),
                _ => continue,
            };
            count.skipped += 1;
            *count.reasons.entry(reason).or_default() += 1;
        }
    }
    counts
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn made_and_skipped_steps_are_counted_apart() {
        let plan = CheckPlanId::make();
        let passed = |standing: Standing| Passed {
            job: JobId::make(),
            closed_on: NaiveDate::default(),
            plan: plan.clone(),
            steps: vec![("look".to_owned(), true, standing)],
        };
        let jobs = [
            passed(Standing::Made(None)),
            passed(Standing::Said("no tool".into())),
            passed(Standing::PassedOver),
            passed(Standing::Ahead),
        ];
        let counts = counted(jobs.iter());
        let count = counts.get(&(plan, "look".to_owned())).unwrap();
        assert_eq!((count.skipped, count.jobs, count.mandatory), (2, 4, true));
        let reasons: Vec<(&str, i64)> =
            count.reasons.iter().map(|(reason, count)| (reason.as_str(), *count)).collect();
        assert_eq!(reasons, [("", 1), ("no tool", 1)]);
    }
}
