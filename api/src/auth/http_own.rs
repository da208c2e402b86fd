//! The own ways in, over HTTP: password, PIN, sessions.

use actix_web::HttpResponse;
use serde::Deserialize;

use super::own;
use super::sessions::{self, Session};
use crate::problem::Problem;
use crate::web::answer::{Page, ok};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// The own password, changed.
#[derive(Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PasswordChange {
    #[schema(format = Password)]
    pub old_password: String,
    #[schema(format = Password, min_length = 15)]
    pub new_password: String,
}

/// The own PIN, set.
#[derive(Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PinChange {
    #[schema(format = Password)]
    pub password: String,
    /// Six digits, not one digit six times, not 123456 or 654321.
    #[schema(format = Password, pattern = "^[0-9]{6}$")]
    pub pin: String,
}

/// Changes your own password.
#[utoipa::path(
    put, path = "/api/v1/me/password", operation_id = "changeOwnPassword", tag = "session",
    description = "Changes your password. Your other sessions end; your tokens stand until you revoke them.",
    request_body = PasswordChange,
    responses((status = 204, description = "Changed"), Problems)
)]
pub async fn change_password(
    ctx: Ctx,
    body: Json<PasswordChange>,
) -> Result<HttpResponse, Problem> {
    let PasswordChange { old_password, new_password } = body.value;
    own::change_password(&ctx, old_password, new_password).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Sets your own PIN.
#[utoipa::path(
    put, path = "/api/v1/me/pin", operation_id = "setOwnPin", tag = "session",
    description = "Sets the PIN that you come in with on an enrolled tablet of the shop floor. What was opened with the PIN before ends.",
    request_body = PinChange,
    responses((status = 204, description = "Set"), Problems)
)]
pub async fn set_pin(ctx: Ctx, body: Json<PinChange>) -> Result<HttpResponse, Problem> {
    let PinChange { password, pin } = body.value;
    own::set_pin(&ctx, password, pin).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// The own sessions.
#[utoipa::path(
    get, path = "/api/v1/me/sessions", operation_id = "listOwnSessions", tag = "session",
    description = "Your living sessions, the latest used first.",
    responses((status = 200, description = "The sessions", body = Page<Session>), Problems)
)]
pub async fn sessions(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let (current, now) = (ctx.asker().token_hash.clone(), ctx.now);
    let items =
        own::read(&ctx, move |conn, person| sessions::of_person(conn, &person.id, &current, now))
            .await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Ends one of your own sessions.
#[utoipa::path(
    delete, path = "/api/v1/me/sessions/{session}", operation_id = "endOwnSession", tag = "session",
    description = "Ends one of your sessions.",
    params(("session" = String, Path, description = "The session's id, as the list gives it")),
    responses((status = 204, description = "Ended"), Problems)
)]
pub async fn end_session(ctx: Ctx, parts: Parts<String>) -> Result<HttpResponse, Problem> {
    own::end_session(&ctx, Some(parts.0)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Ends the other sessions.
#[utoipa::path(
    delete, path = "/api/v1/me/sessions", operation_id = "endOtherOwnSessions", tag = "session",
    description = "Ends all your sessions except this one.",
    responses((status = 204, description = "Ended"), Problems)
)]
pub async fn end_others(ctx: Ctx) -> Result<HttpResponse, Problem> {
    own::end_session(&ctx, None).await?;
    Ok(HttpResponse::NoContent().finish())
}
