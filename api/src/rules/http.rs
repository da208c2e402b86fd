//! Shop rules over HTTP.

use actix_web::HttpResponse;

use super::ask::{self, RuleTaken, ShopRuleTold};
use super::model::{self, ShopRule};
use crate::domain::ids::RuleId;
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// The shop's rules.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/rules", operation_id = "listRules", tag = "rule",
    description = "The shop's rules with where they stand and how often they were kept, the youngest first, withdrawn ones among them.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The rules", body = Page<ShopRuleTold>), Problems)
)]
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let items = ask::told(&ctx, None).await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Takes a rule.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/rules", operation_id = "takeRule", tag = "rule",
    description = "Takes a rule. What the record says for it on this day is kept with it. Kinds: replace_suspect (part, perhaps symptom), clean_and_test (part), check_first (symptom, check), reading_limit (check, unit, limits with their source, perhaps symptom), free_text (perhaps about).",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each rule")),
    request_body = RuleTaken,
    responses((status = 201, description = "The rule", body = ShopRule), Problems)
)]
pub async fn take(ctx: Ctx, body: Json<RuleTaken>) -> Result<HttpResponse, Problem> {
    let new = ask::prepared(&ctx, body.value).await?;
    ctx.once(&body.hash, move |write| {
        let row = model::take(write, &new)?;
        let place = format!("/api/v1/shops/{}/rules/{}", write.shop.public_id, row.id);
        Ok(Made::created(place, row.version, row))
    })
    .await
}

/// One rule.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/rules/{rule}", operation_id = "readRule", tag = "rule",
    description = "One rule with where it stands and how often it was kept. Its effect on comebacks is the effect report: reports/effect?rule=ID.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("rule" = String, Path, description = "The rule's id")),
    responses((status = 200, description = "The rule", body = ShopRuleTold), Problems)
)]
pub async fn read(ctx: Ctx, parts: Parts<(String, RuleId)>) -> Result<HttpResponse, Problem> {
    let mut rules = ask::told(&ctx, Some(parts.0.1)).await?;
    let told = rules.pop().ok_or_else(Problem::not_found)?;
    Ok(versioned(told.rule.version, &told))
}
