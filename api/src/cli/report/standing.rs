//! `onetrip report standing`: the standing figures of all shops of a group
//! together.

use analytics::history::History;
use analytics::standing::ShopOfStanding;
use chrono::NaiveDate;

use super::{Failure, ReportArgs, chosen, opened};
use crate::db::{Answer, Db, Fault, Place};
use crate::domain::clock::{Clock, UtcStamp};
use crate::reports::Format;
use crate::reports::live::anew;
use crate::reports::query::{ReportQuery, cut_at};
use crate::reports::standing::render;
use crate::shops::model::{Shop, all};

/// The report's name.
pub(super) const STANDING: &str = "standing";

/// The figures of all shops together.
pub(super) fn standing(args: &ReportArgs, place: &Place, clock: Clock) -> Result<String, Failure> {
    let query = args.query();
    let given = query.given().into_iter().chain(query.window.as_ref().map(|_| "window"));
    let other: Vec<String> = given
        .chain(args.jobs.map(|_| "jobs"))
        .map(|name| format!("--{}", name.replace('_', "-")))
        .collect();
    if !other.is_empty() {
        return Err(Failure::Refused(format!("{STANDING} does not take {}", other.join(", "))));
    }
    let format = Format::parse(&args.format)
        .ok_or_else(|| Failure::Refused(format!("{STANDING} has no form {}", args.format)))?;
    let db = opened(place)?;
    let mut shops = db.read(all)?;
    if let Some(code) = args.shop.as_deref() {
        shops = vec![chosen(shops, Some(code))?];
    }
    let first = shops
        .first()
        .ok_or_else(|| Failure::Refused("there is no shop in this record".to_owned()))?;
    if shops.iter().any(|shop| shop.group_id != first.group_id) {
        return Err(Failure::Refused(
            "this record has shops of several groups: choose a shop with --shop".to_owned(),
        ));
    }
    let style = first.style();
    let as_of = days_of(&shops, args.as_of.as_deref(), clock.now())?;
    let histories = histories(&db, &shops)?;
    let parts: Vec<ShopOfStanding<'_>> = histories
        .iter()
        .zip(as_of)
        .map(|(history, as_of)| ShopOfStanding { history, as_of })
        .collect();
    let made = analytics::standing::standing(&parts);
    Ok(render(&made, format, args.table.as_deref(), &style)?)
}

/// Where the record of each shop is cut: the day asked for, else its own last
/// complete day.
fn days_of(shops: &[Shop], asked: Option<&str>, now: UtcStamp) -> Result<Vec<NaiveDate>, Failure> {
    let query = ReportQuery { as_of: asked.map(str::to_owned), ..ReportQuery::default() };
    shops.iter().map(|shop| Ok(cut_at(&query, shop, now).map_err(Fault::from)?)).collect()
}

/// The shops' histories.
fn histories(db: &Db, shops: &[Shop]) -> Answer<Vec<History>> {
    shops.iter().map(|shop| anew(db, shop)).collect()
}

/// The histories of all shops of a record, by group and code, for programs that
/// measure.
///
/// # Errors
/// Where there is no such record, or it cannot be read.
pub fn histories_of(place: &str) -> Result<Vec<History>, String> {
    let told = |failure| match failure {
        Failure::Refused(why) | Failure::Broken(why) => why,
    };
    let db = opened(&Place::parse(place)).map_err(told)?;
    let shops = db.read(all).map_err(Failure::from).map_err(told)?;
    histories(&db, &shops).map_err(Failure::from).map_err(told)
}
