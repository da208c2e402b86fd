//! A person's account, roles and sessions over HTTP.

use actix_web::HttpResponse;
use serde::Deserialize;

use super::account::{self, Account, Change};
use super::roles;
use crate::auth::reach::Way;
use crate::auth::sessions::{self, Session};
use crate::auth::{door, password, pin};
use crate::domain::ids::PersonId;
use crate::domain::refusal::Refusal;
use crate::domain::role::Role;
use crate::domain::text;
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Parts, given, present};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// One person.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/people/{person}", operation_id = "readPerson", tag = "people",
    description = "A person's account, with the roles in the shop and in the group.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("person" = String, Path, description = "The person's id")),
    responses((status = 200, description = "The account", body = Account), Problems)
)]
pub async fn read(ctx: Ctx, parts: Parts<(String, PersonId)>) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let account =
        ctx.read(move |conn, shop| Ok(account::standing(conn, shop, &id)?.account(shop))).await?;
    Ok(versioned(account.version, &account))
}

/// What to change of an account. Absent fields stay; null takes away.
#[derive(Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PersonPatch {
    #[serde(default, deserialize_with = "given")]
    pub name: Option<String>,
    /// False closes the account: sessions and tokens end at once.
    #[serde(default, deserialize_with = "given")]
    pub active: Option<bool>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>)]
    pub sign_in_name: Option<Option<String>>,
    /// A new password; sessions and tokens of before end.
    #[serde(default, deserialize_with = "given")]
    #[schema(format = Password, min_length = 15)]
    pub password: Option<String>,
    /// Six digits for the shop's tablets.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>, format = Password, pattern = "^[0-9]{6}$")]
    pub pin: Option<Option<String>>,
}

/// The names of somebody, where there is such a person.
async fn names_of(ctx: &Ctx, id: &PersonId) -> Vec<String> {
    let id = id.clone();
    let found = ctx.read(move |conn, shop| account::standing(conn, shop, &id)).await;
    let person = found.map(|standing| standing.person);
    person
        .into_iter()
        .flat_map(|person| [Some(person.name), person.sign_in_name])
        .flatten()
        .collect()
}

/// Checks a patch, and hashes what is secret in it.
///
/// # Errors
/// The faults; forbidden for a token that brings a secret.
pub async fn read_patch(ctx: &Ctx, id: &PersonId, patch: PersonPatch) -> Result<Change, Problem> {
    let brings_secret = patch.password.is_some() || patch.pin.is_some();
    if brings_secret && ctx.asker().way != Way::Password {
        let why = "a token changes no password and no PIN: sign in with your password";
        return Err(Refusal::Forbidden(why.to_owned()).into());
    }
    let mut faults = Vec::new();
    let mut checked = |field: &str, text: &str| match text::required(field, text, 200) {
        Ok(text) => Some(text),
        Err(fault) => {
            faults.push(fault);
            None
        }
    };
    let name = patch.name.as_deref().and_then(|name| checked("name", name));
    let sign_in_name = patch
        .sign_in_name
        .as_ref()
        .map(|name| name.as_deref().and_then(|name| checked("sign_in_name", name)));
    if let Some(text) = &patch.password {
        let whose = names_of(ctx, id).await;
        let own = whose.iter().chain(&patch.name).chain(patch.sign_in_name.iter().flatten());
        let about = password::of_shops(ctx.shops()).chain(own.map(String::as_str));
        faults.extend(password::acceptable(text, about).err());
    }
    faults.extend(patch.pin.iter().flatten().find_map(|text| pin::acceptable(text).err()));
    if !faults.is_empty() {
        return Err(Problem::invalid(faults));
    }
    let password_hash = match patch.password {
        Some(secret) => Some(door::hashed(&ctx.app, secret).await?),
        None => None,
    };
    let pin_hash = match patch.pin {
        Some(Some(secret)) => Some(Some(door::hashed(&ctx.app, secret).await?)),
        Some(None) => Some(None),
        None => None,
    };
    Ok(Change { name, sign_in_name, active: patch.active, password_hash, pin_hash })
}

