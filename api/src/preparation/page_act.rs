//! How the forms of the preparation pages act.

use actix_web::HttpResponse;
use actix_web::http::header;

use super::page::{self as overview};
use super::page_sheet;
use super::reading::NewReading;
use super::sheet_write;
use super::sheets::NewReadingSheet;
use super::stock::{self, NewStockVehicle, StockDeparture};
use crate::db::Answer;
use crate::domain::ids::{JobId, ReadingListId, ReadingSheetId, StockId, VehicleId};
use crate::domain::refusal::Refusal;
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::vehicles::model::{self as vehicles, NewVehicle, Vehicle};
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader, Tried, mendable, refused};
use crate::web::page::see_other;

type Done = Result<HttpResponse, Problem>;

/// The vehicle that a form names: by its id, or by VIN or plate, which makes one
/// that is new to the shop.
#[derive(Clone)]
enum Named {
    Known(VehicleId),
    New(NewVehicle),
}

/// Longer than any plate.
const SHORTEST_VIN: usize = 11;

fn named(read: &mut Reader<'_>) -> Option<Named> {
    if let Some(id) = read.word("vehicle_id", VehicleId::parse) {
        return Some(Named::Known(id));
    }
    read.require("known", "write the VIN, or the plate");
    let known = read.text("known")?;
    let is_vin = known.chars().filter(|c| c.is_alphanumeric()).count() >= SHORTEST_VIN;
    Some(Named::New(NewVehicle {
        vin: Some(known.clone()).filter(|_| is_vin),
        plate: Some(known).filter(|_| !is_vin),
        make: read.text("make"),
        model: read.text("model"),
        model_year: read.whole("model_year"),
        engine: None,
    }))
}

fn found(write: &mut ShopWrite<'_>, named: &Named) -> Answer<Vehicle> {
    match named {
        Named::Known(id) => vehicles::by_id(write.conn, write.shop.id, id),
        Named::New(new) => {
            let described = new.parse("").map_err(Refusal::Invalid)?;
            vehicles::find_or_make(write, &described)
        }
    }
}

/// Where what was made is to be seen.
fn place(answer: &HttpResponse) -> Option<String> {
    answer.headers().get(header::LOCATION)?.to_str().ok().map(str::to_owned)
}

/// Back to the overview with what is wrong.
async fn overview_again(ctx: &Ctx, name: &'static str, fields: Fields, problem: Problem) -> Done {
    if !mendable(&problem) {
        return Err(problem);
    }
    let tried = Tried { form: name, fields, problem: problem.clone() };
    refused(&problem, &overview::view(ctx, None, Some(tried)).await?)
}

/// What a sheet is begun on.
#[derive(Clone)]
struct Begun {
    named: Option<Named>,
    new: NewReadingSheet,
}

fn begun(fields: &Fields) -> Result<Begun, Problem> {
    let mut read = Reader::new(fields);
    let job_id = read.word("job_id", JobId::parse);
    let named = if job_id.is_none() { named(&mut read) } else { None };
    // A list of the shop, or the word of a starting list.
    let list = read.text("list");
    let list_id = list.as_deref().and_then(ReadingListId::parse);
    let new = NewReadingSheet {
        vehicle_id: None,
        purpose: list.filter(|_| list_id.is_none()),
        job_id,
        list_id,
        note: read.text("note"),
    };
    read.finish(Some(Begun { named, new }))
}

