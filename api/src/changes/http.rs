//! Changes over HTTP: the feed for programs, and the audit.

use actix_web::HttpResponse;
use actix_web::http::header;
use serde::Deserialize;

use super::model::{self, AuditLine, Feed};
use super::query::{self, AuditQuery};
use crate::domain::refusal::FieldFault;
use crate::problem::Problem;
use crate::web::answer::{Page, ok};
use crate::web::body::Params;
use crate::web::ctx::Ctx;
use crate::web::docs::{Problems, limit, page};

/// Which part of the feed.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct FeedQuery {
    /// The `last_change_no` that you have; absent: from the beginning.
    #[param(minimum = 0)]
    pub after: Option<i64>,
    /// How many lines about, 1 to 200; absent: 50.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
}

/// The feed of changes.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/changes", operation_id = "listChanges", tag = "changes",
    description = "What changed, oldest first: which record, when, by whom; read the record itself for how it stands. A page never ends within one write: it may be longer than the limit. Go on with last_change_no as after, or follow Link rel=next while there is one.",
    params(("shop" = String, Path, description = "The shop's id"), FeedQuery),
    responses((status = 200, description = "The changes", body = Feed,
        headers(("Link" = String, description = "rel=next: what follows, where more is there"))), Problems)
)]
pub async fn feed(ctx: Ctx, query: Params<FeedQuery>) -> Result<HttpResponse, Problem> {
    let (after, most) = (query.0.after.unwrap_or(0), limit(query.0.limit)?);
    if after < 0 {
        let detail = "write 0 or a change number".to_owned();
        let fault = FieldFault { pointer: "after".to_owned(), code: "range", detail };
        return Err(Problem::invalid(vec![fault]));
    }
    let feed = ctx.read(move |conn, shop| model::feed(conn, shop.id, after, most)).await?;
    if !feed.more {
        return Ok(ok(&feed));
    }
    let next = format!(
        "</api/v1/shops/{}/changes?after={}&limit={most}>; rel=\"next\"",
        ctx.shop()?.public_id,
        feed.last_change_no
    );
    Ok(HttpResponse::Ok().insert_header((header::LINK, next)).json(&feed))
}

/// The audit.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/audit", operation_id = "listAudit", tag = "changes",
    description = "Who changed what, when, before and after, newest first. Lines are only ever added. One that changed what was finished or handed over is marked as a correction.",
    params(("shop" = String, Path, description = "The shop's id"), AuditQuery),
    responses((status = 200, description = "The lines", body = Page<AuditLine>), Problems)
)]
pub async fn audit(ctx: Ctx, query: Params<AuditQuery>) -> Result<HttpResponse, Problem> {
    let most = limit(query.0.limit)?;
    let filter = query::filter(query.0, most + 1, ctx.shop()?.zone()).map_err(Problem::invalid)?;
    let lines = ctx.read(move |conn, shop| model::audit(conn, shop.id, &filter)).await?;
    Ok(ok(&page(lines, most, |line| query::cursor(line.change.change_no, line.change.line))))
}
