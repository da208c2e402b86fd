//! Who is signed in anywhere in the group, and every program's token, as a page.

use actix_web::HttpResponse;
use askama::Template;

use super::page_own::{ToldToken, style, told};
use super::{own, sessions, token};
use crate::domain::ids::TokenId;
use crate::people::model::names;
use crate::people::page_account::ToldSession;
use crate::problem::Problem;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView};
use crate::web::page::{self, Viewer, see_other};

type Done = Result<HttpResponse, Problem>;

/// Something that lets somebody in.
struct Of<T> {
    /// Whose it is.
    person: String,
    what: T,
}

#[derive(Template)]
#[template(path = "access.html")]
struct AccessPage {
    viewer: Viewer,
    sessions: Vec<Of<ToldSession>>,
    /// Those that open something.
    tokens: Vec<Of<ToldToken>>,
    /// Those that do not any more.
    dead: Vec<Of<ToldToken>>,
}

impl AccessPage {
    fn form(&self, name: &str) -> FormView {
        FormView::of(name, None, Fields::default())
    }
}

/// The page.
///
/// # Errors
/// The record does not answer.
pub async fn list(ctx: Ctx) -> Done {
    let (current, now, style) = (ctx.asker().token_hash.clone(), ctx.now, style(&ctx));
    let (known, tokens, sessions) = own::read(&ctx, move |conn, person| {
        let group = &person.group_id;
        let tokens = token::of_group(conn, group)?;
        Ok((names(conn, group)?, tokens, sessions::of_group(conn, group, &current, now)?))
    })
    .await?;
    let name = |id: &_| known.get(id).cloned().unwrap_or_default();
    let tokens = tokens
        .into_iter()
        .map(|token| Of { person: name(&token.person_id), what: told(token, &style, now) });
    let (dead, tokens): (Vec<_>, Vec<_>) = tokens.partition(|token| token.what.dead.is_some());
    page::html(&AccessPage {
        viewer: Viewer::of(&ctx),
        sessions: sessions
            .into_iter()
            .map(|(person, session)| Of {
                person: name(&person),
                what: ToldSession::of(session, |at| style.moment(at)),
            })
            .collect(),
        tokens,
        dead,
    })
}

/// Revokes a token of the group.
///
/// # Errors
/// Not found, forbidden, or the record does not answer.
pub async fn revoke(mut ctx: Ctx, parts: Parts<TokenId>, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    own::revoke_token(&ctx, parts.0, true).await?;
    Ok(see_other("/house/access?did=revoked#tokens"))
}

/// Ends a session of the group.
///
/// # Errors
/// As there.
pub async fn end(mut ctx: Ctx, parts: Parts<String>, form: Form<Fields>) -> Done {
    ctx.take(&form.value)?;
    own::end_session_of_group(&ctx, parts.0).await?;
    Ok(see_other("/house/access?did=ended#sessions"))
}
