//! Named tokens over HTTP.

use actix_web::HttpResponse;

use super::own;
use super::token::{self, AccessToken, MadeAccessToken, NewAccessToken};
use crate::domain::ids::TokenId;
use crate::problem::Problem;
use crate::web::answer::{Page, ok};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// The own tokens.
#[utoipa::path(
    get, path = "/api/v1/me/tokens", operation_id = "listOwnTokens", tag = "token",
    description = "Your tokens, the latest first; those that are revoked or past their end stay in the list.",
    responses((status = 200, description = "The tokens", body = Page<AccessToken>), Problems)
)]
pub async fn list_own(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let items = own::read(&ctx, |conn, person| token::of_person(conn, &person.id)).await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Makes a token.
#[utoipa::path(
    post, path = "/api/v1/me/tokens", operation_id = "makeToken", tag = "token",
    description = "Makes a token for a program of yours. Its text is told once. It takes no Idempotency-Key: no answer with a secret is kept.",
    request_body = NewAccessToken,
    responses((status = 201, description = "The token, told once", body = MadeAccessToken), Problems)
)]
pub async fn make(ctx: Ctx, body: Json<NewAccessToken>) -> Result<HttpResponse, Problem> {
    let made = own::make_token(&ctx, body.value).await?;
    Ok(HttpResponse::Created().json(&made))
}

/// Revokes one of your own tokens.
#[utoipa::path(
    delete, path = "/api/v1/me/tokens/{token}", operation_id = "revokeOwnToken", tag = "token",
    description = "Revokes one of your tokens, at once.",
    params(("token" = String, Path, description = "The token's id")),
    responses((status = 204, description = "Revoked"), Problems)
)]
pub async fn revoke_own(ctx: Ctx, parts: Parts<TokenId>) -> Result<HttpResponse, Problem> {
    own::revoke_token(&ctx, parts.0, false).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// The group's tokens.
#[utoipa::path(
    get, path = "/api/v1/tokens", operation_id = "listTokens", tag = "token",
    description = "Every token of the group, the latest first.",
    responses((status = 200, description = "The tokens", body = Page<AccessToken>), Problems)
)]
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let items = own::read(&ctx, |conn, person| token::of_group(conn, &person.group_id)).await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Revokes a token of the group.
#[utoipa::path(
    delete, path = "/api/v1/tokens/{token}", operation_id = "revokeToken", tag = "token",
    description = "Revokes a token of the group, at once.",
    params(("token" = String, Path, description = "The token's id")),
    responses((status = 204, description = "Revoked"), Problems)
)]
pub async fn revoke(ctx: Ctx, parts: Parts<TokenId>) -> Result<HttpResponse, Problem> {
    own::revoke_token(&ctx, parts.0, true).await?;
    Ok(HttpResponse::NoContent().finish())
}
