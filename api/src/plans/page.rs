//! One check plan as a page, with its versions, and the form of a new one.

use actix_web::HttpResponse;
use askama::Template;
use serde::Deserialize;

use super::model::{self, PlanVersion, WholePlan};
use super::page_form::{self, StepRow};
use super::page_job::{ToldStep, whom};
use super::page_proposal::ToldProposal;
use super::starting;
use super::step::PlanStep;
use crate::domain::ids::{ActionId, CheckPlanId};
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::web::body::{Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried};
use crate::web::notice::Notice;
use crate::web::page::{self, Viewer};
use crate::web::words::{Pick, PickGroup};

/// A version in the list of versions.
pub struct VersionLine {
    pub id: String,
    pub number: i32,
    pub state: &'static str,
    pub origin: &'static str,
    pub made: String,
    pub decided: Option<String>,
    pub reason: Option<String>,
    pub steps: Vec<String>,
    /// It was in force before, and may be again.
    pub again: bool,
}

fn version_line(version: &PlanVersion, words: &Words, live: bool) -> VersionLine {
    let by = |who: &Option<_>| words.name(who.as_ref()).map(|who| format!(", by {who}"));
    let made = words.moment(version.made_at);
    VersionLine {
        id: version.id.to_string(),
        number: version.number,
        state: match version.state.as_str() {
            "proposed" => "waits for a decision",
            "in_force" => "in force",
            "declined" => "declined",
            _ => "replaced",
        },
        origin: match version.origin.as_str() {
            "starting" => "starting plan",
            "record" => "proposed by the record",
            _ => "the shop's own",
        },
        made: format!("{made}{}", by(&version.person_id).unwrap_or_default()),
        decided: version.decided_at.filter(|at| *at != version.made_at).map(|at| {
            format!("{}{}", words.moment(at), by(&version.decided_by).unwrap_or_default())
        }),
        reason: version.reason.clone(),
        steps: version.steps.iter().map(|s| words.lists.label("check", &s.check)).collect(),
        again: live && version.state == "replaced",
    }
}

/// Choices and rows of the form of a plan's steps.
pub struct StepsForm {
    pub rows: Vec<StepRow>,
    pub checks: Vec<PickGroup>,
    pub causes: Vec<Pick>,
    /// The plan's own checks.
    pub own: Vec<Pick>,
}

impl StepsForm {
    fn of(fields: &Fields, words: &Words) -> Self {
        let rows = page_form::rows(fields, &words.lists);
        Self {
            checks: words.lists.usual_first("check", &[]),
            causes: words.lists.picks("cause"),
            own: page_form::checks_of(&rows),
            rows,
        }
    }
}

/// What a plan's address may carry.
#[derive(Debug, Clone, Default, Deserialize)]
pub struct PlanAsked {
    /// The corrective action that the change answers.
    pub action: Option<ActionId>,
    pub symptom: Option<String>,
    pub model: Option<String>,
    pub engine: Option<String>,
}

#[derive(Template)]
#[template(path = "plan.html")]
pub struct PlanPage {
    viewer: Viewer,
    shop: String,
    notice: Option<Notice>,
    id: String,
    symptom: String,
    whom: String,
    version: i32,
    /// Absent where it is withdrawn.
    number: Option<i32>,
    origin: &'static str,
    basis: Option<&'static str>,
    withdrawn: Option<String>,
    steps: Vec<ToldStep>,
    versions: Vec<VersionLine>,
    proposal: Option<ToldProposal>,
    steps_form: StepsForm,
    action: String,
    tried: Option<Tried>,
}

impl PlanPage {
    fn form(&self, name: &str) -> FormView {
        FormView::of(name, self.tried.as_ref(), Fields::default())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }

    /// The page's own address.
    fn base(&self) -> String {
        format!("/shops/{}/plans/{}", self.shop, self.id)
    }

    fn writes(&self) -> bool {
        self.viewer.writes_rules && self.number.is_some()
    }
}

/// What was just done to the plan, with the way back to the version before.
fn notice(ctx: &Ctx, whole: &WholePlan) -> Option<Notice> {
    let text = match ctx.did.as_ref()?.word.as_str() {
        "plan-made" => "The plan is in force.",
        "plan-revised" => "The new version is in force.",
        "plan-proposed" => return Some(Notice::plain("The record's proposal is below.")),
        "plan-declined" => return Some(Notice::plain("The proposal is declined.")),
        "plan-withdrawn" => return Some(Notice::plain("The plan is withdrawn.")),
        _ => return None,
    };
    let before = whole.versions.iter().find(|version| version.state == "replaced");
    let said = Notice::plain(text);
    let (Some(before), true) = (before, Viewer::of(ctx).writes_rules) else { return Some(said) };
    let shop = ctx.shop().ok()?.code.clone();
    let place = format!("/shops/{shop}/plans/{}/versions", whole.plan.id);
    Some(
        said.undo("Put the version before back", place)
            .with("version", whole.plan.version.to_string())
            .with("again", before.id.to_string()),
    )
}