/// Begins a sheet and opens it.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn begin(mut ctx: Ctx, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    let done = match begun(&form.value) {
        Ok(begun) => {
            ctx.once(&form.hash, move |write| {
                let mut new = begun.new.clone();
                if let Some(named) = &begun.named {
                    new.vehicle_id = Some(found(write, named)?.id);
                }
                let shown = sheet_write::begin(write, &new)?;
                let (shop, id) = (&write.shop.code, &shown.sheet.id);
                let place = format!("/shops/{shop}/preparation/sheets/{id}?did=begun");
                Ok(Made::created(place, shown.sheet.version, ()))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(answer) => {
            let home = format!("/shops/{}/preparation", ctx.shop()?.code);
            Ok(see_other(&place(&answer).unwrap_or(home)))
        }
        Err(problem) => overview_again(&ctx, "begin", form.value, problem).await,
    }
}

fn reading(fields: &Fields) -> Result<NewReading, Problem> {
    let mut read = Reader::new(fields);
    let cells: Vec<String> =
        (1..=24).map(|at| format!("value_{at}")).filter(|name| fields.holds(name)).collect();
    let values: Vec<f64> = cells.iter().filter_map(|name| read.decimal(name)).collect();
    let state = read.text("state");
    let new = NewReading {
        line: read.text("line").unwrap_or_default(),
        value: read.decimal("value"),
        values: Some(values).filter(|values| !values.is_empty()),
        yes: read.word("yes", |text| text.parse().ok()),
        words: read.text("words"),
        temperature: read.decimal("temperature"),
        temperature_unit: read
            .text("temperature_unit")
            .filter(|_| read.text("temperature").is_some()),
        reason: read.text("reason"),
        state,
    };
    read.finish(Some(new))
}

/// Back to the sheet, which tells what came of it.
async fn sheet_after(
    ctx: &Ctx,
    id: ReadingSheetId,
    (name, did): (&'static str, String),
    (fields, done): (Fields, Done),
) -> Done {
    match done {
        Ok(_) => {
            let shop = &ctx.shop()?.code;
            Ok(see_other(&format!("/shops/{shop}/preparation/sheets/{id}?did={did}")))
        }
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: name, fields, problem: problem.clone() };
            refused(&problem, &page_sheet::view(ctx, id, (None, Some(tried))).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Faults of single cells at the form's fields.
fn of_cells(problem: Problem) -> Problem {
    let mut problem = problem;
    for fault in &mut problem.errors {
        let at = fault.pointer.strip_prefix("/values/").and_then(|at| at.parse::<u32>().ok());
        if let Some(at) = at {
            fault.pointer = format!("/value_{}", at.saturating_add(1));
        }
    }
    problem
}

/// Takes a reading.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn take(
    mut ctx: Ctx,
    parts: Parts<(String, ReadingSheetId)>,
    form: Form<Fields>,
) -> Done {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let line = form.value.typed("line").to_owned();
    let done = match reading(&form.value) {
        Ok(new) => {
            let sheet = id.clone();
            ctx.once(&form.hash, move |write| {
                let shown = sheet_write::read(write, &sheet, &new)?;
                Ok(Made::done(shown.sheet.version, ()))
            })
            .await
            .map_err(of_cells)
        }
        Err(problem) => Err(problem),
    };
    let did = format!("reading:{line}#line-{line}");
    sheet_after(&ctx, id, ("reading", did), (form.value, done)).await
}

/// Says that it passes.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn pass(
    mut ctx: Ctx,
    parts: Parts<(String, ReadingSheetId)>,
    form: Form<Fields>,
) -> Done {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let sheet = id.clone();
    let done = ctx
        .once(&form.hash, move |write| {
            let shown = sheet_write::pass(write, &sheet)?;
            Ok(Made::done(shown.sheet.version, ()))
        })
        .await;
    sheet_after(&ctx, id, ("pass", "passed".to_owned()), (form.value, done)).await
}

fn came(fields: &Fields) -> Result<(Named, Option<chrono::NaiveDate>, Option<String>), Problem> {
    let mut read = Reader::new(fields);
    let named = named(&mut read);
    let arrived_on = read.word("arrived_on", |text| text.parse().ok());
    let note = read.text("note");
    read.finish(named.map(|named| (named, arrived_on, note)))
}

/// Puts a vehicle into stock.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn add(mut ctx: Ctx, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    let done = match came(&form.value) {
        Ok((named, arrived_on, note)) => {
            ctx.once(&form.hash, move |write| {
                let vehicle_id = found(write, &named)?.id;
                let new = NewStockVehicle { vehicle_id, arrived_on, note: note.clone() };
                let row = stock::add(write, &new)?;
                Ok(Made::done(row.version, ()))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => Ok(see_other(&format!("/shops/{}/preparation?did=stock-added", ctx.shop()?.code))),
        Err(problem) => overview_again(&ctx, "stock", form.value, problem).await,
    }
}

/// Takes a vehicle out of stock, or puts one back that was taken out by a slip.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn leave(mut ctx: Ctx, parts: Parts<(String, StockId)>, form: Form<Fields>) -> Done {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let back = form.value.text("back").is_some();
    let stock = id.clone();
    let done = ctx
        .once(&form.hash, move |write| {
            let row = if back {
                stock::put_back(write, &stock)?
            } else {
                stock::leave(write, &stock, &StockDeparture::default())?
            };
            Ok(Made::done(row.version, ()))
        })
        .await;
    let did = if back { "stock-added".to_owned() } else { format!("stock-left:{id}") };
    match done {
        Ok(_) => Ok(see_other(&format!("/shops/{}/preparation?did={did}", ctx.shop()?.code))),
        Err(problem) => overview_again(&ctx, "stock", form.value, problem).await,
    }
}
