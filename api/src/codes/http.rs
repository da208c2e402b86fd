//! Code lists over HTTP.

use actix_web::HttpResponse;
use serde::Deserialize;

use super::model::{self, CodeEntry};
use crate::domain::codes::LISTS;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::{codes, text};
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok};
use crate::web::body::{Json, Params};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Which list.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CodeQuery {
    /// `system`, `symptom`, `when`, `cause`, `check`, `comeback_reason` or
    /// `operation`; absent: all.
    pub list: Option<String>,
}

/// The shop's codes.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/codes", operation_id = "listCodes", tag = "codes",
    description = "The shop's lists: symptoms, causes, checks and so on, each entry with where it comes from.",
    params(("shop" = String, Path, description = "The shop's id"), CodeQuery),
    responses((status = 200, description = "The entries", body = Page<CodeEntry>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<CodeQuery>) -> Result<HttpResponse, Problem> {
    let wanted = query.0.list;
    if wanted.as_deref().is_some_and(|list| !LISTS.contains(&list)) {
        return Err(Problem::invalid(vec![FieldFault {
            pointer: "list".into(),
            code: "word",
            detail: format!("choose one of: {}", LISTS.join(", ")),
        }]));
    }
    let items =
        ctx.read(move |conn, shop| model::entries(conn, shop.id, wanted.as_deref())).await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// A new entry.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCode {
    pub list: String,
    pub code: String,
    pub label: String,
}

/// Adds a code.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/codes", operation_id = "addCode", tag = "codes",
    description = "Adds an entry to one of the shop's lists.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each code you add")),
    request_body = NewCode,
    responses((status = 201, description = "The entry", body = CodeEntry), Problems)
)]
pub async fn add(ctx: Ctx, body: Json<NewCode>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    ctx.once(&body.hash, move |write| {
        let code = codes::parse("code", &new.code).map_err(|f| Refusal::Invalid(vec![f]))?;
        let label =
            text::required("label", &new.label, 200).map_err(|f| Refusal::Invalid(vec![f]))?;
        if !LISTS.contains(&new.list.as_str()) {
            return Err(Refusal::field(
                "list",
                "word",
                format!("choose one of: {}", LISTS.join(", ")),
            )
            .into());
        }
        if model::find(write.conn, write.shop.id, &new.list, &code)?.is_some() {
            return Err(Refusal::Conflict(format!("the list has {code} already")).into());
        }
        let entry = CodeEntry::plain(write.shop.id, &new.list, &code, &label, "shop");
        model::add(write.conn, &entry)?;
        Ok(Made {
            status: 201,
            location: Some(format!(
                "/api/v1/shops/{}/codes?list={}",
                write.shop.public_id, new.list
            )),
            version: None,
            body: entry,
        })
    })
    .await
}
