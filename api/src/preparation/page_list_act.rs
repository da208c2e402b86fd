//! How the forms of a list's page act.

use actix_web::HttpResponse;
use actix_web::http::header;
use analytics::preparation::{Kind, Limit, Line};

use super::list_write;
use super::lists::{self, NewReadingList, NewReadingListVersion};
use super::page_list::{LIMIT_FIELDS, Named, view};
use crate::domain::ids::ReadingListId;
use crate::domain::refusal::Refusal;
use crate::problem::Problem;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader, Tried, mendable, refused};
use crate::web::page::see_other;

type Done = Result<HttpResponse, Problem>;

/// Back to the list's page, or the page with what is wrong.
async fn settle(
    ctx: &Ctx,
    named: Named,
    (name, did): (&'static str, &'static str),
    (fields, done): (Fields, Done),
) -> Done {
    match done {
        Ok(answer) => {
            let place = answer.headers().get(header::LOCATION);
            let place = place.and_then(|place| place.to_str().ok()).map(str::to_owned);
            let shop = &ctx.shop()?.code;
            let same = match &named {
                Named::Own(id) => id.to_string(),
                Named::Starting(purpose) => purpose.as_str().to_owned(),
            };
            let place = place.unwrap_or(format!("/shops/{shop}/preparation/lists/{same}"));
            Ok(see_other(&format!("{place}?did={did}")))
        }
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: name, fields, problem: problem.clone() };
            refused(&problem, &view(ctx, named, (None, Some(tried))).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Makes a list of the shop's own from a starting one or another of its own.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn make(mut ctx: Ctx, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    let named = Named::parse(form.value.typed("from"))?;
    let mut read = Reader::new(&form.value);
    let new = NewReadingList {
        name: read.text("name"),
        make: read.text("make"),
        model: read.text("model"),
        engine: read.text("engine"),
        ..NewReadingList::default()
    };
    let narrower = new.make.is_some() || new.model.is_some() || new.engine.is_some();
    if matches!(named, Named::Own(_)) && !narrower {
        read.refuse("make", "say for which make, model or engine the copy is");
    }
    let from = named.clone();
    let done = match read.finish(Some(new)) {
        Ok(new) => {
            ctx.once(&form.hash, move |write| {
                let mut new = new.clone();
                match &from {
                    Named::Own(id) => {
                        let list = lists::by_id(write.conn, write.shop.id, id)?;
                        let shown = lists::shown(write.conn, write.shop.id, list)?;
                        new.purpose.clone_from(&shown.list.purpose);
                        new.symptom.clone_from(&shown.list.symptom);
                        new.lines = Some(shown.stands.lines);
                    }
                    Named::Starting(purpose) => {
                        let taken = list_write::as_starting(write, *purpose)?;
                        new.purpose = taken.purpose;
                        new.symptom = taken.symptom;
                    }
                }
                let made = list_write::make(write, &new)?;
                let (shop, id) = (&write.shop.code, &made.list.id);
                let place = format!("/shops/{shop}/preparation/lists/{id}");
                Ok(Made::created(place, made.list.version, ()))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, named, ("copy", "list-made"), (form.value, done)).await
}

/// A line as the form has it, over what stands.
fn line(read: &mut Reader<'_>, stands: Option<&Line>) -> Option<Line> {
    let kind = stands.map(|line| line.kind).or_else(|| read.owed("kind", Kind::parse))?;
    let mut limits = Vec::new();
    for (bound, value, source, edition) in LIMIT_FIELDS {
        let Some(value) = read.decimal(value) else { continue };
        read.require(source, "say by whose word");
        let source = read.text(source).unwrap_or_default();
        limits.push(Limit { bound, value, source, edition: read.text(edition) });
    }
    read.require("label", "say what is read");
    let key = stands.map_or_else(|| read.text("key").unwrap_or_default(), |line| line.key.clone());
    Some(Line {
        key,
        label: read.text("label").unwrap_or_default(),
        kind,
        unit: read.text("unit").filter(|_| kind.is_measured()),
        cells: read.whole("cells").filter(|_| kind == Kind::Cells),
        how: read.text("how"),
        limits,
        expects: read
            .word("expects", |word| match word {
                "yes" => Some(true),
                "no" => Some(false),
                _ => None,
            })
            .filter(|_| kind == Kind::YesNo),
        correction: stands.and_then(|line| line.correction.clone()),
        source: read.text("source"),
        edition: read.text("edition"),
        instruction: read.text("instruction"),
        cautions: read
            .text("cautions")
            .into_iter()
            .flat_map(|text| text.lines().map(|line| line.trim().to_owned()).collect::<Vec<_>>())
            .filter(|caution| !caution.is_empty())
            .collect(),
        one_of: read.text("one_of"),
        repeat_days: read.whole("repeat_days"),
        loss: stands.and_then(|line| line.loss.clone()),
        plausible_least: read.decimal("plausible_least").filter(|_| kind.is_measured()),
        plausible_most: read.decimal("plausible_most").filter(|_| kind.is_measured()),
        whole: kind.is_measured()
            && read.word("whole", |word| (word == "yes").then_some(())).is_some(),
        always: read.word("always", |word| (word == "yes").then_some(())).is_some(),
    })
}

/// What a form does to the lines.
fn changed(fields: &Fields, stands: &[Line]) -> Result<(i32, NewReadingListVersion), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    read.require("reason", "say why");
    let reason = read.text("reason").unwrap_or_default();
    let key = fields.typed("line");
    let mut lines = stands.to_vec();
    let at = lines.iter().position(|line| line.key == key);
    if fields.typed("take_out") == "yes" {
        lines.retain(|line| line.key != key);
    } else if let Some(line) = line(&mut read, at.and_then(|at| stands.get(at))) {
        match at.and_then(|at| lines.get_mut(at)) {
            Some(slot) => *slot = line,
            None => lines.push(line),
        }
    }
    read.finish(seen.map(|seen| (seen, NewReadingListVersion { lines, reason })))
}

/// The faults of the one line that the form holds, without the way to it.
fn of_line(problem: Problem) -> Problem {
    let mut problem = problem;
    for fault in &mut problem.errors {
        if let Some(rest) = fault.pointer.strip_prefix("/lines/") {
            let field = rest.split_once('/').map_or("", |(_, field)| field);
            fault.pointer = format!("/{field}");
        }
    }
    problem
}

/// Changes one line, adds one, or takes one out: another version of the list.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn change(
    mut ctx: Ctx,
    parts: Parts<(String, ReadingListId)>,
    form: Form<Fields>,
) -> Done {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let list = id.clone();
    let stands = ctx
        .read(move |conn, shop| {
            let row = lists::by_id(conn, shop.id, &list)?;
            Ok(lists::shown(conn, shop.id, row)?.stands.lines)
        })
        .await?;
    let done = match changed(&form.value, &stands) {
        Ok((seen, new)) => {
            let list = id.clone();
            ctx.once(&form.hash, move |write| {
                let after = list_write::change(write, &list, seen, &new)?;
                Ok(Made::done(after.list.version, ()))
            })
            .await
            .map_err(of_line)
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, Named::Own(id), ("line", "list-changed"), (form.value, done)).await
}

/// Withdraws a list.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn withdraw(
    mut ctx: Ctx,
    parts: Parts<(String, ReadingListId)>,
    form: Form<Fields>,
) -> Done {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let seen: Option<i32> = form.value.typed("version").parse().ok();
    let list = id.clone();
    let done = ctx
        .once(&form.hash, move |write| {
            let seen =
                seen.ok_or_else(|| Refusal::field("version", "required", "load the page"))?;
            let after = list_write::withdraw(write, &list, seen)?;
            Ok(Made::done(after.list.version, ()))
        })
        .await;
    settle(&ctx, Named::Own(id), ("withdraw", "list-withdrawn"), (form.value, done)).await
}
