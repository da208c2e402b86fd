//! Shops over HTTP.

use actix_web::HttpResponse;
use chrono::NaiveDate;
use serde::Deserialize;
use serde_json::Value;

use super::model::{self, NewShop, ReturnCosts, Settings, Shop};
use crate::db::Answer;
use crate::db::types::Word;
use crate::domain::day;
use crate::domain::money::{Currency, MOST_MINOR};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::role::Permission;
use crate::domain::style::DateStyle;
use crate::domain::zone::Zone;
use crate::domain::{codes, text};
use crate::problem::Problem;
use crate::shops::write::{About, ShopWrite};
use crate::web::answer::{Made, Page, ok, versioned};
use crate::web::body::{Json, given, present};
use crate::web::ctx::Ctx;
use crate::web::docs::Problems;

/// The shops that the asker has a role in.
#[utoipa::path(
    get, path = "/api/v1/shops", operation_id = "listShops", tag = "shop",
    description = "Shops of the group in which you have a role.",
    responses((status = 200, description = "The shops", body = Page<Shop>), Problems)
)]
pub async fn list(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let items: Vec<Value> = ctx.shops().iter().map(|shop| shown(&ctx, shop)).collect();
    Ok(ok(&Page { items, next_cursor: None }))
}

/// One shop.
#[utoipa::path(
    get, path = "/api/v1/shops/{shop}", operation_id = "readShop", tag = "shop",
    description = "A shop's settings.",
    params(("shop" = String, Path, description = "The shop's id")),
    responses((status = 200, description = "The shop", body = Shop), Problems)
)]
pub async fn read(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let shop = ctx.shop()?;
    Ok(versioned(shop.version, &shown(&ctx, shop)))
}

/// The shop without the amounts that the asker may not see: they are null.
fn shown(ctx: &Ctx, shop: &Shop) -> Value {
    const COSTS: [&str; 6] = [
        "labor_cost_minor",
        "return_diagnosis_minor",
        "return_proof_minor",
        "return_transport_minor",
        "return_bay_minor",
        "return_goodwill_minor",
    ];
    let mut whole = serde_json::to_value(shop).unwrap_or_default();
    let keeps_settings = ctx.may(Permission::WriteShops);
    let costs = keeps_settings || ctx.may(Permission::ReadCosts);
    let prices = keeps_settings || ctx.may(Permission::ReadPrices);
    let withheld = COSTS.iter().filter(|_| !costs);
    for field in withheld.chain(["posted_rate_minor"].iter().filter(|_| !prices)) {
        if let Some(value) = whole.get_mut(*field) {
            *value = Value::Null;
        }
    }
    whole
}

/// A new shop.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShopBody {
    pub code: String,
    pub name: String,
    /// IANA zone, such as America/Chicago.
    pub time_zone: String,
    /// ISO 4217.
    pub currency: String,
    #[schema(minimum = 0)]
    pub labor_cost_minor: i64,
    #[schema(minimum = 0)]
    pub posted_rate_minor: i64,
    /// Absent: 90.
    #[schema(minimum = 1, maximum = 400)]
    pub window_days: Option<i32>,
    /// Absent: 1, Monday.
    #[schema(minimum = 1, maximum = 7)]
    pub week_start: Option<i32>,
    /// How pages write days, times and money. Absent: as is usual with the
    /// currency, `us` with USD, else `day_first`.
    pub date_style: Option<DateStyle>,
}

fn parse(body: &ShopBody) -> Result<NewShop, Vec<FieldFault>> {
    let mut faults = Vec::new();
    let code = codes::parse("code", &body.code).map_err(|f| faults.push(f)).ok();
    let name = text::required("name", &body.name, 200).map_err(|f| faults.push(f)).ok();
    let zone = Zone::parse(&body.time_zone);
    let currency = Currency::parse(&body.currency);
    let mut say = |field: &str, detail: &str| faults.push(FieldFault::new(field, "value", detail));
    if code.as_ref().is_some_and(|c| c.chars().count() > 40) {
        say("code", "write at most 40 characters");
    }
    if zone.is_none() {
        say("time_zone", "write an IANA zone such as America/Chicago");
    }
    if currency.is_none() {
        say("currency", "write the three letters of ISO 4217, such as USD");
    }
    let amounts = [
        ("labor_cost_minor", body.labor_cost_minor),
        ("posted_rate_minor", body.posted_rate_minor),
    ];
    for (field, _) in amounts.iter().filter(|(_, minor)| !(0..=MOST_MINOR).contains(minor)) {
        say(field, "write an amount between zero and 1000000000000");
    }
    let window_days = body.window_days.unwrap_or(90);
    if !(1..=400).contains(&window_days) {
        say("window_days", "choose 1 to 400 days");
    }
    let week_start = body.week_start.unwrap_or(1);
    if !(1..=7).contains(&week_start) {
        say("week_start", "choose 1 (Monday) to 7 (Sunday)");
    }
    match (code, name, zone, currency) {
        (Some(code), Some(name), Some(zone), Some(currency)) if faults.is_empty() => Ok(NewShop {
            code,
            name,
            zone,
            currency,
            labor_cost_minor: body.labor_cost_minor,
            posted_rate_minor: body.posted_rate_minor,
            window_days,
            week_start,
            date_style: body.date_style,
            return_costs: ReturnCosts::default(),
        }),
        _ => Err(faults),
    }
}

