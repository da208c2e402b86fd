//! Reports as files that a page hands out.

use actix_web::HttpResponse;
use actix_web::http::header;

use super::page::Asked;
use super::{Format, HTML, file as whole, render};
use crate::problem::Problem;
use crate::web::ctx::Ctx;

/// The report as a file, where the address asks for that.
pub(super) fn file(ctx: &Ctx, asked: &Asked) -> Result<Option<HttpResponse>, Problem> {
    let (body, media_type, ending) = match asked.query.format.as_deref() {
        Some("csv") => {
            let body =
                render(&asked.report, Format::Csv, asked.query.table.as_deref(), &asked.style)?;
            (body, Format::Csv.media_type(), "csv")
        }
        Some(HTML) => {
            let body = whole::render(&asked.report, &asked.lists, &ctx.shop()?.name, &asked.style)?;
            (body, "text/html; charset=utf-8", HTML)
        }
        _ => return Ok(None),
    };
    let head = asked.report.head();
    let name =
        format!("attachment; filename=\"{}-{}-{}.{ending}\"", head.shop, head.report, head.as_of);
    Ok(Some(
        HttpResponse::Ok()
            .content_type(media_type)
            .insert_header((header::CONTENT_DISPOSITION, name))
            .body(body),
    ))
}
