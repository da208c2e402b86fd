//! Writing a visit up: what the customer says, which vehicle, whether it was in
//! before for this, what was promised and agreed to.

use actix_web::HttpResponse;
use actix_web::http::header;
use askama::Template;
use chrono::NaiveDateTime;
use serde::Deserialize;

use super::earlier::{self, Earlier};
use super::http::may_write_up;
use super::look_up::{self, Sought};
use super::model::{self, NewOrder, OtherOrder};
use super::page_job::{self, JobPicks, new_job, typed_or_picked};
use super::readings;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::VehicleId;
use crate::domain::odometer;
use crate::domain::role::Permission;
use crate::domain::vin;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::vehicles::model::{self as vehicles, NewVehicle, Vehicle};
use crate::vehicles::visits;
use crate::web::answer::Made;
use crate::web::body::{Form, Params};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::Pick;

/// Visits looked at beside a write-up.
const VISITS: i64 = 20;

/// Which vehicle the write-up is for.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WriteUpQuery {
    /// A VIN or plate, or the end of one.
    pub find: Option<String>,
    /// The same, from the form's own field, for who is still typing: only
    /// offered, never taken.
    pub known: Option<String>,
    /// A known vehicle.
    pub vehicle: Option<String>,
}

struct Known {
    id: String,
    label: String,
    vin: Option<String>,
    plate: Option<String>,
    engine: Option<String>,
    warning: Option<String>,
    /// Since when it is another owner's.
    sold_on: Option<String>,
}

impl Known {
    fn of(row: Vehicle, words: &Words) -> Self {
        Self {
            id: row.id.to_string(),
            label: row.label(),
            warning: row.vin.as_deref().and_then(vin::warning).map(|w| w.to_string()),
            vin: row.vin,
            plate: row.plate,
            engine: row.engine,
            sold_on: row.sold_on.map(|day| words.day(day)),
        }
    }
}

#[derive(Template)]
#[template(path = "write_up.html")]
struct WriteUpPage {
    viewer: Viewer,
    shop: String,
    currency: String,
    front: bool,
    may_link: bool,
    /// What was looked for and not found.
    missing: Option<String>,
    /// Vehicles that may be meant.
    found: Vec<Known>,
    vehicle: Option<Known>,
    /// Open orders of the vehicle.
    here: Vec<OtherOrder>,
    earlier: Vec<Earlier>,
    last_reading: Option<String>,
    window_days: i32,
    picks: JobPicks,
    units: Vec<Pick>,
    promises: Vec<Pick>,
    agreed_how: Vec<Pick>,
    /// As it stands before it is sent, or as it was sent to look a vehicle up.
    fields: Fields,
    tried: Option<Tried>,
}

impl WriteUpPage {
    /// Whether another visit was to come of an earlier job.
    fn more_to_come(&self) -> bool {
        self.earlier.iter().any(|job| job.more_to_come)
    }

    fn form(&self, name: &str) -> FormView {
        FormView::of(name, self.tried.as_ref(), self.fields.clone())
    }

    /// The description of a vehicle that is not known yet is open.
    fn describes(&self, form: &FormView) -> bool {
        self.missing.is_some()
            || ["vin", "plate", "make", "model", "model_year", "engine"]
                .iter()
                .any(|field| !form.typed(field).is_empty() || form.fault(field).is_some())
    }
}

/// What one moment of the record holds for the page.
struct Loaded {
    words: Words,
    sought: Sought,
    here: Vec<OtherOrder>,
    earlier: Vec<Earlier>,
    last_reading: Option<String>,
    picks: JobPicks,
    usual_unit: String,
}

fn load(
    conn: &mut Conn,
    shop: &Shop,
    now: UtcStamp,
    asked: &WriteUpQuery,
    symptom: Option<&str>,
) -> Answer<Loaded> {
    let words = Words::load(conn, shop, now)?;
    let id = asked.vehicle.as_deref().and_then(VehicleId::parse);
    let sought = match (&id, &asked.find, &asked.known) {
        (Some(id), ..) => Sought::One(vehicles::by_id(conn, shop.id, id)?),
        (None, Some(text), _) => look_up::look(conn, shop.id, text)?,
        (None, None, Some(text)) => look_up::offer(conn, shop.id, text)?,
        (None, None, None) => Sought::Nothing,
    };
    let (here, visits) = match &sought {
        Sought::One(vehicle) => (
            model::open_of_vehicle(conn, shop.id, &vehicle.id)?,
            visits::of_vehicle(conn, shop.id, &vehicle.id, VISITS)?,
        ),
        _ => Default::default(),
    };
    let of = sought.one().map(|vehicle| vehicle.id.clone());
    let usual_unit = readings::usual_unit(conn, shop.id, of.as_ref())?.to_owned();
    let picks = JobPicks::load(conn, &words)?;
    Ok(Loaded {
        here,
        earlier: earlier::of(&visits, symptom, &words),
        last_reading: earlier::last_reading(&visits, &words),
        words,
        sought,
        picks,
        usual_unit,
    })
}

