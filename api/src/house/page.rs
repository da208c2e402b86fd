//! The house as a page: shops, a new shop, the database, and its copies.

use actix_web::{HttpResponse, web};
use askama::Template;

use super::model::{self, AtAGlance};
use crate::backups::Standing;
use crate::copy::{self, Mark};
use crate::db::{self, State};
use crate::domain::clock::UtcStamp;
use crate::domain::money::Currency;
use crate::domain::role::Permission;
use crate::domain::style::Style;
use crate::domain::zone::Zone;
use crate::problem::Problem;
use crate::reports::table::thousands;
use crate::shops::http::{ShopBody, add};
use crate::shops::model::Shop;
use crate::shops::page::days;
use crate::web::body::Form;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::{Pick, counted};

/// A shop in the list.
struct Line {
    code: String,
    name: String,
    facts: Vec<String>,
    changed: String,
    /// Its pages, by name.
    places: Vec<(&'static str, String)>,
}

/// Backups by schedule, in words.
struct Scheduled {
    what: String,
    newest: Option<String>,
    fault: Option<String>,
    owed: bool,
}

fn scheduled(standing: Standing, style: &Style, now: UtcStamp) -> Scheduled {
    let every = counted(i64::from(standing.minutes), "minute", "minutes");
    let there = counted(i64::try_from(standing.there).unwrap_or(i64::MAX), "backup", "backups");
    Scheduled {
        what: format!("Every {every} into {}: {there} there", standing.folder),
        newest: standing.newest.map(|at| style.seen_moment(at, now)),
        fault: standing.fault,
        owed: standing.owed,
    }
}

#[derive(Template)]
#[template(path = "house.html")]
struct HousePage {
    viewer: Viewer,
    shops: Vec<Line>,
    record: Vec<(&'static str, String)>,
    /// When the last whole copy was written, and what it has.
    copy: Option<(String, String)>,
    /// How backups by schedule stand; absent: there are none.
    backups: Option<Scheduled>,
    /// Whether the viewer makes shops.
    makes: bool,
    /// Whether the viewer keeps tokens and sessions.
    keeps: bool,
    days: Vec<Pick>,
    blank: Fields,
    tried: Option<Tried>,
}

impl HousePage {
    fn form(&self) -> FormView {
        FormView::of("add-shop", self.tried.as_ref(), self.blank.clone())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|_| self.form())
    }

    fn refused_form(&self) -> &'static str {
        "add-shop"
    }
}

/// What is read for the page.
struct Loaded {
    shops: Vec<AtAGlance>,
    state: State,
    copied: Option<Mark>,
}

async fn load(ctx: &Ctx) -> Result<Loaded, Problem> {
    let (db, shops) = (ctx.app.db.clone(), ctx.shops_where(Permission::ReadHouse));
    let loaded = web::block(move || {
        let state = db.state()?;
        db.read(|conn| {
            let shops = shops.into_iter().map(|shop| model::at_a_glance(conn, shop));
            let shops = shops.collect::<db::Answer<Vec<AtAGlance>>>()?;
            Ok(Loaded { shops, state, copied: copy::last_mark(conn)? })
        })
    })
    .await??;
    Ok(loaded)
}

fn line(ctx: &Ctx, glance: AtAGlance) -> Line {
    let AtAGlance { shop, people, open_orders, closed_orders, last } = glance;
    let at = |page: &str| format!("/shops/{}/{page}", shop.code);
    let all = [
        ("Labor hours", "labor", Permission::ReadReports),
        ("Weekly review", "week", Permission::ReadReports),
        ("People", "people", Permission::ReadPeople),
        ("Tablets", "tablets", Permission::ReadPeople),
        ("Code lists", "codes", Permission::ReadCodes),
        ("Rules", "settings", Permission::WriteShops),
    ];
    let changed = match last {
        Some(last) => format!(
            "last change {} (number {})",
            shop.style().seen_moment(last.at, ctx.now),
            thousands(&last.number.to_string())
        ),
        None => "nothing written yet".to_owned(),
    };
    let people = i64::try_from(people).unwrap_or(i64::MAX);
    Line {
        facts: vec![
            shop.time_zone.clone(),
            shop.currency.clone(),
            counted(people, "person", "people"),
            counted(open_orders, "open order", "open orders"),
            format!("{} handed over", thousands(&closed_orders.to_string())),
        ],
        changed,
        places: all
            .into_iter()
            .filter(|(_, _, what)| ctx.may(*what))
            .map(|(label, page, _)| (label, at(page)))
            .collect(),
        code: shop.code.clone(),
        name: shop.name,
    }
}

