//! The own ways in, as a page: password, PIN, tokens, sessions.

use actix_web::HttpResponse;
use askama::Template;
use chrono::{Days, NaiveDate, NaiveTime};

use super::own;
use super::sessions;
use super::token::{self, AccessToken, NewAccessToken};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::TokenId;
use crate::domain::scope::Scope;
use crate::domain::style::Style;
use crate::domain::zone::Zone;
use crate::people::page_account::ToldSession;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::Pick;

type Done = Result<HttpResponse, Problem>;

/// A token, with its times on the wall.
pub(super) struct ToldToken {
    pub id: String,
    pub name: String,
    pub scope: &'static str,
    pub made: String,
    pub used: Option<String>,
    pub ends: Option<String>,
    /// It opens nothing any more.
    pub dead: Option<&'static str>,
}

#[derive(Template)]
#[template(path = "me.html")]
struct OwnPage {
    viewer: Viewer,
    has_pin: bool,
    scopes: Vec<Pick>,
    tokens: Vec<ToldToken>,
    sessions: Vec<ToldSession>,
    /// The text of a token that was just made.
    made: Option<String>,
    tried: Option<Tried>,
}

impl OwnPage {
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

/// The clock on the wall of the first own shop, as it is written there.
pub(super) fn style(ctx: &Ctx) -> Style {
    ctx.shops().first().map_or_else(Style::plain, Shop::style)
}

pub(super) fn told(token: AccessToken, style: &Style, now: UtcStamp) -> ToldToken {
    let over = token.ends_at.is_some_and(|ends| ends <= now);
    ToldToken {
        id: token.id.to_string(),
        name: token.name,
        scope: token.scope.0.label(),
        made: style.moment(token.made_at),
        used: token.used_at.map(|at| style.moment(at)),
        ends: token.ends_at.map(|at| style.moment(at)),
        dead: match (token.revoked_at, over) {
            (Some(_), _) => Some("revoked"),
            (None, true) => Some("past its end"),
            (None, false) => None,
        },
    }
}

async fn view(ctx: &Ctx, made: Option<String>, tried: Option<Tried>) -> Result<OwnPage, Problem> {
    let (current, now, style) = (ctx.asker().token_hash.clone(), ctx.now, style(ctx));
    let (tokens, sessions) = own::read(ctx, move |conn, person| {
        let tokens = token::of_person(conn, &person.id)?;
        Ok((tokens, sessions::of_person(conn, &person.id, &current, now)?))
    })
    .await?;
    Ok(OwnPage {
        viewer: Viewer::of(ctx),
        has_pin: ctx.asker().person.pin_hash.is_some(),
        scopes: Scope::ALL
            .iter()
            .map(|scope| Pick { value: scope.as_str().to_owned(), label: scope.label().to_owned() })
            .collect(),
        tokens: tokens.into_iter().map(|token| told(token, &style, now)).collect(),
        sessions: sessions
            .into_iter()
            .map(|session| ToldSession::of(session, |at| style.moment(at)))
            .collect(),
        made,
        tried,
    })
}

/// The page.
///
/// # Errors
/// The record does not answer.
pub async fn show(ctx: Ctx) -> Done {
    page::html(&view(&ctx, None, None).await?)
}

async fn settle<T>(
    ctx: &Ctx,
    form: &'static str,
    fields: Fields,
    done: Result<T, Problem>,
) -> Done {
    match done {
        Ok(_) => Ok(see_other(match form {
            "token" => "/me?did=revoked#token",
            "sessions" => "/me?did=ended#sessions",
            _ => "/me?did=saved",
        })),
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form, fields, problem: problem.clone() };
            refused(&problem, &view(ctx, None, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

/// Changes the password.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn password(mut ctx: Ctx, form: Form<Fields>) -> Done {
    let fields = form.value;
    ctx.take(&fields)?;
    let typed = |name| fields.typed(name).to_owned();
    let done = own::change_password(&ctx, typed("old_password"), typed("new_password")).await;
    settle(&ctx, "password", fields, done).await
}

/// Sets the PIN.
///
/// # Errors
/// As there.
pub async fn pin(mut ctx: Ctx, form: Form<Fields>) -> Done {
    let fields = form.value;
    ctx.take(&fields)?;
    let typed = |name| fields.typed(name).to_owned();
    let done = own::set_pin(&ctx, typed("password"), typed("pin")).await;
    settle(&ctx, "pin", fields, done).await
}

/// The end of the day on the wall.
fn end_of(day: NaiveDate, zone: Zone) -> Option<UtcStamp> {
    zone.instant(day.checked_add_days(Days::new(1))?.and_time(NaiveTime::MIN))
}

fn new_token(fields: &Fields, zone: Zone) -> Result<NewAccessToken, Problem> {
    let mut read = Reader::new(fields);
    let scope = read.owed("scope", Scope::parse);
    let ends_at = read.word("ends_at", |text| end_of(text.parse().ok()?, zone));
    let name = read.text("name").unwrap_or_default();
    read.finish(scope.map(|scope| NewAccessToken { name, scope, ends_at }))
}

/// Makes a token, and shows it: the only time.
///
/// # Errors
/// As there.
pub async fn make_token(mut ctx: Ctx, form: Form<Fields>) -> Done {
    let fields = form.value;
    ctx.take(&fields)?;
    let made = match new_token(&fields, style(&ctx).zone) {
        Ok(new) => own::make_token(&ctx, new).await,
        Err(problem) => Err(problem),
    };
    match made {
        Ok(made) => page::html(&view(&ctx, Some(made.token), None).await?),
        Err(problem) => settle(&ctx, "token", fields, Err::<(), _>(problem)).await,
    }
}

/// Revokes a token.
///
/// # Errors
/// Not found, or as there.
pub async fn revoke_token(mut ctx: Ctx, parts: Parts<TokenId>, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    let done = own::revoke_token(&ctx, parts.0, false).await;
    settle(&ctx, "token", form.value, done).await
}

/// Ends a session.
///
/// # Errors
/// As there.
pub async fn end_session(mut ctx: Ctx, parts: Parts<String>, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    let done = own::end_session(&ctx, Some(parts.0)).await;
    settle(&ctx, "sessions", form.value, done).await
}

/// Ends the other sessions.
///
/// # Errors
/// As there.
pub async fn end_others(mut ctx: Ctx, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    let done = own::end_session(&ctx, None).await;
    settle(&ctx, "sessions", form.value, done).await
}
