//! The shop's rules on the job's page: a reminder each, and what is asked where
//! the job does not follow one. None holds the job up.

use super::page_act::{Done, Said, act, nothing};
use crate::domain::ids::{JobId, RuleId};
use crate::problem::Problem;
use crate::rules::answers::{self, NewRuleAnswer};
use crate::rules::on_job::JobRule;
use crate::rules::told;
use crate::shops::write::ShopWrite;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};

/// A rule that touches the job.
pub struct RuleOnJob {
    pub id: String,
    pub title: String,
    pub words: String,
    /// What it was taken on, in a word.
    pub evidence: String,
    pub place: String,
    /// How the job stands to it; absent where it is still to be seen.
    pub state: Option<&'static str>,
    pub follows: bool,
    pub reason: Option<String>,
    pub asks_reason: bool,
    pub asks_kept: bool,
    pub answered: bool,
    /// Usual reasons for not following it, a tap each.
    pub reasons: [&'static str; 3],
}

/// The rules as the page shows them.
pub(super) fn shown(rules: Vec<JobRule>, shop: &str) -> Vec<RuleOnJob> {
    let one = |rule: JobRule| RuleOnJob {
        place: format!("/shops/{shop}/rules/{}", rule.rule_id),
        id: rule.rule_id.to_string(),
        state: match (rule.kept, rule.about) {
            (Some(true), _) => Some("followed"),
            (Some(false), _) => Some("not followed"),
            (None, true) => Some("not known yet"),
            (None, false) => None,
        },
        follows: rule.kept == Some(true),
        reason: rule.answer.as_ref().and_then(|answer| answer.reason.clone()),
        asks_reason: rule.asks == "reason",
        asks_kept: rule.asks == "kept",
        answered: rule.answer.is_some(),
        reasons: told::reasons(rule.kind),
        title: rule.title,
        words: rule.words,
        evidence: rule.evidence,
    };
    rules.into_iter().map(one).collect()
}

/// A reason by a tap or in other words, or whether a rule in words was followed.
fn said(fields: &Fields) -> Result<NewRuleAnswer, Problem> {
    let mut read = Reader::new(fields);
    let kept = read.word("kept", |text| match text {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    });
    let reason = read.text("tap").or_else(|| read.text("reason"));
    read.finish(Some(NewRuleAnswer { kept, reason }))
}

/// Keeps what is said of a rule on a job.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn answer(ctx: Ctx, address: Parts<(String, JobId, RuleId)>, form: Form<Fields>) -> Done {
    let Parts((_, job, rule)) = address;
    let shown = Said::Line("rule", rule.to_string());
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, new: &NewRuleAnswer| {
        answers::set(write, (job, &rule), new)
    };
    act(ctx, job, form, ("rules", shown), said, work).await
}

/// Takes it back.
///
/// # Errors
/// As there.
pub async fn take_back(
    ctx: Ctx,
    address: Parts<(String, JobId, RuleId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, rule)) = address;
    let work =
        move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| answers::remove(write, (job, &rule));
    act(ctx, job, form, ("rules", Said::Word("rule-taken")), nothing, work).await
}