/// Bytes as people read them.
fn size(bytes: i64) -> String {
    let of = |unit: i64| {
        let tenths = bytes.saturating_mul(10) / unit;
        thousands(&crate::domain::decimal::format_scaled(tenths, 1))
    };
    match bytes {
        ..1_000 => format!("{bytes} B"),
        1_000..1_000_000 => format!("{} kB", of(1_000)),
        1_000_000..1_000_000_000 => format!("{} MB", of(1_000_000)),
        1_000_000_000.. => format!("{} GB", of(1_000_000_000)),
    }
}

fn record(state: &State) -> Vec<(&'static str, String)> {
    vec![
        ("Database", format!("{} {}", state.kind, state.version)),
        ("Size", size(state.bytes)),
        ("Tables at step", db::last_step()),
        ("Program", concat!("onetrip ", env!("CARGO_PKG_VERSION")).to_owned()),
    ]
}

fn copied(mark: &Mark, style: &Style, now: UtcStamp) -> (String, String) {
    let secrets = if mark.with_secrets {
        "passwords, PINs and tokens included"
    } else {
        "without passwords, PINs and tokens"
    };
    let rows = thousands(&mark.rows.to_string());
    (
        style.seen_moment(mark.made_at, now),
        format!("{rows} rows, {secrets}, by {}", mark.written_by),
    )
}

/// A new shop is usually like the first one.
fn blank(first: Option<&Shop>) -> Fields {
    let money = first.map(|shop| (shop, shop.money()));
    let amount = |pick: fn(&Shop) -> i64| {
        money.as_ref().map(|(shop, money)| money.format_amount(pick(shop))).unwrap_or_default()
    };
    let text = |pick: fn(&Shop) -> String| first.map(pick).unwrap_or_default();
    Fields::of(&[
        ("time_zone", text(|shop| shop.time_zone.clone())),
        ("currency", text(|shop| shop.currency.clone())),
        ("labor_cost_minor", amount(|shop| shop.labor_cost_minor)),
        ("posted_rate_minor", amount(|shop| shop.posted_rate_minor)),
        ("window_days", first.map_or(90, |shop| shop.window_days).to_string()),
        ("week_start", first.map_or(1, |shop| shop.week_start).to_string()),
    ])
}

async fn view(ctx: &Ctx, tried: Option<Tried>) -> Result<HousePage, Problem> {
    let loaded = load(ctx).await?;
    let first = ctx.shops().first();
    let style = first.map_or_else(Style::plain, Shop::style);
    Ok(HousePage {
        viewer: Viewer::of(ctx),
        shops: loaded.shops.into_iter().map(|glance| line(ctx, glance)).collect(),
        record: record(&loaded.state),
        copy: loaded.copied.as_ref().map(|mark| copied(mark, &style, ctx.now)),
        backups: ctx
            .app
            .backups
            .as_ref()
            .map(|backups| scheduled(backups.standing(ctx.now), &style, ctx.now)),
        makes: ctx.may(Permission::WriteShops),
        keeps: ctx.may(Permission::KeepTokens),
        days: days(),
        blank: blank(first),
        tried,
    })
}

/// The page.
///
/// # Errors
/// The record does not answer.
pub async fn show(ctx: Ctx) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, None).await?)
}

/// The new shop that the form asks for.
fn new_shop(fields: &Fields) -> Result<ShopBody, Problem> {
    let mut read = Reader::new(fields);
    read.require("code", "write the short name that addresses carry, such as north");
    read.require("name", "write the name that pages and reports show");
    read.require("labor_cost_minor", "write what an hour costs the shop");
    read.require("posted_rate_minor", "write what an hour is sold for");
    let zone = read.owed("time_zone", Zone::parse);
    let currency = read.owed("currency", Currency::parse);
    let body = zone.zip(currency).map(|(zone, money)| ShopBody {
        code: read.text("code").unwrap_or_default(),
        name: read.text("name").unwrap_or_default(),
        time_zone: zone.name().to_owned(),
        currency: money.code().to_owned(),
        labor_cost_minor: read.amount("labor_cost_minor", &money).unwrap_or_default(),
        posted_rate_minor: read.amount("posted_rate_minor", &money).unwrap_or_default(),
        window_days: read.whole("window_days"),
        week_start: read.whole("week_start"),
        date_style: None,
    });
    read.finish(body)
}

/// Makes a shop.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn add_shop(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let done = match new_shop(&form.value) {
        Ok(body) => add(&ctx, &form.hash, &body).await,
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => Ok(see_other("/house?did=added#shops")),
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: "add-shop", fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_as_people_read_them() {
        let shown = [999, 4_096, 52_428_800, 2_147_483_648].map(size);
        assert_eq!(shown, ["999 B", "4.0 kB", "52.4 MB", "2.1 GB"]);
    }
}
