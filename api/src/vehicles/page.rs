//! The page of a vehicle: its visits, its odometer, what is known of it.

use actix_web::HttpResponse;
use askama::Template;
use chrono::NaiveDate;
use serde::Deserialize;

use super::change::{self, VehiclePatch};
use super::model::{self, Vehicle};
use super::odometer_reset::{self, NewOdometerReset, OdometerReset};
use super::view::{self as history, ToldVisit};
use super::visits::{self, Visit};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::VehicleId;
use crate::domain::odometer;
use crate::domain::vin;
use crate::jobs::view::Words;
use crate::orders::readings;
use crate::preparation::sheets::{self as readings_of, ShownReadingSheet, Wanted};
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::answer::Made;
use crate::web::body::{Form, Params, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::notice::{self, Notice};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::{self, Pick};

/// Visits shown: a life of them.
const VISITS: i64 = 100;
/// Sheets of readings shown.
const SHEETS: i64 = 20;

/// What the page is asked for.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VehiclePageQuery {
    /// What was just done.
    pub did: Option<String>,
}

struct ToldReset {
    day: String,
    before: Option<String>,
    after: String,
    note: Option<String>,
}

impl ToldReset {
    fn of(row: OdometerReset, words: &Words) -> Self {
        let read = |value: i64| words::odometer(value, &row.odometer_unit);
        Self {
            day: words.day(row.reset_on),
            before: row.reading_before.map(read),
            after: read(row.reading_after),
            note: row.note,
        }
    }
}

#[derive(Template)]
#[template(path = "vehicle.html")]
struct VehiclePage {
    viewer: Viewer,
    notice: Option<Notice>,
    shop: String,
    id: String,
    version: i32,
    label: String,
    vin: Option<String>,
    vin_warning: Option<String>,
    plate: Option<String>,
    engine: Option<String>,
    sold: Option<String>,
    visits: Vec<ToldVisit>,
    /// How many visits are shown, where there may be more.
    only_latest: Option<usize>,
    resets: Vec<ToldReset>,
    /// Sheets of readings: address, list and what came of it.
    sheets: Vec<(String, String, String)>,
    units: Vec<Pick>,
    blank_reset: Fields,
    blank_vehicle: Fields,
    tried: Option<Tried>,
}

impl VehiclePage {
    fn form(&self, name: &str) -> FormView {
        let blank = match name {
            "vehicle" => self.blank_vehicle.clone(),
            _ => self.blank_reset.clone(),
        };
        FormView::of(name, self.tried.as_ref(), blank)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }
}

/// What one moment of the record holds for the page.
struct Loaded {
    words: Words,
    vehicle: Vehicle,
    visits: Vec<Visit>,
    resets: Vec<OdometerReset>,
    sheets: Vec<ShownReadingSheet>,
    unit: &'static str,
}

/// Sheets of readings, the latest first.
fn sheets(conn: &mut Conn, shop_id: i32, id: &VehicleId) -> Answer<Vec<ShownReadingSheet>> {
    let wanted = Wanted { vehicle_id: Some(id.clone()), limit: SHEETS, ..Wanted::default() };
    let rows = readings_of::all(conn, shop_id, &wanted)?;
    rows.into_iter().map(|row| readings_of::shown(conn, row)).collect()
}

fn told_sheet(shown: &ShownReadingSheet, words: &Words) -> (String, String, String) {
    let place = format!("/shops/{}/preparation/sheets/{}", words.shop.code, shown.sheet.id);
    let state = match shown.sheet.passed_at {
        Some(at) => format!("passed {}", words.moment(at)),
        None => format!("under way since {}", words.moment(shown.sheet.begun_at)),
    };
    (place, shown.list_name.clone(), state)
}

fn load(conn: &mut Conn, shop: &Shop, now: UtcStamp, id: &VehicleId) -> Answer<Loaded> {
    let vehicle = model::by_id(conn, shop.id, id)?;
    Ok(Loaded {
        words: Words::load(conn, shop, now)?,
        visits: visits::of_vehicle(conn, shop.id, id, VISITS)?,
        resets: odometer_reset::of_vehicle(conn, shop.id, id)?,
        sheets: sheets(conn, shop.id, id)?,
        unit: readings::usual_unit(conn, shop.id, Some(id))?,
        vehicle,
    })
}

fn blank_vehicle(row: &Vehicle) -> Fields {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    Fields::of(&[
        ("vin", text(&row.vin)),
        ("plate", text(&row.plate)),
        ("make", text(&row.make)),
        ("model", text(&row.model)),
        ("model_year", row.model_year.map(|year| year.to_string()).unwrap_or_default()),
        ("engine", text(&row.engine)),
        ("sold_on", row.sold_on.map(|day| day.to_string()).unwrap_or_default()),
        ("sold_note", text(&row.sold_note)),
    ])
}

