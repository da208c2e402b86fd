//! The frame of every page.

use actix_web::HttpResponse;
use actix_web::http::header;
use askama::Template;

use super::ctx::Ctx;
use super::menu::{Menu, MenuItem};
use super::notice::{self, Did};
use crate::auth::reach::Way;
use crate::domain::role::Permission;
use crate::domain::style::Style;
use crate::problem::{Kind, Problem};
use crate::shops::model::Shop;

/// Who looks at a page: for the frame around it.
#[derive(Debug, Clone)]
pub struct Viewer {
    pub name: String,
    pub roles: String,
    /// Whose page it is, for what the browser keeps.
    pub person_id: String,
    /// When the page was made: a browser's own clock may be wrong.
    pub now: String,
    /// How the shop writes days and times, and its zone: for what the browser
    /// itself has to tell.
    pub dates: &'static str,
    pub zone: &'static str,
    /// Goes into every form.
    pub form_token: String,
    pub shop: Option<ViewedShop>,
    pub shops: Vec<ViewedShop>,
    pub sees_record: bool,
    pub writes_work: bool,
    pub sees_reports: bool,
    pub sees_advice: bool,
    pub sees_labor: bool,
    pub decides: bool,
    pub sees_people: bool,
    /// Came in with a password, not with a PIN.
    pub in_person: bool,
    pub sees_codes: bool,
    pub sees_changes: bool,
    /// Writes what advisers write: customers, prices, authorizations.
    pub writes_front: bool,
    /// Keeps shops and their settings.
    pub keeps_shops: bool,
    /// The group's shops, the database and its copies.
    pub sees_house: bool,
    /// Sessions and tokens of the group.
    pub keeps_tokens: bool,
    /// Check plans, shop rules, lists of readings: sees, and writes them.
    pub sees_rules: bool,
    pub writes_rules: bool,
    /// What the address says was just done.
    did: Option<Did>,
    /// Method and address asked for.
    route: String,
}

/// A shop in the frame.
#[derive(Debug, Clone)]
pub struct ViewedShop {
    pub code: String,
    pub name: String,
}

impl Viewer {
    /// The asker as a viewer.
    #[must_use]
    pub fn of(ctx: &Ctx) -> Self {
        let viewed = |shop: &Shop| ViewedShop { code: shop.code.clone(), name: shop.name.clone() };
        let style = ctx.shop().ok().or(ctx.shops().first()).map_or_else(Style::plain, Shop::style);
        let roles: Vec<&str> = ctx.roles.iter().map(|role| role.label()).collect();
        Self {
            name: ctx.asker().person.name.clone(),
            roles: roles.join(", "),
            person_id: ctx.asker().person.id.to_string(),
            // Always as long, whatever the moment.
            now: ctx.now.utc().to_rfc3339_opts(chrono::SecondsFormat::Millis, true),
            dates: style.dates.as_str(),
            zone: style.zone.name(),
            form_token: ctx.asker().form_token.clone(),
            shop: ctx.shop().ok().map(viewed),
            shops: ctx.shops().iter().map(viewed).collect(),
            sees_record: ctx.may(Permission::ReadRecord),
            writes_work: ctx.may(Permission::WriteWork),
            sees_reports: ctx.may(Permission::ReadReports),
            sees_advice: ctx.may(Permission::ReadAdvice),
            sees_labor: ctx.may(Permission::ReadOwnLabor),
            decides: ctx.may(Permission::DecideComeback),
            sees_people: ctx.may(Permission::ReadPeople),
            in_person: ctx.asker().way == Way::Password,
            sees_codes: ctx.may(Permission::ReadCodes),
            sees_changes: ctx.may(Permission::ReadAudit),
            writes_front: ctx.may(Permission::WriteFront),
            keeps_shops: ctx.may(Permission::WriteShops),
            sees_house: ctx.may(Permission::ReadHouse),
            keeps_tokens: ctx.may(Permission::KeepTokens),
            sees_rules: ctx.may(Permission::ReadRules),
            writes_rules: ctx.may(Permission::WriteRules),
            did: ctx.did.clone(),
            route: ctx.route.clone(),
        }
    }

