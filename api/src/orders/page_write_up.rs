//! Writing a visit up: which vehicle, what the customer says, whether it was in
//! before for this.

use actix_web::HttpResponse;
use actix_web::http::header;
use analytics::words::JobKind;
use askama::Template;
use chrono::NaiveDateTime;
use serde::Deserialize;

use super::http::{may_add_job, may_write_up};
use super::model::{self, NewOrder, OtherOrder};
use super::readings;
use crate::comebacks::view::ToldBrief;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, PersonId, VehicleId};
use crate::domain::odometer;
use crate::domain::role::{Permission, Role};
use crate::domain::vin;
use crate::jobs::brief;
use crate::jobs::model::NewJob;
use crate::jobs::view::Words;
use crate::people::model as people;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::vehicles::model::{self as vehicles, NewVehicle, Vehicle};
use crate::web::answer::Made;
use crate::web::body::{Form, Params};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::{Pick, PickGroup, Shown};

/// Vehicles shown when one is looked for.
const FOUND: i64 = 20;
/// Earlier jobs that the customer may mean.
const EARLIER: i64 = 20;

/// The choices of a job that is written up.
pub struct JobPicks {
    pub kinds: Vec<Pick>,
    pub symptoms: Vec<PickGroup>,
    pub whens: Vec<Pick>,
    pub technicians: Vec<Pick>,
}

impl JobPicks {
    /// From the shop's lists and people.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn load(conn: &mut Conn, words: &Words) -> Answer<Self> {
        let technicians = people::of_shop(conn, words.shop.id)?
            .into_iter()
            .filter(|(person, role)| person.active && *role == Role::Technician)
            .map(|(person, _)| Pick::new(person.id.as_str(), person.name))
            .collect();
        Ok(Self {
            kinds: JobKind::picks(),
            symptoms: words.lists.symptoms(),
            whens: words.lists.picks("when"),
            technicians,
        })
    }
}

/// Reads a job as written up.
///
/// # Errors
/// Forbidden, where somebody links an earlier job who may not.
pub fn new_job(ctx: &Ctx, read: &mut Reader<'_>) -> Result<NewJob, Problem> {
    let kind = read.word("kind", JobKind::parse);
    // A program may send the symptom alone; at the counter the customer is there to ask.
    if kind.is_none_or(|kind| kind == JobKind::Complaint) {
        read.require("complaint", "write the complaint in the customer's words");
    }
    let new = NewJob {
        kind,
        symptom: read.text("symptom"),
        complaint: read.text("complaint"),
        happens_when: read.all("happens_when"),
        lead_id: read.word("lead_id", PersonId::parse),
        bay: read.text("bay"),
        in_before_job_id: read.word("in_before_job_id", JobId::parse),
        second_visit_of_job_id: read.word("second_visit_of_job_id", JobId::parse),
    };
    may_add_job(ctx, &new)?;
    Ok(new)
}

