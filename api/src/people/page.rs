//! Who works in a shop, as a page.

use actix_web::HttpResponse;
use askama::Template;

use super::http::{NewPerson, add_person};
use super::model::{self, Person};
use crate::domain::role::{Permission, Role};
use crate::problem::{Kind, Problem};
use crate::shops::model::Shop;
use crate::web::body::Form;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::Pick;

/// A person with every role that counts here.
struct Line {
    id: String,
    name: String,
    roles: String,
    /// How the person comes in.
    entry: &'static str,
    active: bool,
}

#[derive(Template)]
#[template(path = "people.html")]
struct PeoplePage {
    viewer: Viewer,
    shop: String,
    people: Vec<Line>,
    /// Those whose accounts are closed.
    closed: Vec<Line>,
    settings: Vec<(&'static str, String)>,
    /// Roles that the viewer may give to somebody new; none: no form.
    roles: Vec<Pick>,
    /// Whether the viewer keeps the settings.
    sets: bool,
    tried: Option<Tried>,
}

impl PeoplePage {
    fn form(&self, name: &str) -> FormView {
        FormView::of(name, self.tried.as_ref(), Fields::default())
    }

    /// The person of the shop whose name somebody new was to have.
    fn there_already(&self) -> Option<&Line> {
        let tried = self.tried.as_ref().filter(|tried| tried.problem.kind == Kind::CONFLICT)?;
        let name = tried.fields.text("name")?;
        self.people.iter().chain(&self.closed).find(|line| line.name == name)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }
}

fn settings(shop: &Shop) -> Vec<(&'static str, String)> {
    let amount = |minor: i64| shop.style().amount(minor);
    let percent = |permille: i32| format!("{}%", f64::from(permille) / 10.0);
    vec![
        ("Name", shop.name.clone()),
        ("Time zone", shop.time_zone.clone()),
        ("Labor cost per hour", amount(shop.labor_cost_minor)),
        ("Posted labor rate per hour", amount(shop.posted_rate_minor)),
        ("Comeback window", format!("{} days", shop.window_days)),
        ("Ceiling for returns of a cleaned part", percent(shop.ceiling_permille)),
        ("Other cost of a return", amount(shop.return_extra_minor())),
    ]
}

fn entry(person: &Person) -> &'static str {
    match (person.active, person.password_hash.is_some(), person.pin_hash.is_some()) {
        (false, ..) => "account closed",
        (true, true, true) => "signs in, also with a PIN",
        (true, true, false) => "signs in",
        (true, false, true) => "comes in with a PIN",
        (true, false, false) => "a name in the record",
    }
}

/// One line a person; the rows come with one role each.
fn lines(rows: Vec<(Person, Role)>) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    for (person, role) in rows {
        if let Some(line) = lines.iter_mut().find(|line| line.id == person.id.as_str()) {
            line.roles = format!("{}, {}", line.roles, role.label());
            continue;
        }
        lines.push(Line {
            id: person.id.to_string(),
            entry: entry(&person),
            active: person.active,
            name: person.name,
            roles: role.label().to_owned(),
        });
    }
    lines
}

/// The roles of a shop that the viewer may give.
fn roles(ctx: &Ctx) -> Vec<Pick> {
    let given = [Role::Technician, Role::Adviser, Role::ServiceManager];
    given
        .into_iter()
        .filter(|role| match role {
            Role::ServiceManager => ctx.may(Permission::WriteShops),
            _ => ctx.may(Permission::WritePeople),
        })
        .map(|role| Pick { value: role.as_str().to_owned(), label: role.label().to_owned() })
        .collect()
}

async fn view(ctx: &Ctx, tried: Option<Tried>) -> Result<PeoplePage, Problem> {
    let rows = ctx.read(model::listed).await?;
    let (people, closed) = lines(rows).into_iter().partition(|line| line.active);
    let shop = ctx.shop()?;
    Ok(PeoplePage {
        viewer: Viewer::of(ctx),
        shop: shop.code.clone(),
        people,
        closed,
        settings: settings(shop),
        roles: roles(ctx),
        sets: ctx.may(Permission::WriteShops),
        tried,
    })
}

/// The shop's people and settings.
///
/// # Errors
/// The record does not answer.
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, None).await?)
}

fn person(fields: &Fields) -> Result<NewPerson, Problem> {
    let mut read = Reader::new(fields);
    let role = read.owed("role", Role::parse);
    let new = role.map(|role| NewPerson {
        name: read.text("name").unwrap_or_default(),
        role,
        sign_in_name: read.text("sign_in_name").unwrap_or_default(),
        // Blanks at its ends belong to a password.
        password: fields.typed("password").to_owned(),
    });
    read.finish(new)
}

/// Adds a person.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn add(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let done = match person(&form.value) {
        Ok(new) => add_person(&ctx, new).await,
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => Ok(see_other(&format!("/shops/{}/people?did=added", ctx.shop()?.code))),
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: "add", fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}
