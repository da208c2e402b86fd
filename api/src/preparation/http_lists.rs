//! Lists of readings over HTTP.

use actix_web::HttpResponse;
use serde::{Deserialize, Serialize};

use super::list_write;
use super::lists::{
    self, NewReadingList, NewReadingListVersion, ReadingListVersion, ShownReadingList,
};
use crate::domain::ids::ReadingListId;
use crate::problem::Problem;
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// A list with all its versions.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct WholeReadingList {
    #[serde(flatten)]
    pub shown: ShownReadingList,
    /// The latest first.
    pub versions: Vec<ReadingListVersion>,
}

/// Which lists.
#[derive(Debug, Clone, Default, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ReadingListQuery {
    /// Withdrawn ones, too.
    pub withdrawn: Option<bool>,
}

/// The shop's lists.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/reading-lists", operation_id = "listReadingLists", tag = "preparation",
    description = "The shop's lists of readings, each with the version that stands. A starting list becomes the shop's own when a first sheet is begun by it, or when it is made here without lines.",
    params(("shop" = String, Path, description = "The shop's id"), ReadingListQuery),
    responses((status = 200, description = "The lists", body = Page<ShownReadingList>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<ReadingListQuery>) -> Result<HttpResponse, Problem> {
    let withdrawn = query.0.withdrawn.unwrap_or(false);
    let items = ctx.read(move |conn, shop| lists::all(conn, shop.id, withdrawn)).await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// One list.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/reading-lists/{list}", operation_id = "readReadingList", tag = "preparation",
    description = "A list of readings with all its versions.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("list" = String, Path, description = "The list's id")),
    responses((status = 200, description = "The list", body = WholeReadingList), Problems)
)]
pub async fn read(
    ctx: Ctx,
    parts: Parts<(String, ReadingListId)>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let whole = ctx
        .read(move |conn, shop| {
            let list = lists::by_id(conn, shop.id, &id)?;
            let shown = lists::shown(conn, shop.id, list)?;
            Ok(WholeReadingList { shown, versions: lists::versions(conn, shop.id, &id)? })
        })
        .await?;
    Ok(versioned(whole.shown.list.version, &whole))
}

/// Makes a list.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/reading-lists", operation_id = "makeReadingList", tag = "preparation",
    description = "Makes a list of readings, for all vehicles or for a make, model or engine. Without lines it has those of the starting list of its purpose.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each list you make")),
    request_body = NewReadingList,
    responses((status = 201, description = "The list", body = ShownReadingList), Problems)
)]
pub async fn make(ctx: Ctx, body: Json<NewReadingList>) -> Result<HttpResponse, Problem> {
    let new = body.value;
    ctx.once(&body.hash, move |write| {
        let made = list_write::make(write, &new)?;
        let shop = &write.shop.public_id;
        let place = format!("/api/v1/shops/{shop}/reading-lists/{}", made.list.id);
        Ok(Made::created(place, made.list.version, made))
    })
    .await
}

/// Makes another version.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/reading-lists/{list}/versions", operation_id = "changeReadingList", tag = "preparation",
    description = "Another version of a list, with all its lines and why. Sheets that were begun keep theirs.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("list" = String, Path, description = "The list's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each version you make")),
    request_body = NewReadingListVersion,
    responses((status = 200, description = "The list as it is now", body = ShownReadingList), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, ReadingListId)>,
    body: Json<NewReadingListVersion>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, new) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let after = list_write::change(write, &id, seen, &new)?;
        Ok(Made::done(after.list.version, after))
    })
    .await
}

/// Withdraws a list.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/reading-lists/{list}/withdrawal", operation_id = "withdrawReadingList", tag = "preparation",
    description = "Withdraws a list: no sheet is begun by it any more. Its sheets stay.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("list" = String, Path, description = "The list's id"),
        ("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "The list as it is now", body = ShownReadingList), Problems)
)]
pub async fn withdraw(
    ctx: Ctx,
    parts: Parts<(String, ReadingListId)>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let id = parts.0.1;
    let after = ctx.write(move |write| list_write::withdraw(write, &id, seen)).await?;
    Ok(versioned(after.list.version, &after))
}
