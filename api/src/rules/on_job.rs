//! The shop's rules on one job: which ones touch it, and whether it follows them
//! as it stands, by the same selectors as the reports.

use analytics::effect::{Rule, Stands, stands};
use analytics::history::History;
use analytics::words::RuleKind;
use chrono::NaiveDate;
use serde::Serialize;

use super::answers::{self, RuleAnswer};
use super::model::{ShopRule, binding};
use super::{ask, told};
use crate::codes::lists::Lists;
use crate::db::{Answer, Conn, Fault};
use crate::domain::ids::RuleId;
use crate::jobs::model::Job;
use crate::jobs::usual::Usual;
use crate::reports::model::{self as reports, one_job};
use crate::shops::model::Shop;

/// A rule that touches a job.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct JobRule {
    pub rule_id: RuleId,
    pub kind: RuleKind,
    pub title: String,
    pub words: String,
    /// What it was taken on, in a word.
    pub evidence: String,
    /// Whether the job is one that the rule is about, as it stands.
    pub about: bool,
    /// Whether it keeps the rule, as it stands; null where nobody knows, or the
    /// job is none that it is about.
    pub kept: Option<bool>,
    /// What is asked for: `nothing`, `reason` (why it is not followed), `kept`
    /// (whether it is).
    pub asks: &'static str,
    pub answer: Option<RuleAnswer>,
}

/// The rules that touch a job, the oldest first. A job that has not ended is
/// looked at as if it ended today.
///
/// # Errors
/// Where the database does not answer.
pub fn of(
    conn: &mut Conn,
    shop: &Shop,
    lists: &Lists,
    (job, usual): (&Job, &Usual),
    today: NaiveDate,
) -> Answer<Vec<JobRule>> {
    let rules = binding(conn, shop.id, today)?;
    if rules.is_empty() {
        return Ok(Vec::new());
    }
    let answers = answers::of_job(conn, shop.id, &job.id)?;
    let read = reports::Lists::load(conn, shop)?;
    let rows = one_job(conn, shop, &read, &job.id, today)?;
    let Some(closed_on) = rows.jobs.first().map(|row| row.closed_on) else {
        return Ok(Vec::new());
    };
    let history = History::new(shop.facts(conn)?, rows, 0)
        .map_err(|error| Fault::Unavailable(error.to_string()))?;
    let ended = job.outcome.is_some();
    let mut touching = Vec::new();
    for rule in rules.into_iter().filter(|rule| rule.starts_on <= closed_on) {
        // A rule that cannot be read holds no job up.
        let (Ok(selectors), Ok(asks)) = (ask::selectors(&rule, lists), rule.asks()) else {
            continue;
        };
        let standing = stands(&history, &selectors).first().copied().unwrap_or(Stands::NotAbout);
        let answer = answers.iter().find(|answer| answer.rule_id == rule.id).cloned();
        let near = !ended && is_near(&asks, job, usual, lists);
        if standing != Stands::NotAbout || near || answer.is_some() {
            touching.push(JobRule::of(rule, standing, answer));
        }
    }
    Ok(touching)
}

/// Whether a rule may come to be about a job of that complaint.
fn is_near(rule: &Rule, job: &Job, usual: &Usual, lists: &Lists) -> bool {
    let complains = |symptom: &str| {
        let own = job.symptom.as_deref().map(|own| lists.now("symptom", own));
        own == Some(lists.now("symptom", symptom))
    };
    let touched = |part: &str| usual.parts.iter().any(|usual| usual.key() == part);
    match rule {
        Rule::ReplaceSuspect { symptom: Some(symptom), .. } => complains(symptom),
        Rule::ReplaceSuspect { part, .. } | Rule::CleanAndTest { part } => touched(part),
        Rule::CheckFirst { symptom, .. } => complains(symptom),
        Rule::ReadingLimit { symptom: Some(symptom), .. } => complains(symptom),
        Rule::ReadingLimit { check, .. } => {
            let check = lists.now("check", check);
            usual.checks.iter().any(|(usual, _)| lists.now("check", usual) == check)
        }
        Rule::FreeText { .. } => false,
    }
}

impl JobRule {
    fn of(rule: ShopRule, standing: Stands, answer: Option<RuleAnswer>) -> Self {
        let reasoned = answer.as_ref().is_some_and(|answer| answer.reason.is_some());
        let asks = match (standing, rule.kind.0) {
            (Stands::NotKept, _) if !reasoned => "reason",
            (Stands::NotKnown, RuleKind::FreeText) => "kept",
            _ => "nothing",
        };
        Self {
            evidence: told::brief(&rule).unwrap_or_else(|| rule.evidence.clone()),
            rule_id: rule.id,
            kind: rule.kind.0,
            title: rule.title,
            words: rule.words,
            about: standing != Stands::NotAbout,
            kept: match standing {
                Stands::Kept => Some(true),
                Stands::NotKept => Some(false),
                Stands::NotKnown | Stands::NotAbout => None,
            },
            asks,
            answer,
        }
    }
}
