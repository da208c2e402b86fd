//! Preparation at a glance: what is due on vehicles that wait, sheets under way,
//! and the lists.

use std::collections::HashMap;

use actix_web::{HttpRequest, HttpResponse};
use analytics::preparation::Due;
use askama::Template;

use super::due::{self, ShownStockVehicle};
use super::lists::{self, ReadingList, ShownReadingList};
use super::sheets::{self, ShownReadingSheet, Wanted};
use super::starting::Purpose;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::VehicleId;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::vehicles::model::{self as vehicles, Vehicle};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried};
use crate::web::notice::{Did, Notice};
use crate::web::page::{self, Viewer};
use crate::web::words::{Pick, counted};

/// Sheets under way that are shown, and the latest of which those that are passed
/// are shown.
const OPEN_SHEETS: i64 = 50;
const LATEST_SHEETS: i64 = 40;

/// What is due, as it is told.
struct ToldDue {
    label: String,
    text: String,
    overdue: Option<String>,
    loss: Option<String>,
}

struct ToldStock {
    id: String,
    vehicle_id: String,
    label: String,
    since: String,
    note: Option<String>,
    late: bool,
    due: Vec<ToldDue>,
    /// The sheet under way.
    sheet: Option<String>,
}

struct ToldSheet {
    id: String,
    vehicle: String,
    list: String,
    begun: String,
    state: String,
}

/// A list as a line.
pub struct ToldList {
    pub place: String,
    pub name: String,
    pub of: String,
    pub state: String,
    pub withdrawn: bool,
}

#[derive(Template)]
#[template(path = "preparation.html")]
pub struct PreparationPage {
    viewer: Viewer,
    notice: Option<Notice>,
    shop: String,
    stock: Vec<ToldStock>,
    overdue: usize,
    sheets: Vec<ToldSheet>,
    passed: Vec<ToldSheet>,
    lists: Vec<ToldList>,
    picks: Vec<Pick>,
    today: String,
    tried: Option<Tried>,
}

impl PreparationPage {
    fn form(&self, name: &str) -> FormView {
        let blank = Fields::of(&[("arrived_on", self.today.clone())]);
        FormView::of(name, self.tried.as_ref(), blank)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }

    fn withdrawn(&self) -> usize {
        self.lists.iter().filter(|list| list.withdrawn).count()
    }
}

/// What a list is for, in a few words.
#[must_use]
pub fn is_for(list: &ReadingList, words: &Words) -> String {
    let named = [&list.make, &list.model, &list.engine];
    let vehicle: Vec<&str> = named.into_iter().filter_map(|field| field.as_deref()).collect();
    let what = if vehicle.is_empty() { "all vehicles".to_owned() } else { vehicle.join(" ") };
    match &list.symptom {
        Some(code) => {
            let system = words.lists.label("system", code);
            let label = if system == *code { words.lists.label("symptom", code) } else { system };
            format!("{what}; {label}")
        }
        None => what,
    }
}

fn told_lists(own: &[ShownReadingList], words: &Words) -> Vec<ToldList> {
    let shop = &words.shop.code;
    let mut told: Vec<ToldList> = own
        .iter()
        .map(|one| ToldList {
            place: format!("/shops/{shop}/preparation/lists/{}", one.list.id),
            name: one.list.name.clone(),
            of: is_for(&one.list, words),
            state: match one.list.withdrawn_at {
                Some(at) => format!("withdrawn {}", words.moment(at)),
                None => format!("version {}", one.stands.number),
            },
            withdrawn: one.list.withdrawn_at.is_some(),
        })
        .collect();
    let standing: Vec<ShownReadingList> =
        own.iter().filter(|one| one.list.withdrawn_at.is_none()).cloned().collect();
    for purpose in Purpose::ALL {
        if lists::offers_starting(purpose, &standing) {
            told.push(ToldList {
                place: format!("/shops/{shop}/preparation/lists/{}", purpose.as_str()),
                name: purpose.name().to_owned(),
                of: match purpose.symptom() {
                    Some(code) => format!("all vehicles; {}", words.lists.label("system", code)),
                    None => "all vehicles".to_owned(),
                },
                state: "starting list".to_owned(),
                withdrawn: false,
            });
        }
    }
    told
}

/// Lists as choices: the shop's, and starting ones it has none of its own for.
fn picks(own: &[ShownReadingList]) -> Vec<Pick> {
    let standing: Vec<&ShownReadingList> =
        own.iter().filter(|one| one.list.withdrawn_at.is_none()).collect();
    let mut picks: Vec<Pick> =
        standing.iter().map(|one| Pick::new(one.list.id.as_str(), one.list.name.clone())).collect();
    let standing: Vec<ShownReadingList> = standing.into_iter().cloned().collect();
    for purpose in Purpose::ALL {
        if lists::offers_starting(purpose, &standing) {
            picks.push(Pick::new(purpose.as_str(), format!("{} (starting list)", purpose.name())));
        }
    }
    picks
}

/// What standing costs since the last reading or charge.
fn told_loss(due: &Due) -> Option<String> {
    let of = due.loss_of.as_deref().unwrap_or("the reading");
    if due.stands_too_long {
        return Some(format!("{of}: it stands too long to tell, charge it"));
    }
    let loss = due.expected_loss.filter(|loss| *loss > 0.0)?;
    Some(format!("{of}: about {loss} lower by standing"))
}

