//! Tablets on pages: enrolled with the tablet in hand, and coming in with a PIN.

use actix_web::{HttpRequest, HttpResponse, web};
use askama::Template;

use super::cookie::{self, TABLET};
use super::door;
use super::tablet::{self, NewTablet, Tablet};
use super::throttle::seconds as in_words;
use crate::app::App;
use crate::domain::ids::{PersonId, TabletId};
use crate::domain::role::Permission;
use crate::domain::style::Style;
use crate::people::model::names;
use crate::problem::{self, Problem};
use crate::shops::model::Shop;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Tried, mendable, refused};
use crate::web::page::{self, Viewer, html, see_other};
use crate::web::words::Pick;

type Done = Result<HttpResponse, Problem>;

/// A tablet, with its times on the wall.
struct Line {
    id: String,
    name: String,
    enrolled: String,
    by: String,
    used: Option<String>,
    revoked: Option<String>,
}

#[derive(Template)]
#[template(path = "tablets.html")]
struct TabletsPage {
    viewer: Viewer,
    shop: String,
    tablets: Vec<Line>,
    /// Whether the viewer enrolls and revokes.
    keeps: bool,
    tried: Option<Tried>,
}

impl TabletsPage {
    fn form(&self, name: &str) -> FormView {
        FormView::of(name, self.tried.as_ref(), Fields::default())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }
}

fn line(row: Tablet, by: String, style: &Style) -> Line {
    Line {
        id: row.id.to_string(),
        name: row.name,
        enrolled: style.moment(row.enrolled_at),
        by,
        used: row.used_at.map(|at| style.moment(at)),
        revoked: row.revoked_at.map(|at| style.moment(at)),
    }
}

async fn view(ctx: &Ctx, tried: Option<Tried>) -> Result<TabletsPage, Problem> {
    let tablets = ctx
        .read(|conn, shop| {
            let known = names(conn, &shop.group_id)?;
            let name = |id: &PersonId| known.get(id).cloned().unwrap_or_default();
            let rows = tablet::of_shop(conn, shop.id)?;
            Ok(rows
                .into_iter()
                .map(|row| {
                    let by = name(&row.enrolled_by);
                    line(row, by, &shop.style())
                })
                .collect())
        })
        .await?;
    Ok(TabletsPage {
        viewer: Viewer::of(ctx),
        shop: ctx.shop()?.code.clone(),
        tablets,
        keeps: ctx.may(Permission::WritePeople),
        tried,
    })
}

/// The shop's tablets.
///
/// # Errors
/// The record does not answer.
pub async fn list(ctx: Ctx) -> Done {
    html(&view(&ctx, None).await?)
}

/// Enrolls the tablet that sends the form: its browser keeps the token.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn enroll(mut ctx: Ctx, req: HttpRequest, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    let new = NewTablet { name: form.value.typed("name").to_owned() };
    match ctx.write(move |write| tablet::enroll(write, &new)).await {
        Ok(made) => {
            let mut answer =
                see_other(&format!("/shops/{}/tablets?did=enrolled", ctx.shop()?.code));
            set(&mut answer, &cookie::tablet(&req, &ctx.app, made.token))?;
            Ok(answer)
        }
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: "enroll", fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Sends a cookie along.
///
/// # Errors
/// Where it cannot be written.
pub fn set(
    answer: &mut HttpResponse,
    cookie: &actix_web::cookie::Cookie<'_>,
) -> Result<(), Problem> {
    answer
        .add_cookie(cookie)
        .map_err(|error| Problem::new(problem::Kind::INTERNAL, error.to_string()))
}

/// Revokes a tablet.
///
/// # Errors
/// Not found, or as there.
pub async fn revoke(mut ctx: Ctx, parts: Parts<(String, TabletId)>, form: Form<Fields>) -> Done {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    ctx.write(move |write| tablet::revoke(write, &id)).await?;
    Ok(see_other(&format!("/shops/{}/tablets?did=revoked", ctx.shop()?.code)))
}

#[derive(Template)]
#[template(path = "tablet.html")]
struct DoorPage {
    /// The shop's name and its people with a PIN, on an enrolled tablet.
    shop: Option<String>,
    people: Vec<Pick>,
    chosen: String,
    /// Why the last try was refused.
    refused: Option<String>,
}

impl DoorPage {
    fn form(&self) -> FormView {
        let chosen = Fields::of(&[("person_id", self.chosen.clone())]);
        FormView::of("door", None, chosen)
    }
}

/// The tablet that asks, with its shop, where it is enrolled.
async fn enrolled(
    app: &web::Data<App>,
    req: &HttpRequest,
) -> Result<Option<(TabletId, Shop)>, Problem> {
    let Some(token) = cookie::sent(req, TABLET) else { return Ok(None) };
    let db = app.db.clone();
    Ok(web::block(move || db.read(|conn| tablet::by_token(conn, &token))).await??)
}

async fn door_page(
    app: &web::Data<App>,
    shop: &Shop,
    chosen: String,
    refused: Option<String>,
) -> Result<DoorPage, Problem> {
    let (db, shop_id) = (app.db.clone(), shop.id);
    let people = web::block(move || db.read(|conn| tablet::people(conn, shop_id))).await??;
    Ok(DoorPage {
        shop: Some(shop.name.clone()),
        people: people
            .into_iter()
            .map(|person| Pick { value: person.id.to_string(), label: person.name })
            .collect(),
        chosen,
        refused,
    })
}

/// Choose your name, type your PIN; elsewhere than on an enrolled tablet what
/// to do about it, and nobody's name.
///
/// # Errors
/// The record does not answer.
pub async fn door(req: HttpRequest, app: web::Data<App>) -> Done {
    let Some((_, shop)) = enrolled(&app, &req).await? else {
        let page =
            DoorPage { shop: None, people: Vec::new(), chosen: String::new(), refused: None };
        return page::html(&page);
    };
    let mut answer = html(&door_page(&app, &shop, String::new(), None).await?)?;
    // A tablet that is in use stays enrolled past the life of one cookie.
    if let Some(token) = cookie::sent(&req, TABLET) {
        set(&mut answer, &cookie::tablet(&req, &app, token))?;
    }
    Ok(answer)
}

/// Opens a session with a PIN.
///
/// # Errors
/// A form from elsewhere; the record does not answer.
pub async fn come_in(req: HttpRequest, app: web::Data<App>, form: Form<Fields>) -> Done {
    cookie::own_origin(&req)?;
    let Some((at, shop)) = enrolled(&app, &req).await? else {
        return Ok(see_other("/tablet"));
    };
    let chosen = form.value.typed("person_id").to_owned();
    let who = PersonId::parse(&chosen);
    let pin = form.value.typed("pin").trim().to_owned();
    let opened = door::by_pin(&app, shop.id, at, who, pin, cookie::device(&req, &app)).await;
    let problem = match opened {
        Ok(new) => {
            door::end_before(&app, &req).await?;
            let mut answer = see_other("/");
            set(&mut answer, &cookie::session(&req, &app, new.token))?;
            return Ok(answer);
        }
        Err(problem) => problem,
    };
    let why = match (problem.kind == problem::Kind::NOT_SIGNED_IN, problem.retry_after_seconds) {
        (true, _) => "Name or PIN is wrong. Check both and try again.".to_owned(),
        (false, Some(seconds)) if problem.kind == problem::Kind::TOO_MANY => {
            format!("Too many tries: wait {}, then try again.", in_words(seconds))
        }
        _ => return Err(problem),
    };
    refused(&problem, &door_page(&app, &shop, chosen, Some(why)).await?)
}
