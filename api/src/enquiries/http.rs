//! Enquiries over HTTP.

use actix_web::HttpResponse;
use serde::Deserialize;

use super::findings::{EnquiryPatch, Findings};
use super::model::{self, Enquiry, WholeEnquiry};
use super::trend::{self, Trend};
use crate::comebacks::model as comebacks;
use crate::db::{Answer, Conn};
use crate::domain::ids::{ComebackId, PersonId};
use crate::domain::refusal::Refusal;
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::web::answer::{Made, ok, versioned};
use crate::web::body::{Json, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// A technician's own words.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Statement {
    pub technician_says: String,
}

/// A note at the close-out.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CloseOut {
    pub note: Option<String>,
}

/// Whether the asker sees every enquiry, not only those about the own jobs.
#[must_use]
pub fn sees_all(ctx: &Ctx) -> bool {
    ctx.may(Permission::DecideComeback)
        || ctx.may(Permission::ReadReports)
        || ctx.may(Permission::LinkComeback)
}

fn read_one(
    conn: &mut Conn,
    shop_id: i32,
    id: &ComebackId,
    person: Option<&PersonId>,
) -> Answer<WholeEnquiry> {
    let comeback = comebacks::by_id(conn, shop_id, id)?;
    let row = model::of_comeback(conn, shop_id, id)?.ok_or(Refusal::NotFound)?;
    if let Some(person) = person
        && !model::is_about(conn, &comeback, Some(&row), person)?
    {
        let why =
            "an enquiry is for who leads the shop, its advisers, and for whose job it is about"
                .to_owned();
        return Err(Refusal::Forbidden(why).into());
    }
    model::whole(conn, row)
}

/// The enquiry into a comeback.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry", operation_id = "readEnquiry", tag = "enquiry",
    description = "What was found about a comeback, how long the repair had held, and the corrective actions that came of it. A technician reads those about the own jobs.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("comeback" = String, Path, description = "The comeback's id")),
    responses((status = 200, description = "The enquiry", body = WholeEnquiry), Problems)
)]
pub async fn read(ctx: Ctx, parts: Parts<(String, ComebackId)>) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    let person = (!sees_all(&ctx)).then(|| ctx.asker().person.id.clone());
    let whole = ctx.read(move |conn, shop| read_one(conn, shop.id, &id, person.as_ref())).await?;
    Ok(versioned(whole.enquiry.version, &whole))
}

/// Begins an enquiry.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry", operation_id = "beginEnquiry", tag = "enquiry",
    description = "Begins the enquiry into a comeback. A reason named here decides the comeback by it; another reason in either place changes both.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("comeback" = String, Path, description = "The comeback's id"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each enquiry you begin")),
    request_body = Findings,
    responses((status = 201, description = "The enquiry", body = Enquiry), Problems)
)]
pub async fn begin(
    ctx: Ctx,
    parts: Parts<(String, ComebackId)>,
    body: Json<Findings>,
) -> Result<HttpResponse, Problem> {
    let (id, found) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = model::write(write, &id, None, &found)?;
        let place = format!("/api/v1/shops/{}/comebacks/{id}/enquiry", write.shop.public_id);
        Ok(Made::created(place, row.version, row))
    })
    .await
}

/// Changes an enquiry.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry", operation_id = "changeEnquiry", tag = "enquiry",
    description = "Changes what was found (JSON merge patch). Another reason decides the comeback by it.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("comeback" = String, Path, description = "The comeback's id"),
        ("If-Match" = String, Header, description = "The ETag you read")),
    request_body(content = EnquiryPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The enquiry as it is now", body = Enquiry), Problems)
)]
pub async fn change(
    ctx: Ctx,
    parts: Parts<(String, ComebackId)>,
    body: Json<EnquiryPatch>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, patch) = (parts.0.1, body.value);
    let row = ctx
        .write(move |write| {
            let row = model::of_comeback(write.conn, write.shop.id, &id)?;
            let found = patch.clone().over(&row.ok_or(Refusal::NotFound)?);
            model::write(write, &id, Some(seen), &found)
        })
        .await?;
    Ok(versioned(row.version, &row))
}

/// Keeps the technician's words.
#[utoipa::path(
    put, path = "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry/statement", operation_id = "stateInEnquiry", tag = "enquiry",
    description = "What the technician says whom the enquiry names: this part alone is theirs to write.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("comeback" = String, Path, description = "The comeback's id")),
    request_body = Statement,
    responses((status = 200, description = "The enquiry", body = Enquiry), Problems)
)]
pub async fn say(
    ctx: Ctx,
    parts: Parts<(String, ComebackId)>,
    body: Json<Statement>,
) -> Result<HttpResponse, Problem> {
    let (id, said) = (parts.0.1, body.value);
    let row = ctx.write(move |write| model::say(write, &id, &said.technician_says)).await?;
    Ok(versioned(row.version, &row))
}

/// Closes an enquiry.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry/closure", operation_id = "closeEnquiry", tag = "enquiry",
    description = "Closes an enquiry whose reason is named and whose corrective actions are all done or dropped.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("comeback" = String, Path, description = "The comeback's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each close-out")),
    request_body = CloseOut,
    responses((status = 200, description = "The closed enquiry", body = Enquiry), Problems)
)]
pub async fn close(
    ctx: Ctx,
    parts: Parts<(String, ComebackId)>,
    body: Json<CloseOut>,
) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let (id, close) = (parts.0.1, body.value);
    ctx.once(&body.hash, move |write| {
        let row = model::close(write, &id, seen, close.note.as_deref())?;
        Ok(Made::done(row.version, row))
    })
    .await
}

/// Opens an enquiry again.
#[utoipa::path(
    post, path = "/api/v1/shops/{shop}/comebacks/{comeback}/enquiry/reopening", operation_id = "reopenEnquiry", tag = "enquiry",
    description = "Opens a closed enquiry again.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("comeback" = String, Path, description = "The comeback's id"),
        ("If-Match" = String, Header, description = "The ETag you read"),
        ("Idempotency-Key" = String, Header, description = "A new UUID for each reopening")),
    responses((status = 200, description = "The open enquiry", body = Enquiry), Problems)
)]
pub async fn reopen(ctx: Ctx, parts: Parts<(String, ComebackId)>) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let id = parts.0.1;
    ctx.once("", move |write| {
        let row = model::reopen(write, &id, seen)?;
        Ok(Made::done(row.version, row))
    })
    .await
}

/// The trend of what fails, and why.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/enquiries/trend", operation_id = "readEnquiryTrend", tag = "enquiry",
    description = "Confirmed comebacks of the last four quarters, the running one included, by the quarter of the return: by reason, by what that is put down to, and by what failed.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The trend", body = Trend), Problems)
)]
pub async fn trend(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let now = ctx.now;
    let trend = ctx.read(move |conn, shop| trend::read(conn, shop, shop.zone().day(now))).await?;
    Ok(ok(&trend))
}
