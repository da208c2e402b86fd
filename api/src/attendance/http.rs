//! Attendance over HTTP.

use actix_web::HttpResponse;
use chrono::{Duration, NaiveDate};
use serde::Deserialize;

use super::day::OLDEST_DAYS;
use super::model::{self, Attendance, DayAttended};
use crate::domain::day;
use crate::domain::ids::PersonId;
use crate::domain::refusal::FieldFault;
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::web::answer::{Page, ok, versioned};
use crate::web::body::{Json, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// Which days, and whose.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct AttendanceQuery {
    /// First day; absent: six days before the last.
    pub from: Option<NaiveDate>,
    /// Last day; absent: today.
    pub to: Option<NaiveDate>,
    #[param(value_type = Option<String>, format = Uuid)]
    pub person_id: Option<PersonId>,
}

fn refuse(pointer: &str, detail: String) -> Problem {
    Problem::invalid(vec![FieldFault { pointer: pointer.to_owned(), code: "range", detail }])
}

/// The first and last day asked for.
fn span(query: &AttendanceQuery, today: NaiveDate) -> Result<(NaiveDate, NaiveDate), Problem> {
    for (name, asked) in [("from", query.from), ("to", query.to)] {
        if let Some(Err(fault)) = asked.map(|asked| day::known(name, asked)) {
            return Err(refuse(name, fault.detail));
        }
    }
    let to = query.to.unwrap_or(today);
    let from = query.from.unwrap_or_else(|| to - Duration::days(6));
    let days = (to - from).num_days();
    if days < 0 {
        return Err(refuse("from", "give a first day on or before the last".to_owned()));
    }
    if days > OLDEST_DAYS {
        return Err(refuse("from", format!("ask for at most {OLDEST_DAYS} days at once")));
    }
    Ok((from, to))
}

/// The shop's attendance.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}/attendance", operation_id = "listAttendance", tag = "attendance",
    description = "How long people were there for work, a line a person and day. A technician sees their own lines.",
    params(("shop" = String, Path, description = "The shop's id"), AttendanceQuery),
    responses((status = 200, description = "The days", body = Page<Attendance>), Problems)
)]
pub async fn list(ctx: Ctx, query: Params<AttendanceQuery>) -> Result<HttpResponse, Problem> {
    let query = query.0;
    let days = span(&query, ctx.shop()?.zone().day(ctx.now))?;
    let mut person = query.person_id;
    if !ctx.may(Permission::ReadAttendance) {
        let own = ctx.asker().person.id.clone();
        if person.as_ref().is_some_and(|id| *id != own) {
            ctx.demand(Permission::ReadAttendance)?;
        }
        person = Some(own);
    }
    let items =
        ctx.read(move |conn, shop| model::between(conn, shop.id, days, person.as_ref())).await?;
    Ok(ok(&Page { items, next_cursor: None }))
}

/// Records a day.
#[utoipa::path(
    put, path = "/api/v1/shops/{shop}/attendance/{person}/{day}", operation_id = "setAttendance", tag = "attendance",
    description = "Records how long a person was there for work on a shop-local day, less unpaid breaks, over what stood before.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("person" = String, Path, description = "The person's id"),
        ("day" = String, Path, description = "The shop-local day, such as 2026-03-02")),
    request_body = DayAttended,
    responses((status = 200, description = "The day", body = Attendance), Problems)
)]
pub async fn set(
    ctx: Ctx,
    parts: Parts<(String, PersonId, NaiveDate)>,
    body: Json<DayAttended>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, person, day)) = parts;
    let new = body.value;
    let row = ctx.write(move |write| model::set(write, &person, day, &new)).await?;
    Ok(versioned(row.version, &row))
}

/// Takes a day back.
#[utoipa::path(
    delete, path = "/api/v1/shops/{shop}/attendance/{person}/{day}", operation_id = "removeAttendance", tag = "attendance",
    description = "Takes back what was recorded of a person's day.",
    params(("shop" = String, Path, description = "The shop's id"),
        ("person" = String, Path, description = "The person's id"),
        ("day" = String, Path, description = "The shop-local day, such as 2026-03-02")),
    responses((status = 204, description = "It is gone"), Problems)
)]
pub async fn remove(
    ctx: Ctx,
    parts: Parts<(String, PersonId, NaiveDate)>,
) -> Result<HttpResponse, Problem> {
    let Parts((_, person, day)) = parts;
    ctx.write(move |write| model::remove(write, &person, day)).await?;
    Ok(HttpResponse::NoContent().finish())
}