/// The page, with the form as it stands in `fields`.
async fn view(
    ctx: &Ctx,
    asked: WriteUpQuery,
    mut fields: Fields,
    tried: Option<Tried>,
) -> Result<WriteUpPage, Problem> {
    let now = ctx.now;
    let typed = tried.as_ref().map_or(&fields, |tried| &tried.fields);
    let symptom = typed.text("symptom");
    let loaded =
        ctx.read(move |conn, shop| load(conn, shop, now, &asked, symptom.as_deref())).await?;
    let words = loaded.words;
    let (vehicle, found, missing) = match loaded.sought {
        Sought::Nothing => (None, Vec::new(), None),
        Sought::One(vehicle) => (Some(Known::of(vehicle, &words)), Vec::new(), None),
        Sought::Several(rows) => {
            (None, rows.into_iter().map(|row| Known::of(row, &words)).collect(), None)
        }
        Sought::None { text, field } => {
            fields = fields.with("known", "").with(field, &text);
            (None, Vec::new(), Some(text))
        }
    };
    if fields.text("odometer_unit").is_none() || fields.text("odometer_in").is_none() {
        fields = fields.with("odometer_unit", &loaded.usual_unit);
    }
    Ok(WriteUpPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        currency: words.shop.currency.clone(),
        front: ctx.may(Permission::WriteFront),
        may_link: ctx.may(Permission::LinkComeback),
        missing,
        found,
        vehicle,
        here: loaded.here,
        earlier: loaded.earlier,
        last_reading: loaded.last_reading,
        window_days: words.shop.window_days,
        picks: loaded.picks,
        units: vec![Pick::new("[mi_i]", "miles"), Pick::new("km", "km")],
        promises: page_job::promises(&words),
        agreed_how: page_job::ways_to_agree(),
        fields,
        tried,
    })
}

/// The form.
///
/// # Errors
/// Not found for a vehicle that is none of the shop's.
pub async fn form(ctx: Ctx, query: Params<WriteUpQuery>) -> Result<HttpResponse, Problem> {
    let asked = query.0;
    let known = asked.find.clone().unwrap_or_default();
    page::html(&view(&ctx, asked, page_job::blank().with("known", &known), None).await?)
}

/// A time on the shop's wall, as browsers send it.
pub fn local_time(shop: &Shop, text: &str) -> Option<UtcStamp> {
    let local = NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M")
        .or_else(|_| NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%S"))
        .ok()?;
    shop.zone().instant(local)
}

fn described(read: &mut Reader<'_>) -> NewVehicle {
    NewVehicle {
        vin: read.text("vin"),
        plate: read.text("plate"),
        make: read.text("make"),
        model: read.text("model"),
        model_year: read.whole("model_year"),
        engine: read.text("engine"),
    }
}

fn new_order(ctx: &Ctx, fields: &Fields) -> Result<NewOrder, Problem> {
    let mut read = Reader::new(fields);
    let shop = ctx.shop()?.clone();
    let vehicle_id = read.word("vehicle_id", VehicleId::parse);
    let vehicle = vehicle_id.is_none().then(|| described(&mut read));
    let authorized_minor = read.amount("authorized_minor", &shop.money());
    let customer_name = read.text("customer_name");
    // Who agrees is the customer unless somebody else is named.
    let authorized_by = read.text("authorized_by").or_else(|| customer_name.clone());
    let promised = typed_or_picked(fields, "promised_at", "promised_pick");
    let promised_at = promised.as_deref().and_then(|text| local_time(&shop, text));
    if promised.is_some() && promised_at.is_none() {
        read.refuse("promised_at", "choose a time of the list, or write day and time");
    }
    let how = typed_or_picked(fields, "authorized_how", "authorized_how_pick");
    let new = NewOrder {
        vehicle_id,
        vehicle,
        customer_name,
        customer_contact: read.text("customer_contact"),
        odometer_in: read.whole("odometer_in"),
        odometer_unit: read.word("odometer_unit", odometer::parse_unit).map(str::to_owned),
        promised_at,
        authorized_minor,
        authorized_by: authorized_by.filter(|_| authorized_minor.is_some()),
        authorized_how: how.filter(|_| authorized_minor.is_some()),
        jobs: vec![new_job(ctx, &mut read)?],
    };
    let new = read.finish(Some(new))?;
    may_write_up(ctx, &new)?;
    Ok(new)
}

/// Answers the form with the vehicle looked up, everything else as typed:
/// nothing is written.
async fn look(ctx: &Ctx, fields: Fields) -> Result<HttpResponse, Problem> {
    ctx.own_form(fields.typed("form_token"))?;
    let picked = fields.text("pick");
    let find = look_up::sought(&fields);
    let asked = WriteUpQuery { find, vehicle: picked, known: None };
    page::html(&view(ctx, asked, fields, None).await?)
}

/// Opens the order and goes to it, where the likely comebacks are asked about;
/// or only looks the vehicle up.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn write_up(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    if form.value.text("look").is_some() || form.value.text("pick").is_some() {
        return look(&ctx, form.value).await;
    }
    ctx.take(&form.value)?;
    let (fields, hash) = (form.value, form.hash);
    let settled = look_up::settle(&ctx, fields.clone()).await?;
    let another = fields.typed("then") == "another";
    let done = match settled.and_then(|fields| new_order(&ctx, &fields)) {
        Ok(new) => {
            ctx.once(&hash, move |write| {
                let whole = model::open(write, &new)?;
                let base = format!("/shops/{}/orders/{}", write.shop.code, whole.order.id);
                let order = format!("{base}?did=order-opened");
                let place = if another { format!("{order}&add=job#add-job") } else { order };
                Ok(Made { status: 200, location: Some(place), version: None, body: whole.order })
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(made) => {
            let place = made.headers().get(header::LOCATION).and_then(|v| v.to_str().ok());
            let today = format!("/shops/{}/today", ctx.shop()?.code);
            Ok(see_other(place.unwrap_or(&today)))
        }
        Err(problem) if mendable(&problem) => {
            let offered = fields.text("known").filter(|_| fields.text("vehicle_id").is_none());
            let asked =
                WriteUpQuery { find: None, known: offered, vehicle: fields.text("vehicle_id") };
            let tried = Tried { form: "write-up", fields, problem: problem.clone() };
            refused(&problem, &view(&ctx, asked, Fields::default(), Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}
