//! Signing in and out on pages.

use actix_web::{HttpRequest, HttpResponse, web};
use askama::Template;

use super::cookie::{self, TABLET};
use super::page_tablet::set;
use super::reach::Way;
use super::session::Kind;
use super::throttle::seconds as in_words;
use super::{door, own};
use crate::app::App;
use crate::people::model as people;
use crate::problem::{self, Problem};
use crate::web::body::Form;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, refused};
use crate::web::page::{html, see_other};

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage {
    name: String,
    /// Why the last try was refused.
    refused: Option<String>,
    /// This browser says that it is an enrolled tablet.
    on_tablet: bool,
    /// There is no account yet that can sign in.
    nobody: bool,
}

/// Whether nobody at all can sign in. Where the record does not answer, the
/// page does without.
async fn nobody(app: &App) -> bool {
    let db = app.db.clone();
    let asked = web::block(move || db.read(people::anybody_signs_in)).await;
    matches!(asked, Ok(Ok(false)))
}

fn on_tablet(req: &HttpRequest) -> bool {
    req.cookie(TABLET).is_some()
}

/// The form.
///
/// # Errors
/// Where the page cannot be rendered.
pub async fn form(req: HttpRequest, app: web::Data<App>) -> Result<HttpResponse, Problem> {
    let nobody = nobody(&app).await;
    html(&SignInPage { name: String::new(), refused: None, on_tablet: on_tablet(&req), nobody })
}

/// Signs in.
///
/// # Errors
/// A form from elsewhere; too many tries.
pub async fn sign_in(
    req: HttpRequest,
    app: web::Data<App>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    cookie::own_origin(&req)?;
    let name = form.value.typed("sign_in_name").trim().to_owned();
    let secret = form.value.typed("password").to_owned();
    let device = cookie::device(&req, &app);
    match door::by_password(&app, &name, secret, Kind::Page, device).await {
        Ok(session) => {
            door::end_before(&app, &req).await?;
            let mut answer = see_other("/");
            set(&mut answer, &cookie::session(&req, &app, session.token))?;
            if let Some(token) = session.device {
                set(&mut answer, &cookie::known_device(&req, &app, token))?;
            }
            Ok(answer)
        }
        Err(problem)
            if [problem::Kind::NOT_SIGNED_IN, problem::Kind::TOO_MANY].contains(&problem.kind) =>
        {
            let why = match problem.retry_after_seconds {
                Some(seconds) => {
                    format!("Too many tries: wait {}, then try again.", in_words(seconds))
                }
                None => "Name or password is wrong. Check both and try again.".to_owned(),
            };
            let (on_tablet, nobody) = (on_tablet(&req), nobody(&app).await);
            let page = SignInPage { name, refused: Some(why), on_tablet, nobody };
            refused(&problem, &page)
        }
        Err(problem) => Err(problem),
    }
}

/// Signs out: the session is dead, whoever else holds its token.
///
/// # Errors
/// A form from elsewhere, or the record does not answer.
pub async fn sign_out(
    ctx: Ctx,
    req: HttpRequest,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    ctx.own_form(form.value.typed("form_token"))?;
    own::sign_out(&ctx).await?;
    // The next one at a tablet comes in with a PIN.
    let place = if ctx.asker().way == Way::Pin { "/tablet" } else { "/sign-in" };
    let mut answer = see_other(place);
    let mut gone = cookie::session(&req, &ctx.app, String::new());
    gone.make_removal();
    set(&mut answer, &gone)?;
    Ok(answer)
}
