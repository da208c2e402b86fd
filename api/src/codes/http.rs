//! Code lists over HTTP.

use actix_web::HttpResponse;
use serde::{Deserialize, Serialize};

use super::change::{self, CodePatch, Merge, MergedCode, NewCode};
use super::model::{self, CodeEntry};
use super::{sources, uses};
use crate::db::{Answer, Conn};
use crate::domain::codes::{LISTS, address_part};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Which entries.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CodeQuery {
    /// `system`, `symptom`, `when`, `cause`, `check`, `comeback_reason` or
    /// `operation`; absent: all.
    pub list: Option<String>,
    /// True: only those that are retired or merged; false: only those that new
    /// work may use; absent: all.
    pub retired: Option<bool>,
}

/// The shop's codes.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/codes", operation_id = "listCodes", tag = "codes",
    description = "The shop's lists: symptoms, causes, checks and so on, each entry with where it comes from. An entry's ETag is its version in quotes.",
    params(("shop" = String, Path, description = "The shop's id"), CodeQuery),
    responses((status = 200, description = "The entries", body = Page<CodeEntry>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<CodeQuery>) -> Result<HttpResponse, Problem> {
    let CodeQuery { list: wanted, retired } = query.0;
    if wanted.as_deref().is_some_and(|list| !LISTS.contains(&list)) {
        return Err(Problem::invalid(vec![FieldFault {
            pointer: "list".into(),
            code: "word",
            detail: format!("choose one of: {}", LISTS.join(", ")),
        }]));
    }
    let mut items =
        ctx.read(move |conn, shop| model::entries(conn, shop.id, wanted.as_deref())).await?;
    items.retain(|entry| retired.is_none_or(|retired| retired != entry.is_live()));
    Ok(ok(&Page { items, next_cursor: None }))
}

/// A list as a whole.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct CodeList {
    pub list: String,
    pub label: String,
    /// What it is for.
    pub purpose: String,
    /// Where its starting entries come from.
    pub source: String,
    /// Entries that new work may use.
    pub live: i64,
    pub retired: i64,
    pub merged: i64,
    /// How often the record uses its codes.
    pub uses: i64,
}

fn code_lists(conn: &mut Conn, shop_id: i32) -> Answer<Vec<CodeList>> {
    let entries = model::entries(conn, shop_id, None)?;
    let count = |list: &str, fits: fn(&CodeEntry) -> bool| {
        let hits = entries.iter().filter(|entry| entry.list == list && fits(entry)).count();
        i64::try_from(hits).unwrap_or(i64::MAX)
    };
    sources::ABOUT
        .iter()
        .map(|about| {
            Ok(CodeList {
                list: about.list.to_owned(),
                label: about.label.to_owned(),
                purpose: about.purpose.to_owned(),
                source: about.source.to_owned(),
                live: count(about.list, CodeEntry::is_live),
                retired: count(about.list, |entry| {
                    entry.retired_at.is_some() && entry.merged_into.is_none()
                }),
                merged: count(about.list, |entry| entry.merged_into.is_some()),
                uses: uses::of_list(conn, shop_id, about.list)?.values().sum(),
            })
        })
        .collect()
}

/// The shop's lists as wholes.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/code-lists", operation_id = "listCodeLists", tag = "codes",
    description = "Each list the shop keeps: what it is for, where its starting entries come from, how many entries it has, and how often the record uses them.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The lists", body = Page<CodeList>), Problems)
)]
pub async fn lists(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let items = ctx.read(|conn, shop| code_lists(conn, shop.id)).await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// The address of an entry that was written to.
fn place(write: &ShopWrite<'_>, entry: &CodeEntry) -> String {
    let code = address_part(&entry.code);
    format!("/api/v1/shops/{}/codes/{}/{code}", write.shop.public_id, entry.list)
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
        let entry = change::add(write, &new)?;
        Ok(Made::created(place(write, &entry), entry.version, entry))
    })
    .await
}

/// One entry.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/codes/{list}/{code}", operation_id = "readCode", tag = "codes",
    description = "One entry of a list.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("list" = String, Path, description = "The list"),
        ("code" = String, Path, description = "The code")),
    responses((status = 200, description = "The entry", body = CodeEntry), Problems)
)]
pub async fn read(
    ctx: Ctx,
    parts: Parts<(String, String, String)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, list, code)) = parts;
    let entry = ctx
        .read(move |conn, shop| {
            model::find(conn, shop.id, &list, &code)?.ok_or_else(|| Refusal::NotFound.into())
        })
        .await?;
    Ok(versioned(entry.version, &entry))
}

/// Changes an entry.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/codes/{list}/{code}", operation_id = "changeCode", tag = "codes",
    description = "Changes an entry's label and details, retires it or brings it back (JSON merge patch). A retired entry is not offered and not taken for new work; the record keeps it.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("list" = String, Path, description = "The list"),
        ("code" = String, Path, description = "The code"),
        ("If-Match" = String, Header, description = "The ETag you read")),
    request_body(content = CodePatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The entry as it is now", body = CodeEntry), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, String, String)>,
    body: Json<CodePatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (Parts((_, list, code)), patch) = (parts, body.value);
    let entry = ctx.write(move |write| change::change(write, &list, &code, seen, &patch)).await?;
    Ok(versioned(entry.version, &entry))
}

/// Merges an entry into another.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/codes/{list}/{code}/merge", operation_id = "mergeCode", tag = "codes",
    description = "Merges an entry into another of its list: it is not offered any more, and figures count it as the other one. What was recorded under it keeps its code. There is no way back.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("list" = String, Path, description = "The list"),
        ("code" = String, Path, description = "The code to merge away"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each merge")),
    request_body = Merge,
    responses((status = 200, description = "The merged entry", body = MergedCode), Problems)
)]
pub async fn merge(
    ctx: Ctx,
    parts: Parts<(String, String, String)>,
    body: Json<Merge>,
) -> Result<HttpResponse, Problem> {
    let (Parts((_, list, code)), into) = (parts, body.value.into);
    ctx.once(&body.hash, move |write| {
        let merged = change::merge(write, &list, &code, &into)?;
        Ok(Made::done(merged.entry.version, merged))
    })
    .await
}
