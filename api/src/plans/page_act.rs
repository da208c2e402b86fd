//! The forms of the check plans' pages.

use actix_web::{HttpResponse, body};
use serde_json::Value;

use super::change::{self, NewPlan, NewPlanVersion};
use super::decide::{self, PlanDecision};
use super::model::{self, WholePlan};
use super::page::{PlanAsked, new_view, view};
use super::page_form::{named, steps_of};
use super::page_proposal::with_others;
use super::propose;
use super::step::PlanStep;
use crate::codes::lists::Lists;
use crate::db::Answer;
use crate::domain::ids::{ActionId, CheckPlanId, CheckPlanVersionId};
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader, Tried, mendable, refused};
use crate::web::page::see_other;

type Done = Result<HttpResponse, Problem>;

async fn lists(ctx: &Ctx) -> Result<Lists, Problem> {
    ctx.read(|conn, shop| Lists::load(conn, shop.id)).await
}

fn action_of(fields: &Fields) -> Option<ActionId> {
    fields.text("action_id").as_deref().and_then(ActionId::parse)
}

/// Does a plan's form once, then shows the plan and what was done; or shows it
/// again with what is wrong.
async fn act<F>(
    ctx: &Ctx,
    id: CheckPlanId,
    form: Form<Fields>,
    (name, did): (&'static str, &'static str),
    work: Result<F, Problem>,
    mend: impl FnOnce(Problem) -> Problem,
) -> Done
where
    F: Fn(&mut ShopWrite<'_>) -> Answer<WholePlan> + Send + 'static,
{
    let done = match work {
        Ok(work) => {
            let made = move |write: &mut ShopWrite<'_>| {
                let whole = work(write)?;
                Ok(Made::done(whole.plan.version, whole))
            };
            ctx.once(&form.hash, made).await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => {
            let shop = &ctx.shop()?.code;
            Ok(see_other(&format!("/shops/{shop}/plans/{id}?did={did}#plan")))
        }
        Err(problem) if mendable(&problem) => {
            let problem = mend(problem);
            let tried = Tried { form: name, fields: form.value, problem: problem.clone() };
            refused(&problem, &view(ctx, id, (PlanAsked::default(), Some(tried))).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// The problem with each fault of a step told by the step.
fn mended(problem: Problem, steps: Option<&[PlanStep]>, lists: &Lists) -> Problem {
    match steps {
        Some(steps) => named(problem, steps, lists),
        None => problem,
    }
}

/// Makes a plan: from the form's steps, or the starting plan as it is offered.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn make(mut ctx: Ctx, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    let lists = lists(&ctx).await?;
    let fields = &form.value;
    let steps = match fields.typed("take") {
        "starting" => Ok(None),
        _ => steps_of(fields, &lists).map(Some),
    };
    let sent = steps.as_ref().ok().and_then(Clone::clone);
    let new = steps.map(|steps| NewPlan {
        symptom: fields.typed("symptom").to_owned(),
        model: fields.text("model"),
        engine: fields.text("engine"),
        steps,
        reason: fields.text("reason"),
        action_id: action_of(fields),
    });
    let done = match new {
        Ok(new) => {
            ctx.once(&form.hash, move |write| {
                let whole = change::make(write, &new)?;
                Ok(Made::done(whole.plan.version, whole))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(answer) => made_place(&ctx, answer).await,
        Err(problem) if mendable(&problem) => {
            let problem = mended(problem, sent.as_deref(), &lists);
            let asked = PlanAsked {
                action: action_of(&form.value),
                symptom: form.value.text("symptom"),
                model: form.value.text("model"),
                engine: form.value.text("engine"),
            };
            let tried = Tried { form: "steps", fields: form.value, problem: problem.clone() };
            refused(&problem, &new_view(&ctx, asked, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

async fn made_place(ctx: &Ctx, answer: HttpResponse) -> Done {
    let bytes = body::to_bytes(answer.into_body()).await.unwrap_or_default();
    let made: Option<Value> = serde_json::from_slice(&bytes).ok();
    let id = made.as_ref().and_then(|made| made.get("id")?.as_str()).unwrap_or_default();
    Ok(see_other(&format!("/shops/{}/plans/{id}?did=plan-made", ctx.shop()?.code)))
}

/// Puts another version in force: the form's, or one that was before.
///
/// # Errors
/// Forbidden, not found, or the record does not answer.
pub async fn revise(mut ctx: Ctx, parts: Parts<(String, CheckPlanId)>, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    let id = parts.0.1;
    let lists = lists(&ctx).await?;
    let mut read = Reader::new(&form.value);
    let seen = read.owed("version", |text| text.parse::<i32>().ok());
    let again = form.value.text("again").as_deref().and_then(CheckPlanVersionId::parse);
    if again.is_none() {
        read.require("reason", "say what changes and why");
    }
    let seen = read.finish(seen);
    let steps = match &again {
        Some(_) => Ok(Vec::new()),
        None => steps_of(&form.value, &lists),
    };
    let sent = steps.as_ref().ok().cloned();
    let new = seen.and_then(|seen| steps.map(|steps| (seen, steps)));
    let (reason, action_id) =
        (form.value.text("reason").unwrap_or_default(), action_of(&form.value));
    let plan = id.clone();
    let work = new.map(|(seen, steps)| {
        move |write: &mut ShopWrite<'_>| {
            let new = match &again {
                Some(again) => former(write, &plan, again)?,
                None => NewPlanVersion {
                    steps: steps.clone(),
                    reason: reason.clone(),
                    action_id: action_id.clone(),
                },
            };
            change::revise(write, &plan, seen, &new)
        }
    });
    let mend = |problem| mended(problem, sent.as_deref(), &lists);
    act(&ctx, id, form, ("steps", "plan-revised"), work, mend).await
}

/// A version that was in force before, to be so again.
fn former(
    write: &mut ShopWrite<'_>,
    plan: &CheckPlanId,
    again: &CheckPlanVersionId,
) -> Answer<NewPlanVersion> {
    let whole = model::whole(write.conn, write.shop.id, plan)?;
    let version = whole.versions.into_iter().find(|version| version.id == *again);
    let version = version.ok_or(crate::domain::refusal::Refusal::NotFound)?;
    Ok(NewPlanVersion {
        reason: format!("Version {} again.", version.number),
        steps: version.steps,
        action_id: None,
    })
}

fn seen_in(fields: &Fields) -> Result<i32, Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    read.finish(seen)
}

/// Asks the record for a better order.
///
/// # Errors
/// Forbidden, not found, or the record does not answer.
pub async fn propose(
    mut ctx: Ctx,
    parts: Parts<(String, CheckPlanId)>,
    form: Form<Fields>,
) -> Done {
    ctx.take(&form.value)?;
    let id = parts.0.1;
    let made = match seen_in(&form.value) {
        Ok(seen) => propose::of_record(&ctx, &id).await.map(|made| (seen, made)),
        Err(problem) => Err(problem),
    };
    let plan = id.clone();
    let work = made.map(|(seen, (steps, evidence))| {
        move |write: &mut ShopWrite<'_>| decide::propose(write, &plan, seen, (&steps, &evidence))
    });
    act(&ctx, id, form, ("proposal", "plan-proposed"), work, |problem| problem).await
}

/// Takes a proposal, with the ticked checks beside it, or declines it.
///
/// # Errors
/// Forbidden, not found, or the record does not answer.
pub async fn decide(mut ctx: Ctx, parts: Parts<(String, CheckPlanId)>, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    let id = parts.0.1;
    let mut read = Reader::new(&form.value);
    let seen = read.owed("version", |text| text.parse::<i32>().ok());
    let version = read.owed("proposed", CheckPlanVersionId::parse);
    let accept = read.owed("accept", |text| match text {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    });
    if accept == Some(false) {
        read.require("reason", "say why it is declined");
    }
    let asked = read.finish(seen.zip(version).zip(accept));
    let added = form.value.all("add");
    let (reason, action_id) = (form.value.text("reason"), action_of(&form.value));
    let plan = id.clone();
    let did = if accept == Some(true) { "plan-revised" } else { "plan-declined" };
    let work = asked.map(|((seen, version), accept)| {
        move |write: &mut ShopWrite<'_>| {
            let steps = match accept && !added.is_empty() {
                true => widened(write, (&plan, &version), &added)?,
                false => None,
            };
            let decision = PlanDecision {
                accept,
                reason: reason.clone(),
                steps,
                action_id: action_id.clone(),
            };
            decide::decide(write, (&plan, &version), seen, &decision)
        }
    });
    act(&ctx, id, form, ("proposal", did), work, |problem| problem).await
}

/// The proposed steps with checks beside the plan.
fn widened(
    write: &mut ShopWrite<'_>,
    (plan, version): (&CheckPlanId, &CheckPlanVersionId),
    added: &[String],
) -> Answer<Option<Vec<PlanStep>>> {
    let whole = model::whole(write.conn, write.shop.id, plan)?;
    let proposed = whole.versions.iter().find(|row| row.id == *version);
    Ok(proposed.and_then(|proposed| {
        Some(with_others(&proposed.steps, proposed.evidence.as_ref()?, added))
    }))
}

/// Withdraws a plan.
///
/// # Errors
/// Forbidden, not found, or the record does not answer.
pub async fn withdraw(
    mut ctx: Ctx,
    parts: Parts<(String, CheckPlanId)>,
    form: Form<Fields>,
) -> Done {
    ctx.take(&form.value)?;
    let id = parts.0.1;
    let mut read = Reader::new(&form.value);
    let seen = read.owed("version", |text| text.parse::<i32>().ok());
    read.require("reason", "say why it is withdrawn");
    let seen = read.finish(seen);
    let (plan, reason) = (id.clone(), form.value.text("reason").unwrap_or_default());
    let work = seen
        .map(|seen| move |write: &mut ShopWrite<'_>| change::withdraw(write, &plan, seen, &reason));
    act(&ctx, id, form, ("withdrawal", "plan-withdrawn"), work, |problem| problem).await
}
