//! The shop's check plans as a page, and those that are offered at first.

use actix_web::HttpResponse;
use askama::Template;

use super::model::{self, WholePlan};
use super::page_job::{ToldStep, whom};
use super::starting;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::web::body::Parts;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView};
use crate::web::notice::{self, Notice};
use crate::web::page::{self, Viewer};
use crate::web::words::{Pick, PickGroup, counted};

/// A plan in the list.
struct PlanLine {
    id: String,
    symptom: String,
    whom: String,
    steps: String,
    since: String,
    waiting: bool,
}

/// A plan that is offered.
struct OfferLine {
    code: String,
    symptom: String,
    steps: String,
}

#[derive(Template)]
#[template(path = "plans.html")]
struct PlansPage {
    viewer: Viewer,
    shop: String,
    notice: Option<Notice>,
    plans: Vec<PlanLine>,
    offers: Vec<OfferLine>,
    /// Symptoms with neither.
    bare: Vec<Pick>,
    symptoms: Vec<PickGroup>,
    withdrawn: Vec<PlanLine>,
}

impl PlansPage {
    fn form(&self) -> FormView {
        FormView::of("new", None, Fields::default())
    }
}

fn steps_told(steps: usize) -> String {
    counted(i64::try_from(steps).unwrap_or(i64::MAX), "step", "steps")
}

fn line(whole: &WholePlan, words: &Words) -> PlanLine {
    let plan = &whole.plan;
    let version = whole.in_force();
    PlanLine {
        id: plan.id.to_string(),
        symptom: words.lists.label("symptom", &plan.symptom),
        whom: whom(plan.model.as_deref(), plan.engine.as_deref()),
        steps: version.map(|version| steps_told(version.steps.len())).unwrap_or_default(),
        since: match (plan.withdrawn_at, version.and_then(|version| version.from_at)) {
            (Some(at), _) => format!("withdrawn {}", words.moment(at)),
            (None, Some(at)) => format!("since {}", words.moment(at)),
            (None, None) => String::new(),
        },
        waiting: whole.proposed().is_some(),
    }
}

fn listed(ctx: &Ctx, words: &Words, all: &[WholePlan]) -> PlansPage {
    let (withdrawn, live): (Vec<&WholePlan>, Vec<&WholePlan>) =
        all.iter().partition(|whole| whole.plan.withdrawn_at.is_some());
    let has = |symptom: &str| {
        live.iter().any(|whole| words.lists.now("symptom", &whole.plan.symptom) == symptom)
    };
    let offers = starting::all()
        .into_iter()
        .filter(|plan| words.lists.offers("symptom", plan.symptom) && !has(plan.symptom));
    let offers: Vec<OfferLine> = offers
        .map(|plan| OfferLine {
            code: plan.symptom.to_owned(),
            symptom: words.lists.label("symptom", plan.symptom),
            steps: steps_told(plan.steps().len()),
        })
        .collect();
    let mut bare = words.lists.picks("symptom");
    bare.retain(|pick| !has(&pick.value) && starting::of(&pick.value).is_none());
    let mut plans: Vec<PlanLine> = live.iter().map(|whole| line(whole, words)).collect();
    plans.sort_by(|a, b| (&a.symptom, &a.whom).cmp(&(&b.symptom, &b.whom)));
    PlansPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        notice: notice::of_query(ctx.did.as_ref().map(|did| did.word.as_str())),
        plans,
        offers,
        bare,
        symptoms: words.lists.symptoms(),
        withdrawn: withdrawn.iter().map(|whole| line(whole, words)).collect(),
    }
}

/// The shop's check plans.
///
/// # Errors
/// The record does not answer.
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let now = ctx.now;
    let (words, all) = ctx
        .read(move |conn, shop| {
            Ok((Words::load(conn, shop, now)?, model::whole_plans(conn, shop.id, true)?))
        })
        .await?;
    page::html(&listed(&ctx, &words, &all))
}

#[derive(Template)]
#[template(path = "plan_starting.html")]
struct StartingPage {
    viewer: Viewer,
    shop: String,
    code: String,
    symptom: String,
    basis: &'static str,
    steps: Vec<ToldStep>,
    /// The shop has a plan for all vehicles already.
    taken: Option<String>,
}

impl StartingPage {
    fn form(&self) -> FormView {
        FormView::of("take", None, Fields::default())
    }
}

/// A plan that is offered at first.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn offered(ctx: Ctx, parts: Parts<(String, String)>) -> Result<HttpResponse, Problem> {
    let offered = starting::of(&parts.0.1).ok_or_else(Problem::not_found)?;
    let now = ctx.now;
    let (words, followed) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            Ok((words, model::in_force(conn, shop.id, offered.symptom, None, None)?))
        })
        .await?;
    page::html(&StartingPage {
        viewer: Viewer::of(&ctx),
        shop: words.shop.code.clone(),
        code: offered.symptom.to_owned(),
        symptom: words.lists.label("symptom", offered.symptom),
        basis: offered.basis,
        steps: offered.steps().iter().map(|step| ToldStep::of_offer(step, &words.lists)).collect(),
        taken: followed.map(|followed| followed.plan.id.to_string()),
    })
}
