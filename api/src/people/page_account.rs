//! One person's account, as a page.

use actix_web::HttpResponse;
use askama::Template;

use super::account::{self, Account, Change};
use super::agent;
use super::http_account::{PersonPatch, read_patch, write};
use super::rights;
use super::roles as given;
use crate::auth::sessions::{self, Session};
use crate::domain::ids::PersonId;
use crate::domain::role::{Permission, Role};
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::answer::Made;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::Pick;

type Done = Result<HttpResponse, Problem>;
type Address = Parts<(String, PersonId)>;

/// A role that is held.
struct Held {
    value: &'static str,
    label: &'static str,
    of_group: bool,
    /// Whether the viewer may take it.
    taken: bool,
}

/// A session, with its times on the shop's wall.
pub struct ToldSession {
    pub id: String,
    pub opened: String,
    pub seen: String,
    /// The tablet, or what the browser or program says of itself.
    pub place: String,
    /// The same, as it says it itself, where that is longer.
    pub whole: Option<String>,
    pub current: bool,
}

impl ToldSession {
    /// In words.
    #[must_use]
    pub fn of(session: Session, show: impl Fn(crate::domain::clock::UtcStamp) -> String) -> Self {
        let by = if session.kind == "page" { "a browser" } else { "a program" };
        let (place, whole) = match (session.tablet, session.agent) {
            (Some(tablet), _) => (format!("the tablet {tablet}"), None),
            (None, Some(agent)) => (agent::short(&agent), Some(agent)),
            (None, None) => (by.to_owned(), None),
        };
        Self {
            opened: show(session.opened_at),
            seen: show(session.seen_at),
            place,
            whole,
            id: session.id,
            current: session.current,
        }
    }
}

#[derive(Template)]
#[template(path = "person.html")]
struct PersonPage {
    viewer: Viewer,
    shop: String,
    person: Account,
    roles: Vec<Held>,
    /// Roles that the viewer may give.
    picks: Vec<Pick>,
    /// Whether the viewer keeps this account.
    keeps: bool,
    /// Whether the account is the viewer's own.
    own: bool,
    sessions: Vec<ToldSession>,
    tried: Option<Tried>,
}

impl PersonPage {
    fn form(&self, name: &str) -> FormView {
        let blank = Fields::of(&[
            ("name", self.person.name.clone()),
            ("sign_in_name", self.person.sign_in_name.clone().unwrap_or_default()),
        ]);
        FormView::of(name, self.tried.as_ref(), blank)
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|tried| self.form(tried.form))
    }

    fn refused_form(&self) -> &'static str {
        self.tried.as_ref().map_or("", |tried| tried.form)
    }
}

async fn view(ctx: &Ctx, id: PersonId, tried: Option<Tried>) -> Result<PersonPage, Problem> {
    let writes = ctx.may(Permission::WritePeople);
    let own = id == ctx.asker().person.id;
    let grants = ctx.asker().grants.clone();
    let (current, now) = (ctx.asker().token_hash.clone(), ctx.now);
    let asker = grants.clone();
    let (account, keeps, sessions) = ctx
        .read(move |conn, shop| {
            let standing = account::standing(conn, shop, &id)?;
            let keeps = writes && rights::may_change(&asker, &standing.grants);
            let sessions = if keeps && !own {
                sessions::of_person(conn, &id, &current, now)?
            } else {
                Vec::new()
            };
            Ok((standing.account(shop), keeps, sessions))
        })
        .await?;
    let shop = ctx.shop()?;
    let gives = |role: Role| writes && !own && rights::may_give(&grants, role, shop.id);
    let holds = |role: Role| account.roles.iter().any(|held| held.role == role);
    let style = shop.style();
    Ok(PersonPage {
        viewer: Viewer::of(ctx),
        shop: shop.code.clone(),
        roles: account
            .roles
            .iter()
            .map(|held| Held {
                value: held.role.as_str(),
                label: held.role.label(),
                of_group: held.of_group,
                taken: gives(held.role),
            })
            .collect(),
        picks: Role::ALL
            .iter()
            .copied()
            .filter(|role| gives(*role) && !holds(*role))
            .map(|role| Pick { value: role.as_str().to_owned(), label: role.label().to_owned() })
            .collect(),
        person: account,
        keeps,
        own,
        sessions: sessions
            .into_iter()
            .map(|session| ToldSession::of(session, |at| style.moment(at)))
            .collect(),
        tried,
    })
}

/// One person.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn one(ctx: Ctx, parts: Address) -> Done {
    page::html(&view(&ctx, parts.0.1, None).await?)
}

