//! People over HTTP.

use actix_web::{HttpResponse, web};
use serde::{Deserialize, Serialize};

use super::model;
use crate::auth::password;
use crate::domain::ids::PersonId;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::role::{Permission, Role};
use crate::domain::text;
use crate::problem::Problem;
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
    description = "Everybody with a role in the shop.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The people", body = Page<ShopPerson>), Problems)
)]
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let people = ctx.read(|conn, shop| model::of_shop(conn, shop.id)).await?;
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
    /// Technician, adviser or service manager. The group's roles are given on
    /// the command line.
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
    let new = body.value;
    let mut faults = Vec::new();
    let name = text::required("name", &new.name, 200).unwrap_or_else(|f| {
        faults.push(f);
        String::new()
    });
    let sign_in = text::required("sign_in_name", &new.sign_in_name, 200).unwrap_or_else(|f| {
        faults.push(f);
        String::new()
    });
    if let Err(fault) = password::acceptable(&new.password) {
        faults.push(fault);
    }
    if new.role.is_of_group() {
        faults.push(FieldFault::new(
            "role",
            "word",
            "choose technician, adviser or service_manager",
        ));
    }
    if !faults.is_empty() {
        return Err(Problem::invalid(faults));
    }
    if new.role == Role::ServiceManager && !ctx.may(Permission::WriteShops) {
        return Err(Refusal::Forbidden("an administrator adds service managers".into()).into());
    }
    let role = new.role;
    let secret = new.password;
    let hash = web::block(move || password::hash(&secret))
        .await?
        .map_err(|why| Problem::new(crate::problem::Kind::INTERNAL, why))?;
    ctx.once(&body.hash, move |write| {
        let group = write.shop.group_id.clone();
        let id = model::make(write.conn, &group, &name, Some((&sign_in, &hash)))?;
        model::grant(write.conn, &id, role, Some(write.shop.id))?;
        let made = ShopPerson { id, name: name.clone(), role, active: true, signs_in: true };
        Ok(Made {
            status: 201,
            location: Some(format!("/api/v1/shops/{}/people", write.shop.public_id)),
            version: None,
            body: made,
        })
    })
    .await
}
