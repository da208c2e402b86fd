//! The forms of the code lists' page.

use actix_web::HttpResponse;
use analytics::words::{Access, Curable};
use serde::Serialize;

use super::change::{self, CodePatch, NewCode};
use super::page::{CodesQuery, place, view};
use crate::db::Answer;
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::answer::Made;
use crate::web::body::Form;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader, Tried, mendable, refused};
use crate::web::page::see_other;

/// What a form asks for, under the name that the page knows it by.
struct Asked<F> {
    form: &'static str,
    fields: Fields,
    hash: String,
    work: Result<F, Problem>,
}

/// Acts once, then shows the entry; or shows the form again with what is wrong.
async fn act<T, F>(ctx: &Ctx, asked: Asked<F>) -> Result<HttpResponse, Problem>
where
    T: Serialize,
    F: Fn(&mut ShopWrite<'_>) -> Answer<Made<T>> + Send + 'static,
{
    let done = match asked.work {
        Ok(work) => ctx.once(&asked.hash, work).await,
        Err(problem) => Err(problem),
    };
    let list = asked.fields.typed("list").to_owned();
    match done {
        Ok(_) => {
            let place = place(&ctx.shop()?.code, &list, asked.fields.typed("code").trim());
            Ok(see_other(&format!("{place}&did=saved#entry")))
        }
        Err(problem) if mendable(&problem) => {
            let code = (asked.form != "add").then(|| asked.fields.typed("code").to_owned());
            let tried = Tried { form: asked.form, fields: asked.fields, problem: problem.clone() };
            let query = CodesQuery { list: Some(list), code, ..CodesQuery::default() };
            refused(&problem, &view(ctx, &query, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

fn new_code(fields: &Fields) -> Result<NewCode, Problem> {
    let mut read = Reader::new(fields);
    let new = NewCode {
        list: fields.typed("list").to_owned(),
        code: fields.typed("code").to_owned(),
        label: fields.typed("label").to_owned(),
        system: read.text("system"),
        kind: read.text("kind"),
        curable: read.word("curable", Curable::parse),
        typical_minutes: read.whole("typical_minutes"),
        access: read.word("access", Access::parse),
    };
    read.finish(Some(new))
}

/// Adds an entry.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn add(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let work = new_code(&form.value).map(|new| {
        move |write: &mut ShopWrite<'_>| {
            let entry = change::add(write, &new)?;
            Ok(Made::done(entry.version, entry))
        }
    });
    act(&ctx, Asked { form: "add", fields: form.value, hash: form.hash, work }).await
}

/// The fields that the form has; what only other lists have stays away.
fn patch(fields: &Fields) -> Result<(i32, CodePatch), Problem> {
    let list = fields.typed("list");
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let curable = read.word("curable", Curable::parse);
    let minutes = read.whole("typical_minutes");
    let access = read.word("access", Access::parse);
    let patch = CodePatch {
        label: Some(fields.typed("label").to_owned()),
        system: (list == "symptom").then(|| read.text("system")),
        kind: matches!(list, "cause" | "comeback_reason").then(|| read.text("kind")),
        curable: (list == "cause").then_some(curable),
        typical_minutes: (list == "check").then_some(minutes),
        access: (list == "check").then_some(access),
        retired: None,
    };
    read.finish(seen.map(|seen| (seen, patch)))
}

fn changing(
    fields: &Fields,
    seen: i32,
    patch: CodePatch,
) -> impl Fn(&mut ShopWrite<'_>) -> Answer<Made<super::model::CodeEntry>> + Send + 'static {
    let (list, code) = (fields.typed("list").to_owned(), fields.typed("code").to_owned());
    move |write: &mut ShopWrite<'_>| {
        let entry = change::change(write, &list, &code, seen, &patch)?;
        Ok(Made::done(entry.version, entry))
    }
}

/// Changes an entry.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn change(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let work = patch(&form.value).map(|(seen, patch)| changing(&form.value, seen, patch));
    act(&ctx, Asked { form: "entry", fields: form.value, hash: form.hash, work }).await
}

/// Retires an entry, or brings it back.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn retire(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let mut read = Reader::new(&form.value);
    let seen = read.owed("version", |text| text.parse().ok());
    let retired = read.owed("retired", |text| text.parse::<bool>().ok());
    let work = read.finish(seen.zip(retired)).map(|(seen, retired)| {
        let patch = CodePatch { retired: Some(retired), ..CodePatch::default() };
        changing(&form.value, seen, patch)
    });
    act(&ctx, Asked { form: "retirement", fields: form.value, hash: form.hash, work }).await
}

/// Merges an entry into another.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn merge(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let (list, code) = (form.value.typed("list").to_owned(), form.value.typed("code").to_owned());
    let mut read = Reader::new(&form.value);
    let into = read.owed("into", |text| Some(text.to_owned()));
    let work = read.finish(into).map(|into| {
        move |write: &mut ShopWrite<'_>| {
            let merged = change::merge(write, &list, &code, &into)?;
            Ok(Made::done(merged.entry.version, merged))
        }
    });
    act(&ctx, Asked { form: "merge", fields: form.value, hash: form.hash, work }).await
}