/// Makes a shop.
#[utoipa::path(
    post, path = "/api/v1/shops", operation_id = "makeShop", tag = "shop",
    description = "Makes a shop in your group, with the starting code lists.",
    params(("Idempotency-Key" = String, Header, description = "A new UUID for each shop you make")),
    request_body = ShopBody,
    responses((status = 201, description = "The shop", body = Shop), Problems)
)]
pub async fn make(ctx: Ctx, body: Json<ShopBody>) -> Result<HttpResponse, Problem> {
    add(&ctx, &body.hash, &body.value).await
}

/// Adds a shop to the asker's group, once under the key that came with the
/// request.
///
/// # Errors
/// The faults; a conflict where the group has the code already.
pub async fn add(ctx: &Ctx, hash: &str, body: &ShopBody) -> Result<HttpResponse, Problem> {
    let new = parse(body).map_err(Problem::invalid)?;
    let (group, person, now) =
        (ctx.asker().person.group_id.clone(), ctx.asker().person.id.clone(), ctx.now);
    ctx.once_in_group(hash, move |conn| {
        let shop = model::make(conn, &group, &new)?;
        ShopWrite::begin(conn, &shop, &person, now)?.note(
            &About::new("shop", &shop.public_id),
            "added",
            None,
            Some(&shop),
        )?;
        Ok(Made::created(format!("/api/v1/shops/{}", shop.public_id), shop.version, shop))
    })
    .await
}

/// Settings to change. Absent fields stay.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShopPatch {
    #[serde(default, deserialize_with = "given")]
    pub name: Option<String>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0)]
    pub labor_cost_minor: Option<i64>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0)]
    pub posted_rate_minor: Option<i64>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 1, maximum = 400)]
    pub window_days: Option<i32>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 1, maximum = 7)]
    pub week_start: Option<i32>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0, maximum = 1000)]
    pub ceiling_permille: Option<i32>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0)]
    pub return_diagnosis_minor: Option<i64>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0)]
    pub return_proof_minor: Option<i64>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0)]
    pub return_transport_minor: Option<i64>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0)]
    pub return_bay_minor: Option<i64>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0)]
    pub return_goodwill_minor: Option<i64>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0, maximum = 1000)]
    pub assumed_cleaned_suspect_permille: Option<i32>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0, maximum = 1000)]
    pub assumed_bystander_tested_permille: Option<i32>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0, maximum = 1000)]
    pub assumed_bystander_untested_permille: Option<i32>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0, maximum = 1000)]
    pub assumed_replaced_permille: Option<i32>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<NaiveDate>)]
    pub links_from: Option<Option<NaiveDate>>,
    #[serde(default, deserialize_with = "given")]
    pub date_style: Option<DateStyle>,
    /// 0: nobody is called.
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0, maximum = 365)]
    pub follow_up_days: Option<i32>,
    #[serde(default, deserialize_with = "given")]
    #[schema(minimum = 0, maximum = 365)]
    pub follow_up_intermittent_days: Option<i32>,
}

