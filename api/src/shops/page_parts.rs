//! Times and costs of parts as a page.

use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use serde::Deserialize;

use super::part_policy::{self, PartTimes, PartTimesWritten};
use crate::domain::role::Permission;
use crate::domain::style::Style;
use crate::jobs::http::money;
use crate::problem::Problem;
use crate::web::answer::Made;
use crate::web::body::{Form, Params};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::notice::{Did, Notice};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::duration;

/// Which part the form is filled with.
#[derive(Debug, Clone, Default, Deserialize)]
pub struct PartAsked {
    pub part: Option<String>,
}

/// A part in a line.
struct PartLine {
    part: String,
    access: String,
    clean: String,
    fit: String,
    cost: String,
    place: String,
    bench: String,
}

#[derive(Template)]
#[template(path = "parts_times.html")]
struct PartsPage {
    viewer: Viewer,
    shop: String,
    notice: Option<Notice>,
    lines: Vec<PartLine>,
    costs: bool,
    writes: bool,
    blank: Fields,
    asked: bool,
    tried: Option<Tried>,
}

impl PartsPage {
    fn form(&self) -> FormView {
        FormView::of("times", self.tried.as_ref(), self.blank.clone())
    }

    /// Takes one line back.
    fn line(&self, part: &str) -> FormView {
        FormView::of_line("removal", part, None, Fields::default())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|_| self.form())
    }

    fn refused_form(&self) -> &'static str {
        "times"
    }
}

fn line(times: &PartTimes, shop: &str, style: &Style) -> PartLine {
    let minutes =
        |minutes: Option<i32>| minutes.map_or_else(|| "-".to_owned(), |m| duration(m.into()));
    let query = serde_urlencoded::to_string([("part", &times.part)]).unwrap_or_default();
    PartLine {
        part: times.part.clone(),
        access: minutes(times.access_minutes),
        clean: minutes(times.clean_minutes),
        fit: minutes(times.fit_minutes),
        cost: times.cost_minor.map_or_else(|| "-".to_owned(), |minor| style.amount(minor)),
        place: format!("/shops/{shop}/parts-times?{query}#times"),
        bench: format!("/shops/{shop}/bench?{query}"),
    }
}

/// What the form holds of a part that stands.
fn filled(times: &PartTimes, style: &Style) -> Fields {
    let number = |number: Option<i32>| number.map_or_else(String::new, |number| number.to_string());
    Fields::of(&[
        ("part", times.part.clone()),
        ("access_minutes", number(times.access_minutes)),
        ("clean_minutes", number(times.clean_minutes)),
        ("fit_minutes", number(times.fit_minutes)),
        (
            "cost_minor",
            times.cost_minor.map_or_else(String::new, |minor| style.money.format_amount(minor)),
        ),
    ])
}

async fn view(
    ctx: &Ctx,
    asked: Option<String>,
    notice: Option<Notice>,
    tried: Option<Tried>,
) -> Result<PartsPage, Problem> {
    let (rights, shop) = (money(ctx), ctx.shop()?.clone());
    let style = shop.style();
    let rows = ctx.read(|conn, shop| part_policy::list(conn, shop.id)).await?;
    let rows: Vec<PartTimes> = rows.into_iter().map(|part| part.for_eyes(rights)).collect();
    let standing = asked.as_ref().and_then(|part| rows.iter().find(|row| row.part == *part));
    let blank = match (standing, &asked) {
        (Some(row), _) => filled(row, &style),
        (None, Some(part)) => Fields::of(&[("part", part.clone())]),
        (None, None) => Fields::default(),
    };
    Ok(PartsPage {
        viewer: Viewer::of(ctx),
        notice,
        lines: rows.iter().map(|row| line(row, &shop.code, &style)).collect(),
        costs: rights.costs,
        writes: ctx.may(Permission::WriteRules),
        blank,
        asked: asked.is_some(),
        shop: shop.code,
        tried,
    })
}

/// The parts with times or a cost, and the form.
///
/// # Errors
/// The record does not answer.
pub async fn list(
    ctx: Ctx,
    req: HttpRequest,
    asked: Params<PartAsked>,
) -> Result<HttpResponse, Problem> {
    let notice = Did::of(&req).and_then(|did| match did.word.as_str() {
        "kept" => Some(Notice::plain("Saved.")),
        "taken" => Some(Notice::plain("Taken back.")),
        _ => None,
    });
    let part = asked.0.part.filter(|part| !part.trim().is_empty());
    page::html(&view(&ctx, part, notice, None).await?)
}

/// Writes a part's times and cost.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn write(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let shop = ctx.shop()?.clone();
    let mut read = Reader::new(&form.value);
    let part = form.value.typed("part").to_owned();
    let new = PartTimesWritten {
        access_minutes: read.whole("access_minutes"),
        clean_minutes: read.whole("clean_minutes"),
        fit_minutes: read.whole("fit_minutes"),
        cost_minor: read.amount("cost_minor", &shop.money()),
    };
    let done = match read.finish(Some(new)) {
        Ok(new) => {
            ctx.once(&form.hash, move |write| {
                let row = part_policy::put(write, &part, &new)?;
                Ok(Made::done(row.version, row))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => Ok(see_other(&format!("/shops/{}/parts-times?did=kept", shop.code))),
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: "times", fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, None, None, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Takes a part's times and cost back.
///
/// # Errors
/// Forbidden, nothing to take back, or the record does not answer.
pub async fn remove(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let part = form.value.typed("part").to_owned();
    ctx.once(&form.hash, move |write| {
        let row = part_policy::remove(write, &part)?;
        Ok(Made::done(row.version, row))
    })
    .await?;
    Ok(see_other(&format!("/shops/{}/parts-times?did=taken", ctx.shop()?.code)))
}
