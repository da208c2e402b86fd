//! What belongs to the program and to no feature: health, the API document,
//! the pages behind problem types, assets, and where a person starts.

use actix_web::http::header::{self, AcceptEncoding, Encoding, Header};
use actix_web::{HttpRequest, HttpResponse, web};
use askama::Template;

use crate::app::App;
use crate::domain::role::Permission;
use crate::problem::{Kind, Problem};
use crate::reports::live::Progress;
use crate::web::assets;
use crate::web::body::Parts;
use crate::web::ctx::Ctx;
use crate::web::page::{self, see_other};

/// The process runs.
pub async fn live() -> HttpResponse {
    HttpResponse::Ok().json(serde_json::json!({ "live": true }))
}

/// The record answers. Of its shops, some may still wait for their reports.
///
/// # Errors
/// Unavailable.
pub async fn ready(app: web::Data<App>) -> Result<HttpResponse, Problem> {
    let db = app.db.clone();
    let shops =
        web::block(move || db.read(|conn| crate::shops::model::all(conn).map(|all| all.len())))
            .await??;
    let Progress { ready, of } = app.live.progress(shops);
    let reports = serde_json::json!({ "ready": ready, "of": of });
    Ok(HttpResponse::Ok().json(serde_json::json!({ "ready": true, "reports": reports })))
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

/// A file of the pages.
///
/// # Errors
/// Not found.
pub async fn asset(req: HttpRequest, parts: Parts<String>) -> Result<HttpResponse, Problem> {
    let (asset, exact) = assets::find(&parts.0).ok_or_else(Problem::not_found)?;
    let kept = if exact { "public, max-age=31536000, immutable" } else { "public, max-age=300" };
    let mut answer = HttpResponse::Ok();
    answer
        .content_type(asset.media_type)
        .insert_header((header::CACHE_CONTROL, kept))
        .insert_header((header::VARY, "accept-encoding"));
    let packed = assets::packed(asset);
    if !packed.is_empty() && takes_gzip(&req) {
        return Ok(answer.insert_header(header::ContentEncoding::Gzip).body(packed));
    }
    Ok(answer.body(asset.bytes))
}

fn takes_gzip(req: &HttpRequest) -> bool {
    let offered = [Encoding::gzip(), Encoding::identity()];
    AcceptEncoding::parse(req)
        .is_ok_and(|asked| asked.negotiate(offered.iter()) == Some(Encoding::gzip()))
}

/// The script that keeps pages for when the shop cannot be reached. It lies at
/// the top, since it works for what lies beside and below it.
pub async fn worker() -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/javascript; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "no-cache"))
        .body(assets::worker())
}

#[derive(Template)]
#[template(path = "offline.html")]
struct OfflinePage;

/// What a browser shows in place of a page that it has not kept.
///
/// # Errors
/// Where the page cannot be rendered.
pub async fn offline() -> Result<HttpResponse, Problem> {
    page::html(&OfflinePage)
}

/// Where a person starts, by role: in the first shop, or with all of them.
///
/// # Errors
/// Forbidden for somebody without a shop.
pub async fn home(ctx: Ctx) -> Result<HttpResponse, Problem> {
    if ctx.may(Permission::ReadHouse)
        && (ctx.shops().is_empty() || !ctx.may(Permission::ReadReports))
    {
        return Ok(see_other("/house"));
    }
    let Some(shop) = ctx.shops().first() else {
        return Err(Problem::new(
            Kind::FORBIDDEN,
            "you have no role in a shop yet; an administrator gives you one",
        ));
    };
    if ctx.may(Permission::ReadReports) && !ctx.may(Permission::DecideComeback) {
        let several = ctx.shops_where(Permission::ReadReports).len() > 1;
        let of_shop = format!("/shops/{}/labor", shop.code);
        return Ok(see_other(if several { "/group/labor" } else { &of_shop }));
    }
    let place = if ctx.may(Permission::DecideComeback) { "week" } else { "today" };
    Ok(see_other(&format!("/shops/{}/{place}", shop.code)))
}
