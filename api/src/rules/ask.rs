//! What the record says of rules: asked of the shop's history, off the async
//! threads.

use analytics::effect::{
    Evidence, ReviewPlan, RuleCompliance, RuleSelectors, RuleSpan, compliance, evidence,
    plan_review,
};
use analytics::history::History;
use analytics::words::RuleKind;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::decide::{self, Says};
use super::model::{self, NewRule, ShopRule, State};
use super::told;
use crate::codes::lists::Lists;
use crate::db::{Answer, Conn, Fault};
use crate::domain::ids::{ActionId, PersonId, RuleId};
use crate::plans::model as plans;
use crate::problem::{Kind, Problem};
use crate::shops::model::Shop;
use crate::web::ctx::Ctx;

/// A rule to be taken. What it is taken on is read from the record as it stands;
/// words take its place where they are given.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleTaken {
    pub kind: RuleKind,
    pub title: String,
    pub words: String,
    pub symptom: Option<String>,
    /// Part number, else name.
    pub part: Option<String>,
    /// Code of a check; of a limit also the name of a reading taken before a
    /// vehicle leaves.
    pub check: Option<String>,
    /// Unit of the reading (UCUM).
    pub unit: Option<String>,
    pub low_limit: Option<f64>,
    pub high_limit: Option<f64>,
    pub limit_source: Option<String>,
    /// Which jobs a rule in words is about, as a query; absent: all.
    pub about: Option<String>,
    /// Owed where the record has no job of the kind yet.
    pub evidence: Option<String>,
    /// Who sees to it; absent: who takes it.
    #[schema(value_type = Option<String>, format = Uuid)]
    pub owner_id: Option<PersonId>,
    /// Today or later; absent: today.
    pub starts_on: Option<NaiveDate>,
    /// The day of the one verdict; absent: when ten windows will likely have ended.
    pub review_on: Option<NaiveDate>,
    /// The open corrective action that the rule answers.
    #[schema(value_type = Option<String>, format = Uuid)]
    pub action_id: Option<ActionId>,
}

impl RuleTaken {
    fn says(&self) -> Says<'_> {
        Says {
            symptom: self.symptom.as_deref(),
            part: self.part.as_deref(),
            check: self.check.as_deref(),
            unit: self.unit.as_deref(),
            low: self.low_limit,
            high: self.high_limit,
            limit_source: self.limit_source.as_deref(),
            about: self.about.as_deref(),
        }
    }
}

/// A rule with where it stands and how often it was kept.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct ShopRuleTold {
    #[serde(flatten)]
    pub rule: ShopRule,
    /// `to_come`, `in_force`, `due_for_review`, `reviewed`, `withdrawn`.
    pub state: &'static str,
    /// Of a withdrawn rule: by jobs handed over before the day of its withdrawal.
    pub compliance: RuleCompliance,
}

/// What the record says for a rule that is not taken yet.
pub struct Draft {
    pub evidence: Evidence,
    /// In a sentence; absent where the record has no such job.
    pub sentence: Option<String>,
    pub plan: ReviewPlan,
    /// Where the check stands in the shop's own plan, from 1.
    pub place_in_plan: Option<usize>,
}

/// Reads the shop's history and its record in one go.
///
/// # Errors
/// What `work` answers; the record does not answer.
pub async fn history<T, F>(ctx: &Ctx, work: F) -> Result<T, Problem>
where
    T: Send + 'static,
    F: FnOnce(&History, &mut Conn, &Shop) -> Answer<T> + Send + 'static,
{
    let _turn = ctx
        .app
        .counting
        .acquire()
        .await
        .map_err(|_| Problem::new(Kind::UNAVAILABLE, "the server is stopping"))?;
    let (db, live, shop) = (ctx.db(), ctx.app.live.clone(), ctx.shop()?.clone());
    let work =
        move || live.with(&db, &shop, |history| db.read(|conn| work(history, conn, &shop)))?;
    Ok(actix_web::web::block(work).await??)
}

/// A rule's jobs, by the codes that count now.
///
/// # Errors
/// Where the row says what no rule can.
pub fn selectors(rule: &ShopRule, lists: &Lists) -> Answer<RuleSelectors> {
    Ok(rule.asks()?.selectors().following(&|list, code| lists.now(list, code)))
}