/// Back to the person, or the page again with what is wrong.
async fn settle<T>(
    ctx: &Ctx,
    id: PersonId,
    form: &'static str,
    fields: Fields,
    done: Result<T, Problem>,
) -> Done {
    match done {
        Ok(_) => {
            Ok(see_other(&format!("/shops/{}/people/{id}?did=saved#{form}", ctx.shop()?.code)))
        }
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form, fields, problem: problem.clone() };
            refused(&problem, &view(ctx, id, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

async fn patched(ctx: &Ctx, id: PersonId, fields: &Fields, patch: PersonPatch) -> Done {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let seen: i32 = read.finish(seen)?;
    let change: Change = read_patch(ctx, &id, patch).await?;
    write(ctx, id, seen, change).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Changes the names.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn change(mut ctx: Ctx, parts: Address, form: Form<Fields>) -> Done {
    let (id, fields) = (parts.0.1, form.value);
    ctx.take(&fields)?;
    let patch = PersonPatch {
        name: Some(fields.typed("name").to_owned()),
        sign_in_name: Some(fields.text("sign_in_name")),
        ..PersonPatch::default()
    };
    let done = patched(&ctx, id.clone(), &fields, patch).await;
    settle(&ctx, id, "account", fields, done).await
}

/// Sets a new password.
///
/// # Errors
/// As there.
pub async fn password(mut ctx: Ctx, parts: Address, form: Form<Fields>) -> Done {
    let (id, fields) = (parts.0.1, form.value);
    ctx.take(&fields)?;
    let patch = PersonPatch {
        password: Some(fields.typed("password").to_owned()),
        ..PersonPatch::default()
    };
    let done = patched(&ctx, id.clone(), &fields, patch).await;
    settle(&ctx, id, "password", fields, done).await
}

/// Sets a new PIN; an empty field takes it away.
///
/// # Errors
/// As there.
pub async fn pin(mut ctx: Ctx, parts: Address, form: Form<Fields>) -> Done {
    let (id, fields) = (parts.0.1, form.value);
    ctx.take(&fields)?;
    let patch = PersonPatch { pin: Some(fields.text("pin")), ..PersonPatch::default() };
    let done = patched(&ctx, id.clone(), &fields, patch).await;
    settle(&ctx, id, "pin", fields, done).await
}

/// Closes the account, or opens it again.
///
/// # Errors
/// As there.
pub async fn active(mut ctx: Ctx, parts: Address, form: Form<Fields>) -> Done {
    let (id, fields) = (parts.0.1, form.value);
    ctx.take(&fields)?;
    let patch =
        PersonPatch { active: Some(fields.typed("active") == "yes"), ..PersonPatch::default() };
    let done = patched(&ctx, id.clone(), &fields, patch).await;
    settle(&ctx, id, "closing", fields, done).await
}

/// Gives a role.
///
/// # Errors
/// As there.
pub async fn grant(mut ctx: Ctx, parts: Address, form: Form<Fields>) -> Done {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let mut read = Reader::new(&form.value);
    let role = read.owed("role", Role::parse);
    let done = match read.finish(role) {
        Ok(role) => {
            let (asker, person) = (ctx.asker().grants.clone(), id.clone());
            let work = move |write: &mut ShopWrite<'_>| {
                let body = given::give(write, &asker, &person, role)?;
                Ok(Made { status: 200, body, location: None, version: None })
            };
            ctx.once(&form.hash, work).await
        }
        Err(problem) => Err(problem),
    };
    settle(&ctx, id, "roles", form.value, done).await
}

/// Takes a role.
///
/// # Errors
/// As there.
pub async fn take(
    mut ctx: Ctx,
    parts: Parts<(String, PersonId, Role)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, id, role)) = parts;
    ctx.take(&form.value)?;
    let (asker, person) = (ctx.asker().grants.clone(), id.clone());
    let done = ctx.write(move |write| given::take(write, &asker, &person, role)).await;
    settle(&ctx, id, "roles", form.value, done).await
}

/// Ends every session of the person.
///
/// # Errors
/// As there.
pub async fn end_sessions(mut ctx: Ctx, parts: Address, form: Form<Fields>) -> Done {
    let id = parts.0.1;
    ctx.take(&form.value)?;
    let (asker, person) = (ctx.asker().grants.clone(), id.clone());
    let done = ctx
        .write(move |write| {
            account::kept(write.conn, write.shop, &asker, &person)?;
            sessions::end_all(write.conn, &person, None)
        })
        .await;
    settle(&ctx, id, "sessions", form.value, done).await
}
