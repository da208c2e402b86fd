//! What the record proposes for a plan.

use actix_web::web;
use analytics::figure::Query;
use analytics::path::{MinutesFrom, OrderMethod, PlanAsked, PlanOrder, PlanStepAsked, plan_order};

use super::evidence::{PlanCheckEvidence, PlanEvidence};
use super::job::as_now;
use super::model::{self, WholePlan};
use super::step::PlanStep;
use crate::codes::lists::Lists;
use crate::db::Fault;
use crate::domain::ids::CheckPlanId;
use crate::domain::refusal::Refusal;
use crate::problem::{Kind, Problem};
use crate::web::ctx::Ctx;

/// A better order of the plan's own steps, and what it was made from: up to the
/// last day that is over.
///
/// # Errors
/// Not found; a conflict where the plan is withdrawn; the record does not
/// answer.
pub async fn of_record(
    ctx: &Ctx,
    id: &CheckPlanId,
) -> Result<(Vec<PlanStep>, PlanEvidence), Problem> {
    let _turn = ctx
        .app
        .counting
        .acquire()
        .await
        .map_err(|_| Problem::new(Kind::UNAVAILABLE, "the server is stopping"))?;
    let (db, live, shop) = (ctx.db(), ctx.app.live.clone(), ctx.shop()?.clone());
    let (id, now) = (id.clone(), ctx.now);
    let made = web::block(move || {
        let (whole, lists) =
            db.read(|conn| Ok((model::whole(conn, shop.id, &id)?, Lists::load(conn, shop.id)?)))?;
        let Some((asked, steps)) = asked(&whole, &lists) else {
            return Err(Refusal::Conflict("the plan is withdrawn: make a new one".into()).into());
        };
        let yesterday = shop.zone().day(now).pred_opt().unwrap_or_default();
        let query = Query { as_of: yesterday, from: None, to: None, window_days: None, by: None };
        let order = live.with(&db, &shop, |history| plan_order(history, &query, &asked))?;
        Ok::<_, Fault>((ordered(&steps, &order.order), evidence(&order)))
    })
    .await??;
    Ok(made)
}

/// The question of the version in force, and its steps under the codes that they
/// count as now.
fn asked(whole: &WholePlan, lists: &Lists) -> Option<(PlanAsked, Vec<PlanStep>)> {
    let version = whole.in_force()?;
    let steps = as_now(lists, &version.steps);
    let step = |step: &PlanStep| PlanStepAsked {
        check: step.check.clone(),
        minutes: step.minutes.map(f64::from),
        mandatory: step.mandatory,
        after: step.after.clone(),
        opening: step
            .opening
            .as_ref()
            .map(|opening| (opening.name.clone(), f64::from(opening.minutes))),
    };
    let asked = PlanAsked {
        symptom: lists.now("symptom", &whole.plan.symptom),
        model: whole.plan.model.clone(),
        engine: whole.plan.engine.clone(),
        steps: steps.iter().map(step).collect(),
    };
    Some((asked, steps))
}

/// The steps in that order.
#[must_use]
pub fn ordered(steps: &[PlanStep], order: &[String]) -> Vec<PlanStep> {
    let step = |check: &String| steps.iter().find(|step| step.check == *check).cloned();
    order.iter().filter_map(step).collect()
}

fn evidence(order: &PlanOrder) -> PlanEvidence {
    let saved = order.saved.as_ref();
    let interval = saved.and_then(|saved| saved.interval.as_ref());
    let method = match order.method {
        Some(OrderMethod::RatioRule) => "ratio_rule",
        Some(OrderMethod::EveryOrder) => "every_order",
        Some(OrderMethod::Greedy) | None => "greedy",
    };
    PlanEvidence {
        as_of: order.as_of,
        change_no: order.change_no,
        count: order.count,
        confirmed: order.confirmed,
        too_few: order.too_few,
        found_otherwise: order.found_otherwise,
        minutes_before: order.minutes_before,
        minutes_after: order.minutes_after,
        saved: saved.map(|saved| saved.minutes),
        saved_low: interval.map(|interval| interval.low),
        saved_high: interval.map(|interval| interval.high),
        method: method.to_owned(),
        checks: order
            .checks
            .iter()
            .map(|line| PlanCheckEvidence {
                check: line.check.clone(),
                done: line.done,
                found: line.found,
                chance: line.chance,
                minutes: line.minutes,
                minutes_from: match (line.minutes, line.minutes_from) {
                    (None, _) => None,
                    (Some(_), None) => Some("plan".to_owned()),
                    (Some(_), Some(MinutesFrom::Symptom)) => Some("symptom".to_owned()),
                    (Some(_), Some(MinutesFrom::Shop)) => Some("shop".to_owned()),
                    (Some(_), Some(MinutesFrom::List)) => Some("list".to_owned()),
                },
                in_plan: line.in_plan,
            })
            .collect(),
        order_with_others: order.with_others.clone(),
        definition: analytics::path::PLAN_ORDER_DEFINITION.to_owned(),
        jobs: order.jobs.clone(),
    }
}