/// How often a rule was kept by jobs handed over up to a day, while it stood.
///
/// # Errors
/// Where the row says what no rule can.
pub fn kept(
    history: &History,
    rule: &ShopRule,
    lists: &Lists,
    today: NaiveDate,
) -> Answer<RuleCompliance> {
    let span = RuleSpan { from: rule.starts_on, to: rule.last_day(today) };
    Ok(compliance(history, &selectors(rule, lists)?, rule.id.as_str(), span))
}

/// Rules with how often they were kept: all, or one.
///
/// # Errors
/// Not found; the record does not answer.
pub async fn told(ctx: &Ctx, one: Option<RuleId>) -> Result<Vec<ShopRuleTold>, Problem> {
    let today = ctx.shop()?.zone().day(ctx.now);
    history(ctx, move |history, conn, shop| {
        let rules = match one {
            Some(id) => vec![model::by_id(conn, shop.id, &id)?],
            None => model::list(conn, shop.id)?,
        };
        let lists = Lists::load(conn, shop.id)?;
        let mut told = Vec::with_capacity(rules.len());
        for rule in rules {
            told.push(ShopRuleTold {
                state: state(rule.state(today)),
                compliance: kept(history, &rule, &lists, today)?,
                rule,
            });
        }
        Ok(told)
    })
    .await
}

const fn state(state: State) -> &'static str {
    match state {
        State::ToCome => "to_come",
        State::InForce => "in_force",
        State::DueForReview => "due_for_review",
        State::Reviewed => "reviewed",
        State::Withdrawn => "withdrawn",
    }
}

/// What the record says for a rule of that kind, up to the last complete day.
///
/// # Errors
/// Fields that the kind lacks; the record does not answer.
pub async fn draft(ctx: &Ctx, new: &RuleTaken) -> Result<Draft, Problem> {
    let faults = decide::fields(new.kind, &new.says());
    if !faults.is_empty() {
        return Err(Problem::invalid(faults));
    }
    // A rule in words asks its own jobs; its id only matters once it is taken.
    let Some(rule) = model::asks(new.kind, &RuleId::make(), &new.says()) else {
        return Err(Problem::new(Kind::INVALID, "no rule can be made of that"));
    };
    let zone = ctx.shop()?.zone();
    let (as_of, today) = (zone.last_complete_day(ctx.now), zone.day(ctx.now));
    let (kind, start) = (new.kind, new.starts_on.unwrap_or(today));
    let (check, symptom) = (new.check.clone(), new.symptom.clone());
    history(ctx, move |history, conn, shop| {
        let lists = Lists::load(conn, shop.id)?;
        let now = |list: &str, code: &str| lists.now(list, code);
        let evidence = evidence(history, &rule, as_of, &now);
        let about = rule.selectors().following(&now).about;
        let first = check.as_deref().zip(symptom.as_deref());
        let place_in_plan = match first.filter(|_| kind == RuleKind::CheckFirst) {
            Some((check, symptom)) => plans::place_of(conn, shop.id, symptom, check)?,
            None => None,
        };
        let check = check.map(|code| lists.label("check", &code));
        Ok(Draft {
            place_in_plan,
            sentence: told::evidence(kind, check.as_deref(), &evidence),
            plan: plan_review(history, &about, start, as_of),
            evidence,
        })
    })
    .await
}

/// The rule as it is taken: with what it is taken on as it stands now, and the
/// day of its review.
///
/// # Errors
/// As [`draft`].
pub async fn prepared(ctx: &Ctx, new: RuleTaken) -> Result<NewRule, Problem> {
    let draft = draft(ctx, &new).await?;
    let today = ctx.shop()?.zone().day(ctx.now);
    let words = new.evidence.filter(|text| !text.trim().is_empty());
    let figures = serde_json::to_string(&draft.evidence)
        .map_err(|error| Fault::Unavailable(error.to_string()))?;
    Ok(NewRule {
        kind: new.kind,
        title: new.title,
        words: new.words,
        symptom: new.symptom,
        part: new.part,
        check_code: new.check,
        unit: new.unit,
        low_limit: new.low_limit,
        high_limit: new.high_limit,
        limit_source: new.limit_source,
        about: new.about,
        evidence_json: draft.sentence.is_some().then_some(figures),
        evidence: words.or(draft.sentence).unwrap_or_default(),
        owner_id: new.owner_id.unwrap_or_else(|| ctx.asker().person.id.clone()),
        starts_on: new.starts_on.unwrap_or(today),
        review_on: new.review_on.unwrap_or(draft.plan.day),
        action_id: new.action_id,
    })
}
