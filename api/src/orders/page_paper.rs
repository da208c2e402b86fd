//! An order on paper: what the customer said, what was found and done, what it
//! comes to.

use actix_web::HttpResponse;
use askama::Template;

use super::model;
use super::view::{ToldAuthorization, ToldCharges, ToldOrder};
use crate::domain::ids::OrderId;
use crate::jobs::cautions::{self, Caution};
use crate::jobs::http::money;
use crate::jobs::parts::MoneyRights;
use crate::jobs::view::{Told, Words};
use crate::problem::Problem;
use crate::web::body::Parts;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};

#[derive(Template)]
#[template(path = "paper.html")]
struct PaperPage {
    viewer: Viewer,
    shop: String,
    shop_name: String,
    printed: String,
    order: ToldOrder,
    vin: Option<String>,
    plate: Option<String>,
    engine: Option<String>,
    jobs: Vec<Told>,
    authorizations: Vec<ToldAuthorization>,
    charges: Option<ToldCharges>,
    /// Beside the work to come; none where all of it is done.
    cautions: Vec<Caution>,
    /// What stands over them.
    first: &'static str,
}

/// The cautions of the jobs that have not ended, each once.
fn beside(whole: &model::WholeOrder, words: &Words) -> Vec<Caution> {
    let mut all: Vec<Caution> = Vec::new();
    for job in whole.jobs.iter().filter(|job| job.outcome.is_none()) {
        let system = job.symptom.as_deref().map(|symptom| words.lists.system(symptom));
        for caution in cautions::beside(job.kind.0, system).0 {
            if !all.contains(&caution) {
                all.push(caution);
            }
        }
    }
    all
}

/// The paper copy of an order. What a part cost the shop is on no paper, whoever
/// prints it.
///
/// # Errors
/// Not found, or the record does not answer.
pub async fn paper(ctx: Ctx, parts: Parts<(String, OrderId)>) -> Result<HttpResponse, Problem> {
    let (id, now, asker) = (parts.0.1, ctx.now, ctx.asker().person.id.clone());
    let rights = MoneyRights { costs: false, ..money(&ctx) };
    let (words, whole, jobs) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?.for_paper();
            let whole = model::whole(conn, shop.id, &id)?.for_eyes(rights);
            let mut jobs = Vec::new();
            for job in &whole.jobs {
                jobs.push(Told::read(conn, &words, &job.id, rights, &asker)?);
            }
            Ok((words, whole, jobs))
        })
        .await?;
    let open = whole.order.status == "open";
    page::html(&PaperPage {
        viewer: Viewer::of(&ctx),
        shop: words.shop.code.clone(),
        shop_name: words.shop.name.clone(),
        printed: words.moment(now),
        order: ToldOrder::of(&whole.order, &whole.vehicle, &whole.jobs, &words, &[]),
        cautions: if open { beside(&whole, &words) } else { Vec::new() },
        first: cautions::FIRST,
        jobs,
        authorizations: whole
            .authorizations
            .iter()
            .map(|row| ToldAuthorization::of(row, &words))
            .collect(),
        charges: ToldCharges::of(&whole.charges, &words),
        vin: whole.vehicle.vin,
        plate: whole.vehicle.plate,
        engine: whole.vehicle.engine,
    })
}
