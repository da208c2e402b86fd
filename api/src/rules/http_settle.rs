//! What becomes of a rule, over HTTP.

use actix_web::HttpResponse;

use super::model::ShopRule;
use super::settle::{self, RulePatch, RuleReview, RuleWithdrawal};
use crate::domain::ids::RuleId;
use crate::problem::Problem;
use crate::web::answer::{Made, versioned};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Changes a rule.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/rules/{rule}", operation_id = "changeRule", tag = "rule",
    description = "Changes title, words, owner, or, before it is reached, the review day (JSON merge patch). Once the rule stands, the review day is only moved later. What a rule asks for and what it was taken on stay: withdraw it and take another.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("rule" = String, Path, description = "The rule's id"),
        ("If-Match" = String, Header, description = "The ETag you read")),
    request_body(content = RulePatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The rule as it is now", body = ShopRule), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, RuleId)>,
    body: Json<RulePatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, patch) = (parts.0.1, body.value);
    let row = ctx.write(move |write| settle::change(write, &id, seen, &patch)).await?;
    Ok(versioned(row.version, &row))
}

/// Reviews a rule.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/rules/{rule}/review", operation_id = "reviewRule", tag = "rule",
    description = "Keeps what the review came to, from its day on, once: kept, changed or withdrawn, with a note.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("rule" = String, Path, description = "The rule's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each review")),
    request_body = RuleReview,
    responses((status = 200, description = "The reviewed rule", body = ShopRule), Problems)
)]
pub async fn review(
    ctx: Ctx,
    parts: Parts<(String, RuleId)>,
    body: Json<RuleReview>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, review) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = settle::review(write, &id, seen, &review)?;
        Ok(Made::done(row.version, row))
    })
    .await
}

/// Withdraws a rule.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/rules/{rule}/withdrawal", operation_id = "withdrawRule", tag = "rule",
    description = "Ends a rule with a reason. It stays on record with what it was taken on and how often it was kept by jobs handed over before that day. Withdrawn before its review day it gets no verdict: its effect report says `withdrawn`.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("rule" = String, Path, description = "The rule's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each withdrawal")),
    request_body = RuleWithdrawal,
    responses((status = 200, description = "The withdrawn rule", body = ShopRule), Problems)
)]
pub async fn withdraw(
    ctx: Ctx,
    parts: Parts<(String, RuleId)>,
    body: Json<RuleWithdrawal>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, withdrawal) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = settle::withdraw(write, &id, seen, &withdrawal)?;
        Ok(Made::done(row.version, row))
    })
    .await
}
