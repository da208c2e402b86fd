//! People over HTTP.

use actix_web::HttpResponse;
use serde::{Deserialize, Serialize};

use super::{model, roles};
use crate::auth::session::digest;
use crate::auth::{door, password};
use crate::domain::ids::PersonId;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::role::{Permission, Role};
use crate::domain::text;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::answer::{Made, Page, ok};
use crate::web::body::Json;
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// A person of the shop with one role.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct ShopPerson {
    pub id: PersonId,
    pub name: String,
    pub role: Role,
    pub active: bool,
    /// Whether the person can sign in.
    pub signs_in: bool,
}

/// The shop's people.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/people", operation_id = "listPeople", tag = "people",
    description = "Everybody with a role in the shop or in the whole group, a line for each role.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The people", body = Page<ShopPerson>), Problems)
)]
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let people = ctx.read(model::listed).await?;
    let items = people
        .into_iter()
        .map(|(person, role)| ShopPerson {
            id: person.id,
            name: person.name,
            role,
            active: person.active,
            signs_in: person.password_hash.is_some(),
        })
        .collect();
    Ok(ok(&Page { items, next_cursor: None }))
}

/// A new person of the shop.
#[derive(Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPerson {
    pub name: String,
    /// Technician, adviser or service manager. The group's roles are given
    /// afterwards, or on the command line.
    pub role: Role,
    pub sign_in_name: String,
    #[schema(format = Password, min_length = 15)]
    pub password: String,
}

/// Adds a person.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/people", operation_id = "addPerson", tag = "people",
    description = "Adds a person who can sign in to the shop. The manager adds technicians and advisers, the administrator managers, too.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each person you add")),
    request_body = NewPerson,
    responses((status = 201, description = "The person", body = ShopPerson), Problems)
)]
pub async fn add(ctx: Ctx, body: Json<NewPerson>) -> Result<HttpResponse, Problem> {
    add_person(&ctx, body.value).await
}

fn checked(new: &NewPerson, shops: &[Shop]) -> Result<(String, String), Vec<FieldFault>> {
    let mut faults = Vec::new();
    let mut owed = |field: &str, text: &str| {
        text::required(field, text, 200).unwrap_or_else(|fault| {
            faults.push(fault);
            String::new()
        })
    };
    let name = owed("name", &new.name);
    let sign_in = owed("sign_in_name", &new.sign_in_name);
    let about = password::of_shops(shops).chain([&*new.name, &*new.sign_in_name]);
    faults.extend(password::acceptable(&new.password, about).err());
    if new.role.is_of_group() {
        let detail = "choose technician, adviser or service_manager";
        faults.push(FieldFault::new("role", "word", detail));
    }
    if faults.is_empty() { Ok((name, sign_in)) } else { Err(faults) }
}

/// Adds a person, once under the key that came with the request.
///
/// # Errors
/// The faults; forbidden for a role that the asker may not give.
pub async fn add_person(ctx: &Ctx, new: NewPerson) -> Result<HttpResponse, Problem> {
    let (name, sign_in) = checked(&new, ctx.shops()).map_err(Problem::invalid)?;
    let role = new.role;
    if role == Role::ServiceManager && !ctx.may(Permission::WriteShops) {
        return Err(Refusal::Forbidden("an administrator adds service managers".into()).into());
    }
    // The request's hash is kept: the password must not be in what it is made of.
    let request_hash = digest(format!("{name}\n{sign_in}\n{}", role.as_str()).as_bytes());
    let hash = door::hashed(&ctx.app, new.password).await?;
    ctx.once(&request_hash, move |write| {
        let group = write.shop.group_id.clone();
        let id = model::make(write.conn, &group, &name, Some((&sign_in, &hash)))?;
        roles::first(write, &id, role)?;
        let made = ShopPerson { id, name: name.clone(), role, active: true, signs_in: true };
        Ok(Made {
            status: 201,
            location: Some(format!("/api/v1/shops/{}/people/{}", write.shop.public_id, made.id)),
            version: None,
            body: made,
        })
    })
    .await
}