/// Numbers that no setting can have.
fn out_of_range(patch: &ShopPatch) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    let amounts = [
        ("labor_cost_minor", patch.labor_cost_minor),
        ("posted_rate_minor", patch.posted_rate_minor),
        ("return_diagnosis_minor", patch.return_diagnosis_minor),
        ("return_proof_minor", patch.return_proof_minor),
        ("return_transport_minor", patch.return_transport_minor),
        ("return_bay_minor", patch.return_bay_minor),
        ("return_goodwill_minor", patch.return_goodwill_minor),
    ];
    for (field, amount) in amounts {
        if amount.is_some_and(|minor| !(0..=MOST_MINOR).contains(&minor)) {
            faults.push(FieldFault::new(field, "range", "write an amount of zero or more"));
        }
    }
    let ranges = [
        ("window_days", patch.window_days, 1, 400),
        ("week_start", patch.week_start, 1, 7),
        ("ceiling_permille", patch.ceiling_permille, 0, 1000),
        ("assumed_cleaned_suspect_permille", patch.assumed_cleaned_suspect_permille, 0, 1000),
        ("assumed_bystander_tested_permille", patch.assumed_bystander_tested_permille, 0, 1000),
        ("assumed_bystander_untested_permille", patch.assumed_bystander_untested_permille, 0, 1000),
        ("assumed_replaced_permille", patch.assumed_replaced_permille, 0, 1000),
        ("follow_up_days", patch.follow_up_days, 0, 365),
        ("follow_up_intermittent_days", patch.follow_up_intermittent_days, 0, 365),
    ];
    for (field, value, low, high) in ranges {
        if value.is_some_and(|v| !(low..=high).contains(&v)) {
            faults.push(FieldFault::new(field, "range", format!("choose {low} to {high}")));
        }
    }
    faults
}

/// Settings out of a change to them.
///
/// # Errors
/// What is wrong, field by field.
pub fn settings(patch: &ShopPatch, today: NaiveDate) -> Result<Settings, Vec<FieldFault>> {
    let mut faults = out_of_range(patch);
    let name = match patch.name.as_deref().map(|name| text::required("name", name, 200)) {
        Some(Err(fault)) => {
            faults.push(fault);
            None
        }
        Some(Ok(name)) => Some(name),
        None => None,
    };
    if let Some(Some(from)) = patch.links_from {
        faults.extend(day::past("links_from", from, today).err());
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    Ok(Settings {
        name,
        labor_cost_minor: patch.labor_cost_minor,
        posted_rate_minor: patch.posted_rate_minor,
        window_days: patch.window_days,
        week_start: patch.week_start,
        ceiling_permille: patch.ceiling_permille,
        return_diagnosis_minor: patch.return_diagnosis_minor,
        return_proof_minor: patch.return_proof_minor,
        return_transport_minor: patch.return_transport_minor,
        return_bay_minor: patch.return_bay_minor,
        return_goodwill_minor: patch.return_goodwill_minor,
        assumed_cleaned_suspect_permille: patch.assumed_cleaned_suspect_permille,
        assumed_bystander_tested_permille: patch.assumed_bystander_tested_permille,
        assumed_bystander_untested_permille: patch.assumed_bystander_untested_permille,
        assumed_replaced_permille: patch.assumed_replaced_permille,
        links_from: patch.links_from,
        date_style: patch.date_style.map(Word),
        follow_up_days: patch.follow_up_days,
        follow_up_intermittent_days: patch.follow_up_intermittent_days,
    })
}

/// Writes settings over the version the writer has seen, and notes it.
///
/// # Errors
/// Stale where another version stands.
pub fn put(write: &mut ShopWrite<'_>, seen: i32, settings: &Settings) -> Answer<Shop> {
    let before = model::by_number(write.conn, write.shop.id)?;
    let after = model::change(write.conn, before.id, seen, settings)?;
    let about = About::new("shop", &after.public_id);
    write.note(&about, "changed", Some(&before), Some(&after))?;
    Ok(after)
}

/// Changes settings.
#[utoipa::path(
    patch, path = "/api/v1/shops/{shop}", operation_id = "changeShop", tag = "shop",
    description = "Changes a shop's settings (JSON merge patch).",
    params(("shop" = String, Path, description = "The shop's id"),
        ("If-Match" = String, Header, description = "The ETag you read")),
    request_body(content = ShopPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "The shop as it is now", body = Shop), Problems)
)]
pub async fn change(ctx: Ctx, body: Json<ShopPatch>) -> Result<HttpResponse, Problem> {
    let seen = ctx.seen_version()?;
    let today = ctx.shop()?.zone().day(ctx.now);
    let settings =
        settings(&body.value, today).map_err(|faults| Problem::from(Refusal::Invalid(faults)))?;
    let shop = ctx.write(move |write| put(write, seen, &settings)).await?;
    Ok(versioned(shop.version, &shop))
}
