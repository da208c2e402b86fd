//! Who works in a shop, as a page.

use actix_web::HttpResponse;
use askama::Template;

use super::model;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};

/// A person with one role.
struct Line {
    name: String,
    role: &'static str,
    signs_in: bool,
}

#[derive(Template)]
#[template(path = "people.html")]
struct PeoplePage {
    viewer: Viewer,
    people: Vec<Line>,
    settings: Vec<(&'static str, String)>,
}

fn settings(shop: &Shop) -> Vec<(&'static str, String)> {
    let amount = |minor: i64| format!("{} {}", shop.money().format_amount(minor), shop.currency);
    let percent = |permille: i32| format!("{} %", f64::from(permille) / 10.0);
    vec![
        ("Time zone", shop.time_zone.clone()),
        ("Labor cost per hour", amount(shop.labor_cost_minor)),
        ("Posted labor rate per hour", amount(shop.posted_rate_minor)),
        ("Comeback window", format!("{} days", shop.window_days)),
        ("Most returns of a part put back", percent(shop.ceiling_permille)),
        ("A return costs besides", amount(shop.return_extra_minor())),
    ]
}

/// The shop's people and settings.
///
/// # Errors
/// The record does not answer.
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let rows = ctx.read(|conn, shop| model::of_shop(conn, shop.id)).await?;
    let people = rows
        .into_iter()
        .map(|(person, role)| Line {
            signs_in: person.active && person.password_hash.is_some(),
            name: person.name,
            role: role.label(),
        })
        .collect();
    let settings = settings(ctx.shop()?);
    page::html(&PeoplePage { viewer: Viewer::of(&ctx), people, settings })
}
