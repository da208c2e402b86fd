//! The page behind the link of the first start.

use actix_web::{HttpRequest, HttpResponse, web};
use askama::Template;
use serde::Deserialize;

use super::first::{self, New};
use super::page_tablet::set;
use super::{cookie, password};
use crate::app::App;
use crate::log;
use crate::problem::{self, Problem};
use crate::web::body::{Form, Params};
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{html, see_other};

#[derive(Template)]
#[template(path = "first_account.html")]
struct FirstPage {
    /// The code of a link that is good.
    code: Option<String>,
    least: usize,
    tried: Option<Tried>,
}

impl FirstPage {
    fn form(&self) -> FormView {
        FormView::of("first", self.tried.as_ref(), Fields::default())
    }
}

/// What the link carries.
#[derive(Deserialize)]
pub struct Asked {
    #[serde(default)]
    code: String,
}

/// The form, or what to do where the link is not good any more.
///
/// # Errors
/// Where the page cannot be rendered.
pub async fn form(app: web::Data<App>, asked: Params<Asked>) -> Result<HttpResponse, Problem> {
    let code = app.first.knows(&asked.0.code, app.clock.now()).then_some(asked.0.code);
    html(&FirstPage { code, least: password::LEAST, tried: None })
}

fn read(fields: &Fields) -> Result<New, Problem> {
    let mut read = Reader::new(fields);
    read.require("name", "write your name");
    read.require("sign_in_name", "choose what you sign in with");
    let name = read.text("name").unwrap_or_default();
    let sign_in = read.text("sign_in_name").unwrap_or_default();
    // Blanks at its ends belong to a password.
    let password = fields.typed("password").to_owned();
    if let Err(fault) = password::acceptable(&password, [&*name, &*sign_in]) {
        read.refuse("password", &fault.detail);
    }
    read.finish(Some(New { name, sign_in, password }))
}

/// Makes the account, and signs it in.
///
/// # Errors
/// A form from elsewhere; the record does not answer.
pub async fn create(
    req: HttpRequest,
    app: web::Data<App>,
    form: Form<Fields>,
) -> Result<HttpResponse, Problem> {
    cookie::own_origin(&req)?;
    let code = form.value.typed("code").to_owned();
    let Some(link) = app.first.take(&code, app.clock.now()) else {
        let problem = Problem::new(problem::Kind::NOT_SIGNED_IN, "the link is not good any more");
        log::kept_out(None, "first account", cookie::device(&req, &app).from, "no such link");
        return refused(&problem, &FirstPage { code: None, least: password::LEAST, tried: None });
    };
    let made = match read(&form.value) {
        Ok(new) => first::make(&app, new, cookie::device(&req, &app)).await,
        Err(problem) => Err(problem),
    };
    match made {
        Ok(session) => {
            let mut answer = see_other("/");
            set(&mut answer, &cookie::session(&req, &app, session.token))?;
            Ok(answer)
        }
        Err(problem) => {
            app.first.put_back(link);
            if !mendable(&problem) {
                return Err(problem);
            }
            let tried = Tried { form: "first", fields: form.value, problem: problem.clone() };
            let page = FirstPage { code: Some(code), least: password::LEAST, tried: Some(tried) };
            refused(&problem, &page)
        }
    }
}
