//! Rules in the weekly review: those due for review, and jobs of the week that did
//! not follow one and say nothing of why.

use analytics::effect::{RuleSpan, not_followed};
use chrono::NaiveDate;

use super::ask;
use super::model::{State, binding};
use crate::codes::lists::Lists;
use crate::problem::Problem;
use crate::web::ctx::Ctx;

/// Jobs of one rule that are told by name.
const MOST_JOBS: usize = 12;

/// A place with its words.
pub struct WeekLink {
    pub label: String,
    pub place: String,
}

/// A rule with the jobs of the week that did not follow it.
pub struct NotFollowed {
    pub rule: WeekLink,
    pub jobs: Vec<WeekLink>,
    pub left: usize,
}

/// What the week has to say of rules.
#[derive(Default)]
pub struct WeekRules {
    /// By title; the day since which the review is due.
    pub due: Vec<(WeekLink, String)>,
    pub not_followed: Vec<NotFollowed>,
}

impl WeekRules {
    /// Whether there is nothing to say.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.due.is_empty() && self.not_followed.is_empty()
    }
}

/// Reads it, for the jobs handed over between two days.
///
/// # Errors
/// The record does not answer.
pub async fn read(ctx: &Ctx, (first, last): (NaiveDate, NaiveDate)) -> Result<WeekRules, Problem> {
    let today = ctx.shop()?.zone().day(ctx.now);
    ask::history(ctx, move |history, conn, shop| {
        let rules = binding(conn, shop.id, today)?;
        let lists = Lists::load(conn, shop.id)?;
        let style = shop.style();
        let at = |kind: &str, id: &str| format!("/shops/{}/{kind}/{id}", shop.code);
        let mut week = WeekRules::default();
        for rule in rules {
            let link = WeekLink { label: rule.title.clone(), place: at("rules", rule.id.as_str()) };
            if rule.state(today) == State::DueForReview {
                let since = style.day(rule.review_on);
                let place = link.place.clone();
                week.due.push((WeekLink { label: rule.title.clone(), place }, since));
            }
            let span = RuleSpan { from: first.max(rule.starts_on), to: last };
            if span.from > span.to {
                continue;
            }
            // The list says of such a rule that it cannot be read.
            let Ok(selectors) = ask::selectors(&rule, &lists) else { continue };
            let lines = not_followed(history, &selectors, rule.id.as_str(), span);
            let left = lines.len().saturating_sub(MOST_JOBS);
            let jobs: Vec<WeekLink> = lines
                .iter()
                .take(MOST_JOBS)
                .map(|line| WeekLink {
                    label: format!("{}/{}", line.order_no, line.job_no),
                    place: format!("{}#rules", at("jobs", &line.job_id)),
                })
                .collect();
            if !jobs.is_empty() {
                week.not_followed.push(NotFollowed { rule: link, jobs, left });
            }
        }
        Ok(week)
    })
    .await
}
