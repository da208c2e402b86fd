//! Signing in and out for programs.

use actix_web::{HttpRequest, HttpResponse, web};
use serde::{Deserialize, Serialize};

use super::session::Kind;
use super::{cookie, door, own};
use crate::app::App;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{PersonId, ShopPublicId};
use crate::domain::role::Role;
use crate::problem::Problem;
use crate::web::answer::ok;
use crate::web::body::Json;
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Name and password.
#[derive(Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SignIn {
    pub sign_in_name: String,
    #[schema(format = Password)]
    pub password: String,
}

/// A bearer token. It is told once; the record keeps its hash.
#[derive(Serialize, utoipa::ToSchema)]
pub struct Token {
    /// Send it as `Authorization: Bearer ...`.
    pub token: String,
    pub ends_at: UtcStamp,
}

/// A shop as its people see it from outside.
#[derive(Serialize, utoipa::ToSchema)]
pub struct OwnShop {
    pub id: ShopPublicId,
    pub code: String,
    pub name: String,
    pub roles: Vec<Role>,
}

/// Who the token belongs to.
#[derive(Serialize, utoipa::ToSchema)]
pub struct Me {
    pub id: PersonId,
    pub name: String,
    pub shops: Vec<OwnShop>,
}

/// Signs in.
#[utoipa::path(
    post, path = "/api/v1/sessions", operation_id = "signIn", tag = "session",
    description = "Gives a bearer token for a name and password.",
    request_body = SignIn,
    responses((status = 200, description = "The token, told once", body = Token), Problems),
    security(())
)]
pub async fn sign_in(
    req: HttpRequest,
    app: web::Data<App>,
    body: Json<SignIn>,
) -> Result<HttpResponse, Problem> {
    let SignIn { sign_in_name, password } = body.value;
    let device = cookie::device(&req, &app);
    let new = door::by_password(&app, &sign_in_name, password, Kind::Bearer, device).await?;
    Ok(ok(&Token { token: new.token, ends_at: new.ends_at }))
}

/// Signs out.
#[utoipa::path(
    delete, path = "/api/v1/sessions/current", operation_id = "signOut", tag = "session",
    description = "Ends the session of the token that asks. A named token is not signed out but revoked.",
    responses((status = 204, description = "The token is dead"), Problems)
)]
pub async fn sign_out(ctx: Ctx) -> Result<HttpResponse, Problem> {
    own::sign_out(&ctx).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Who am I.
#[utoipa::path(
    get, path = "/api/v1/me", operation_id = "readMe", tag = "session",
    description = "The person that the token belongs to, with shops and roles.",
    responses((status = 200, description = "The person", body = Me), Problems)
)]
pub async fn me(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let shops = ctx
        .shops()
        .iter()
        .map(|shop| OwnShop {
            id: shop.public_id.clone(),
            code: shop.code.clone(),
            name: shop.name.clone(),
            roles: ctx
                .asker()
                .grants
                .iter()
                .filter(|(_, at)| at.is_none_or(|id| id == shop.id))
                .map(|(role, _)| *role)
                .collect(),
        })
        .collect();
    Ok(ok(&Me { id: ctx.asker().person.id.clone(), name: ctx.asker().person.name.clone(), shops }))
}
