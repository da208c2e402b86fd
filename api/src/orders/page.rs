//! Today's open orders.

use actix_web::HttpResponse;
use askama::Template;

use super::model;
use super::view::ToldOrder;
use crate::jobs::brief;
use crate::jobs::view::Words;
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::page::{self, Viewer};

#[derive(Template)]
#[template(path = "today.html")]
struct TodayPage {
    viewer: Viewer,
    shop: String,
    date: String,
    orders: Vec<ToldOrder>,
    undecided: usize,
}

/// Open orders by promised time.
///
/// # Errors
/// Where the record does not answer.
pub async fn today(ctx: Ctx) -> Result<HttpResponse, Problem> {
    let now = ctx.now;
    let (words, orders, running, undecided) = ctx
        .read(move |conn, shop| {
            let words = Words::load(conn, shop, now)?;
            let proposed = analytics::words::LinkState::Proposed;
            let waiting =
                crate::comebacks::model::list(conn, shop.id, Some(proposed), None, 200)?.len();
            let orders = model::open_by_promise(conn, shop.id)?;
            Ok((words, orders, brief::running(conn, shop.id)?, waiting))
        })
        .await?;
    page::html(&TodayPage {
        viewer: Viewer::of(&ctx),
        shop: words.shop.code.clone(),
        date: words.style().long_day(words.shop.zone().day(now)),
        orders: orders
            .iter()
            .map(|open| ToldOrder::of(&open.order, &open.vehicle, &open.jobs, &words, &running))
            .collect(),
        undecided,
    })
}