    /// What was just done, in words, where the address tells of it.
    #[must_use]
    pub fn told(&self) -> Option<String> {
        Some(notice::plain(self.did.as_ref()?)?.text)
    }

    /// Pages of the group as a whole that the viewer may see.
    #[must_use]
    pub fn group_pages(&self) -> Vec<MenuItem> {
        let page = |label: &str, place: &str| MenuItem {
            label: label.to_owned(),
            place: place.to_owned(),
            here: self.route == format!("GET {place}"),
        };
        let mut pages = Vec::new();
        if self.sees_reports && self.shops.len() > 1 {
            pages.push(page("Labor of all shops", "/group/labor"));
        }
        if self.sees_house {
            pages.push(page("Shops and copies", "/house"));
        }
        if self.keeps_tokens {
            pages.push(page("Sessions and tokens", "/house/access"));
        }
        pages
    }

    /// Where this viewer starts in a shop.
    #[must_use]
    pub fn start_in(&self, shop: &str) -> String {
        let page = if self.sees_record { "today" } else { "people" };
        format!("/shops/{shop}/{page}")
    }

    /// Where the viewer can go.
    #[must_use]
    pub fn menu(&self) -> Menu {
        Menu::of(self)
    }

    /// Whether the page is that one of a shop's, or belongs to it: marks it in the
    /// frame.
    #[must_use]
    pub fn is_at(&self, page: &str) -> bool {
        let here = self.route.split('/').nth(3).map(|here| match here {
            "compare" if !self.sees_reports => "labor",
            "compare" | "repeats" => "comeback-shares",
            "bench-readings" | "hand-over-readings" | "time-pattern" => "reuse",
            "check-order" => "paths",
            here => here,
        });
        here == Some(page)
    }
}

/// Renders a page.
///
/// # Errors
/// Where the template cannot be rendered.
pub fn html(template: &impl Template) -> Result<HttpResponse, Problem> {
    let body =
        template.render().map_err(|error| Problem::new(Kind::INTERNAL, error.to_string()))?;
    Ok(HttpResponse::Ok().content_type("text/html; charset=utf-8").body(body))
}

/// After a form: go and look.
#[must_use]
pub fn see_other(place: &str) -> HttpResponse {
    HttpResponse::SeeOther().insert_header((header::LOCATION, place)).finish()
}

#[derive(Template)]
#[template(path = "problem.html")]
struct ProblemPage<'a> {
    viewer: Option<&'a Viewer>,
    title: &'a str,
    detail: &'a str,
    help: &'a str,
}

/// What to do, for who sees a page: no headers, no pointers.
fn help(kind: Kind) -> &'static str {
    match kind {
        Kind::INVALID => "Go back and correct it. Nothing was saved.",
        Kind::STALE => {
            "Load the page again, look at what changed, and enter your change once more."
        }
        Kind::KEY_REUSED | Kind::VERSION_MISSING => {
            "Load the page again and enter your change once more. Nothing was saved."
        }
        Kind::TOO_MANY => "Wait a while, then try again.",
        Kind::UNAVAILABLE => "Try again in a moment.",
        Kind::NOT_READY => "This page loads itself again. Recording works meanwhile.",
        kind => kind.help,
    }
}

/// A problem as a page.
#[must_use]
pub fn problem(viewer: Option<&Viewer>, problem: &Problem) -> String {
    ProblemPage {
        viewer,
        title: problem.kind.title,
        detail: &problem.detail,
        help: help(problem.kind),
    }
    .render()
    .unwrap_or_else(|_| problem.to_string())
}

impl Ctx {
    /// Refuses a form that does not come from our own page: the session's form
    /// token must be in it.
    ///
    /// # Errors
    /// Forbidden.
    pub fn own_form(&self, token: &str) -> Result<(), Problem> {
        if !token.is_empty() && token == self.asker().form_token {
            return Ok(());
        }
        Err(Problem::new(Kind::FORM_EXPIRED, "the page was open too long: load it again"))
    }
}
