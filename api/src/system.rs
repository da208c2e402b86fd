//! What belongs to the program and to no feature: health, the API document,
//! the pages behind problem types, assets, and where a person starts.

use actix_web::http::header;
use actix_web::{HttpResponse, web};

use crate::app::App;
use crate::domain::role::Permission;
use crate::problem::{Kind, Problem};
use crate::web::body::Parts;
use crate::web::ctx::Ctx;
use crate::web::page::{self, see_other};

/// The process runs.
pub async fn live() -> HttpResponse {
    HttpResponse::Ok().json(serde_json::json!({ "live": true }))
}

/// The record answers.
///
/// # Errors
/// Unavailable.
pub async fn ready(app: web::Data<App>) -> Result<HttpResponse, Problem> {
    let db = app.db.clone();
    web::block(move || db.read(|conn| crate::shops::model::all(conn).map(|shops| shops.len())))
        .await??;
    Ok(HttpResponse::Ok().json(serde_json::json!({ "ready": true })))
}

/// The API document (OpenAPI 3.1).
pub async fn document() -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(crate::openapi::json())
}

/// What a kind of problem means.
///
/// # Errors
/// Not found.
pub async fn problem(parts: Parts<String>) -> Result<HttpResponse, Problem> {
    let kind = Kind::ALL.iter().find(|kind| kind.slug == parts.0).ok_or_else(Problem::not_found)?;
    let shown = Problem::new(*kind, format!("Status {}", kind.status));
    Ok(HttpResponse::Ok()
        .content_type("text/html; charset=utf-8")
        .body(page::problem(None, &shown)))
}

const ASSETS: &[(&str, &str, &[u8])] = &[
    ("app.css", "text/css; charset=utf-8", include_bytes!("../assets/app.css")),
    ("icon.svg", "image/svg+xml", include_bytes!("../assets/icon.svg")),
];

/// A file of the pages.
///
/// # Errors
/// Not found.
pub async fn asset(parts: Parts<String>) -> Result<HttpResponse, Problem> {
    let (_, kind, bytes) =
        ASSETS.iter().find(|(name, ..)| *name == parts.0).ok_or_else(Problem::not_found)?;
    Ok(HttpResponse::Ok()
        .content_type(*kind)
        .insert_header((header::CACHE_CONTROL, "public, max-age=300"))
        .body(*bytes))
}

/// Where a person starts: in the first shop, by role.
///
/// # Errors
/// Forbidden for somebody without a shop.
pub async fn home(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let Some(shop) = ctx.shops.first() else {
        return Err(Problem::new(
            Kind::FORBIDDEN,
            "you have no role in a shop yet; an administrator gives you one",
        ));
    };
    let place = if ctx.may(Permission::DecideComeback) {
        "week"
    } else if ctx.may(Permission::ReadReports) {
        "labor"
    } else if ctx.may(Permission::ReadRecord) {
        "today"
    } else {
        "people"
    };
    Ok(see_other(&format!("/shops/{}/{place}", shop.code)))
}