fn sold(row: &Vehicle, words: &Words) -> Option<String> {
    let day = words.day(row.sold_on?);
    Some(row.sold_note.as_ref().map_or_else(|| day.clone(), |note| format!("{day}: {note}")))
}

async fn view(
    ctx: &Ctx,
    id: VehicleId,
    notice: Option<Notice>,
    tried: Option<Tried>,
) -> Result<VehiclePage, Problem> {
    let now = ctx.now;
    let Loaded { words, vehicle, visits, resets, sheets, unit } =
        ctx.read(move |conn, shop| load(conn, shop, now, &id)).await?;
    Ok(VehiclePage {
        viewer: Viewer::of(ctx),
        notice,
        shop: words.shop.code.clone(),
        id: vehicle.id.to_string(),
        version: vehicle.version,
        label: vehicle.label(),
        vin_warning: vehicle.vin.as_deref().and_then(vin::warning).map(|w| w.to_string()),
        sold: sold(&vehicle, &words),
        blank_vehicle: blank_vehicle(&vehicle),
        blank_reset: Fields::of(&[
            ("odometer_unit", unit.to_owned()),
            ("reset_on", words.shop.zone().day(now).to_string()),
        ]),
        vin: vehicle.vin,
        plate: vehicle.plate,
        engine: vehicle.engine,
        visits: history::told(&visits, &resets, &words),
        only_latest: (i64::try_from(visits.len()) == Ok(VISITS)).then_some(visits.len()),
        resets: resets.into_iter().map(|row| ToldReset::of(row, &words)).collect(),
        sheets: sheets.iter().map(|sheet| told_sheet(sheet, &words)).collect(),
        units: vec![Pick::new("[mi_i]", "miles"), Pick::new("km", "km")],
        tried,
    })
}

/// One vehicle.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn one(
    ctx: Ctx,
    parts: Parts<(String, VehicleId)>,
    query: Params<VehiclePageQuery>,
) -> Result<HttpResponse, Problem> {
    let notice = notice::of_query(query.0.did.as_deref());
    page::html(&view(&ctx, parts.0.1, notice, None).await?)
}

/// After a form of the page: back to it, or the page with what is wrong.
async fn settle(
    ctx: &Ctx,
    id: VehicleId,
    name: &'static str,
    fields: Fields,
    done: Result<HttpResponse, Problem>,
) -> Result<HttpResponse, Problem> {
    match done {
        Ok(_) => {
            let word = if name == "vehicle" { "saved" } else { name };
            let shop = &ctx.shop()?.code;
            Ok(see_other(&format!("/shops/{shop}/vehicles/{id}?did={word}#{name}")))
        }
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: name, fields, problem: problem.clone() };
            refused(&problem, &view(ctx, id, None, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

fn day(text: &str) -> Option<NaiveDate> {
    text.parse().ok()
}

fn patch(fields: &Fields) -> Result<(i32, VehiclePatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let patch = VehiclePatch {
        vin: Some(read.text("vin")),
        plate: Some(read.text("plate")),
        make: Some(read.text("make")),
        model: Some(read.text("model")),
        model_year: Some(read.whole("model_year")),
        engine: Some(read.text("engine")),
        sold_on: Some(read.word("sold_on", day)),
        sold_note: Some(read.text("sold_note")),
    };
    read.finish(seen.map(|seen| (seen, patch)))
}

/// Changes the vehicle.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn change(
    mut ctx: Ctx,
    parts: Parts<(String, VehicleId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let done = match patch(&form.value) {
        Ok((seen, patch)) => {
            let vehicle = id.clone();
            ctx.once(&form.hash, move |write| {
                let row = change::patch(write, &vehicle, seen, &patch)?;
                Ok(Made::done(row.version, row))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, id, "vehicle", form.value, done).await
}

fn reset(fields: &Fields) -> Result<NewOdometerReset, Problem> {
    let mut read = Reader::new(fields);
    let reset_on = read.owed("reset_on", day);
    let reading_before = read.whole("reading_before");
    let typed = read.owed("reading_after", |text| Some(text.to_owned()));
    let reading_after = typed.and_then(|_| read.whole("reading_after"));
    let unit = read.word("odometer_unit", odometer::parse_unit).map(str::to_owned);
    let note = read.text("note");
    let new = reset_on.zip(reading_after).map(|(reset_on, reading_after)| NewOdometerReset {
        reset_on,
        reading_before,
        reading_after,
        odometer_unit: unit,
        note,
    });
    read.finish(new)
}

/// Records that the odometer was replaced.
///
/// # Errors
/// As there.
pub async fn reset_odometer(
    mut ctx: Ctx,
    parts: Parts<(String, VehicleId)>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let done = match reset(&form.value) {
        Ok(new) => {
            let vehicle = id.clone();
            ctx.once(&form.hash, move |write| {
                let row = odometer_reset::add(write, &vehicle, &new)?;
                Ok(Made::done(row.version, row))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, id, "odometer-reset", form.value, done).await
}