/// Changes an account.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/people/{person}", operation_id = "changePerson", tag = "people",
    description = "Changes an account (JSON merge patch). The manager changes those who work in the shop as technician or adviser and nowhere else; the administrator everybody. Your own password and PIN are changed under /me.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("person" = String, Path, description = "The person's id"),
        ("If-Match" = String, Header, description = "The ETag you read")),
    request_body(content = PersonPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The account as it is now", body = Account), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, PersonId)>,
    body: Json<PersonPatch>,
) -> Result<HttpResponse, Problem> {
    let (id, seen) = (parts.0.1, ctx.seen_version()?);
    let change = read_patch(&ctx, &id, body.value).await?;
    let account = write(&ctx, id, seen, change).await?;
    Ok(versioned(account.version, &account))
}

/// Writes a change under the asker's grants.
///
/// # Errors
/// What [`account::change`] refuses.
pub async fn write(ctx: &Ctx, id: PersonId, seen: i32, change: Change) -> Result<Account, Problem> {
    let asker = ctx.asker().grants.clone();
    ctx.write(move |write| account::change(write, &asker, &id, seen, &change)).await
}

/// A role to give.
#[derive(Clone, Copy, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewRole {
    /// The manager gives technician and adviser, the administrator the others,
    /// too. Owner and administrator are held in the whole group.
    pub role: Role,
}

/// Gives a role.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/people/{person}/roles", operation_id = "grantRole", tag = "people",
    description = "Gives a person a role, which counts from the next request on. Nobody gives roles to themselves.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("person" = String, Path, description = "The person's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each role you give")),
    request_body = NewRole,
    responses((status = 201, description = "The account with its roles", body = Account), Problems)
)]
pub async fn grant(
    ctx: Ctx,
    parts: Parts<(String, PersonId)>,
    body: Json<NewRole>,
) -> Result<HttpResponse, Problem> {
    let (id, role) = (parts.0.1, body.value.role);
    let asker = ctx.asker().grants.clone();
    ctx.once(&body.hash, move |write| {
        let account = roles::give(write, &asker, &id, role)?;
        let place = format!("/api/v1/shops/{}/people/{id}", write.shop.public_id);
        Ok(Made::created(place, account.version, account))
    })
    .await
}

/// Takes a role.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/people/{person}/roles/{role}", operation_id = "takeRole", tag = "people",
    description = "Takes a role from a person, at once. The last role of a person and the last administrator of the group stay.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("person" = String, Path, description = "The person's id"),
        ("role" = String, Path, description = "The role")),
    responses((status = 204, description = "Taken"), Problems)
)]
pub async fn take(
    ctx: Ctx,
    parts: Parts<(String, PersonId, Role)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, id, role)) = parts;
    let asker = ctx.asker().grants.clone();
    ctx.write(move |write| roles::take(write, &asker, &id, role)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// A person's sessions.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/people/{person}/sessions", operation_id = "listPersonSessions", tag = "people",
    description = "The living sessions of a person whose account you may change.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("person" = String, Path, description = "The person's id")),
    responses((status = 200, description = "The sessions", body = Page<Session>), Problems)
)]
pub async fn sessions(ctx: Ctx, parts: Parts<(String, PersonId)>) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let (asker, current, now) =
        (ctx.asker().grants.clone(), ctx.asker().token_hash.clone(), ctx.now);
    let items = ctx
        .read(move |conn, shop| {
            account::kept(conn, shop, &asker, &id)?;
            sessions::of_person(conn, &id, &current, now)
        })
        .await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Ends a person's session.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/people/{person}/sessions/{session}", operation_id = "endPersonSession", tag = "people",
    description = "Ends a session of a person whose account you may change.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("person" = String, Path, description = "The person's id"),
        ("session" = String, Path, description = "The session's id, as the list gives it")),
    responses((status = 204, description = "Ended"), Problems)
)]
pub async fn end_session(
    ctx: Ctx,
    parts: Parts<(String, PersonId, String)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, id, session)) = parts;
    let asker = ctx.asker().grants.clone();
    ctx.write(move |write| {
        account::kept(write.conn, write.shop, &asker, &id)?;
        sessions::end(write.conn, &id, &session)
    })
    .await?;
    Ok(HttpResponse::NoContent().finish())
}
