//! One rule: what it says, what it was taken on, how it is kept, what came of it.

use actix_web::{HttpRequest, HttpResponse};
use analytics::effect::{RuleCompliance, RuleJobs};
use askama::Template;

use super::model::{self, ShopRule, State};
use super::{ask, decide, settle, told};
use crate::db::Answer;
use crate::domain::ids::RuleId;
use crate::domain::role::Permission;
use crate::jobs::view::Words;
use crate::people::model as people;
use crate::problem::Problem;
use crate::reports::page_effect::{Effect, EffectShown, effect};
use crate::shops::model::Shop;
use crate::web::body::Parts;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried};
use crate::web::page::{self, Viewer};
use crate::web::words::{Pick, counted, reading};

/// Jobs with the way to them.
struct Counted {
    label: &'static str,
    count: String,
    place: Option<String>,
}

/// The page.
#[derive(Template)]
#[template(path = "rule.html")]
pub(super) struct RulePage {
    viewer: Viewer,
    shop: String,
    id: String,
    version: i32,
    title: String,
    kind: &'static str,
    state: String,
    words: String,
    facts: Vec<(&'static str, String)>,
    beside: Option<&'static str>,
    /// Of a withdrawn rule: since when, by whom, why.
    ended: Option<String>,
    evidence: String,
    covered: Option<String>,
    taken: String,
    kept: String,
    counted: Vec<Counted>,
    effect: Option<Box<EffectShown>>,
    /// Why there is no report of it.
    unsaid: Option<String>,
    /// It may be changed, reviewed, withdrawn.
    stands: bool,
    due: bool,
    /// The review day may still be moved.
    open: bool,
    earliest_review: String,
    blank: Fields,
    people: Vec<Pick>,
    reviews: Vec<Pick>,
    tried: Option<Tried>,
}

impl RulePage {
    fn form(&self, name: &str) -> FormView {
        let blank = if name == "change" { self.blank.clone() } else { Fields::default() };
        FormView::of_record(name, self.tried.as_ref(), blank)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }

    fn base(&self) -> String {
        format!("/shops/{}/rules/{}", self.shop, self.id)
    }
}

/// What one moment of the record holds for the page.
struct Loaded {
    rule: ShopRule,
    /// Nothing where the row says what no rule can.
    kept: Option<RuleCompliance>,
    words: Words,
    people: Vec<Pick>,
}

async fn load(ctx: &Ctx, id: RuleId) -> Result<Loaded, Problem> {
    let now = ctx.now;
    ask::history(ctx, move |history, conn, shop: &Shop| -> Answer<Loaded> {
        let words = Words::load(conn, shop, now)?;
        let rule = model::by_id(conn, shop.id, &id)?;
        let kept = ask::kept(history, &rule, &words.lists, shop.zone().day(now)).ok();
        Ok(Loaded { people: owners(&people::of_shop(conn, shop.id)?), rule, kept, words })
    })
    .await
}

/// Who may see to a rule.
pub(super) fn owners(people: &[(people::Person, crate::domain::role::Role)]) -> Vec<Pick> {
    let active = people.iter().filter(|(person, _)| person.active);
    let mut picks: Vec<Pick> =
        active.map(|(person, _)| Pick::new(person.id.as_str(), person.name.clone())).collect();
    picks.dedup();
    picks
}

/// The page of a rule, with a form that was refused.
///
/// # Errors
/// Not found, or the record does not answer.
pub(super) async fn view(
    ctx: &Ctx,
    id: RuleId,
    effect: Option<Box<EffectShown>>,
    tried: Option<Tried>,
) -> Result<RulePage, Problem> {
    let Loaded { rule, kept, words, people } = load(ctx, id).await?;
    let today = words.shop.zone().day(ctx.now);
    let state = rule.state(today);
    let style = words.style();
    let stands = state != State::Withdrawn;
    let jobs = |kept: &RuleCompliance| {
        let (shop, window) = (words.shop.code.as_str(), words.shop.window_days);
        Listed { shop, as_of: kept.as_of, window }.all(kept)
    };
    let earliest = match state {
        State::ToCome => decide::earliest_review(rule.starts_on, words.shop.window_days).max(today),
        _ => rule.review_on,
    };
    Ok(RulePage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        version: rule.version,
        kind: told::kind(rule.kind.0),
        state: told::state(&rule, today, &style),
        facts: facts(&rule, &words),
        taken: format!(
            "{}, by {}",
            words.moment(rule.taken_at),
            words.name(Some(&rule.taken_by)).unwrap_or_default()
        ),
        kept: kept.as_ref().map_or_else(
            || format!("This rule {}.", told::UNREAD),
            |kept| told::kept_sentence(kept, stands),
        ),
        counted: kept.as_ref().map(jobs).unwrap_or_default(),
        effect,
        unsaid: None,
        beside: told::beside(rule.kind.0),
        ended: ended(&rule, &words),
        covered: told::covered(&rule, &style),
        stands,
        due: state == State::DueForReview,
        open: matches!(state, State::ToCome | State::InForce),
        earliest_review: earliest.to_string(),
        blank: Fields::of(&[
            ("title", rule.title.clone()),
            ("words", rule.words.clone()),
            ("owner_id", rule.owner_id.to_string()),
            ("review_on", rule.review_on.to_string()),
        ]),
        people,
        reviews: settle::WORDS.map(|word| Pick::new(word, told::review(word))).to_vec(),
        id: rule.id.to_string(),
        title: rule.title,
        words: rule.words,
        evidence: rule.evidence,
        tried,
    })
}