/// The page of a plan, with a form that was refused where one was.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn view(
    ctx: &Ctx,
    id: CheckPlanId,
    (asked, tried): (PlanAsked, Option<Tried>),
) -> Result<PlanPage, Problem> {
    let now = ctx.now;
    let (words, whole) = ctx
        .read(move |conn, shop| {
            Ok((Words::load(conn, shop, now)?, model::whole(conn, shop.id, &id)?))
        })
        .await?;
    let (plan, version) = (&whole.plan, whole.in_force());
    let shown = version.or(whole.versions.first());
    let steps: &[PlanStep] = shown.map_or(&[], |version| &version.steps);
    let typed = tried.as_ref().filter(|tried| tried.form == "steps");
    let fields = typed
        .map_or_else(|| page_form::fields_of(steps, &words.lists), |tried| tried.fields.clone());
    let live = plan.withdrawn_at.is_none();
    let starting = shown.is_some_and(|version| version.origin == "starting");
    let action = asked.action.map(|action| action.to_string()).or_else(|| {
        let typed = tried.as_ref().map(|tried| tried.fields.typed("action_id").to_owned());
        typed.filter(|typed| !typed.is_empty())
    });
    let lines = whole.versions.iter().map(|version| version_line(version, &words, live));
    Ok(PlanPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        notice: notice(ctx, &whole),
        id: plan.id.to_string(),
        symptom: words.lists.label("symptom", &plan.symptom),
        whom: whom(plan.model.as_deref(), plan.engine.as_deref()),
        version: plan.version,
        number: version.map(|version| version.number),
        origin: match shown.map(|version| version.origin.as_str()) {
            Some("starting") => "the starting plan, as it was offered",
            Some("record") => "taken from the record's proposal",
            _ => "the shop's own",
        },
        basis: starting::of(&plan.symptom).filter(|_| starting).map(|plan| plan.basis),
        withdrawn: plan.withdrawn_reason.clone(),
        steps: steps.iter().map(|step| ToldStep::of(step, &words.lists)).collect(),
        versions: lines.collect(),
        proposal: whole.proposed().and_then(|proposed| ToldProposal::of(proposed, steps, &words)),
        steps_form: StepsForm::of(&fields, &words),
        action: action.unwrap_or_default(),
        tried,
    })
}

/// One plan.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn plan(
    ctx: Ctx,
    parts: Parts<(String, CheckPlanId)>,
    asked: Params<PlanAsked>,
) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, parts.0.1, (asked.0, None)).await?)
}

#[derive(Template)]
#[template(path = "plan_new.html")]
pub struct NewPlanPage {
    viewer: Viewer,
    shop: String,
    symptom: String,
    label: String,
    whom: String,
    model: String,
    engine: String,
    basis: Option<&'static str>,
    steps_form: StepsForm,
    action: String,
    tried: Option<Tried>,
}

impl NewPlanPage {
    fn form(&self, name: &str) -> FormView {
        FormView::of(name, self.tried.as_ref(), Fields::default())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        "steps"
    }
}

fn given(text: Option<&str>) -> Option<String> {
    text.map(str::trim).filter(|text| !text.is_empty()).map(str::to_owned)
}

/// The form of a new plan: filled with what its vehicles follow now, else with
/// what is offered at first.
///
/// # Errors
/// The record does not answer.
pub async fn new_view(
    ctx: &Ctx,
    asked: PlanAsked,
    tried: Option<Tried>,
) -> Result<NewPlanPage, Problem> {
    let now = ctx.now;
    let (model, engine) = (given(asked.model.as_deref()), given(asked.engine.as_deref()));
    let symptom = given(asked.symptom.as_deref()).unwrap_or_default();
    let (code, own_model, own_engine) = (symptom.clone(), model.clone(), engine.clone());
    let (words, followed) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let (model, engine) = (own_model.as_deref(), own_engine.as_deref());
            Ok((words, model::in_force(conn, shop.id, &code, model, engine)?))
        })
        .await?;
    let offered = starting::of(&symptom);
    let steps = match (&followed, offered) {
        (Some(followed), _) => followed.version.steps.clone(),
        (None, Some(offered)) => offered.steps(),
        (None, None) => Vec::new(),
    };
    let fields = tried
        .as_ref()
        .map_or_else(|| page_form::fields_of(&steps, &words.lists), |tried| tried.fields.clone());
    Ok(NewPlanPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        label: words.lists.label("symptom", &symptom),
        whom: whom(model.as_deref(), engine.as_deref()),
        symptom,
        model: model.unwrap_or_default(),
        engine: engine.unwrap_or_default(),
        basis: offered.filter(|_| followed.is_none()).map(|offered| offered.basis),
        steps_form: StepsForm::of(&fields, &words),
        action: asked.action.map(|action| action.to_string()).unwrap_or_default(),
        tried,
    })
}

/// A new plan, to be written.
///
/// # Errors
/// The record does not answer.
pub async fn new(ctx: Ctx, asked: Params<PlanAsked>) -> Result<HttpResponse, Problem> {
    page::html(&new_view(&ctx, asked.0, None).await?)
}