/// Which vehicle the write-up is for.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WriteUpQuery {
    /// End of a VIN or plate to look for.
    pub find: Option<String>,
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
    fn of(row: Vehicle) -> Self {
        Self {
            id: row.id.to_string(),
            label: row.label(),
            warning: row.vin.as_deref().and_then(vin::warning).map(|w| w.to_string()),
            vin: row.vin,
            plate: row.plate,
            engine: row.engine,
            sold_on: row.sold_on.map(|day| day.to_string()),
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
    find: String,
    /// Absent where nothing was looked for.
    found: Option<Vec<Known>>,
    vehicle: Option<Known>,
    /// Open orders of the vehicle.
    here: Vec<OtherOrder>,
    earlier: Vec<ToldBrief>,
    picks: JobPicks,
    units: Vec<Pick>,
    usual_unit: String,
    tried: Option<Tried>,
}

impl WriteUpPage {
    /// Earlier jobs of which more was to come.
    fn more_to_come(&self) -> Vec<&ToldBrief> {
        self.earlier.iter().filter(|job| job.more_to_come).collect()
    }

    fn form(&self, name: &str) -> FormView {
        let blank = Fields::of(&[
            ("kind", JobKind::Complaint.as_str().to_owned()),
            ("odometer_unit", self.usual_unit.clone()),
        ]);
        FormView::of(name, self.tried.as_ref(), blank)
    }
}

/// What one moment of the record holds for the page.
struct Loaded {
    words: Words,
    found: Option<Vec<Vehicle>>,
    vehicle: Option<Vehicle>,
    here: Vec<OtherOrder>,
    earlier: Vec<brief::Brief>,
    picks: JobPicks,
    usual_unit: String,
}

fn load(conn: &mut Conn, shop: &Shop, now: UtcStamp, asked: &WriteUpQuery) -> Answer<Loaded> {
    let words = Words::load(conn, shop, now)?;
    let find = asked.find.as_deref().filter(|text| !vin::normalize(text).is_empty());
    let found = match find {
        Some(text) => Some(vehicles::search(conn, shop.id, Some(text), None, FOUND)?),
        None => None,
    };
    let id = asked.vehicle.as_deref().and_then(VehicleId::parse);
    let vehicle = match &id {
        Some(id) => Some(vehicles::by_id(conn, shop.id, id)?),
        None => None,
    };
    let (here, earlier) = match &vehicle {
        Some(vehicle) => (
            model::open_of_vehicle(conn, shop.id, &vehicle.id)?,
            brief::of_vehicle(conn, shop.id, &vehicle.id, EARLIER)?,
        ),
        None => Default::default(),
    };
    let usual_unit = readings::usual_unit(conn, shop.id, id.as_ref())?.to_owned();
    let picks = JobPicks::load(conn, &words)?;
    Ok(Loaded { words, found, vehicle, here, earlier, picks, usual_unit })
}

async fn view(
    ctx: &Ctx,
    asked: WriteUpQuery,
    tried: Option<Tried>,
) -> Result<WriteUpPage, Problem> {
    let now = ctx.now;
    let find = asked.find.clone().unwrap_or_default();
    let loaded = ctx.read(move |conn, shop| load(conn, shop, now, &asked)).await?;
    let words = loaded.words;
    Ok(WriteUpPage {
        viewer: Viewer::of(ctx),
        shop: words.shop.code.clone(),
        currency: words.shop.currency.clone(),
        front: ctx.may(Permission::WriteFront),
        may_link: ctx.may(Permission::LinkComeback),
        find,
        found: loaded.found.map(|rows| rows.into_iter().map(Known::of).collect()),
        vehicle: loaded.vehicle.map(Known::of),
        here: loaded.here,
        earlier: loaded.earlier.iter().map(|row| ToldBrief::of(row, &words)).collect(),
        picks: loaded.picks,
        usual_unit: loaded.usual_unit,
        units: vec![Pick::new("[mi_i]", "miles"), Pick::new("km", "km")],
        tried,
    })
}

/// The form.
///
/// # Errors
/// Not found for a vehicle that is none of the shop's.
pub async fn form(ctx: Ctx, query: Params<WriteUpQuery>) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, query.0, None).await?)
}

/// A time on the shop's wall, as browsers send it.
pub fn local_time(shop: &Shop, text: &str) -> Option<UtcStamp> {
    let local = NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M")
        .or_else(|_| NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%S"))
        .ok()?;
    shop.zone().instant(local)
}

fn new_order(ctx: &Ctx, fields: &Fields) -> Result<NewOrder, Problem> {
    let mut read = Reader::new(fields);
    let shop = ctx.shop()?.clone();
    let vehicle_id = read.word("vehicle_id", VehicleId::parse);
    let vehicle = vehicle_id.is_none().then(|| NewVehicle {
        vin: read.text("vin"),
        plate: read.text("plate"),
        make: read.text("make"),
        model: read.text("model"),
        model_year: read.whole("model_year"),
        engine: read.text("engine"),
    });
    let new = NewOrder {
        vehicle_id,
        vehicle,
        customer_name: read.text("customer_name"),
        customer_contact: read.text("customer_contact"),
        odometer_in: read.whole("odometer_in"),
        odometer_unit: read.word("odometer_unit", odometer::parse_unit).map(str::to_owned),
        promised_at: read.word("promised_at", |text| local_time(&shop, text)),
        authorized_minor: read.amount("authorized_minor", &shop.money()),
        authorized_by: read.text("authorized_by"),
        authorized_how: read.text("authorized_how"),
        jobs: vec![new_job(ctx, &mut read)?],
    };
    let new = read.finish(Some(new))?;
    may_write_up(ctx, &new)?;
    Ok(new)
}

/// Opens the order and goes to it, where the likely comebacks are asked about.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn write_up(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let done = match new_order(&ctx, &form.value) {
        Ok(new) => {
            ctx.once(&form.hash, move |write| {
                let whole = model::open(write, &new)?;
                let place = format!("/shops/{}/orders/{}", write.shop.code, whole.order.id);
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
            let asked = WriteUpQuery { find: None, vehicle: form.value.text("vehicle_id") };
            let tried = Tried { form: "write-up", fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, asked, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}