/// For links to lists of jobs.
struct Listed<'a> {
    shop: &'a str,
    as_of: chrono::NaiveDate,
    window: i32,
}

impl Listed<'_> {
    fn line(&self, label: &'static str, jobs: &RuleJobs) -> Option<Counted> {
        (jobs.count > 0).then(|| Counted {
            label,
            count: counted(jobs.count, "job", "jobs"),
            place: (!jobs.jobs.is_empty()).then(|| {
                format!(
                    "/shops/{}/closed-jobs?{}&as_of={}&window={}",
                    self.shop, jobs.jobs, self.as_of, self.window
                )
            }),
        })
    }

    fn all(&self, kept: &RuleCompliance) -> Vec<Counted> {
        let lines = [
            ("Kept", &kept.kept),
            ("Not kept, with a reason", &kept.with_reason),
            ("Not kept, no reason said", &kept.without_reason),
            ("Not known", &kept.not_known),
        ];
        lines.into_iter().filter_map(|(label, jobs)| self.line(label, jobs)).collect()
    }
}

/// What the rule says, line by line.
fn facts(rule: &ShopRule, words: &Words) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    let mut add = |label, text: Option<String>| facts.extend(text.map(|text| (label, text)));
    add("Symptom", words.label("symptom", rule.symptom.as_deref()));
    add("Part", rule.part.clone());
    add("Check", words.label("check", rule.check_code.as_deref()));
    add("Limits", limits(rule));
    add("Limits from", rule.limit_source.clone());
    add("Jobs", rule.about.clone());
    add("Sees to it", words.name(Some(&rule.owner_id)));
    add("Stands since", Some(words.day(rule.starts_on)));
    add("Review", Some(words.day(rule.review_on)));
    if let Some(day) = rule.reviewed_on {
        let who = words.name(rule.reviewed_by.as_ref()).unwrap_or_default();
        let word = told::review(rule.review_word.as_deref().unwrap_or_default());
        let note = rule.review_note.clone().unwrap_or_default();
        add("Reviewed", Some(format!("{}, by {who}: {word}. {note}", words.day(day))));
    }
    facts
}

/// That a rule was withdrawn, as a sentence.
fn ended(rule: &ShopRule, words: &Words) -> Option<String> {
    let day = words.day(rule.withdrawn_on?);
    let who = words.name(rule.withdrawn_by.as_ref()).unwrap_or_default();
    let reason = rule.withdrawn_reason.as_deref().unwrap_or_default();
    Some(format!("Withdrawn on {day} by {who}; no job is asked for it any more. Why: {reason}"))
}

fn limits(rule: &ShopRule) -> Option<String> {
    let unit = rule.unit.as_deref();
    let told = |limit: f64| reading(limit, unit);
    match (rule.low_limit, rule.high_limit) {
        (Some(low), Some(high)) => Some(format!("{} to {}", told(low), told(high))),
        (Some(low), None) => Some(format!("{} or more", told(low))),
        (None, Some(high)) => Some(format!("{} or less", told(high))),
        (None, None) => None,
    }
}

/// One rule.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn one(
    ctx: Ctx,
    req: HttpRequest,
    parts: Parts<(String, RuleId)>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let wanted = id.clone();
    let rule = ctx.read(move |conn, shop| model::by_id(conn, shop.id, &wanted)).await?;
    let (mut shown, mut unsaid) = (None, None);
    if ctx.may(Permission::ReadReports) && rule.asks().is_ok() {
        match effect(&ctx, &req, &id).await {
            Ok(Effect::Shown(effect)) => shown = Some(effect),
            Ok(Effect::File(file)) => return Ok(file),
            // The rule's own jobs cannot be asked for: the rest of the page stands.
            Err(problem) if of_the_rule(&problem) => unsaid = Some(problem.detail),
            Err(problem) => return Err(problem),
        }
    }
    let page = view(&ctx, id, shown, None).await?;
    page::html(&RulePage { unsaid, ..page })
}

/// Whether it is the rule that the report refuses, and not how it was asked for.
fn of_the_rule(problem: &Problem) -> bool {
    let own = ["/select", "/kept", "/not_known"];
    !problem.errors.is_empty()
        && problem.errors.iter().all(|fault| own.contains(&fault.pointer.as_str()))
}
