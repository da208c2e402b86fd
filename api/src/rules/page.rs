//! The shop's rules as a list: where each stands, how often it is kept, and what
//! came of it.

use actix_web::HttpResponse;
use analytics::effect::{EffectQuery, RuleCompliance, Verdict, effect};
use analytics::figure::Query;
use analytics::history::History;
use askama::Template;
use chrono::NaiveDate;

use super::model::{self, ShopRule, State};
use super::{ask, told};
use crate::codes::lists::Lists;
use crate::db::Answer;
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::reports::table::effect_verdict;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};

/// A rule in the list.
struct RuleLine {
    title: String,
    place: String,
    kind: &'static str,
    words: String,
    state: String,
    due: bool,
    kept: String,
    /// What came of it; absent before its review day, and for who may not see it.
    verdict: Option<&'static str>,
}

#[derive(Template)]
#[template(path = "rules.html")]
struct RulesPage {
    viewer: Viewer,
    shop: String,
    lines: Vec<RuleLine>,
    withdrawn: Vec<RuleLine>,
}

/// A rule with what the history says of it: nothing where it cannot be read.
type Read = (ShopRule, Option<RuleCompliance>, Option<Verdict>);

/// The verdict on a rule whose review day is over by the as-of; none on one that was
/// withdrawn before it.
///
/// # Errors
/// Where the rule's row says what no rule can.
pub fn verdict(
    history: &History,
    rule: &ShopRule,
    lists: &Lists,
    as_of: NaiveDate,
) -> Answer<Option<Verdict>> {
    if rule.review_on > as_of || rule.ended_early().is_some() {
        return Ok(None);
    }
    let jobs = ask::selectors(rule, lists)?;
    let query = EffectQuery {
        figures: Query { as_of, from: None, to: None, window_days: None, by: None },
        jobs: jobs.about,
        start: rule.starts_on,
        review: rule.review_on,
        withdrawn: rule.withdrawn_on,
        kept: Some(jobs.kept),
        not_known: jobs.not_known,
    };
    Ok(Some(effect(history, &query).verdict))
}

/// The list.
///
/// # Errors
/// The record does not answer.
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let (style, shop) = (ctx.shop()?.style(), ctx.shop()?.code.clone());
    let today = style.zone.day(ctx.now);
    let as_of = style.zone.last_complete_day(ctx.now);
    let reports = ctx.may(Permission::ReadReports);
    let read: Vec<Read> = ask::history(&ctx, move |history, conn, shop| {
        let lists = Lists::load(conn, shop.id)?;
        let mut read = Vec::new();
        for rule in model::list(conn, shop.id)? {
            let kept = ask::kept(history, &rule, &lists, today).ok();
            let said = match kept {
                Some(_) if reports => verdict(history, &rule, &lists, as_of)?,
                _ => None,
            };
            read.push((rule, kept, said));
        }
        Ok(read)
    })
    .await?;
    let (mut withdrawn, mut lines) = (Vec::new(), Vec::new());
    for (rule, kept, said) in read {
        let state = rule.state(today);
        let line = RuleLine {
            place: format!("/shops/{shop}/rules/{}", rule.id),
            kind: told::kind(rule.kind.0),
            state: told::state(&rule, today, &style),
            due: state == State::DueForReview,
            kept: kept.as_ref().map_or_else(|| told::UNREAD.to_owned(), told::kept),
            verdict: said.map(effect_verdict),
            title: rule.title,
            words: rule.words,
        };
        if state == State::Withdrawn { withdrawn.push(line) } else { lines.push(line) }
    }
    page::html(&RulesPage { viewer: Viewer::of(&ctx), shop, lines, withdrawn })
}
