//! A shop's settings, as a page.

use actix_web::HttpResponse;
use askama::Template;

use super::http::{ShopPatch, put, settings as checked};
use super::model::{Settings, Shop};
use crate::domain::decimal::format_scaled;
use crate::domain::refusal::FieldFault;
use crate::domain::style::DateStyle;
use crate::followups::model as followups;
use crate::problem::Problem;
use crate::web::answer::Made;
use crate::web::body::Form;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, FormView, Reader, Tried, mendable, refused};
use crate::web::page::{self, Viewer, see_other};
use crate::web::words::Pick;

const DAYS: [&str; 7] =
    ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"];

#[derive(Template)]
#[template(path = "settings.html")]
struct SettingsPage {
    viewer: Viewer,
    shop: String,
    time_zone: String,
    currency: String,
    version: i32,
    days: Vec<Pick>,
    /// What a return costs besides labor and the part, all together.
    return_extra: String,
    date_styles: Vec<Pick>,
    blank: Fields,
    tried: Option<Tried>,
}

impl SettingsPage {
    fn form(&self) -> FormView {
        FormView::of_record("settings", self.tried.as_ref(), self.blank.clone())
    }

    fn refused(&self) -> Option<FormView> {
        self.tried.as_ref().map(|_| self.form())
    }

    fn refused_form(&self) -> &'static str {
        "settings"
    }
}

/// Ways to write, by what they make of an afternoon.
fn date_styles() -> Vec<Pick> {
    let label = |style: DateStyle| match style {
        DateStyle::Us => "Nov 24, 2026, 2:30 PM",
        DateStyle::DayFirst => "24 Nov 2026 14:30",
        DateStyle::Iso => "2026-11-24 14:30",
    };
    DateStyle::ALL.iter().map(|style| Pick::new(style.as_str(), label(*style))).collect()
}

/// The form as the shop stands.
fn blank(shop: &Shop) -> Fields {
    let amount = |minor: i64| shop.money().format_amount(minor);
    let calls = followups::terms(shop);
    let percent = |permille: i32| format_scaled(i64::from(permille), 1);
    Fields::of(&[
        ("name", shop.name.clone()),
        ("labor_cost_minor", amount(shop.labor_cost_minor)),
        ("posted_rate_minor", amount(shop.posted_rate_minor)),
        ("window_days", shop.window_days.to_string()),
        ("week_start", shop.week_start.to_string()),
        ("date_style", shop.style().dates.as_str().to_owned()),
        ("ceiling_permille", percent(shop.ceiling_permille)),
        ("links_from", shop.links_from.map(|day| day.to_string()).unwrap_or_default()),
        ("assumed_cleaned_suspect_permille", percent(shop.assumed_cleaned_suspect_permille)),
        ("assumed_bystander_tested_permille", percent(shop.assumed_bystander_tested_permille)),
        ("assumed_bystander_untested_permille", percent(shop.assumed_bystander_untested_permille)),
        ("assumed_replaced_permille", percent(shop.assumed_replaced_permille)),
        ("return_diagnosis_minor", amount(shop.return_diagnosis_minor)),
        ("return_proof_minor", amount(shop.return_proof_minor)),
        ("return_transport_minor", amount(shop.return_transport_minor)),
        ("return_bay_minor", amount(shop.return_bay_minor)),
        ("return_goodwill_minor", amount(shop.return_goodwill_minor)),
        ("follow_up_days", calls.days.to_string()),
        ("follow_up_intermittent_days", calls.intermittent_days.to_string()),
    ])
}

/// The days of the week as choices.
#[must_use]
pub fn days() -> Vec<Pick> {
    (1..=7).zip(DAYS).map(|(day, name)| Pick::new(day.to_string(), name)).collect()
}

async fn view(ctx: &Ctx, tried: Option<Tried>) -> Result<SettingsPage, Problem> {
    // Read anew: another's change may be why a form was refused.
    let shop = ctx.read(|conn, shop| super::model::by_number(conn, shop.id)).await?;
    Ok(SettingsPage {
        viewer: Viewer::of(ctx),
        blank: blank(&shop),
        return_extra: shop.style().amount(shop.return_extra_minor()),
        shop: shop.code,
        time_zone: shop.time_zone,
        currency: shop.currency,
        version: shop.version,
        date_styles: date_styles(),
        days: days(),
        tried,
    })
}

