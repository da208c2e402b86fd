//! Forms of a rule's page: other words, its review, its end.

use actix_web::HttpResponse;

use super::model::ShopRule;
use super::page_new::day;
use super::page_one::view;
use super::settle::{self, RulePatch, RuleReview, RuleWithdrawal};
use crate::db::Answer;
use crate::domain::ids::{PersonId, RuleId};
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader, Tried, mendable, refused};
use crate::web::page::see_other;

type Done = Result<HttpResponse, Problem>;

/// Reads a form with the version it was made on, does what it asks once, and goes
/// back to the page.
async fn act<N: Send + 'static>(
    mut ctx: Ctx,
    id: RuleId,
    form: Form<Fields>,
    name: &'static str,
    parse: impl FnOnce(&mut Reader<'_>) -> Option<N>,
    work: impl Fn(&mut ShopWrite<'_>, &RuleId, i32, &N) -> Answer<ShopRule> + Send + 'static,
) -> Done {
    ctx.take(&form.value)?;
    let mut read = Reader::new(&form.value);
    let seen: Option<i32> = read.whole("version");
    let parsed = parse(&mut read);
    let done = match read.finish(seen.zip(parsed)) {
        Ok((seen, new)) => {
            let rule = id.clone();
            ctx.once(&form.hash, move |write| {
                let row = work(write, &rule, seen, &new)?;
                Ok(Made::done(row.version, row))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => Ok(see_other(&format!("/shops/{}/rules/{id}?did=saved", ctx.shop()?.code))),
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: name, fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, id, None, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Changes a rule.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn change(ctx: Ctx, parts: Parts<(String, RuleId)>, form: Form<Fields>) -> Done {
    let parse = |read: &mut Reader<'_>| {
        let owner_id = read.word("owner_id", PersonId::parse);
        let review_on = day(read, "review_on");
        Some(RulePatch {
            title: Some(read.text("title").unwrap_or_default()),
            words: Some(read.text("words").unwrap_or_default()),
            owner_id,
            review_on,
        })
    };
    act(ctx, parts.0.1, form, "change", parse, settle::change).await
}

/// Keeps what the review came to.
///
/// # Errors
/// As there.
pub async fn review(ctx: Ctx, parts: Parts<(String, RuleId)>, form: Form<Fields>) -> Done {
    let parse = |read: &mut Reader<'_>| {
        let word = read.owed("word", |text| Some(text.to_owned()))?;
        Some(RuleReview { word, note: read.text("note").unwrap_or_default() })
    };
    act(ctx, parts.0.1, form, "review", parse, settle::review).await
}

/// Withdraws a rule.
///
/// # Errors
/// As there.
pub async fn withdraw(ctx: Ctx, parts: Parts<(String, RuleId)>, form: Form<Fields>) -> Done {
    let parse = |read: &mut Reader<'_>| {
        Some(RuleWithdrawal { reason: read.text("reason").unwrap_or_default() })
    };
    act(ctx, parts.0.1, form, "withdrawal", parse, settle::withdraw).await
}