fn told_stock(
    (row, vehicle): &(ShownStockVehicle, Vehicle),
    open: &[ShownReadingSheet],
    words: &Words,
) -> ToldStock {
    let sheet = open
        .iter()
        .find(|one| one.sheet.vehicle_id == vehicle.id && one.sheet.job_id.is_none())
        .map(|one| one.sheet.id.to_string());
    let due = row.due.iter().map(|due| {
        let ago = counted(due.days, "day ago", "days ago");
        let last = match (due.done, due.days) {
            (true, 0) => "done today".to_owned(),
            (true, _) => format!("last done {ago}"),
            (false, _) => "never since it came".to_owned(),
        };
        ToldDue {
            label: due.label.clone(),
            text: format!("{last}, due {}", words.day(due.due_on)),
            overdue: (due.overdue_days > 0)
                .then(|| format!("overdue by {}", counted(due.overdue_days, "day", "days"))),
            loss: told_loss(due),
        }
    });
    ToldStock {
        id: row.stock.id.to_string(),
        vehicle_id: vehicle.id.to_string(),
        label: vehicle.label(),
        since: format!(
            "{} in stock, since {}",
            counted(row.days, "day", "days"),
            words.day(row.stock.arrived_on)
        ),
        note: row.stock.note.clone(),
        late: row.due.iter().any(|due| due.overdue_days > 0),
        due: due.collect(),
        sheet,
    }
}

struct Loaded {
    words: Words,
    stock: Vec<(ShownStockVehicle, Vehicle)>,
    open: Vec<ShownReadingSheet>,
    passed: Vec<ShownReadingSheet>,
    labels: HashMap<VehicleId, String>,
    lists: Vec<ShownReadingList>,
}

fn load(conn: &mut Conn, shop: &Shop, now: UtcStamp) -> Answer<Loaded> {
    let wanted = Wanted { open: true, limit: OPEN_SHEETS, ..Wanted::default() };
    let mut rows = sheets::all(conn, shop.id, &wanted)?;
    let wanted = Wanted { limit: LATEST_SHEETS, ..Wanted::default() };
    let latest = sheets::all(conn, shop.id, &wanted)?;
    rows.extend(latest.into_iter().filter(|row| row.passed_at.is_some()));
    let (mut open, mut passed) = (Vec::new(), Vec::new());
    let mut labels = HashMap::new();
    for sheet in rows {
        if !labels.contains_key(&sheet.vehicle_id) {
            let vehicle = vehicles::by_id(conn, shop.id, &sheet.vehicle_id)?;
            labels.insert(sheet.vehicle_id.clone(), vehicle.label());
        }
        let ended = sheet.passed_at.is_some();
        let shown = sheets::shown(conn, sheet)?;
        if ended { passed.push(shown) } else { open.push(shown) }
    }
    Ok(Loaded {
        words: Words::load(conn, shop, now)?,
        stock: due::list(conn, shop.id, shop.zone().day(now))?,
        lists: lists::all(conn, shop.id, true)?,
        open,
        passed,
        labels,
    })
}

fn told_sheet(
    one: &ShownReadingSheet,
    labels: &HashMap<VehicleId, String>,
    words: &Words,
) -> ToldSheet {
    let left = sheets::open_lines(one).len();
    ToldSheet {
        id: one.sheet.id.to_string(),
        vehicle: labels.get(&one.sheet.vehicle_id).cloned().unwrap_or_default(),
        list: one.list_name.clone(),
        begun: words.moment(one.sheet.begun_at),
        state: match (one.sheet.passed_at, left) {
            (Some(at), _) => format!("passed {}", words.moment(at)),
            (None, 0) => "all read".to_owned(),
            (None, left) => format!("{left} of {} to go", one.lines.len()),
        },
    }
}

fn told(did: Option<&Did>, shop: &str) -> Option<Notice> {
    let did = did?;
    if did.word == "stock-added" {
        return Some(Notice::plain("It waits in stock."));
    }
    let id = did.id_of("stock-left")?;
    let back = format!("/shops/{shop}/preparation/stock/{id}/departure");
    Some(Notice::plain("It left stock.").undo("Put it back", back).with("back", "yes"))
}

/// The page.
///
/// # Errors
/// The record does not answer.
pub async fn view(
    ctx: &Ctx,
    did: Option<Did>,
    tried: Option<Tried>,
) -> Result<PreparationPage, Problem> {
    let now = ctx.now;
    let Loaded { words, stock, open, passed, labels, lists } =
        ctx.read(move |conn, shop| load(conn, shop, now)).await?;
    let stock: Vec<ToldStock> = stock.iter().map(|row| told_stock(row, &open, &words)).collect();
    let told_all = |sheets: &[ShownReadingSheet]| -> Vec<ToldSheet> {
        sheets.iter().map(|one| told_sheet(one, &labels, &words)).collect()
    };
    Ok(PreparationPage {
        notice: told(did.as_ref(), &words.shop.code),
        overdue: stock.iter().filter(|row| row.late).count(),
        stock,
        sheets: told_all(&open),
        passed: told_all(&passed),
        lists: told_lists(&lists, &words),
        picks: picks(&lists),
        today: words.shop.zone().day(now).to_string(),
        shop: words.shop.code.clone(),
        viewer: Viewer::of(ctx),
        tried,
    })
}

/// Preparation at a glance.
///
/// # Errors
/// The record does not answer.
pub async fn show(ctx: Ctx, req: HttpRequest) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, Did::of(&req), None).await?)
}
