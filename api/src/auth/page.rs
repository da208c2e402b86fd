//! Signing in and out on pages.

use actix_web::cookie::{Cookie, SameSite};
use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, web};
use askama::Template;

use super::http::{SignIn, open};
use super::session::{self, Kind};
use crate::app::App;
use crate::problem::{self, Problem};
use crate::web::body::Form;
use crate::web::ctx::{COOKIE, Ctx};
use crate::web::form::{Fields, refused};
use crate::web::page::{html, see_other};

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage {
    name: String,
    /// Why the last try was refused.
    refused: Option<String>,
}

/// The form.
///
/// # Errors
/// Where the page cannot be rendered.
pub async fn form() -> Result<HttpResponse, Problem> {
    html(&SignInPage { name: String::new(), refused: None })
}

/// A sign-in form has no session whose token could be in it: the browser must
/// say that it comes from this very place.
fn own_origin(req: &HttpRequest) -> bool {
    let text = |name| req.headers().get(name).and_then(|value| value.to_str().ok());
    let Some(origin) = text(header::ORIGIN) else { return true };
    let host = origin.split_once("://").map(|(_, host)| host);
    host.is_some() && host == text(header::HOST)
}

fn cookie(token: String, secure: bool) -> Cookie<'static> {
    let built = Cookie::build(COOKIE, token).path("/").http_only(true).same_site(SameSite::Lax);
    built.secure(secure).finish()
}

/// Signs in.
///
/// # Errors
/// Forbidden for a form from elsewhere; too many tries.
pub async fn sign_in(
    req: HttpRequest,
    app: web::Data<App>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    if !own_origin(&req) {
        return Err(Problem::new(
            problem::Kind::FORBIDDEN,
            "sign in on this program's own page: load it again",
        ));
    }
    let name = form.value.typed("sign_in_name").trim().to_owned();
    let tried =
        SignIn { sign_in_name: name.clone(), password: form.value.typed("password").to_owned() };
    match open(&app, tried, Kind::Page).await {
        Ok(session) => {
            let mut answer = see_other("/");
            answer
                .add_cookie(&cookie(session.token, app.secure_cookies))
                .map_err(|error| Problem::new(problem::Kind::INTERNAL, error.to_string()))?;
            Ok(answer)
        }
        Err(problem)
            if [problem::Kind::NOT_SIGNED_IN, problem::Kind::TOO_MANY].contains(&problem.kind) =>
        {
            let why = match problem.retry_after_seconds {
                Some(seconds) => format!("Too many tries: wait {seconds} seconds, then try again."),
                None => "Name and password do not fit. Look at both and try again.".to_owned(),
            };
            refused(&problem, &SignInPage { name, refused: Some(why) })
        }
        Err(problem) => Err(problem),
    }
}

/// Signs out: the session is dead, whoever else holds its token.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn sign_out(
    ctx: Ctx,
    req: HttpRequest,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    ctx.own_form(form.value.typed("form_token"))?;
    let token = req.cookie(COOKIE).map(|c| c.value().to_owned()).unwrap_or_default();
    ctx.app.db.write(move |conn| session::close(conn, &token)).await?;
    let mut answer = see_other("/sign-in");
    let mut gone = cookie(String::new(), ctx.app.secure_cookies);
    gone.make_removal();
    answer
        .add_cookie(&gone)
        .map_err(|error| Problem::new(problem::Kind::INTERNAL, error.to_string()))?;
    Ok(answer)
}