/// The settings.
///
/// # Errors
/// The record does not answer.
pub async fn settings(ctx: Ctx) -> Result<HttpResponse, Problem> {
    page::html(&view(&ctx, None).await?)
}

/// Shares past the whole: the form asks in percent, the API in per mille.
fn past_whole(patch: &ShopPatch) -> Vec<FieldFault> {
    let shares = [
        ("ceiling_permille", patch.ceiling_permille),
        ("assumed_cleaned_suspect_permille", patch.assumed_cleaned_suspect_permille),
        ("assumed_bystander_tested_permille", patch.assumed_bystander_tested_permille),
        ("assumed_bystander_untested_permille", patch.assumed_bystander_untested_permille),
        ("assumed_replaced_permille", patch.assumed_replaced_permille),
    ];
    shares
        .into_iter()
        .filter(|(_, share)| share.is_some_and(|share| !(0..=1000).contains(&share)))
        .map(|(field, _)| FieldFault::new(field, "range", "choose 0 to 100"))
        .collect()
}

/// A field that is empty leaves what stands: but for the day that links are kept
/// from, nothing here may be nothing.
fn changed(ctx: &Ctx, fields: &Fields) -> Result<(i32, Settings), Problem> {
    let shop = ctx.shop()?;
    let money = shop.money();
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    read.require("name", "write the name that pages and reports show");
    let patch = ShopPatch {
        name: read.text("name"),
        labor_cost_minor: read.amount("labor_cost_minor", &money),
        posted_rate_minor: read.amount("posted_rate_minor", &money),
        window_days: read.whole("window_days"),
        week_start: read.word("week_start", |text| text.parse().ok()),
        ceiling_permille: read.tenths("ceiling_permille"),
        return_diagnosis_minor: read.amount("return_diagnosis_minor", &money),
        return_proof_minor: read.amount("return_proof_minor", &money),
        return_transport_minor: read.amount("return_transport_minor", &money),
        return_bay_minor: read.amount("return_bay_minor", &money),
        return_goodwill_minor: read.amount("return_goodwill_minor", &money),
        assumed_cleaned_suspect_permille: read.tenths("assumed_cleaned_suspect_permille"),
        assumed_bystander_tested_permille: read.tenths("assumed_bystander_tested_permille"),
        assumed_bystander_untested_permille: read.tenths("assumed_bystander_untested_permille"),
        assumed_replaced_permille: read.tenths("assumed_replaced_permille"),
        // An empty day takes the limit away: all jobs count.
        links_from: fields
            .holds("links_from")
            .then(|| read.word("links_from", |text| text.parse().ok())),
        date_style: read.word("date_style", DateStyle::parse),
        follow_up_days: read.whole("follow_up_days"),
        follow_up_intermittent_days: read.whole("follow_up_intermittent_days"),
    };
    let (seen, patch) = read.finish(seen.map(|seen| (seen, patch)))?;
    let faults = past_whole(&patch);
    if !faults.is_empty() {
        return Err(Problem::invalid(faults));
    }
    let settings = checked(&patch, shop.zone().day(ctx.now)).map_err(Problem::invalid)?;
    Ok((seen, settings))
}

/// Changes the settings.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn change(mut ctx: Ctx, form: Form<Fields>) -> Result<HttpResponse, Problem> {
    ctx.take(&form.value)?;
    let done = match changed(&ctx, &form.value) {
        Ok((seen, settings)) => {
            ctx.once(&form.hash, move |write| {
                let shop = put(write, seen, &settings)?;
                Ok(Made::done(shop.version, shop))
            })
            .await
        }
        Err(problem) => Err(problem),
    };
    match done {
        Ok(_) => Ok(see_other(&format!("/shops/{}/settings?did=saved", ctx.shop()?.code))),
        Err(problem) if mendable(&problem) => {
            let tried = Tried { form: "settings", fields: form.value, problem: problem.clone() };
            refused(&problem, &view(&ctx, Some(tried)).await?)
        }
        Err(problem) => Err(problem),
    }
}
