//! What browsers keep for us, and what a form says of where it comes from.

use actix_web::HttpRequest;
use actix_web::cookie::time::Duration;
use actix_web::cookie::{Cookie, SameSite};
use actix_web::http::header::{self, HeaderName};

use super::session::Device;
use crate::app::App;
use crate::problem::{Kind, Problem};
use crate::web::client;

/// The cookie of a page session. Browsers take one of the second name from this
/// very host alone, over an encrypted connection, so that no neighbor can plant it.
const SESSION: &str = "onetrip_session";
const SESSION_OF_HOST: &str = "__Host-onetrip_session";
/// The cookie of a browser that somebody has signed in with before.
const DEVICE: &str = "onetrip_device";
const DEVICE_OF_HOST: &str = "__Host-onetrip_device";
/// The cookie of an enrolled tablet.
pub const TABLET: &str = "onetrip_tablet";
/// Browsers keep no cookie longer.
const TABLET_DAYS: i64 = 400;

/// Whether cookies are for encrypted connections alone: this very connection
/// is, or whoever set the server up says that the one before it is. Headers
/// that anybody can send are not asked.
fn secure(req: &HttpRequest, app: &App) -> bool {
    app.secure_cookies || req.app_config().secure()
}

/// The name of a page session's cookie on this connection; no other is read.
#[must_use]
pub fn session_name(req: &HttpRequest, app: &App) -> &'static str {
    if secure(req, app) { SESSION_OF_HOST } else { SESSION }
}

/// The cookie of a page session.
#[must_use]
pub fn session(req: &HttpRequest, app: &App, token: String) -> Cookie<'static> {
    Cookie::build(session_name(req, app), token)
        .path("/")
        .http_only(true)
        .same_site(SameSite::Lax)
        .secure(secure(req, app))
        .finish()
}

/// The cookie that makes a browser an enrolled tablet.
#[must_use]
pub fn tablet(req: &HttpRequest, app: &App, token: String) -> Cookie<'static> {
    lasting(TABLET, token, secure(req, app))
}

/// The value of a cookie, where the request has it.
#[must_use]
pub fn sent(req: &HttpRequest, name: &str) -> Option<String> {
    req.cookie(name).map(|cookie| cookie.value().to_owned())
}

/// The cookie of a browser that somebody has signed in with.
#[must_use]
pub fn known_device(req: &HttpRequest, app: &App, token: String) -> Cookie<'static> {
    lasting(device_name(req, app), token, secure(req, app))
}

/// A cookie that tells a machine, not a person, and stays on it.
fn lasting(name: &'static str, token: String, secure: bool) -> Cookie<'static> {
    Cookie::build(name, token)
        .path("/")
        .http_only(true)
        .same_site(SameSite::Strict)
        .max_age(Duration::days(TABLET_DAYS))
        .secure(secure)
        .finish()
}

fn device_name(req: &HttpRequest, app: &App) -> &'static str {
    if secure(req, app) { DEVICE_OF_HOST } else { DEVICE }
}

/// What the request says of the browser or program.
#[must_use]
pub fn device(req: &HttpRequest, app: &App) -> Device {
    let agent = req.headers().get(header::USER_AGENT);
    let known = sent(req, device_name(req, app));
    Device::naming(agent.and_then(|value| value.to_str().ok()), client::address(req), known)
}

/// Browsers say where a form comes from: it must be this very place. A sign-in
/// form has no session whose token could be in it; for the others it stands
/// beside the token.
///
/// # Errors
/// The form comes from elsewhere.
pub fn own_origin(req: &HttpRequest) -> Result<(), Problem> {
    let text = |name| req.headers().get(name).map(|value| value.to_str().unwrap_or_default());
    // Every browser of today says it (Fetch Metadata); older ones send the origin.
    let site = text(HeaderName::from_static("sec-fetch-site"));
    let from_here = site.is_none_or(|site| matches!(site, "same-origin" | "none"));
    let host = text(header::ORIGIN).map(|origin| origin.split_once("://").map(|(_, host)| host));
    let own = host.is_none_or(|host| host.is_some() && host == text(header::HOST));
    if from_here && own {
        return Ok(());
    }
    Err(Problem::new(
        Kind::FORM_EXPIRED,
        "the form comes from elsewhere: load this program's own page",
    ))
}
