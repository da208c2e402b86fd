//! Signing in and out for programs.

use actix_web::{HttpResponse, web};
use serde::{Deserialize, Serialize};

use super::session::{self, Kind, NewSession};
use super::throttle;
use crate::app::App;
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{PersonId, ShopPublicId};
use crate::domain::role::Role;
use crate::people::model as people;
use crate::problem::{self, Problem};
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

/// Checks name and password and opens a session. Unknown names take as long as
/// known ones.
///
/// # Errors
/// Not signed in; too many tries.
pub async fn open(
    app: &web::Data<App>,
    sign_in: SignIn,
    kind: Kind,
) -> Result<NewSession, Problem> {
    let now = app.clock.now();
    let name = sign_in.sign_in_name.trim().to_lowercase();
    throttle::admit(&app.tries, &name, now)?;
    let _turn = app
        .hashing
        .acquire()
        .await
        .map_err(|_| Problem::new(problem::Kind::UNAVAILABLE, "the server is stopping"))?;
    let db = app.db.clone();
    let wanted = name.clone();
    let found = web::block(move || {
        let person = db.read(|conn| people::by_sign_in(conn, &wanted))?;
        let active = person.filter(|p| p.active);
        let hash = active.as_ref().and_then(|p| p.password_hash.as_deref());
        let fits = super::password::fits(&sign_in.password, hash);
        Ok::<_, crate::db::Fault>(active.filter(|_| fits))
    })
    .await??;
    let Some(person) = found else {
        return Err(Problem::new(problem::Kind::NOT_SIGNED_IN, "name and password do not fit"));
    };
    throttle::forget(&app.tries, &name);
    Ok(app.db.write(move |conn| session::open(conn, &person.id, kind, now)).await?)
}

/// Signs in.
#[utoipa::path(
    post, path = "/api/v1/sessions", operation_id = "signIn", tag = "session",
    description = "Gives a bearer token for a name and password.",
    request_body = SignIn,
    responses((status = 200, description = "The token, told once", body = Token), Problems),
    security(())
)]
pub async fn sign_in(app: web::Data<App>, body: Json<SignIn>) -> Result<HttpResponse, Problem> {
    let new = open(&app, body.value, Kind::Bearer).await?;
    Ok(ok(&Token { token: new.token, ends_at: new.ends_at }))
}

/// Signs out.
#[utoipa::path(
    delete, path = "/api/v1/sessions/current", operation_id = "signOut", tag = "session",
    description = "Ends the session of the token that asks.",
    responses((status = 204, description = "The token is dead"), Problems)
)]
pub async fn sign_out(ctx: Ctx, req: actix_web::HttpRequest) -> Result<HttpResponse, Problem> {
    let token = req
        .headers()
        .get("authorization")
        .and_then(|v| v.to_str().ok())
        .and_then(|v| v.split_once(' '))
        .map(|(_, token)| token.trim().to_owned())
        .unwrap_or_default();
    ctx.app.db.write(move |conn| session::close(conn, &token)).await?;
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
        .shops
        .iter()
        .map(|shop| OwnShop {
            id: shop.public_id.clone(),
            code: shop.code.clone(),
            name: shop.name.clone(),
            roles: ctx
                .asker
                .grants
                .iter()
                .filter(|(_, at)| at.is_none_or(|id| id == shop.id))
                .map(|(role, _)| *role)
                .collect(),
        })
        .collect();
    Ok(ok(&Me { id: ctx.asker.person.id.clone(), name: ctx.asker.person.name.clone(), shops }))
}
